"""Take out of free text what must not leave a shop: plates, VINs, names, addresses, numbers.

A shared case goes through here, and so does what search keeps of a text, because a word that can
be found can be read.
"""

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

from django.contrib.auth.models import User

from cases.models import Case, Membership, Vehicle

REMOVED = "[removed]"

_MAIL = re.compile(r"[\w.+-]+@[\w-]+(?:\.[\w-]+)+")
_VIN_LIKE = re.compile(r"\b(?=[A-Z0-9]*\d)[A-HJ-NPR-Z0-9]{17}\b", re.IGNORECASE)
# A telephone number: from 0 or +, or three, three and four digits. A row of readings has decimal
# marks in it and is left alone.
_PHONE = re.compile(
    r"(?<![\w.,])(?:[+0](?:[ /()-]{0,2}\d){6,14}|\(?\d{3}\)?[ -]\d{3}[ -]\d{4})(?!\w|[.,]\d)"
)
# "Mrs Smith", "Mr. O'Neil": the customer, whom no list of members names.
_TITLED = re.compile(
    r"\b(?:mr|mrs|ms|miss|mx|dr|sir|lady)\.?\s+(?:[A-Z]\.?\s*)?[A-Z][\w'’-]+", re.I
)
SHORTEST_NAME = 3
# What may stand between the characters of a plate.
_BETWEEN = re.compile(r"[\s.-]+")


class Scrubber:
    """Takes out what would tell whose vehicle it was and who worked on it."""

    def __init__(self, vehicle: Vehicle, people: Iterable[User]) -> None:
        words: set[str] = set()
        for person in people:
            words.update((person.first_name, person.last_name, person.username))
        self._patterns = (_MAIL, _VIN_LIKE, _PHONE, _TITLED, *_name_patterns(frozenset(words)))
        self._marks = [mark for mark in (vehicle.plate, vehicle.vin) if mark]

    def clean(self, text: str) -> str:
        """Return the text with everything personal replaced by a mark.

        Common names that are not on the shop's list cannot be known; who shares sees the result
        before it leaves.
        """
        if not text:
            return text
        for pattern in self._patterns:
            text = pattern.sub(REMOVED, text)
        for mark in self._marks:
            if _may_hold(text, mark):
                text = _spaced(mark).sub(REMOVED, text)
        return text


def scrubber_for(case: Case) -> Scrubber:
    """Return the scrubber of a case. Asks the database for the shop's members."""
    return scrubbers_for([case])[case.pk]


def scrubbers_for(cases: Sequence[Case]) -> dict[int, Scrubber]:
    """Return the scrubber of each case by its number, in one query for all of them."""
    people: dict[int, set[User]] = {}
    shops = {case.shop_id for case in cases}
    if shops:
        for membership in Membership.objects.filter(shop__in=shops).select_related("user"):
            people.setdefault(membership.shop_id, set()).add(membership.user)
    return {
        case.pk: Scrubber(case.vehicle, people.get(case.shop_id, set()) | {case.author})
        for case in cases
    }


@lru_cache(maxsize=64)
def _name_patterns(words: frozenset[str]) -> tuple[re.Pattern[str], ...]:
    """Return what finds the names of a shop's people, the longest first."""
    names = sorted((word for word in words if len(word) >= SHORTEST_NAME), key=len, reverse=True)
    return tuple(_whole(re.escape(name)) for name in names)


def _may_hold(text: str, mark: str) -> bool:
    """Whether a text could hold a plate or VIN; making a pattern for each car takes long.

    Letters beyond ASCII have more than one small form, so there nothing is ruled out.
    """
    if not text.isascii() or not mark.isascii():
        return True
    bare = "".join(filter(str.isalnum, mark)).lower()
    return bare in _BETWEEN.sub("", text).lower()


def _whole(pattern: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){pattern}(?:['’]s)?(?!\w)", re.IGNORECASE)


def _spaced(mark: str) -> re.Pattern[str]:
    """Match a plate however it is spaced: AB12 CDE, AB12CDE, ab-12-cde."""
    characters = [re.escape(character) for character in mark if character.isalnum()]
    return _whole(r"[\s.-]*".join(characters)) if characters else re.compile(r"(?!)")
