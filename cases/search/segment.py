"""Cases of one room as arrays: a row a case, and for each term the rows that have it.

Rows are ordered by who may see them: first what is shared with all, then the rest shop by shop;
within that by fault. So what a person may see is a handful of slices, and the cases of one fault
are a handful of blocks. Nothing outside the slices is ever read.
"""

import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from cases.models import TermKind

if TYPE_CHECKING:
    from cases.search.tally import Tally

IntArray = NDArray[np.int32]
LongArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
#: The group of rows that everybody may see; other groups are numbers of shops.
SHARED = -1


@dataclass(frozen=True, eq=False, kw_only=True)
class Rows:
    """What is known of each case; n rows, see `CaseEvidence` for what the columns are."""

    cases: LongArray  # (n,)
    roots: LongArray  # (n,)
    shops: IntArray  # (n,)
    shared: BoolArray  # (n,)
    faults: IntArray  # (n,)
    circuits: IntArray  # (n,)
    vehicles: IntArray  # (n,)
    standings: NDArray[np.int8]  # (n,)
    held_from: IntArray  # (n,)
    opened: IntArray  # (n,)

    def __len__(self) -> int:
        return len(self.cases)

    @cached_property
    def groups(self) -> IntArray:
        """Who may see each row: everybody, or the shop of this number."""
        return np.where(self.shared, SHARED, self.shops)

    def in_order(self) -> LongArray:
        """Return the order in which a segment keeps these rows."""
        order: LongArray = np.lexsort((self.cases, self.faults, self.groups))
        return order

    def taken(self, order: LongArray) -> "Rows":
        return Rows(**{each.name: getattr(self, each.name)[order] for each in fields(self)})

    def as_bytes(self) -> bytes:
        file = io.BytesIO()
        np.savez(file, **{each.name: getattr(self, each.name) for each in fields(self)})
        return file.getvalue()

    @staticmethod
    def from_bytes(data: bytes | memoryview) -> "Rows":
        with np.load(io.BytesIO(data), allow_pickle=False) as arrays:
            return Rows(**{name: arrays[name] for name in arrays.files})


@dataclass(frozen=True, eq=False, slots=True)
class Posting:
    """The rows (m,) that have a term, ascending, and what they measured there, in sixteenths."""

    rows: IntArray
    steps: NDArray[np.int8]

    @property
    def size_in_bytes(self) -> int:
        return self.rows.nbytes + self.steps.nbytes

    def between(self, start: int, stop: int) -> "Posting":
        """Return what lies from one row up to another."""
        # Of the same type, or all rows would be copied to another one first.
        first, last = np.searchsorted(self.rows, np.array([start, stop], self.rows.dtype))
        return Posting(self.rows[first:last], self.steps[first:last])

    def among(self, rows: LongArray) -> "Posting":
        """Return what there is of some rows."""
        place = self.rows.searchsorted(rows.astype(self.rows.dtype))
        inside = place < len(self.rows)
        place, rows = place[inside], rows[inside]
        place = place[self.rows[place] == rows]
        return Posting(self.rows[place], self.steps[place] if len(self.steps) else self.steps)

    def place_of(self, row: int) -> int | None:
        """Return where a row stands here; None where it lacks the term."""
        place = int(self.rows.searchsorted(self.rows.dtype.type(row)))
        return place if place < len(self.rows) and self.rows[place] == row else None


NOWHERE = Posting(np.empty(0, dtype=np.int32), np.empty(0, dtype=np.int8))


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


@dataclass(frozen=True, eq=False, kw_only=True)
class Blocks:
    """Stretches of rows of one group and one fault."""

    start: LongArray  # (b,)
    stop: LongArray  # (b,)
    group: IntArray  # (b,)
    fault: IntArray  # (b,)


class Segment:
    """Rows with their postings; those are fetched when they are first asked for."""

    def __init__(
        self,
        rows: Rows,
        postings: Mapping[int, Posting],
        *,
        fetch: Callable[[Iterable[int]], Mapping[int, Posting]] | None = None,
        terms: Callable[[], Iterable[tuple[str, str, int]]],
    ) -> None:
        self.rows = rows
        self._postings = dict(postings)
        self._fetch = fetch
        self._terms = terms
        #: What was counted of it already.
        self.tally: Tally | None = None

    def load(self, terms: Iterable[int]) -> None:
        """Fetch the postings of these terms, all at once, unless they are here."""
        missing = [term for term in terms if term not in self._postings]
        if missing and self._fetch is not None:
            found = self._fetch(missing)
            for term in missing:
                self._postings[term] = found.get(term, NOWHERE)

    def posting(self, term: int) -> Posting:
        if term not in self._postings:
            self.load([term])
        return self._postings.get(term, NOWHERE)

    @cached_property
    def numbers(self) -> Mapping[TermKind, Mapping[str, int]]:
        """The terms of all cases here, whoever may see them: numbers by kind and text."""
        found: dict[TermKind, dict[str, int]] = {kind: {} for kind in TermKind}
        for kind, text, number in self._terms():
            found[TermKind(kind)][text] = number
        return found

    @cached_property
    def texts(self) -> Mapping[int, str]:
        """The texts of all terms here, by number."""
        return {number: text for terms in self.numbers.values() for text, number in terms.items()}

    @property
    def words(self) -> Mapping[str, int]:
        """The words of all cases here, whoever may see them."""
        return self.numbers[TermKind.WORD]

    @cached_property
    def words_by_letter(self) -> Mapping[str, tuple[str, ...]]:
        by_letter: dict[str, list[str]] = {}
        for word in self.words:
            by_letter.setdefault(word[0], []).append(word)
        return {letter: tuple(words) for letter, words in by_letter.items()}

    @cached_property
    def blocks(self) -> Blocks:
        rows = self.rows
        if not len(rows):
            none = np.empty(0, dtype=np.int64)
            few = np.empty(0, dtype=np.int32)
            return Blocks(start=none, stop=none, group=few, fault=few)
        changes = (np.diff(rows.groups) != 0) | (np.diff(rows.faults) != 0)
        start = np.concatenate([[0], np.flatnonzero(changes) + 1])
        return Blocks(
            start=start,
            stop=np.append(start[1:], len(rows)),
            group=rows.groups[start],
            fault=rows.faults[start],
        )

    @cached_property
    def fault_numbers(self) -> IntArray:
        """The faults of this segment, ascending."""
        return np.unique(self.rows.faults)

    @property
    def named_in_rows(self) -> set[int]:
        """The terms that rows name themselves, without a posting: faults and vehicles."""
        return {*self.fault_numbers.tolist(), *np.unique(self.rows.vehicles).tolist()}

    @cached_property
    def local_faults(self) -> IntArray:
        """For each row the place of its fault in `fault_numbers`."""
        return np.searchsorted(self.fault_numbers, self.rows.faults).astype(np.int32)

    @cached_property
    def shared_stop(self) -> int:
        """How many rows everybody may see; they come first."""
        return int(np.searchsorted(self.rows.groups, SHARED, side="right"))

    @cached_property
    def local_shops(self) -> tuple[IntArray, IntArray]:
        """The shops here, and for each row the place of its own among them."""
        return _numbered(self.rows.shops)

    @cached_property
    def local_vehicles(self) -> tuple[IntArray, IntArray]:
        """The kinds of vehicles here, and for each row the place of its own among them."""
        return _numbered(self.rows.vehicles)

    @cached_property
    def copies(self) -> LongArray:
        """The rows that were copied from another case."""
        return np.flatnonzero(self.rows.roots != self.rows.cases)

    @cached_property
    def _by_case(self) -> LongArray:
        return np.argsort(self.rows.cases, kind="stable")

    def rows_of(self, cases: Iterable[int]) -> LongArray:
        """Return the rows of those cases that are here."""
        wanted = np.fromiter(cases, dtype=np.int64)
        if not len(wanted) or not len(self.rows):
            return np.empty(0, dtype=np.int64)
        order = self._by_case
        sorted_cases = self.rows.cases[order]
        place = np.searchsorted(sorted_cases, wanted)
        inside = place < len(order)
        place, wanted = place[inside], wanted[inside]
        return np.asarray(order[place[sorted_cases[place] == wanted]])

    @property
    def size_in_bytes(self) -> int:
        """About how much memory it takes with what was fetched so far."""
        rows: int = sum(getattr(self.rows, each.name).nbytes for each in fields(self.rows))
        return rows * 2 + sum(posting.size_in_bytes for posting in self._postings.values())


def _numbered(column: IntArray) -> tuple[IntArray, IntArray]:
    values, places = np.unique(column, return_inverse=True)
    return values, places.astype(np.int32)


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
    row_of = np.empty(len(order), dtype=np.int32)
    row_of[order] = np.arange(len(order), dtype=np.int32)
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
