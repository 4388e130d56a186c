"""Marks of cases: an icon and a word for an outcome or a standing."""

from django import template
from django.contrib.auth.models import AnonymousUser, User
from django.utils.html import format_html
from django.utils.safestring import SafeString

from cases.models import Membership, OwnInstrument
from circuits.templatetags.bench import icon
from circuits.units import format_quantity

register = template.Library()


@register.simple_tag
def mark(word: str) -> SafeString:
    """Return the mark of an outcome or standing; its class and icon carry the word's name."""
    name = str(word).replace(" ", "-")
    return format_html('<span class="mark {}">{}{}</span>', name, icon(name), word)


@register.filter
def percent(share: float) -> str:
    """Return a probability as people say it; what is neither nought nor sure is not called so."""
    if 0 < share < 0.005:
        return "under 1 %"
    if 0.995 < share < 1:
        return "over 99 %"
    return f"{share:.0%}".replace("%", " %")


@register.filter
def hundredths(share: float) -> str:
    """Return a share as a number from 0 to 100, for the width of a bar."""
    return f"{100 * share:.1f}"


@register.simple_tag
def quantity(value: float | None, unit: str) -> str:
    """Return a value in its unit; empty where it is not known."""
    return "" if value is None else format_quantity(value, unit)


@register.simple_tag
def accuracy(instrument: OwnInstrument) -> str:
    """Return what an instrument may be off by, as booklets have it; empty where it is not known."""
    said = []
    if instrument.reading_fraction is not None:
        said.append(f"{100 * instrument.reading_fraction:g} %")
    if instrument.counts is not None:
        said.append(f"{instrument.counts:g} counts")
    return " + ".join(said)


@register.simple_tag
def memberships_of(user: User | AnonymousUser) -> list[Membership]:
    """Return the shops a person belongs to, with their role in each. Asks the database once."""
    if not user.is_authenticated:
        return []
    return list(Membership.objects.filter(user=user).select_related("shop").order_by("shop__name"))
