"""Two faults at once: every pair of suspects, both severities free, against one case's readings.

A pair is looked for only where no single fault fits. Every pair of suspects that the readings can
see at all is tried on a coarse grid, on which half a step counts as an uncertainty of its own, so
that none is lost between two points. What may fit is then followed to its best severities by
damped least squares (Marquardt 1963, from memory) and must pass the joint test of single faults.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from circuits.engine.equations.stage import Trials
from circuits.engine.equations.wiring import IntArray
from circuits.engine.faults import HALFWAY_OHMS, Suspect
from circuits.engine.judging.bench import Bench
from circuits.engine.judging.tried import Tried
from circuits.engine.judging.verdict import DoubleFinding, Explains
from circuits.engine.judging.weighing import Weighed
from circuits.engine.laws import FloatArray

# Severities of each suspect on a first and a finer grid, evenly by what they do to the readings.
LEVELS = (4, 8)
# How far a point of a grid speaks for, as a share of the way to its neighbours.
REACH = 0.6
FIRST_LEVEL = 0.2
# A suspect that moves no reading by this many standard uncertainties adds nothing to another.
VISIBLE = 1.0
STARTS_PER_PAIR = 2
MOST_STARTS = 2000
ROUNDS = 12
SMALL_TURN = 1e-4
LARGEST_TURN = 0.15
# The dial of a severity in ohms runs over these decades; its end is an open or a dead short.
LEAST_DECADE, DECADES = -4.0, 12.0
# Within so many standard uncertainties a reading is as predicted. Common practice, no source.
AS_PREDICTED = 3.0
PAIRS_AT_ONCE = 1600


@dataclass(frozen=True, slots=True)
class _Pairs:
    """P pairs of suspects with their severities, as turns of a dial from 0 (healthy) to 1."""

    suspect: IntArray  # (P, 2)
    turn: FloatArray  # (P, 2)

    def __len__(self) -> int:
        return len(self.suspect)

    def take(self, chosen: IntArray) -> "_Pairs":
        return _Pairs(self.suspect[chosen], self.turn[chosen])


def double_findings(bench: Bench) -> tuple[DoubleFinding, ...]:
    """Return the pairs of faults that fit the readings of a bench, best first.

    The bench must have tried its single faults. Where one of them fits, no pair is offered.
    """
    tried = bench.tried
    if tried is None or (tried.misfit <= bench.limit).any():
        return ()
    search = _Search(bench, tried)
    starts = search.starts()
    if not len(starts):
        return ()
    return search.findings(search.follow(starts))


class _Search:
    """The search for pairs in one case."""

    def __init__(self, bench: Bench, tried: Tried) -> None:
        self.bench = bench
        self.tried = tried
        self.dials = _Dials(bench.suspects)
        self.healthy = tried.predicted[int(np.flatnonzero(tried.move == 0)[0])]

    def _suspect(self, number: int) -> Suspect:
        suspect = self.bench.suspects[number]
        assert suspect is not None
        return suspect

    # ------------------------------------------------------------------------ the grid

    def _levels(self, number: int, count: int) -> IntArray:
        """Return rows of what was tried of a suspect, evenly by what they do to the readings."""
        rows = np.flatnonzero(self.tried.move == number)
        shares = [self._suspect(number).share(each)[0] for each in self.tried.severity[rows]]
        rows = rows[np.argsort(shares)]
        shown = np.vstack([self.healthy, self.tried.predicted[rows]])
        whole = np.ptp(shown, axis=0)
        seen = whole > VISIBLE * self.tried.uncertainty[rows].min(axis=0, initial=np.inf)
        if not seen.any():
            return rows[:0]
        way = np.cumsum(
            (np.abs(np.diff(shown, axis=0)) / np.where(seen, whole, np.inf)).sum(axis=1)
        )
        # Most faults are slight, so the first level comes soon after healthy.
        steps = way[-1] / count * np.append(FIRST_LEVEL, np.arange(1, count + 1))
        levels = np.unique(np.minimum(np.searchsorted(way, steps), len(rows) - 1))
        return np.asarray(rows[levels])

    def starts(self) -> _Pairs:
        """Return the points of the finer grid from which a pair may fit, best first."""
        listed: list[tuple[int, int]] | None = None
        for count in LEVELS:
            levels = {
                number: rows
                for number in range(1, len(self.bench.suspects))
                if (rows := self._levels(number, count)).size
            }
            listed = list(combinations(levels, 2)) if listed is None else listed
            points, misfit = self._points(levels, listed, self._slack(levels.values()))
            listed = sorted(set(map(tuple, points.suspect.tolist())))
        best = _best_of_each(points.suspect, misfit)
        return points.take(best[np.argsort(misfit[best])][:MOST_STARTS])

    def _points(
        self, levels: Mapping[int, IntArray], listed: Sequence[tuple[int, int]], slack: FloatArray
    ) -> tuple[_Pairs, FloatArray]:
        """Return the points of a grid from which pairs may fit, and their misfits."""
        kept, misfits = [], [np.zeros(0)]
        for begin in range(0, len(listed), PAIRS_AT_ONCE):
            grids = [
                np.stack(np.meshgrid(levels[one], levels[other]), axis=-1)
                for one, other in listed[begin : begin + PAIRS_AT_ONCE]
            ]
            rows = np.concatenate([grid.reshape(-1, 2) for grid in grids])
            pairs = self._pairs_of(rows)
            may_fit, misfit = self._may_fit(pairs, rows, slack)
            kept.append(pairs.take(may_fit))
            misfits.append(misfit)
        return _joined(kept), np.concatenate(misfits)

    def _slack(self, levels: Iterable[IntArray]) -> FloatArray:
        """Return how far readings (E, m) may be off between points of a grid."""
        slack = np.zeros_like(self.tried.predicted)
        for rows in levels:
            steps = np.abs(np.diff(np.vstack([self.healthy, self.tried.predicted[rows]]), axis=0))
            further = np.vstack([steps[1:], np.zeros_like(self.healthy)])
            slack[rows] = REACH * np.maximum(steps, further)
        return slack

    def _pairs_of(self, rows: IntArray) -> _Pairs:
        turns = np.zeros(len(self.tried.move))
        for row in np.unique(rows).tolist():
            turns[row] = _turn(self._suspect(self.tried.move[row]), self.tried.severity[row])
        return _Pairs(self.tried.move[rows].astype(np.intp), turns[rows])

    def _may_fit(
        self, pairs: _Pairs, rows: IntArray, slack: FloatArray
    ) -> tuple[IntArray, FloatArray]:
        """Return which pairs (indices) may fit, reading by reading, and their misfits.

        Both allow for the gaps of the grid.
        """

        def square(
            number: IntArray, readings: IntArray, shown: FloatArray, half_span: FloatArray
        ) -> FloatArray:
            within = half_span
            uncertainty = np.zeros_like(half_span)
            for row in rows[number].T:
                within = within + slack[row[:, None], readings]
                own = self.tried.uncertainty[row[:, None], readings]
                uncertainty = np.maximum(uncertainty, own)
            off = self.bench.allowed(self.bench.logged[readings] - shown, readings)
            return (np.maximum(np.abs(off) - within, 0.0) / uncertainty) ** 2

        number, shown, half_span = self.bench.sift(
            self._trials(pairs),
            lambda *there: np.asarray((square(*there) <= self.bench.limit).all(axis=1)),
        )
        every = np.arange(len(self.bench.readings))
        return number, square(number, every, shown, half_span).sum(axis=1)

    # ---------------------------------------------------------------------- following

    def follow(self, pairs: _Pairs) -> tuple[_Pairs, Weighed]:
        """Return the pairs at their best severities, with what came of them."""
        weighed = self._weigh(pairs)
        damping = np.full(len(pairs), 1e-2)
        for _ in range(ROUNDS):
            tried = self._stepped(pairs, weighed, damping)
            came = self._weigh(tried)
            better = came.misfit < weighed.misfit
            damping = np.where(better, damping / 5, damping * 10)
            pairs = _Pairs(pairs.suspect, np.where(better[:, None], tried.turn, pairs.turn))
            weighed = came.where(better, weighed)
        return pairs, weighed

    def _stepped(self, pairs: _Pairs, weighed: Weighed, damping: FloatArray) -> _Pairs:
        ahead = np.where(pairs.turn < 0.5, SMALL_TURN, -SMALL_TURN)
        # First all pairs with their first dial turned on a little, then with their second.
        turn = np.concatenate([pairs.turn + ahead * side for side in np.eye(2)])
        shown, _ = self.bench.show(self._trials(_Pairs(np.tile(pairs.suspect, (2, 1)), turn)))
        steps = np.stack([each - weighed.predicted for each in np.split(shown, 2)], axis=2)
        slope = steps / ahead[:, None]  # (P, m, 2)
        pull = np.swapaxes(slope, 1, 2) @ weighed.precision
        force = (pull @ weighed.miss[:, :, None])[:, :, 0]
        stiff = pull @ slope
        diagonal = np.arange(2)
        stiff[:, diagonal, diagonal] *= 1 + damping[:, None]
        stiff[:, diagonal, diagonal] += 1e-9 + 1e-9 * np.abs(stiff).max(axis=(1, 2))[:, None]
        step = np.linalg.solve(stiff, force[:, :, None])[:, :, 0]
        step = np.clip(step, -LARGEST_TURN, LARGEST_TURN)
        return _Pairs(pairs.suspect, np.clip(pairs.turn + step, SMALL_TURN, 1.0))

    def _weigh(self, pairs: _Pairs) -> Weighed:
        trials, most = self._trials(pairs), self.bench.most_at_once
        return Weighed.joined(
            [
                self.bench.weigh(trials.take(np.arange(begin, min(begin + most, len(pairs)))))
                for begin in range(0, len(pairs), most)
            ]
        )

    def _trials(self, pairs: _Pairs) -> Trials:
        return Trials(pairs.suspect, *self.dials.shares(pairs.suspect, pairs.turn))

    # ----------------------------------------------------------------------- findings

    def findings(self, followed: tuple[_Pairs, Weighed]) -> tuple[DoubleFinding, ...]:
        pairs, weighed = followed
        best = _best_of_each(pairs.suspect, weighed.misfit, each=1)
        fitting = best[weighed.misfit[best] <= self.bench.limit]
        fitting = fitting[np.argsort(weighed.misfit[fitting])]
        chosen = pairs.take(fitting)
        explained = self._explained(chosen, weighed, fitting)
        found = []
        for row, (numbers, turns) in enumerate(
            zip(chosen.suspect.tolist(), chosen.turn.tolist(), strict=True)
        ):
            first, second = (self._suspect(number) for number in numbers)
            found.append(
                DoubleFinding(
                    first=first,
                    second=second,
                    first_severity=self.dials.severity(first, numbers[0], turns[0]),
                    second_severity=self.dials.severity(second, numbers[1], turns[1]),
                    misfit=float(weighed.misfit[fitting[row]]),
                    misfit_limit=self.bench.limit,
                    predicted=tuple(weighed.predicted[fitting[row]].tolist()),
                    explained=explained[row],
                )
            )
        return tuple(found)

    def _explained(
        self, pairs: _Pairs, weighed: Weighed, rows: IntArray
    ) -> list[tuple[Explains, ...]]:
        """Say of each reading which of the two faults answers for it."""
        if not len(pairs):
            return []
        reach = AS_PREDICTED / np.sqrt(np.einsum("eii->ei", weighed.precision[rows]))
        reach = np.maximum(reach, AS_PREDICTED * self.tried.uncertainty.min(axis=0))
        alone = []
        for side in (0, 1):
            turn = pairs.turn.copy()
            turn[:, 1 - side] = 0.0
            shown, _ = self.bench.show(self._trials(_Pairs(pairs.suspect, turn)))
            alone.append(np.abs(self.bench.logged - shown) <= reach)
        sound = np.abs(self.bench.logged - self.healthy) <= reach
        by_first, by_second = alone
        words = np.select(
            [sound, by_first & by_second, by_first, by_second],
            [Explains.NEITHER, Explains.EITHER, Explains.FIRST, Explains.SECOND],
            Explains.TOGETHER,
        )
        return [tuple(Explains(word) for word in row) for row in words.tolist()]


# ------------------------------------------------------------------------------ the dial


class _Dials:
    """What a turn of each suspect's dial stands for: decades of ohms, or a share of the most."""

    def __init__(self, suspects: Sequence[Suspect | None]) -> None:
        self.in_ohms = np.array([each is not None and each.in_ohms for each in suspects])
        self.is_path = np.array([each is not None and each.is_path for each in suspects])
        self.graded = np.array([each is not None and each.graded for each in suspects])
        self.least = np.array(
            [0.0 if each is None else each.share(each.least)[0] for each in suspects]
        )
        self.least[self.in_ohms] = 0.0

    def shares(self, suspect: IntArray, turn: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return share and 1 - share at turns of the dials; the last turn is the end itself."""
        ohms = 10 ** (LEAST_DECADE + DECADES * turn)
        much = ohms / (HALFWAY_OHMS + ohms)
        little = HALFWAY_OHMS / (HALFWAY_OHMS + ohms)
        # A path of few ohms is much of a fault: its dial turns the other way.
        path_ohms = 10 ** (LEAST_DECADE + DECADES * (1 - turn))
        is_path = self.is_path[suspect]
        much = np.where(is_path, HALFWAY_OHMS / (HALFWAY_OHMS + path_ohms), much)
        little = np.where(is_path, path_ohms / (HALFWAY_OHMS + path_ohms), little)
        straight = np.where(self.graded[suspect], np.maximum(turn, self.least[suspect]), 1.0)
        in_ohms = self.in_ohms[suspect]
        share = np.where(in_ohms, much, straight)
        rest = np.where(in_ohms, little, 1 - straight)
        share = np.where(turn >= 1, 1.0, np.where(turn <= 0, 0.0, share))
        rest = np.where(turn >= 1, 0.0, np.where(turn <= 0, 1.0, rest))
        return share, rest

    def severity(self, suspect: Suspect, number: int, turn: float) -> float:
        """Return the severity at a turn of a suspect's dial."""
        share, rest = self.shares(np.array([number]), np.array([turn]))
        if not self.in_ohms[number]:
            return suspect.severity_at(float(share[0]))
        odds = rest / share if suspect.is_path else share / np.maximum(rest, 1e-300)
        return np.inf if rest[0] == 0 and not suspect.is_path else float(HALFWAY_OHMS * odds[0])


def _turn(suspect: Suspect, severity: float) -> float:
    if not suspect.in_ohms:
        return suspect.share(severity)[0]
    if severity in (0.0, np.inf):
        return 1.0
    turn = (np.log10(severity) - LEAST_DECADE) / DECADES
    return float(np.clip(1 - turn if suspect.is_path else turn, 0.0, 1.0))


def _best_of_each(suspect: IntArray, misfit: FloatArray, each: int = STARTS_PER_PAIR) -> IntArray:
    """Return the rows with the least misfit of each pair of suspects."""
    if not len(suspect):
        return np.zeros(0, dtype=np.intp)
    _, pair = np.unique(suspect, axis=0, return_inverse=True)
    order = np.lexsort((misfit, pair.reshape(-1)))
    ordered = pair.reshape(-1)[order]
    first = np.searchsorted(ordered, ordered)
    return order[np.arange(len(order)) - first < each]


def _joined(parts: Iterable[_Pairs]) -> _Pairs:
    none = _Pairs(np.zeros((0, 2), dtype=np.intp), np.zeros((0, 2)))
    listed = [none, *parts]
    return _Pairs(
        np.concatenate([each.suspect for each in listed]),
        np.concatenate([each.turn for each in listed]),
    )
