"""What a search for a starved pump asks, and what it says of the cases it found."""

from cases.search.results import Hit, SearchResult, Speaks
from tests.readings import readings

ASKED = readings("prime\nTP1 12.35\nTP2 6.80")


def keys(result: SearchResult) -> list[str]:
    return [hit.case.key for hit in result.hits]


def speaking(hit: Hit, speaks: Speaks) -> list[str]:
    return [reason.words for reason in hit.reasons if reason.speaks is speaks]
