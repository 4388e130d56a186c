"""Postings: for each term the rows that have it, and what they measured there."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cases.models import TermKind

IntArray = NDArray[np.int32]
LongArray = NDArray[np.int64]
NO_ROWS: LongArray = np.empty(0, dtype=np.int64)


@dataclass(frozen=True, eq=False, slots=True)
class Posting:
    """The rows (m,) that have a term, ascending, and what they measured there, in sixteenths.

    Rows are as wide as an index is: else each use of them would copy them to that width first.
    """

    rows: LongArray
    steps: NDArray[np.int8]

    @property
    def size_in_bytes(self) -> int:
        return self.rows.nbytes + self.steps.nbytes

    def between(self, starts: LongArray, stops: LongArray) -> "list[Posting]":
        """Return what lies from one row up to another, for several such stretches."""
        edges = self.rows.searchsorted(np.concatenate([starts, stops])).tolist()
        return [
            Posting(self.rows[first:last], self.steps[first:last])
            for first, last in zip(edges[: len(starts)], edges[len(starts) :], strict=True)
        ]

    def up_to(self, stop: int) -> "Posting":
        """Return what there is before a row."""
        last = int(self.rows.searchsorted(stop))
        return Posting(self.rows[:last], self.steps[:last])

    def among(self, rows: LongArray) -> "Posting":
        """Return what there is of some rows."""
        _, place = self.found(rows)
        return Posting(self.rows[place], self.steps[place] if len(self.steps) else self.steps)

    def found(self, rows: LongArray) -> tuple[LongArray, LongArray]:
        """Return which of some rows are here, and where each of these stands."""
        if not len(self.rows):
            return NO_ROWS, NO_ROWS
        place = self.rows.searchsorted(rows)
        which = np.flatnonzero(self.rows[np.minimum(place, len(self.rows) - 1)] == rows)
        return which, place[which]

    def place_of(self, row: int) -> int | None:
        """Return where a row stands here; None where it lacks the term."""
        place = int(self.rows.searchsorted(row))
        return place if place < len(self.rows) and self.rows[place] == row else None


NOWHERE = Posting(NO_ROWS, np.empty(0, dtype=np.int8))


def joined(parts: Sequence[Posting]) -> Posting:
    """Return parts of one posting as one."""
    if not parts:
        return NOWHERE
    if len(parts) == 1:
        return parts[0]
    return Posting(
        np.concatenate([part.rows for part in parts]),
        np.concatenate([part.steps for part in parts]),
    )


@dataclass(frozen=True, eq=False, slots=True)
class TermColumn:
    """The terms of one kind of all cases, one case behind the other.

    `counts` (n,) says how many each case has; `steps` is empty for terms without a size.
    """

    kind: TermKind
    terms: IntArray
    counts: IntArray
    steps: NDArray[np.int8]


def postings_of(
    order: LongArray, columns: Iterable[TermColumn]
) -> dict[int, tuple[TermKind, Posting]]:
    """Return the postings of all terms; `order` is that of the rows among the cases."""
    row_of = np.empty(len(order), dtype=np.int64)
    row_of[order] = np.arange(len(order))
    found: dict[int, tuple[TermKind, Posting]] = {}
    for column in columns:
        rows = np.repeat(row_of, column.counts)
        by_term = np.lexsort((rows, column.terms))
        terms, rows = column.terms[by_term], rows[by_term]
        steps = column.steps[by_term] if len(column.steps) else column.steps
        starts = np.flatnonzero(np.diff(terms, prepend=-1)).tolist()
        for start, stop in zip(starts, [*starts[1:], len(terms)], strict=False):
            posting = Posting(rows[start:stop], steps[start:stop])
            found[int(terms[start])] = (column.kind, posting)
    return found
