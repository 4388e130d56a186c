"""Small marks that every page uses: icons, and figures as the trade writes them."""

import re

from django import template
from django.templatetags.static import static
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()


@register.filter
def paragraphs(text: str) -> list[str]:
    """Return the paragraphs of a text whose lines were broken by hand."""
    return [" ".join(block.split()) for block in re.split(r"\n\s*\n", text) if block.strip()]


@register.simple_tag
def icon(name: str) -> SafeString:
    """Return an icon of our sheet; it only decorates, the word stands beside it."""
    return format_html(
        '<svg class="icon" aria-hidden="true" focusable="false"><use href="{}#{}"/></svg>',
        static("copperlog/icons.svg"),
        name,
    )
