"""The points of every case in sight, and the best cases of the best faults."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cases.search.posterior import AskedSize, Posterior
from cases.search.postings import LongArray
from cases.search.scoring import (
    CODE_WEIGHT,
    FLOOR,
    READING_POINTS,
    by_byte,
    kernel_table,
    rarity_points,
    shares_of,
)
from cases.search.sight import Sight, View
from cases.search.spelling import TypedWord
from cases.search.terms import NO_TERM

FloatArray = NDArray[np.float32]
#: Among so many of the best faults it is looked whether cases looked like them and were not.
FAULTS_DOUBTED = 30
#: What one case that reads the same and was something else takes from a fault, and the most.
DOUBT_POINTS = 0.7
MOST_DOUBT = 2.0
# Less alike than this it is no warning.
LEAST_ALIKE = 0.3


@dataclass(frozen=True, slots=True)
class Found:
    """One case that was found: where it is in sight, and its points."""

    view: int
    row: int
    case: int
    fault: int
    score: float


@dataclass(frozen=True, slots=True)
class Doubt:
    """Past cases that read alike and turned out not to be this fault."""

    cases: int
    points: float


NO_DOUBT = Doubt(0, 0.0)


class Points:
    """What every case in sight has in common with what is asked."""

    def __init__(
        self,
        sight: Sight,
        posterior: Posterior,
        readings: Sequence[AskedSize],
        codes: Sequence[int],
        words: Sequence[TypedWord],
    ) -> None:
        self.sight, self.posterior = sight, posterior
        self.readings, self.words = readings, words
        shares = shares_of([reading.size for reading in readings])
        self.tables = [
            by_byte(kernel_table(reading.size, share).astype(np.float32))
            for reading, share in zip(readings, shares.tolist(), strict=True)
        ]
        self.code_points = {
            code: rarity_points(sight.count(code), sight.observations, CODE_WEIGHT)
            for code in codes
        }
        # For every row what it shares and, as the imaginary part, how much of that tells: both at
        # once, because going through a posting takes longer than adding.
        self._sums = [np.zeros(len(view.segment.rows), np.complex64) for view in sight.views]
        for reading, table in zip(readings, self.tables, strict=True):
            self._add_reading(reading, table)
        for code, points in self.code_points.items():
            for view, sums in zip(sight.views, self._sums, strict=True):
                for part in view.parts(code):
                    sums[part.rows] += _telling(points)
        for typed in words:
            self._add_word(typed)

    def _add_reading(self, reading: AskedSize, table: FloatArray) -> None:
        worth = table + 1j * ((table > 0) & reading.tells)
        worth = worth.astype(np.complex64)
        for view, sums in zip(self.sight.views, self._sums, strict=True):
            for part in view.parts(reading.term):
                sums[part.rows] += worth[part.steps.view(np.uint8)]

    def _add_word(self, typed: TypedWord) -> None:
        for view, sums in zip(self.sight.views, self._sums, strict=True):
            free: NDArray[np.bool_] | None = None
            for meaning in typed.meanings:
                if free is None and len(typed.meanings) > 1:
                    free = np.ones(len(sums), np.bool_)
                for part in view.parts(meaning.term):
                    rows = part.rows if free is None else part.rows[free[part.rows]]
                    sums[rows] += _telling(meaning.points)
                    if free is not None:
                        free[rows] = False

    def standing_points(self, view: int, row: int) -> float:
        """Return what a case gets for how well it stands."""
        return float(self.sight.tallies[view].points[row])

    @cached_property
    def _shared(self) -> list[FloatArray]:
        return [np.ascontiguousarray(sums.real) for sums in self._sums]

    @cached_property
    def alike(self) -> list[LongArray]:
        """For each view the visible rows that are alike.

        A row needs something that speaks for it: a code, a word, a reading that the car in order
        would not give; or past cases of its fault that read like what is asked.
        """
        learned = self.posterior.learned_of_sight()
        telling = learned >= FLOOR
        telling[self.sight.faults == NO_TERM] = False
        found = []
        for view, sums, shared, faults in zip(
            self.sight.views, self._sums, self._shared, self.sight.block_faults, strict=True
        ):
            alike = (sums.imag > 0) & (shared >= FLOOR)
            for block in np.flatnonzero(telling[faults]).tolist():
                rows = slice(view.starts[block], view.stops[block])
                alike[rows] |= shared[rows] + learned[faults[block]] >= FLOOR
            found.append(view.only_visible(alike))
        return found

    @cached_property
    def totals(self) -> list[FloatArray]:
        """For each view the points of every row, its fault's apart; minus infinity: not alike."""
        found = []
        for shared, rows, tally in zip(self._shared, self.alike, self.sight.tallies, strict=True):
            total = np.full(len(shared), -np.inf, dtype=np.float32)
            total[rows] = shared[rows] + tally.points[rows]
            found.append(total)
        return found

    @cached_property
    def best_by_fault(self) -> FloatArray:
        """The points of the best case of each fault in sight, its fault's included (F,)."""
        best = np.full(len(self.sight.faults), -np.inf, dtype=np.float32)
        for total, view, faults in zip(
            self.totals, self.sight.views, self.sight.block_faults, strict=True
        ):
            np.maximum.at(best, faults, view.block_maxima(total))
        return best + self.fault_points.astype(np.float32)

    @cached_property
    def fault_points(self) -> NDArray[np.float64]:
        """What each fault in sight gives to its cases."""
        return self.posterior.points_of_sight()

    @cached_property
    def doubts(self) -> dict[int, Doubt]:
        """For the best faults in sight what speaks against them: cases that looked like them."""
        numbers = {fault: int(self.sight.faults[fault]) for fault in self._leading}
        for view in self.sight.views:
            view.segment.load(numbers.values())
        return {
            fault: self._doubt(number)
            for fault, number in numbers.items()
            if any(len(view.segment.posting(number).rows) for view in self.sight.views)
        }

    @cached_property
    def _leading(self) -> list[int]:
        """The best faults in sight of which a case is alike, before doubts are looked for."""
        order = np.argsort(-self.best_by_fault, kind="stable")[: FAULTS_DOUBTED + 1]
        return [
            fault
            for fault in order.tolist()
            if np.isfinite(self.best_by_fault[fault]) and self.sight.faults[fault] != NO_TERM
        ]

    def _doubt(self, term: int) -> Doubt:
        cases, weight = 0, 0.0
        for view, posting in zip(self.sight.views, self.sight.postings(term), strict=True):
            if len(posting.rows):
                alike = self._kernel(view, posting.rows) / READING_POINTS
                alike = alike[alike >= LEAST_ALIKE]
                cases += len(alike)
                weight += float(alike.sum())
        return Doubt(cases, -min(MOST_DOUBT, DOUBT_POINTS * weight)) if cases else NO_DOUBT

    def _kernel(self, view: View, rows: LongArray) -> FloatArray:
        """Return what the readings of some rows are worth."""
        points = np.zeros(len(rows), np.float32)
        for reading, table in zip(self.readings, self.tables, strict=True):
            posting = view.segment.posting(reading.term)
            which, place = posting.found(rows)
            points[which] += table[posting.steps[place].view(np.uint8)]
        return points

    def doubt(self, fault: int) -> Doubt:
        return self.doubts.get(fault, NO_DOUBT)

    def chosen(self, limit: int, per_fault: int) -> list[Found]:
        """Return the best cases, a few of each fault, fault after fault, the best first."""
        scores = [
            (float(self.best_by_fault[fault]) + self.doubt(fault).points, fault)
            for fault in self._leading
        ]
        groups = [(-found.score, found.case, [found]) for found in self._unclaimed(limit)]
        kept, least = 0, -np.inf
        for score, fault in sorted(scores, reverse=True):
            # Of faults that are level all are looked at: which comes first is the cases' to say.
            if kept >= limit and score < least:
                break
            members = self.best_of(fault, per_fault)
            groups.append((-members[0].score, members[0].case, members))
            kept += len(members)
            least = score
        groups.sort(key=lambda group: group[:2])
        return [found for _, _, members in groups for found in members][:limit]

    def _unclaimed(self, most: int) -> list[Found]:
        """Return the best cases that claim no fault: each stands for itself."""
        none = int(np.flatnonzero(self.sight.faults == NO_TERM)[0])
        return self.best_of(none, most)

    def best_of(self, fault: int, most: int) -> list[Found]:
        """Return the best cases of one fault in sight, the best first."""
        candidates: list[tuple[float, int, int, int]] = []
        worth = float(self.fault_points[fault]) + self.doubt(fault).points
        for number, (total, view) in enumerate(zip(self.totals, self.sight.views, strict=True)):
            for block in np.flatnonzero(self.sight.block_faults[number] == fault):
                start, stop = int(view.starts[block]), int(view.stops[block])
                points = total[start:stop]
                for place in largest(points, most):
                    case = int(view.segment.rows.cases[start + place])
                    candidates.append((-float(points[place]), case, number, start + place))
        candidates.sort()
        return [
            Found(view, row, case, fault, worth - score)
            for score, case, view, row in candidates[:most]
        ]


def _telling(points: float) -> np.complex64:
    """Return points that tell something."""
    return np.complex64(complex(points, 1))


def largest(points: FloatArray, most: int) -> list[int]:
    """Return where the largest of some points are; of equal ones the first, minus infinity never.

    A list has few, and finding these one by one takes less time than putting all in order.

    >>> import numpy as np
    >>> from cases.search.points import largest
    >>> largest(np.array([-np.inf, 2.0, 3.0, 2.0]), 2)
    [2, 1]
    """
    left = points.copy()
    found: list[int] = []
    while len(found) < min(most, len(left)):
        place = int(left.argmax())
        if left[place] == -np.inf:
            break
        found.append(place)
        left[place] = -np.inf
    return found
