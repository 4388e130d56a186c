"""The points of every case in sight, and the best cases of the best faults."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cases.search.posterior import AskedSize, Posterior
from cases.search.scoring import (
    CODE_WEIGHT,
    FLOOR,
    READING_POINTS,
    by_byte,
    kernel_table,
    rarity_points,
    shares_of,
)
from cases.search.sight import Sight
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
            for reading, share in zip(readings, shares, strict=True)
        ]
        self.code_points = {
            code: rarity_points(sight.count(code), sight.observations, CODE_WEIGHT)
            for code in codes
        }
        self.kernel = [np.zeros(len(view.segment.rows), np.float32) for view in sight.views]
        self._told = [np.zeros(len(view.segment.rows), np.bool_) for view in sight.views]
        for reading, table in zip(readings, self.tables, strict=True):
            self._add_reading(reading, table)
        self.shared = [kernel.copy() for kernel in self.kernel]
        for code, points in self.code_points.items():
            for number, posting in enumerate(sight.postings(code)):
                self.shared[number][posting.rows] += np.float32(points)
                self._told[number][posting.rows] = True
        for typed in words:
            self._add_word(typed)

    def _add_reading(self, reading: AskedSize, table: FloatArray) -> None:
        for number, posting in enumerate(self.sight.postings(reading.term)):
            if len(posting.rows):
                points = table[posting.steps.view(np.uint8)]
                self.kernel[number][posting.rows] += points
                if reading.tells:
                    self._told[number][posting.rows[points > 0]] = True

    def _add_word(self, typed: TypedWord) -> None:
        for number, shared in enumerate(self.shared):
            free: NDArray[np.bool_] | None = None
            for meaning in typed.meanings:
                rows = self.sight.views[number].posting(meaning.term).rows
                if free is not None:
                    rows = rows[free[rows]]
                elif len(typed.meanings) > 1:
                    free = np.ones(len(shared), np.bool_)
                shared[rows] += np.float32(meaning.points)
                self._told[number][rows] = True
                if free is not None:
                    free[rows] = False

    def standing_points(self, view: int, row: int) -> float:
        """Return what a case gets for how well it stands."""
        return float(self.sight.tallies[view].points[row])

    @cached_property
    def totals(self) -> list[FloatArray]:
        """For each view the points of every row, its fault's apart; minus infinity: not alike.

        A row needs something that speaks for it: a code, a word, a reading that the car in order
        would not give; or past cases of its fault that read like what is asked.
        """
        learned = self.posterior.learned_of_sight()
        telling = learned >= FLOOR
        telling[self.sight.faults == NO_TERM] = False
        found = []
        for number, view in enumerate(self.sight.views):
            shared = self.shared[number]
            alike = self._told[number] & (shared >= FLOOR)
            for start, stop, fault in zip(
                view.starts.tolist(),
                view.stops.tolist(),
                self.sight.fault_of_block(view).tolist(),
                strict=True,
            ):
                if telling[fault]:
                    alike[start:stop] |= shared[start:stop] + learned[fault] >= FLOOR
            total = np.full(len(shared), -np.inf, dtype=np.float32)
            worth = self.sight.tallies[number].points
            for start, stop in view.spans:
                np.add(
                    shared[start:stop],
                    worth[start:stop],
                    out=total[start:stop],
                    where=alike[start:stop],
                )
            total[view.hidden] = -np.inf
            if view.is_narrowed and view.alive is not None:
                total[~view.alive] = -np.inf
            found.append(total)
        return found

    @cached_property
    def best_by_fault(self) -> FloatArray:
        """The points of the best case of each fault in sight, its fault's included (F,)."""
        best = np.full(len(self.sight.faults), -np.inf, dtype=np.float32)
        for total, view in zip(self.totals, self.sight.views, strict=True):
            np.maximum.at(best, self.sight.fault_of_block(view), view.block_maxima(total))
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
        return {fault: self._doubt(number) for fault, number in numbers.items()}

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
        for kernel, posting in zip(self.kernel, self.sight.postings(term), strict=True):
            alike = kernel[posting.rows] / READING_POINTS
            alike = alike[alike >= LEAST_ALIKE]
            cases += len(alike)
            weight += float(alike.sum())
        return Doubt(cases, -min(MOST_DOUBT, DOUBT_POINTS * weight)) if cases else NO_DOUBT

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
            for block in np.flatnonzero(self.sight.fault_of_block(view) == fault):
                start, stop = int(view.starts[block]), int(view.stops[block])
                points = total[start:stop]
                for place in _largest(points, most):
                    if np.isfinite(points[place]):
                        row = start + int(place)
                        case = int(view.segment.rows.cases[row])
                        candidates.append((-float(points[place]), case, number, row))
        candidates.sort()
        return [
            Found(view, row, case, fault, worth - score)
            for score, case, view, row in candidates[:most]
        ]


def _largest(points: FloatArray, most: int) -> NDArray[np.int64]:
    """Return where the largest of some points are; of equal ones the first."""
    if len(points) <= most:
        return np.arange(len(points))
    least = np.partition(points, len(points) - most)[len(points) - most]
    above = np.flatnonzero(points > least)
    level = np.flatnonzero(points == least)[: most - len(above)]
    return np.concatenate([above, level])
