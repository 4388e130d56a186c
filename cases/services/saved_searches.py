"""Keep searches under a name; a person's own, seen by nobody else."""

from datetime import datetime

from django.contrib.auth.models import User
from django.core.exceptions import TooManyFieldsSent
from django.db.models import QuerySet
from django.http import QueryDict

from cases.errors import BadFact, NotYours
from cases.models import SavedSearch

LONGEST_NAME = 80
LONGEST_SEARCH = 4000
MOST_KEPT = 50


def searches_of(user: User) -> QuerySet[SavedSearch]:
    """Return the searches that a person kept, by name."""
    return SavedSearch.objects.filter(owner=user)


def keep(*, name: str, asked: str, by: User, at: datetime) -> SavedSearch:
    """Keep a search; one of the same name is replaced.

    Raises
    ------
    BadFact
        It has no name, asks for nothing or too much, or too many are kept.
    """
    name, asked = name.strip(), _as_address(asked)
    if not 1 <= len(name) <= LONGEST_NAME or not name.isprintable():
        raise BadFact("name", f"give the search a name of up to {LONGEST_NAME} characters.")
    if not asked:
        raise BadFact("asked", "search for something first, then keep it.")
    others = searches_of(by).exclude(name=name)
    if others.count() >= MOST_KEPT:
        raise BadFact("name", f"{MOST_KEPT} searches are kept already; forget one first.")
    kept, _ = SavedSearch.objects.update_or_create(
        owner=by, name=name, defaults={"asked": asked, "kept_at": at}
    )
    return kept


def _as_address(asked: str) -> str:
    """Return a search written anew, so that what comes back as an address is one."""
    too_much = BadFact(
        "asked", f"a search of up to {LONGEST_SEARCH} characters can be kept; ask for less."
    )
    try:
        address = QueryDict(asked.lstrip("?")).urlencode()
    except TooManyFieldsSent:
        raise too_much from None
    if len(address) > LONGEST_SEARCH:
        raise too_much
    return address


def forget(*, search: SavedSearch, by: User) -> None:
    """Forget a search that this person kept."""
    if search.owner_id != by.pk:
        raise NotYours("forget it")
    search.delete()
