"""Pieces beside the one a trial stands in that some cars are in, as a corner of a law is so near.

A source about to be at its limit, a diode about to conduct, a battery about to give: as the parts
are drawn such a law holds on one side of its corner, in some cars within tolerance on the other,
and there readings follow tolerances along another line. Either line is known, from the network in
either piece; both meet where the law turns. A piece *holds* as long as what its law watches,
moved by tolerances as far as it may be, stays on its side of the corner: the *margin*, a straight
line of the tolerances like the readings themselves. So a car near corners is in one of several
regions, each a linear model with a few margins that must not fall below nought (the regions of a
piecewise-linear network: Katzenelson, IEEE Trans. Circuit Theory 12, 1965, from memory).

Controls with memory are none of this: see `ranges`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from circuits.engine.equations.corners import Corners
from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import MOST_PIECES, IntArray
from circuits.engine.laws import FloatArray
from circuits.engine.settling.settle import Settled
from circuits.engine.settling.tolerances import sensitivities, watched_sensitivities
from circuits.engine.settling.watching import thresholds

# A car beyond more corners than these at once is as rare as a part out of tolerance.
MOST_CORNERS = 3
# Of more corners than these that are near a trial the nearest count; else their regions, and those
# of several phases together, would be more than a machine holds.
MOST_NEAR = 4
# What moves less, in volts or amps, is moved by rounding.
LEAST_MOVED = 1e-9
# A tolerance that moves a reading by more volts or amps than any car has: amps forced into an open.
STEEPEST = 200.0
# Room for the number of a trial beside that of its state.
TRIAL_BITS = 32
SQRT_3 = np.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Regions:
    """N regions that trials of a situation may be in, in order of trials.

    Of each trial that is near a corner there is the region it stands in first, then the others;
    of the rest there is none. Margins are in units of what tolerances move them, standard; where a
    region has fewer than C of them the others are infinite and nothing moves them.
    """

    trial: IntArray  # (N,)
    values: FloatArray  # (N, R), what places read, the parts as drawn
    spread: FloatArray  # (N, R, P), how far each tolerance, at its edge, moves them
    margin: FloatArray  # (N, C), the parts as drawn
    margin_spread: FloatArray  # (N, C, P)
    #: Which controls have a corner that is near any of them
    controls: IntArray

    def take(self, chosen: IntArray) -> "Regions":
        rows = {name: getattr(self, name)[chosen] for name in self.__slots__ if name != "controls"}
        return replace(self, **rows)


def regions(
    stage: Stage,
    trials: Trials,
    settled: Settled,
    reach: float,
    *,
    worst: bool = False,
    controls: IntArray | None = None,
) -> Regions | None:
    """Return the regions of trials that a corner is near; None where none is near any.

    Near is a corner within `reach` standard uncertainties of its margin; or, at `worst`, within
    all that tolerances can move it as well. Corners of other controls than some may be left out.
    """
    corners = stage.corners if controls is None else stage.corners.of_controls(controls)
    if not len(corners.columns) or not len(trials):
        return None
    stands = ~settled.chatters
    for each in settled.loaded:
        stands[each.trial] = False
    own = np.flatnonzero(stands)
    margins = _margins(stage, corners, trials.take(own), settled.take(own))
    near = margins.near(reach, worst=worst)
    cornered = np.flatnonzero(near.any(axis=(1, 2)))
    if not cornered.size:
        return None
    own, margins, near = own[cornered], margins.take(cornered), near[cornered]
    found = [_Found.of(stage, trials, own, settled.take(own), margins, near)]
    seen = _keys(stage, own, settled.pieces[own])
    without_line = found[0].trial[found[0].is_steep()]
    for _ in range(MOST_CORNERS):
        trial, pieces = found[-1].beyond(corners.columns)
        key, first = np.unique(_keys(stage, trial, pieces), return_index=True)
        first = first[~np.isin(key, seen)]
        trial, pieces = trial[first], pieces[first]
        seen = np.concatenate([seen, key])
        if not trial.size:
            break
        steady = np.zeros(len(trial), dtype=bool)
        there = Settled.known(stage, trials.take(trial), pieces, steady, {})
        margins = _margins(stage, corners, trials.take(trial), there)
        # Out of reach, all its pieces hold nowhere.
        kept = np.flatnonzero(~margins.out_of_reach(reach, worst=worst).any(axis=(1, 2)))
        trial, there, margins = trial[kept], there.take(kept), margins.take(kept)
        near = margins.near(reach, worst=worst)
        found.append(_Found.of(stage, trials, trial, there, margins, near))
        # A source that forces its amps where nothing takes them has no volts.
        no_line = stage.crowd.states.odd[stage.crowd.states.numbers(there.pieces)]
        no_line |= (there.floating != settled.floating[trial]).any(axis=1)
        no_line |= found[-1].is_steep()
        without_line = np.concatenate([without_line, trial[no_line]])
    return _joined(found, without_line, corners)


class _Margins(NamedTuple):
    """How far what C laws watch lies from their corners, the one below and the one above."""

    margin: FloatArray  # (N, C, 2), below nought beyond the corner, infinite where there is none
    spread: FloatArray  # (N, C, 2, P), how far each tolerance, at its edge, moves it

    def take(self, chosen: IntArray) -> "_Margins":
        return _Margins(self.margin[chosen], self.spread[chosen])

    def reach(self, deviations: float, *, worst: bool) -> FloatArray:
        """Return how far margins may be moved (N, C, 2)."""
        reach = deviations / SQRT_3 * np.sqrt((self.spread**2).sum(axis=3))
        return np.asarray(np.maximum(reach, np.abs(self.spread).sum(axis=3)) if worst else reach)

    def near(self, deviations: float, *, worst: bool) -> BoolArray:
        reach = self.reach(deviations, worst=worst)
        near: BoolArray = (self.margin <= reach) & (reach > LEAST_MOVED)
        if near.sum(axis=(1, 2)).max(initial=0) <= MOST_NEAR:
            return near
        with np.errstate(divide="ignore", invalid="ignore"):
            far = np.where(near, self.margin / reach, np.inf)
        farthest = np.partition(far.reshape(len(far), -1), MOST_NEAR - 1)[:, MOST_NEAR - 1]
        return np.asarray(near & (far <= farthest[:, None, None]))

    def out_of_reach(self, deviations: float, *, worst: bool) -> BoolArray:
        out: BoolArray = self.margin < -self.reach(deviations, worst=worst) - LEAST_MOVED
        return out


def _margins(stage: Stage, corners: Corners, trials: Trials, settled: Settled) -> _Margins:
    """Return the margins of settled trials."""
    moved = stage.moved(trials)
    piece = settled.pieces[:, corners.columns]
    watched = stage.watched(moved, settled.pieces, settled.bend.copy())[:, corners.columns]
    spread = watched_sensitivities(stage, trials, settled)[:, corners.columns]
    rising, _ = thresholds(stage, moved)
    margin = np.full((*piece.shape, 2), np.inf)
    margin_spread = np.zeros((*margin.shape, spread.shape[2]))
    column = np.arange(len(corners.columns))
    for side, sign in enumerate((1.0, -1.0)):
        edge = np.clip(piece - 1 + side, 0, MOST_PIECES - 2)
        turns = corners.turns[column, edge] & (edge == piece - 1 + side)
        corner = np.take_along_axis(rising[:, :, corners.columns], edge[None], axis=0)[0]
        with np.errstate(invalid="ignore"):
            margin[:, :, side] = np.where(turns, sign * (watched - corner), np.inf)
        off = sign * (spread - corners.moved[column, edge])
        margin_spread[:, :, side] = np.where(turns[:, :, None], off, 0.0)
    return _Margins(margin, margin_spread)


class _Found(NamedTuple):
    """Some regions of trials, with which of their margins are near."""

    trial: IntArray  # (N,)
    pieces: IntArray  # (N, K)
    values: FloatArray  # (N, R)
    spread: FloatArray  # (N, R, P)
    margins: _Margins
    near: BoolArray  # (N, C, 2)

    @classmethod
    def of(
        cls,
        stage: Stage,
        trials: Trials,
        trial: IntArray,
        settled: Settled,
        margins: _Margins,
        near: BoolArray,
    ) -> "_Found":
        spread = sensitivities(stage, trials.take(trial), settled)
        return cls(trial, settled.pieces, settled.low, spread, margins, near)

    def is_steep(self) -> BoolArray:
        """Return which regions (N,) have a line that holds nowhere to speak of."""
        steep: BoolArray = np.abs(self.spread).max(axis=(1, 2), initial=0.0) > STEEPEST
        return steep

    def beyond(self, columns: IntArray) -> tuple[IntArray, IntArray]:
        """Return the trials and pieces beyond each corner that is near."""
        row, control, side = np.nonzero(self.near)
        pieces = self.pieces[row]
        pieces[np.arange(len(row)), columns[control]] += np.where(side > 0, 1, -1)
        return self.trial[row], pieces


def _keys(stage: Stage, trial: IntArray, pieces: IntArray) -> IntArray:
    """Return a number for each trial in each state."""
    # Two columns at once would take a slower way to what is unique.
    return np.asarray(trial + (stage.crowd.states.numbers(pieces) << TRIAL_BITS))


def _joined(found: Sequence[_Found], without_line: IntArray, corners: Corners) -> Regions | None:
    """Return the regions found, less the trials that would be in one without a line."""
    trial = np.concatenate([each.trial for each in found])
    order = np.argsort(trial, kind="stable")
    order = order[~np.isin(trial[order], without_line)]
    if not order.size:
        return None
    near, margin, spread = (
        np.concatenate(parts)[order].reshape(len(order), -1, *parts[0].shape[3:])
        for parts in (
            [each.near for each in found],
            [each.margins.margin for each in found],
            [each.margins.spread for each in found],
        )
    )
    used = np.flatnonzero(near.any(axis=0))
    near, margin, spread = near[:, used], margin[:, used], spread[:, used]
    size = np.where(near, np.sqrt((spread**2).sum(axis=2)) / SQRT_3, 1.0)
    return Regions(
        trial=trial[order],
        values=np.concatenate([each.values for each in found])[order],
        spread=np.concatenate([each.spread for each in found])[order],
        margin=np.where(near, margin / size, np.inf),
        margin_spread=np.where(near[:, :, None], spread / size[:, :, None], 0.0),
        controls=corners.columns[np.unique(used // 2)],
    )
