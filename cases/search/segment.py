"""Cases of one room as arrays: a row a case, and for each term the rows that have it.

Rows are ordered by who may see them: first what is shared with all, then the rest shop by shop;
within that by fault. So what a person may see is a handful of slices, and the cases of one fault
are a handful of blocks. Nothing outside the slices is ever read.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from cases.models import TermKind
from cases.search.postings import NO_ROWS, NOWHERE, IntArray, LongArray, Posting
from cases.search.scoring import TENTHS

if TYPE_CHECKING:
    from cases.search.tally import Tally

AnyArray = NDArray[Any]
BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]
#: The group of rows that everybody may see; other groups are numbers of shops.
SHARED = -1
#: What a segment knows of each case, see `CaseEvidence`.
ROW_COLUMNS: Final = (
    "cases",
    "roots",
    "shops",
    "shared",
    "faults",
    "circuits",
    "vehicles",
    "standings",
    "held_from",
    "opened",
)


class Rows:
    """What is known of each case; n rows, a column (n,) for each name in `ROW_COLUMNS`.

    The columns may be fetched as they are asked for.
    """

    def __init__(self, columns: Mapping[str, AnyArray]) -> None:
        self._columns = columns

    def __len__(self) -> int:
        return len(self.cases)

    @property
    def cases(self) -> LongArray:
        return self._columns["cases"]

    @property
    def roots(self) -> LongArray:
        return self._columns["roots"]

    @property
    def shops(self) -> IntArray:
        return self._columns["shops"]

    @property
    def shared(self) -> BoolArray:
        return self._columns["shared"]

    @property
    def faults(self) -> IntArray:
        return self._columns["faults"]

    @property
    def circuits(self) -> IntArray:
        return self._columns["circuits"]

    @property
    def vehicles(self) -> IntArray:
        return self._columns["vehicles"]

    @property
    def standings(self) -> NDArray[np.int8]:
        return self._columns["standings"]

    @property
    def held_from(self) -> IntArray:
        return self._columns["held_from"]

    @property
    def opened(self) -> IntArray:
        return self._columns["opened"]

    @property
    def groups(self) -> IntArray:
        """Who may see each row: everybody, or the shop of this number."""
        return np.where(self.shared, SHARED, self.shops)

    def in_order(self) -> LongArray:
        """Return the order in which a segment keeps these rows."""
        order: LongArray = np.lexsort((self.cases, self.faults, self.groups))
        return order

    def taken(self, order: LongArray) -> "Rows":
        return Rows({name: self._columns[name][order] for name in ROW_COLUMNS})

    @property
    def size_in_bytes(self) -> int:
        """How much memory the columns take that are here."""
        return sum(column.nbytes for column in self._columns.values())


@dataclass(frozen=True, eq=False, kw_only=True)
class Blocks:
    """Stretches of rows of one group and one fault, in the order of the groups.

    `tenths` are what the rows of each weigh together, in tenths of a case.
    """

    start: LongArray  # (b,)
    stop: LongArray  # (b,)
    group: LongArray  # (b,)
    fault: LongArray  # (b,)
    tenths: FloatArray  # (b,)


Numbers = Mapping[str, int]
Coded = tuple[AnyArray, AnyArray]


class Segment:
    """Rows with their postings, all of them in memory; what follows from them is derived once."""

    def __init__(
        self,
        rows: Rows,
        postings: Mapping[int, Posting],
        *,
        terms: Callable[[], Iterable[tuple[str, str, int]]],
    ) -> None:
        self.rows = rows
        self._postings = dict(postings)
        self._terms = terms
        #: What its rows are worth on the day that was asked for last.
        self.tally: Tally | None = None
        #: By term and bins what was counted of the shared rows already.
        self.counts: dict[tuple[int, int], FloatArray] = {}

    def load(self, terms: Iterable[int]) -> None:
        """Fetch what there is of these terms, all at once, unless it is here."""

    def posting(self, term: int) -> Posting:
        return self._postings.get(term, NOWHERE)

    # ----------------------------------------------------------------------------- terms

    def numbers(self, kind: TermKind) -> Numbers:
        """Return the terms of a kind of all cases here, whoever may see them: number by text."""
        return self._numbers[kind]

    def texts(self, kind: TermKind) -> Mapping[int, str]:
        """Return the same the other way round."""
        if kind not in self._texts:
            self._texts[kind] = {number: text for text, number in self.numbers(kind).items()}
        return self._texts[kind]

    @cached_property
    def _texts(self) -> dict[TermKind, Mapping[int, str]]:
        return {}

    @cached_property
    def _numbers(self) -> Mapping[TermKind, Numbers]:
        found: dict[TermKind, dict[str, int]] = {kind: {} for kind in TermKind}
        for kind, text, number in self._terms():
            found[TermKind(kind)][text] = number
        return found

    @property
    def words(self) -> Numbers:
        """The words of all cases here, whoever may see them."""
        return self.numbers(TermKind.WORD)

    @cached_property
    def words_by_letter(self) -> Mapping[str, tuple[str, ...]]:
        by_letter: dict[str, list[str]] = {}
        for word in self.words:
            by_letter.setdefault(word[0], []).append(word)
        return {letter: tuple(words) for letter, words in by_letter.items()}

    # ------------------------------------------------------------- what follows from the rows

    @cached_property
    def blocks(self) -> Blocks:
        rows = self.rows
        groups, faults = rows.groups.astype(np.int64), rows.faults.astype(np.int64)
        changes = (np.diff(groups) != 0) | (np.diff(faults) != 0)
        start = np.concatenate([[0], np.flatnonzero(changes) + 1])[: len(rows)]
        stop = np.append(start[1:], len(rows))[: len(start)]
        sums = np.concatenate([[0.0], np.cumsum(self.tenths, dtype=np.float64)])
        return Blocks(
            start=start,
            stop=stop,
            group=groups[start],
            fault=faults[start],
            tenths=sums[stop] - sums[start],
        )

    @property
    def tenths(self) -> NDArray[np.float32]:
        """What each row is worth where cases of one fault are counted, in tenths of a case."""
        return TENTHS[self.rows.standings]

    @cached_property
    def coded_faults(self) -> Coded:
        """The faults here, ascending, and for each row the place of its own among them."""
        return _coded(self.rows.faults)

    @cached_property
    def coded_shops(self) -> Coded:
        """The shops here, and for each row the place of its own among them."""
        return _coded(self.rows.shops)

    @cached_property
    def coded_vehicles(self) -> Coded:
        """The kinds of vehicles here, and for each row the place of its own among them."""
        return _coded(self.rows.vehicles)

    @property
    def fault_numbers(self) -> AnyArray:
        """The faults here, ascending."""
        return self.coded_faults[0]

    @property
    def named_in_rows(self) -> set[int]:
        """The terms that rows name themselves, without a posting: faults and vehicles."""
        return {*self.fault_numbers.tolist(), *self.coded_vehicles[0].tolist()}

    @cached_property
    def shared_stop(self) -> int:
        """How many rows everybody may see; they come first."""
        shared = self.blocks.stop[self.blocks.group == SHARED]
        return int(shared[-1]) if len(shared) else 0

    @cached_property
    def copies(self) -> LongArray:
        """The rows that were copied from another case."""
        return np.flatnonzero(self.rows.roots != self.rows.cases)

    @cached_property
    def by_case(self) -> AnyArray:
        """The rows in the order of their cases."""
        return np.argsort(self.rows.cases, kind="stable")

    @cached_property
    def _cases_in_order(self) -> LongArray:
        return self.rows.cases[self.by_case]

    def rows_of(self, cases: Iterable[int]) -> LongArray:
        """Return the rows of those cases that are here."""
        wanted = np.fromiter(cases, dtype=np.int64)
        if not len(wanted) or not len(self.rows):
            return NO_ROWS
        place = np.searchsorted(self._cases_in_order, wanted)
        inside = place < len(self.rows)
        place, wanted = place[inside], wanted[inside]
        found = place[self._cases_in_order[place] == wanted]
        return np.asarray(self.by_case[found], dtype=np.int64)

    @property
    def size_in_bytes(self) -> int:
        """About how much memory it takes with what was fetched so far."""
        postings = sum(posting.size_in_bytes for posting in list(self._postings.values()))
        return self.rows.size_in_bytes * 2 + postings


def _coded(column: IntArray) -> Coded:
    """Return the values of a column, ascending, and for each row the place of its own."""
    values = np.unique(column)
    return values, np.searchsorted(values, column).astype(_narrowest(len(values)))


def _narrowest(values: int) -> type[np.unsignedinteger[Any]]:
    return np.uint16 if values <= np.iinfo(np.uint16).max else np.uint32


def columns_of(segment: Segment) -> Iterator[tuple[str, AnyArray]]:
    """Yield what is kept of the rows of a segment, by name, so that nothing need be derived."""
    rows, blocks = segment.rows, segment.blocks
    for name in ("cases", "roots", "circuits", "standings", "held_from", "opened"):
        yield name, getattr(rows, name)
    for name in ("faults", "shops", "vehicles"):
        values, places = getattr(segment, f"coded_{name}")
        yield f"{name} here", values
        yield f"{name} by place", places
    for name in ("start", "stop", "group", "fault", "tenths"):
        yield f"block {name}", getattr(blocks, name)
    yield "copies", segment.copies
    yield "by case", segment.by_case.astype(np.int32)
