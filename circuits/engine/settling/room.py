"""Between which shares the states of trials would not change: where controls cross thresholds."""

import numpy as np

from circuits.engine.equations.moves import Moved
from circuits.engine.equations.polynomials import product, roots_around
from circuits.engine.equations.ratios import together
from circuits.engine.equations.stage import Stage
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray


def room_around(
    stage: Stage, moved: Moved, share: FloatArray, pieces: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return the shares around trials (E,) of a suspect between which no control crosses.

    A watched quantity of one move is w0 + a u / (1 - u + u s), its threshold T + u dT; they meet
    where

        -dT (s - 1) u**2 + ((w0 - T) (s - 1) - dT + a) u + (w0 - T) = 0.

    Of several moves it is a ratio of polynomials (see `ratios`). Where either direction of the
    amps counts, they meet -T as well.
    """
    low, high = np.zeros(len(moved)), np.ones(len(moved))
    if not stage.control_count:
        return low, high
    thresholds = _Thresholds(stage, moved, pieces)
    single = stage.moves.single(moved.move)
    # What is there in full or not at all has no room to look for.
    one, several = np.flatnonzero(single), np.flatnonzero(~single & (share < 1))
    alone = moved.first(1).take(one)
    for chosen, still, slope, stiffer in stage.watched_lines(alone, pieces[one]):
        own = one[chosen]
        for rows, sign in thresholds.ways:
            threshold, rise = thresholds.of(own, rows, sign)
            gap = still[:, rows] - threshold
            with np.errstate(invalid="ignore"):
                linear = gap * stiffer[:, None] - rise + slope[:, rows]
            roots = _roots(-rise * stiffer[:, None], linear, gap)  # (2 or 1, 2, E, K)
            _narrow(low, high, own, share, roots)
    for trials in together(stage, moved.take(several), pieces[several]) if several.size else ():
        own = several[trials.number]
        above, below = trials.watched_ratios()
        for rows, sign in thresholds.ways:
            threshold, rise = thresholds.of(own, rows, sign)
            line = np.stack([threshold, rise], axis=-1)  # (2, E, K, 2)
            there = np.isfinite(threshold)
            crossing = product(np.where(there[..., None], line, 0.0), below[:, None])
            gap = np.pad(above[:, rows], ((0, 0), (0, 0), (0, 1))) - crossing
            roots = roots_around(gap, share[own][:, None])
            roots[~there] = np.nan
            _narrow(low, high, own, share, np.moveaxis(roots, 3, 1))
    return low, high


def _narrow(
    low: FloatArray, high: FloatArray, own: IntArray, share: FloatArray, roots: FloatArray
) -> None:
    """Narrow the rooms of some trials to the nearest of their roots (..., ..., E, K)."""
    here = share[own, None]
    below = np.where(roots < here, roots, 0.0).max(axis=(0, 1, 3), initial=0.0)
    above = np.where(roots > here, roots, 1.0).min(axis=(0, 1, 3), initial=1.0)
    low[own] = np.maximum(low[own], below)
    high[own] = np.minimum(high[own], above)


class _Thresholds:
    """The thresholds that trials in given pieces could cross, and how these climb with the share.

    `ways` has the controls with the signs of what they watch that count: for windings both.
    """

    def __init__(self, stage: Stage, moved: Moved, pieces: IntArray) -> None:
        wiring, moves = stage.wiring, stage.moves
        passed = pieces[:, :, None] > np.arange(wiring.rising.shape[1])
        self._healthy = np.where(passed, wiring.falling, wiring.rising)  # (E, K, 2)
        self._climb = np.zeros_like(self._healthy)
        gone = moves.along_the_line(moved.move)[0][..., 1]
        for slot, move in enumerate(moved.move.T):
            own = np.flatnonzero(moves.control[move] >= 0)
            control = moves.control[move[own]]
            worst = np.where(
                passed[own, control], moves.worst_falling[move[own]], moves.worst_rising[move[own]]
            )
            drawn = self._healthy[own, control]
            with np.errstate(invalid="ignore"):
                climb = np.where(np.isfinite(drawn), worst - drawn, 0.0)
            # The member of a compound goes as far as it is at its worst.
            self._climb[own, control] = gone[own, slot, None] * climb
        every = np.arange(stage.control_count)
        self.ways = ((every, 1.0), (np.flatnonzero(wiring.either_way), -1.0))

    def of(self, trials: IntArray, rows: IntArray, sign: float) -> tuple[FloatArray, FloatArray]:
        """Return thresholds of trials and by how much they climb with the share, (2, E, K)."""
        chosen = np.ix_(trials, rows)
        return (
            sign * self._healthy[chosen].transpose(2, 0, 1),
            sign * self._climb[chosen].transpose(2, 0, 1),
        )


def _roots(square: FloatArray, linear: FloatArray, constant: FloatArray) -> FloatArray:
    """Return the roots of square u**2 + linear u + constant, stacked; NaN where there is none."""
    with np.errstate(all="ignore"):
        # Few suspects move a threshold; without one there is a single root.
        if not square.any():
            return np.asarray(-constant / linear)[None]
        discriminant = np.sqrt(linear**2 - 4 * square * constant)
        # Adding what has the same sign loses no digits; the other root follows from the product.
        larger = -(linear + np.copysign(discriminant, linear)) / 2
        return np.stack([constant / larger, larger / square])
