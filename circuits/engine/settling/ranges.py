"""The range in which a reading lies: what tolerances, the meter and a hesitant relay leave.

Tolerances are bounds. Combined as the GUM does they give the range that holds 99.5 % of all cars
(JCGM 100:2008, 4.3.7 and 5.1); added up, each at its worst, they give the range that holds them
all, as far as readings follow tolerances in a straight line.

A relay within tolerance of its threshold is made in one car and open in the next. So all trials go
through the phases two more times, with every threshold as much too high, and too low, as the
tolerances move what its control watches. Where that ends in another state both are carried.

Where a law without memory turns, a source that comes to its limit say, readings go on along another
line; the range takes in what a car beyond such a corner reads, see `corners`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import IntArray, Situation
from circuits.engine.laws import FloatArray
from circuits.engine.settling.corners import Regions, regions
from circuits.engine.settling.phases import PhaseRun, Seats, Went
from circuits.engine.settling.settle import Settled, settle
from circuits.engine.settling.tolerances import WhatMoves, sensitivities, variances

#: Whether the phases before are known to have been gone through in order, or a relay may stand
#: as it likes.
History = Literal["known", "unknown"]

# A 99.5 % interval of a normal quantity reaches this many standard uncertainties either side.
COVERAGE_FACTOR = 2.807
SQRT_3 = np.sqrt(3.0)
# In standard uncertainties, beyond all.
ENDLESS = 1e9


@dataclass(frozen=True, slots=True)
class Ranges:
    """What E trials may read at R places of a situation, (E, R) each."""

    low: FloatArray
    high: FloatArray
    worst_low: FloatArray
    worst_high: FloatArray


@dataclass(frozen=True, slots=True)
class Reach:
    """What E trials read in every state that tolerances leave them: low to high, (E, R)."""

    low: FloatArray
    high: FloatArray
    #: (E,) whether a relay or rule is so near its threshold that there is more than one state
    near_threshold: BoolArray


def ranges(
    stage: Stage, trials: Trials, settled: Settled, reach: Reach, meter_bounds: FloatArray
) -> Ranges:
    """Return the ranges about what trials read; `meter_bounds` (E, R) is how far a meter is off."""
    spread = sensitivities(stage, trials, settled)
    model = np.sqrt((spread**2).sum(axis=2)) / SQRT_3
    usual = COVERAGE_FACTOR * np.hypot(model, meter_bounds / SQRT_3)
    worst = np.abs(spread).sum(axis=2) + meter_bounds
    found = Ranges(
        low=reach.low - usual,
        high=reach.high + usual,
        worst_low=reach.low - worst,
        worst_high=reach.high + worst,
    )
    near = regions(stage, trials, settled, COVERAGE_FACTOR, worst=True)
    if near is not None:
        _take_in(found, near, meter_bounds[near.trial])
    return found


def _take_in(found: Ranges, near: Regions, meter_bounds: FloatArray) -> None:
    """Widen ranges by what trials read in the regions beyond corners, as far as these hold."""
    for sign, usual, worst in (
        (-1.0, found.low, found.worst_low),
        (1.0, found.high, found.worst_high),
    ):
        outer = np.maximum if sign > 0 else np.minimum
        for reach, ends in (
            (_usual_reach(near, sign * near.spread, meter_bounds), usual),
            (_worst_reach(near, sign * near.spread, meter_bounds), worst),
        ):
            outer.at(ends, near.trial, near.values + sign * reach)


def _usual_reach(near: Regions, spread: FloatArray, meter_bounds: FloatArray) -> FloatArray:
    """Return how far up 99.5 % of the cars in regions read (N, R), or -infinity for none of them.

    Of all tolerances within a ball, in standard uncertainties, it is the farthest in which a
    margin is not below nought; of several margins the one that allows least.
    """
    size = np.hypot(np.sqrt((spread**2).sum(axis=2)), meter_bounds) / SQRT_3
    found = COVERAGE_FACTOR * size
    for margin, margin_spread in _by_margin(near):
        along = np.einsum("nrp,np->nr", spread, margin_spread) / 3
        across = np.sqrt(np.maximum(size**2 - along**2, 0.0))
        edge = np.sqrt(np.maximum(COVERAGE_FACTOR**2 - margin**2, 0.0))[:, None]
        at_edge = -margin[:, None] * along + across * edge
        held = COVERAGE_FACTOR * along < -margin[:, None] * size
        found = np.where(held, np.minimum(found, at_edge), found)
        found[margin < -COVERAGE_FACTOR] = -np.inf
    return np.asarray(found)


def _worst_reach(near: Regions, spread: FloatArray, meter_bounds: FloatArray) -> FloatArray:
    """Return how far up any car in regions reads (N, R), or -infinity if none is in them.

    With each tolerance between its edges and a margin not below nought that is a linear program of
    one constraint. Its dual has a single unknown, at nought or where one of its terms turns.
    """
    found = np.abs(spread).sum(axis=2)
    for margin, margin_spread in _by_margin(near):
        own = margin_spread[:, None]
        with np.errstate(all="ignore"):
            turns = np.where(own != 0.0, -spread / own, 0.0)
        for price in np.maximum(np.moveaxis(turns, 2, 0), 0.0):
            dual = np.abs(spread + price[:, :, None] * own).sum(axis=2)
            found = np.minimum(found, dual + price * margin[:, None])
        found[margin < -np.abs(margin_spread).sum(axis=1)] = -np.inf
    return np.asarray(found + meter_bounds)


def _by_margin(near: Regions) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Yield the margins of regions (N,), as good as without end where there is none."""
    for number in range(near.margin.shape[1]):
        margin = near.margin[:, number]
        yield np.where(np.isfinite(margin), margin, ENDLESS), near.margin_spread[:, number]


def reaches(
    run: PhaseRun,
    trials: Trials,
    seats: Mapping[Situation, Seats],
    went: Went,
    history: History = "known",
) -> dict[Situation, Reach]:
    """Return what trials that `went` through the phases read in all states they may be in."""
    found: dict[Situation, Reach] = {}
    stood: dict[float, dict[Situation | None, dict[str, IntArray]]] = {
        side: {None: {}} for side in (-1.0, 1.0)
    }
    for situation, entered_from in run.steps(seats, all_phases=False):
        stage, settled = went[situation]
        reach = Reach(settled.low.copy(), settled.high.copy(), np.zeros(len(trials), dtype=bool))
        off = watched_reach(stage, trials, settled)
        for side, before in stood.items():
            start = stage.starting(len(trials), before[entered_from])
            usual = stage.starting(len(trials), _by_name(went, entered_from))
            unsure = _unsure(stage, trials, settled, off) | (start != usual).any(axis=1)
            pieces = settled.pieces
            if unsure.any():
                pieces = pieces.copy()
                chosen = np.flatnonzero(unsure)
                other = settle(stage, trials.take(chosen), start[chosen], harder=side * off[chosen])
                pieces[chosen] = other.pieces
                _widen(reach, chosen, other, settled)
            before[situation] = {
                name: pieces[:, row] for row, name in enumerate(stage.control_names())
            }
        if history == "unknown":
            for other in from_any_history(stage, trials):
                _widen(reach, np.arange(len(trials)), other, settled, near_threshold=False)
        found[situation] = reach
    return found


def from_any_history(stage: Stage, trials: Trials) -> Iterator[Settled]:
    """Yield where trials settle when all relays and rules had let go, and when all had pulled in.

    Between these two lies what any other history leads to, where relays only help one another.
    """
    for passed in (0, 1):
        start = stage.starting(len(trials), {})
        start[:, stage.wiring.remembers] = passed
        yield settle(stage, trials, start)


def _by_name(went: Went, situation: Situation | None) -> dict[str, IntArray]:
    if situation is None:
        return {}
    stage, settled = went[situation]
    return {name: settled.pieces[:, row] for row, name in enumerate(stage.control_names())}


def watched_reach(stage: Stage, trials: Trials, settled: Settled) -> FloatArray:
    """Return how far tolerances move what relays and rules watch (E, K); nought for the rest."""
    remembers = stage.wiring.remembers
    if not remembers.any():
        return np.zeros((len(trials), stage.control_count))
    uncertainty = np.sqrt(variances(stage, trials, settled, WhatMoves.WATCHED)) / SQRT_3
    return np.where(remembers, COVERAGE_FACTOR * uncertainty, 0.0)


def _unsure(stage: Stage, trials: Trials, settled: Settled, off: FloatArray) -> BoolArray:
    """Return which trials (E,) have a relay that a threshold in reach might leave otherwise."""
    remembers = stage.wiring.remembers
    if not remembers.any():
        return np.zeros(len(trials), dtype=bool)
    watched = stage.watched(stage.moved(trials), settled.pieces, settled.bend.copy())
    watched = np.where(stage.wiring.either_way, np.abs(watched), watched)
    passed = settled.pieces > 0
    # One that stands made may never have come so far; one that let go may still have held.
    doubtful = np.where(
        passed,
        watched - off <= stage.wiring.rising[:, 0],
        watched + off >= stage.wiring.falling[:, 0],
    )
    unsure: BoolArray = (doubtful & remembers).any(axis=1) & ~settled.chatters
    return unsure


def _widen(
    reach: Reach,
    chosen: IntArray,
    other: Settled,
    settled: Settled,
    *,
    near_threshold: bool = True,
) -> None:
    """Take in what chosen trials read where they stand otherwise."""
    differs = (other.pieces != settled.pieces[chosen]).any(axis=1) | other.chatters
    rows, own = chosen[differs], np.flatnonzero(differs)
    reach.low[rows] = np.minimum(reach.low[rows], other.low[own])
    reach.high[rows] = np.maximum(reach.high[rows], other.high[own])
    reach.near_threshold[rows] |= near_threshold
