"""Numbers for slots, codes, words, faults and vehicles; a term's number never changes."""

from collections.abc import Collection, Iterable, Iterator

from cases.models import SearchTerm, TermKind
from cases.models.evidence import LONGEST_TERM

#: The number of no term at all: of the fault where none is claimed.
NO_TERM = 0
MADE_AT_ONCE = 1000


def term_text(text: str) -> str:
    """Return a text as it is kept: no longer than a term can be."""
    return text[:LONGEST_TERM]


def known_numbers(kind: TermKind, texts: Collection[str]) -> dict[str, int]:
    """Return the numbers of those texts that have one."""
    kept = SearchTerm.objects.filter(kind=kind, text__in=[term_text(text) for text in texts])
    return dict(kept.values_list("text", "pk"))


def numbers_for(kind: TermKind, texts: Iterable[str]) -> dict[str, int]:
    """Return the numbers of all texts; those that are new get one."""
    # Sorted, so that two writers never wait for each other's new terms.
    wanted = sorted(set(map(term_text, texts)))
    found = known_numbers(kind, wanted)
    missing = [text for text in wanted if text not in found]
    if missing:
        SearchTerm.objects.bulk_create(
            [SearchTerm(kind=kind, text=text) for text in missing],
            ignore_conflicts=True,
            batch_size=MADE_AT_ONCE,
        )
        found |= known_numbers(kind, missing)
    return found


def texts_of(numbers: Iterable[int]) -> dict[int, str]:
    """Return the texts behind numbers."""
    return {number: text for _, text, number in terms_behind(numbers)}


def terms_behind(numbers: Iterable[int]) -> Iterator[tuple[str, str, int]]:
    """Yield kind, text and number of terms."""
    wanted = sorted(set(numbers))
    for start in range(0, len(wanted), 50 * MADE_AT_ONCE):
        chunk = wanted[start : start + 50 * MADE_AT_ONCE]
        yield from SearchTerm.objects.filter(pk__in=chunk).values_list("kind", "text", "pk")
