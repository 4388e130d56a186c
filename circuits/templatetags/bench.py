"""Small marks that every page uses: icons, and figures as the trade writes them."""

from django import template
from django.templatetags.static import static
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_tag
def icon(name: str) -> SafeString:
    """Return an icon of our sheet; it only decorates, the word stands beside it."""
    return format_html(
        '<svg class="icon" aria-hidden="true" focusable="false"><use href="{}#{}"/></svg>',
        static("copperlog/icons.svg"),
        name,
    )
