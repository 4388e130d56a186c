"""The joint test: all readings of a case at once against trials, in the region that fits best.

A trial whose generator is about to be at its limit stands for cars on either side of it (see
`corners`). In each region readings are a linear model of the tolerances, and it holds as long as
its margins do not fall below nought. So a margin is weighed like one more reading, logged as at
least nought: tolerances that leave the region are none it could be explained by. A region farther
off than the limit of the test would not pass it anyway.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property, reduce
from typing import NamedTuple

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import IntArray, Situation
from circuits.engine.instruments import compared_value, meter_variance
from circuits.engine.judging.chi_square import chi_square_limit
from circuits.engine.judging.sitting import Sitting
from circuits.engine.judging.weighing import Columns, Expected, Weighed, weigh
from circuits.engine.laws import FloatArray
from circuits.engine.readings import Reading
from circuits.engine.settling.corners import Regions, regions
from circuits.engine.settling.phases import Went
from circuits.engine.settling.tolerances import sensitivities, variances

# What a wire that hangs loose shows is what the meter picks up. Common practice, no source.
PICKED_UP_VOLTS = 0.05
# A margin is in units of what tolerances move it; so little leaves it next to exact.
MARGIN_VARIANCE = 1e-8
# How many numbers a stack of covariances may hold at once.
MOST_ELEMENTS = 4_000_000
# Trials are looked at for corners so many at once, each in so many ways through its phases: where
# several sources are about to be at their limits in several phases, all ways are beyond counting.
TRIALS_AT_ONCE = 1000
MOST_WAYS = 32


class Models(NamedTuple):
    """What E trials predict of m readings, as `weigh` takes it."""

    predicted: FloatArray  # (E, m)
    half_span: FloatArray  # (E, m)
    spread: FloatArray  # (E, m, P)
    variance: FloatArray  # (E, m)

    def take(self, chosen: IntArray) -> "Models":
        return Models(*(each[chosen] for each in self))

    def besides(self, other: "Models") -> "Models":
        """Return the same trials with what both predict."""
        return Models(*(np.concatenate(parts, axis=1) for parts in zip(self, other, strict=True)))


class _Near(NamedTuple):
    """The regions of one situation, and the readings taken there, each with its place.

    `cost` is the misfit of these readings and of the margins, each for itself.
    """

    stage: Stage
    regions: Regions
    readings: Sequence[tuple[int, int]]
    cost: FloatArray  # (N,)


class JointTest:
    """The readings of a case with where each was taken: sitting, situation, number of its place."""

    def __init__(
        self, readings: Sequence[Reading], where: Sequence[tuple[Sitting, Situation, int]]
    ) -> None:
        self.readings = tuple(readings)
        self.where = tuple(where)
        self.logged = np.array([compared_value(reading) for reading in readings])
        self.meter_variance = np.array([meter_variance(reading) for reading in readings])
        self.limit = chi_square_limit(len(self.readings))
        #: (m,) which way the steady figure may lie off a least or a most without limit
        self.open_side = np.array([reading.bound.open_side for reading in self.readings])
        self._columns: Columns | None = None
        self._turns: dict[Sitting, dict[Situation, IntArray]] = {}

    @property
    def most_at_once(self) -> int:
        """Return how many trials may be weighed at once."""
        count = len(self.readings)
        return max(1, MOST_ELEMENTS // (count * (count + 80)))

    def shown(self, went: Mapping[Sitting, Went]) -> tuple[FloatArray, FloatArray]:
        """Return what trials show for each reading (E, m), and half the span of a chatter."""
        low, high = (
            np.stack(
                [
                    getattr(went[sitting][situation][1], end)[:, seat]
                    for sitting, situation, seat in self.where
                ],
                axis=1,
            )
            for end in ("low", "high")
        )
        return (low + high) / 2, (high - low) / 2

    # ------------------------------------------------------------------- one by one

    def expect(self, trials: Trials, went: Mapping[Sitting, Went]) -> Expected:
        """Return what trials show for each reading, and how sure that is, each by itself.

        Near a corner that is whatever lies between what its regions show.
        """
        plain = self.expect_as_drawn(trials, went)
        return self.widened(plain, trials, went, np.arange(len(trials)))

    def expect_as_drawn(self, trials: Trials, went: Mapping[Sitting, Went]) -> Expected:
        """Return the same, all of it in the region that each trial stands in."""
        variance = np.repeat(self.meter_variance[None], len(trials), axis=0)
        by_stage: dict[int, FloatArray] = {}
        for number, (sitting, situation, seat) in enumerate(self.where):
            stage, settled = went[sitting][situation]
            if id(stage) not in by_stage:
                by_stage[id(stage)] = variances(stage, trials, settled)
            share = self.readings[number].tolerance_share
            variance[:, number] += share**2 * by_stage[id(stage)][:, seat] / 3
            variance[settled.floating[:, seat], number] += PICKED_UP_VOLTS**2
        return Expected(*self.shown(went), variance)

    def widened(
        self, plain: Expected, trials: Trials, went: Mapping[Sitting, Went], some: IntArray
    ) -> Expected:
        """Return what is expected with the other regions of some trials taken in."""
        low, high = plain.predicted.copy(), plain.predicted.copy()
        variance = plain.variance.copy()
        for part, near in self._near(trials, went, some):
            for each in near:
                trial = part[each.regions.trial]
                for number, seat in each.readings:
                    values, spread = each.regions.values[:, seat], each.regions.spread[:, seat]
                    share = self.readings[number].tolerance_share
                    there = self.meter_variance[number] + share**2 * (spread**2).sum(axis=1) / 3
                    np.maximum.at(variance[:, number], trial, there)
                    np.minimum.at(low[:, number], trial, values)
                    np.maximum.at(high[:, number], trial, values)
        return Expected((low + high) / 2, plain.half_span + (high - low) / 2, variance)

    # ---------------------------------------------------------------------- jointly

    def weigh(self, trials: Trials, went: Mapping[Sitting, Went]) -> Weighed:
        """Return how the readings stand to trials that went through the situations.

        What is predicted is that of the parts as drawn, also of a trial in another region.
        """
        models = Models(*self.shown(went), *self._spread(trials, went))
        plain = weigh(self.logged, self.open_side, *models)
        own, came = [], []
        for part, near in self._near(trials, went, np.arange(len(trials))):
            likely = [self._likely(each) for each in near]
            for chosen in _portions(likely, self.most_at_once):
                own.append(part[chosen])
                came.append(self._in_regions(models.take(part), likely, chosen))
        return plain.put(np.concatenate(own), Weighed.joined(came)) if own else plain

    def _in_regions(self, models: Models, near: Sequence[_Near], own: IntArray) -> Weighed:
        """Return how the readings stand to some trials, each in the regions that fit best."""
        row, picked = cheapest_ways(own, [(each.regions.trial, each.cost) for each in near])
        inside = self._inside(models.take(row), near, picked)
        free = self._weighed(inside, self.logged, self.open_side)
        margins = self._margins(near, picked)
        holds = _holds(inside, free, margins)
        misfit = np.where(holds, free.misfit, np.inf)
        held = np.flatnonzero(~holds & (free.misfit < _least(row, misfit)))
        # What does not fit without its margins fits with them less; the nearest is told of it.
        nearest = free.misfit[held] <= np.maximum(self.limit, _least(row, free.misfit)[held])
        held = held[nearest]
        together = self._weighed(
            inside.take(held).besides(margins.take(held)),
            np.append(self.logged, np.zeros(margins.predicted.shape[1])),
            np.append(self.open_side, np.ones(margins.predicted.shape[1])),
        )
        misfit[held] = together.misfit
        best = np.lexsort((misfit, row))[np.searchsorted(row, own)]
        came = free.take(best)
        by_margins = np.flatnonzero(~holds[best])
        return came.put(
            by_margins,
            came.take(by_margins).held_by(together.take(np.searchsorted(held, best[by_margins]))),
        )

    def _weighed(self, models: Models, logged: FloatArray, open_side: FloatArray) -> Weighed:
        count, most = len(models.predicted), self.most_at_once
        return Weighed.joined(
            [
                weigh(logged, open_side, *models.take(np.arange(begin, min(begin + most, count))))
                for begin in range(0, max(count, 1), most)
            ]
        )

    def _spread(
        self, trials: Trials, went: Mapping[Sitting, Went]
    ) -> tuple[FloatArray, FloatArray]:
        """Return how far tolerances move each reading (E, m, P), and what meters add (E, m)."""
        if self._columns is None:
            self._columns = Columns(
                (situation, stage)
                for settled in went.values()
                for situation, (stage, _) in settled.items()
            )
        variance = np.repeat(self.meter_variance[None], len(trials), axis=0)
        spread = np.zeros((*variance.shape, len(self._columns)))
        moved: dict[int, FloatArray] = {}
        for number, (sitting, situation, seat) in enumerate(self.where):
            stage, outcome = went[sitting][situation]
            if id(stage) not in moved:
                moved[id(stage)] = sensitivities(stage, trials, outcome)
            share = self.readings[number].tolerance_share
            self._columns.put(spread[:, number], stage, moved[id(stage)][:, seat], share)
            variance[outcome.floating[:, seat], number] += PICKED_UP_VOLTS**2
        return spread, variance

    def _near(
        self, trials: Trials, went: Mapping[Sitting, Went], some: IntArray
    ) -> Iterator[tuple[IntArray, list[_Near]]]:
        """Yield a part of some trials, and their regions where a reading was taken.

        Regions count trials among that part. Where none is near a corner nothing is yielded.
        """
        taken: dict[tuple[Sitting, Situation], list[tuple[int, int]]] = {}
        for number in np.flatnonzero(self.near_corners).tolist():
            sitting, situation, seat = self.where[number]
            taken.setdefault((sitting, situation), []).append((number, seat))
        for begin in range(0, len(some) if taken else 0, TRIALS_AT_ONCE):
            part = some[begin : begin + TRIALS_AT_ONCE]
            found = []
            for (sitting, situation), readings in taken.items():
                stage, settled = went[sitting][situation]
                controls = self._turning(sitting)[situation]
                there = regions(
                    stage, trials.take(part), settled.take(part), self._reach, controls=controls
                )
                if there is not None:
                    found.append(_Near(stage, there, readings, np.zeros(len(there.trial))))
            if found:
                yield part, found

    @property
    def _reach(self) -> float:
        """Return how many standard uncertainties off nothing passes."""
        return float(np.sqrt(self.limit))

    @cached_property
    def near_corners(self) -> BoolArray:
        """Which readings (m,) were taken where a healthy car is near a corner."""
        return np.array(
            [bool(self._turning(sitting)[situation].size) for sitting, situation, _ in self.where]
        )

    def _turning(self, sitting: Sitting) -> dict[Situation, IntArray]:
        """Return the controls in each situation that have a corner near a healthy car.

        A fault's own severity takes it past any other corner: there it is tried on both sides.
        """
        if sitting not in self._turns:
            healthy = Trials.of_singles(np.array([0]), np.array([0.0]), np.array([1.0]))
            self._turns[sitting] = {}
            for situation, (stage, settled) in sitting.settle(healthy).items():
                there = regions(stage, healthy, settled, self._reach)
                none = np.zeros(0, dtype=np.intp)
                self._turns[sitting][situation] = none if there is None else there.controls
        return self._turns[sitting]

    def _likely(self, near: _Near) -> _Near:
        """Return regions without those that the readings of their situation exclude alone.

        A misfit is never less than that of some of its readings. Each trial keeps one region.
        """
        there = near.regions
        readings, seats = (list(each) for each in zip(*near.readings, strict=True))
        predicted = there.values[:, seats]
        share = np.array([self.readings[number].tolerance_share for number in readings])
        alone = weigh(
            self.logged[readings],
            self.open_side[readings],
            predicted,
            np.zeros_like(predicted),
            there.spread[:, seats] * share[:, None],
            np.repeat(self.meter_variance[None, readings], len(predicted), axis=0),
        )
        most = np.maximum(self.limit, _least(there.trial, alone.misfit))
        kept = np.flatnonzero(alone.misfit <= most)
        cost = alone.misfit + (np.minimum(there.margin, 0.0) ** 2).sum(axis=1)
        return near._replace(regions=there.take(kept), cost=cost[kept])

    def _inside(self, models: Models, near: Sequence[_Near], picked: Sequence[IntArray]) -> Models:
        """Return models in the regions that are picked of each situation."""
        assert self._columns is not None  # by what `_spread` has done
        for (stage, there, readings, _), pick in zip(near, picked, strict=True):
            rows = np.flatnonzero(pick >= 0)
            region = pick[rows]
            for number, seat in readings:
                models.predicted[rows, number] = there.values[region, seat]
                spread = np.zeros((len(rows), len(self._columns)))
                share = self.readings[number].tolerance_share
                self._columns.put(spread, stage, there.spread[region, seat], share)
                models.spread[rows, number] = spread
        return models

    def _margins(self, near: Sequence[_Near], picked: Sequence[IntArray]) -> Models:
        """Return the margins of the regions that are picked, as models of readings of nought."""
        assert self._columns is not None  # by what `_spread` has done
        found = []
        for (stage, there, _, _), pick in zip(near, picked, strict=True):
            rows = np.flatnonzero(pick >= 0)
            region = pick[rows]
            margin = np.zeros((len(pick), there.margin.shape[1]))
            spread = np.zeros((*margin.shape, len(self._columns)))
            variance = np.ones(margin.shape)
            known = np.isfinite(there.margin[region])
            margin[rows] = np.where(known, there.margin[region], 0.0)
            variance[rows] = np.where(known, MARGIN_VARIANCE, 1.0)
            for number in range(margin.shape[1]):
                own = np.zeros((len(rows), len(self._columns)))
                self._columns.put(own, stage, there.margin_spread[region, number], 1.0)
                spread[rows, number] = own
            found.append(Models(margin, np.zeros(margin.shape), spread, variance))
        return reduce(Models.besides, found)


def _holds(inside: Models, weighed: Weighed, margins: Models) -> BoolArray:
    """Return which models (N,) are in their regions with the tolerances that fit readings best."""
    pulled = (weighed.precision @ weighed.miss[:, :, None])[:, :, 0]
    off = np.einsum("nmp,nm->np", inside.spread, pulled) / 3
    margin = margins.predicted + np.einsum("ncp,np->nc", margins.spread, off)
    holds: BoolArray = (margin >= 0).all(axis=1)
    return holds


def _least(row: IntArray, misfit: FloatArray) -> FloatArray:
    """Return the least misfit of each row's trial (N,); trials stand together."""
    first = np.flatnonzero(np.append(True, row[1:] != row[:-1]))
    times = np.diff(np.append(first, len(row)))
    return np.repeat(np.minimum.reduceat(misfit, first), times)


def _counts(regions_of: IntArray, trial: IntArray) -> tuple[IntArray, IntArray]:
    """Return where the regions of trials begin, and how many each has."""
    first = np.searchsorted(regions_of, trial, side="left")
    return first, np.searchsorted(regions_of, trial, side="right") - first


def _portions(near: Sequence[_Near], most: int) -> Iterator[IntArray]:
    """Yield the trials that have regions, so many at once as have `most` ways in all."""
    own = np.unique(np.concatenate([each.regions.trial for each in near]))
    ways = np.ones(len(own))
    for each in near:
        _, count = _counts(each.regions.trial, own)
        ways = np.minimum(ways * np.maximum(count, 1), MOST_WAYS)
    portion = np.cumsum(ways) // most
    yield from np.split(own, np.flatnonzero(np.diff(portion)) + 1)


def cheapest_ways(
    own: IntArray, situations: Sequence[tuple[IntArray, FloatArray]]
) -> tuple[IntArray, list[IntArray]]:
    """Return trials (N,), each as often as there are ways through its regions, and these.

    Of each situation the trial and the cost of its regions are known; a way has the number of one
    of them, or -1 where the trial is near no corner. Of too many ways those are kept that cost
    least: as costs add up, none that is left behind on the way could be cheaper at its end.
    """
    row, picked = own, list[IntArray]()
    total = np.zeros(len(own))
    for regions_of, cost in situations:
        first, count = _counts(regions_of, row)
        times = np.maximum(count, 1)
        again = np.repeat(np.arange(len(row)), times)
        within = np.arange(len(again)) - np.repeat(np.cumsum(times) - times, times)
        region = np.where(count[again] > 0, first[again] + within, -1)
        row, total = row[again], total[again]
        total[region >= 0] += cost[region[region >= 0]]
        picked = [*(pick[again] for pick in picked), region]
        # Of equal ways the one past the fewest corners comes first, as regions are listed.
        order = np.lexsort((total, row))
        kept = np.sort(order[np.arange(len(row)) - np.searchsorted(row, row) < MOST_WAYS])
        row, total = row[kept], total[kept]
        picked = [pick[kept] for pick in picked]
    return row, picked
