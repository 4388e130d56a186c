"""What one search can see of some segments, and what is counted there.

Every count, every rarity and every profile comes from here, so nothing that a person may not see
can move a score, a reason or a spelling.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cases.search.evidence import STANDING_WORDS, day_of
from cases.search.postings import NO_ROWS, IntArray, LongArray, Posting, joined
from cases.search.scope import Narrowing, Scope
from cases.search.segment import SHARED, BoolArray, Segment
from cases.search.tally import Tally, counted, counted_shared, tally_of
from cases.search.terms import NO_TERM

FloatArray = NDArray[np.float32]


class View:
    """The visible rows of one segment. `alive` is None where nothing inside the spans is hidden.

    `hidden` are the rows inside the spans that are hidden one by one; where the view is narrowed
    there are more.
    """

    def __init__(self, segment: Segment, groups: Sequence[int]) -> None:
        self.segment = segment
        blocks = segment.blocks
        # Blocks are in the order of their groups.
        ends = [blocks.group.searchsorted((group, group + 1)) for group in sorted(groups)]
        visible = np.concatenate([NO_ROWS, *(np.arange(*each) for each in ends)])
        self.starts = blocks.start[visible]
        self.stops = blocks.stop[visible]
        self.faults = blocks.fault[visible]
        self._tenths = blocks.tenths[visible]
        self.spans = _joined(self.starts, self.stops)
        self._span_starts, self._span_stops = _ends(self.spans)
        own = blocks.group[visible] != SHARED
        self._own_starts, self._own_stops = _ends(_joined(self.starts[own], self.stops[own]))
        self.sees_shared = SHARED in groups
        self.alive: BoolArray | None = None
        self.hidden: LongArray = NO_ROWS
        self.is_narrowed = False
        self._seen: dict[int, Posting] = {}

    def hide(self, rows: LongArray) -> None:
        """Take rows out of sight."""
        rows = np.unique(rows[self.shows(rows)])
        if len(rows):
            if self.alive is None:
                self.alive = np.ones(len(self.segment.rows), dtype=np.bool_)
            self.alive[rows] = False
            self.hidden = np.concatenate([self.hidden, rows])
            self._seen.clear()

    def keep_only(self, wanted: BoolArray) -> None:
        """Take all rows but these (n,) out of sight."""
        self.alive = wanted if self.alive is None else self.alive & wanted
        self.is_narrowed = True
        self._seen.clear()

    def drop_empty_blocks(self) -> None:
        """Forget blocks of which no row is in sight: that they exist says that there was a case."""
        if self.alive is not None:
            some = self.block_counts() > 0
            self.starts, self.stops = self.starts[some], self.stops[some]
            self.faults, self._tenths = self.faults[some], self._tenths[some]

    def shows(self, rows: LongArray) -> BoolArray:
        """Say which of some rows are in sight."""
        inside = np.zeros(len(rows), dtype=np.bool_)
        for start, stop in self.spans:
            inside |= (rows >= start) & (rows < stop)
        if self.alive is not None:
            inside &= self.alive[rows]
        return inside

    def parts(self, term: int) -> list[Posting]:
        """Return a posting inside the spans, hidden rows too; nothing is copied."""
        return self.segment.posting(term).between(self._span_starts, self._span_stops)

    def only_visible(self, chosen: BoolArray) -> LongArray:
        """Return which of all rows (n,) are chosen and in sight."""
        if self.alive is not None:
            chosen = chosen & self.alive
        parts = [np.flatnonzero(chosen[start:stop]) + start for start, stop in self.spans]
        return np.concatenate([NO_ROWS, *parts])

    def posting(self, term: int) -> Posting:
        """Return the visible part of a posting."""
        if term not in self._seen:
            self._seen[term] = self._visible(joined(self.parts(term)))
        return self._seen[term]

    def _visible(self, posting: Posting) -> Posting:
        if self.alive is None:
            return posting
        seen = self.alive[posting.rows]
        return Posting(
            posting.rows[seen], posting.steps[seen] if len(posting.steps) else posting.steps
        )

    def count(self, term: int) -> int:
        """Return how many visible rows have a term."""
        if self.is_narrowed:
            return len(self.posting(term).rows)
        hidden, _ = self.segment.posting(term).found(self.hidden)
        return sum(len(part.rows) for part in self.parts(term)) - len(hidden)

    def counted(self, term: int, bins: int) -> NDArray[np.float64]:
        """Return the tenths of visible cases (local faults, bins) with a term."""
        segment = self.segment
        if self.is_narrowed:
            return counted(segment, self.posting(term), bins)
        whole = segment.posting(term)
        own = whole.between(self._own_starts, self._own_stops)
        parts = [counted(segment, part, bins) for part in own]
        if self.sees_shared:
            parts.append(counted_shared(segment, term, bins))
        if len(self.hidden):
            parts.append(-counted(segment, whole.among(self.hidden), bins))
        return np.asarray(sum(parts, np.zeros((len(segment.fault_numbers), bins))))

    def block_counts(self) -> NDArray[np.int64]:
        """Return how many visible rows each block has."""
        counts = self.stops - self.starts
        if self.alive is None:
            return np.asarray(counts)
        if self.is_narrowed:
            return self._sums(self.alive).astype(np.int64)
        _, blocks = self._hidden_in_blocks
        return np.asarray(counts - np.bincount(blocks, minlength=len(counts)))

    def block_tenths(self) -> NDArray[np.float64]:
        """Return what the visible rows of each block weigh together, in tenths of a case."""
        if self.alive is None:
            return np.asarray(self._tenths)
        tenths = self.segment.tenths
        if self.is_narrowed:
            return self._sums(tenths * self.alive)
        rows, blocks = self._hidden_in_blocks
        hidden = np.bincount(blocks, tenths[rows], minlength=len(self._tenths))
        return np.asarray(self._tenths - hidden)

    @property
    def _hidden_in_blocks(self) -> tuple[LongArray, LongArray]:
        """The hidden rows of those blocks of which some are in sight, and the block of each."""
        blocks = np.searchsorted(self.starts, self.hidden, side="right") - 1
        inside = blocks >= 0
        inside[inside] = self.hidden[inside] < self.stops[blocks[inside]]
        return self.hidden[inside], blocks[inside]

    def _sums(self, values: NDArray[Any]) -> NDArray[np.float64]:
        sums = np.concatenate([[0.0], np.cumsum(values, dtype=np.float64)])
        return np.asarray(sums[self.stops] - sums[self.starts])

    def block_maxima(self, values: FloatArray) -> FloatArray:
        """Return the largest of some values (n,) in each block; values of hidden rows count."""
        if not len(self.starts):
            return np.empty(0, dtype=np.float32)
        edges = np.stack([self.starts, self.stops], axis=1).reshape(-1)
        ended = np.append(values, np.float32(-np.inf))
        return np.asarray(np.maximum.reduceat(ended, edges)[::2])


def _joined(starts: LongArray, stops: LongArray) -> list[tuple[int, int]]:
    """Return stretches of rows with those joined that follow one another."""
    first = np.flatnonzero(np.append(True, starts[1:] != stops[:-1])[: len(starts)])
    last = np.append(first[1:], len(starts))[: len(first)] - 1
    return list(zip(starts[first].tolist(), stops[last].tolist(), strict=True))


def _ends(spans: Sequence[tuple[int, int]]) -> tuple[LongArray, LongArray]:
    ends = np.array(spans, dtype=np.int64).reshape(-1, 2)
    return ends[:, 0], ends[:, 1]


class Sight:
    """All views of a search as one.

    `at` is the moment at which standings hold. Of a case and its copies one row stays in sight,
    the original where it is visible; `copies` has the others by the case that stays.
    """

    def __init__(
        self,
        segments: Sequence[Segment],
        scope: Scope,
        *,
        at: datetime,
        without: Iterable[int] = (),
        tail_cases: Iterable[int] = (),
        narrowing: Narrowing,
        shop: int | None = None,
        vehicle: int | None = None,
    ) -> None:
        """See segments; a tail is the last of them, and hides older rows of its cases.

        `shop` and `vehicle` are the numbers of what the narrowing names; None: there is no such.
        """
        groups = [*([SHARED] if scope.sees_shared else []), *scope.shops]
        self.views = [View(segment, groups) for segment in segments]
        self.today = day_of(at)
        self._hide(scope, without, tail_cases)
        if narrowing:
            self._narrow(narrowing, shop, vehicle)
        self.copies = self._fold_copies()
        for view in self.views:
            view.drop_empty_blocks()

    def _hide(self, scope: Scope, without: Iterable[int], tail_cases: Iterable[int]) -> None:
        hidden, newer = list(without), list(tail_cases)
        for number, view in enumerate(self.views):
            view.hide(view.segment.rows_of(hidden))
            if number < len(self.views) - 1:
                view.hide(view.segment.rows_of(newer))
            barred = view.segment.rows_of(scope.kept_back)
            own = np.isin(view.segment.rows.shops[barred], list(scope.shops))
            view.hide(barred[~own])

    def _narrow(self, narrowing: Narrowing, shop: int | None, vehicle: int | None) -> None:
        for view, standings in zip(self.views, self.standings, strict=True):
            rows = view.segment.rows
            keep = np.ones(len(rows), dtype=np.bool_)
            if narrowing.standings:
                wanted = [word in narrowing.standings for word in STANDING_WORDS]
                keep &= np.array(wanted)[standings]
            if narrowing.shop:
                keep &= rows.shops == (shop or -1)
            if narrowing.besides_circuit is not None:
                keep &= rows.circuits != narrowing.besides_circuit
            if narrowing.vehicle:
                keep &= rows.vehicles == (vehicle or -1)
            if narrowing.opened_since is not None:
                keep &= rows.opened >= day_of(narrowing.opened_since)
            view.keep_only(keep)

    def _fold_copies(self) -> dict[int, tuple[int, ...]]:
        families: dict[int, list[tuple[int, int, int]]] = {}
        for number, view in enumerate(self.views):
            rows = view.segment.rows
            copies = view.segment.copies
            for row in copies[view.shows(copies)].tolist():
                entry = (int(rows.cases[row]), number, row)
                families.setdefault(int(rows.roots[row]), []).append(entry)
        if not families:
            return {}
        originals = set()
        for view in self.views:
            found = view.segment.rows_of(families)
            seen = found[view.shows(found)]
            originals |= set(view.segment.rows.cases[seen].tolist())
        folded: dict[int, tuple[int, ...]] = {}
        for root, members in families.items():
            members.sort()
            stays = root
            if root not in originals:
                stays = members.pop(0)[0]
            for _, number, row in members:
                self.views[number].hide(np.array([row]))
            folded[stays] = tuple(case for case, _, _ in members)
        return folded

    # -------------------------------------------------------------------------- columns

    @cached_property
    def tallies(self) -> list[Tally]:
        """For each view what its rows are worth at the moment of the search."""
        return [tally_of(view.segment, self.today) for view in self.views]

    @property
    def standings(self) -> list[NDArray[np.int8]]:
        """For each view the standing of each row at the moment of the search."""
        return [tally.standings for tally in self.tallies]

    @cached_property
    def faults(self) -> IntArray:
        """The faults that any visible row has, `NO_TERM` always first."""
        every = [np.array([NO_TERM], dtype=np.int32), *(view.faults for view in self.views)]
        return np.unique(np.concatenate(every)).astype(np.int32)

    @cached_property
    def block_faults(self) -> list[NDArray[np.int64]]:
        """For each view the number among `faults` of the fault of each of its blocks."""
        return [np.searchsorted(self.faults, view.faults) for view in self.views]

    @cached_property
    def cases_by_fault(self) -> NDArray[np.int64]:
        """How many visible cases each fault has."""
        counts = np.zeros(len(self.faults), dtype=np.int64)
        for view, faults in zip(self.views, self.block_faults, strict=True):
            np.add.at(counts, faults, view.block_counts())
        return counts

    @property
    def observations(self) -> int:
        """How many cases are in sight; a case and its copies are one."""
        return int(self.cases_by_fault.sum())

    # ---------------------------------------------------------------------------- terms

    def postings(self, term: int) -> list[Posting]:
        """Return for each view the visible rows that have a term."""
        return [view.posting(term) for view in self.views]

    def count(self, term: int) -> int:
        """Return how many visible cases have a term."""
        return sum(view.count(term) for view in self.views)
