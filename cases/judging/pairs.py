"""Pairs of faults in groups: one of A, B, C together with one of D, E.

Where two faults are needed, most pairs differ only by twins. Faults with the very same partners
are one side; a side is told with all of its partners at once, the side with most pairs first, so
that each pair is told exactly once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cases.documents.verdicts import PairDocument, PairedFault


@dataclass(frozen=True, slots=True, kw_only=True)
class PairGroup:
    """Any of `ones` together with any of `others`; `best` is the pair that fits best."""

    ones: tuple[PairedFault, ...]
    others: tuple[PairedFault, ...]
    best: PairDocument


def grouped(pairs: Sequence[PairDocument]) -> tuple[PairGroup, ...]:
    """Return pairs that share partners as groups, the one with the best pair first."""
    faults = {fault.suspect: fault for pair in pairs for fault in (pair.second, pair.first)}
    by_ends = {frozenset((pair.first.suspect, pair.second.suspect)): pair for pair in pairs}
    left = set(by_ends)
    groups = []
    while left:
        ones, others = _largest_side(left)
        ends = {frozenset((one, other)) for one in ones for other in others}
        left -= ends
        groups.append(
            PairGroup(
                ones=tuple(fault for name, fault in faults.items() if name in ones),
                others=tuple(fault for name, fault in faults.items() if name in others),
                best=min((by_ends[each] for each in ends), key=lambda pair: pair.misfit),
            )
        )
    return tuple(sorted(groups, key=lambda group: group.best.misfit))


def explained_words(pair: PairDocument, number: int) -> str:
    """Return which fault of a pair answers for a reading, in words."""
    first, second = pair.first.words, pair.second.words
    return {
        "first": first,
        "second": second,
        "either": f"either, {first} or {second}",
        "together": "both together",
        "neither": "as in the circuit in order",
    }[pair.explained[number]]


def _largest_side(ends: Iterable[frozenset[str]]) -> tuple[frozenset[str], frozenset[str]]:
    """Return faults with the very same partners, and these, where they make most pairs."""
    partners: dict[str, set[str]] = {}
    for one, other in map(sorted, ends):
        partners.setdefault(one, set()).add(other)
        partners.setdefault(other, set()).add(one)
    sides: dict[frozenset[str], set[str]] = {}
    for name, those in partners.items():
        sides.setdefault(frozenset(those), set()).add(name)
    others, ones = max(
        sides.items(), key=lambda side: (len(side[0]) * len(side[1]), sorted(side[1]))
    )
    return frozenset(ones), others
