"""Between which shares the states of trials would not change: where controls cross thresholds."""

import numpy as np

from circuits.engine.laws import FloatArray
from circuits.engine.moves import Moved
from circuits.engine.stage import Stage
from circuits.engine.wiring import IntArray


def room_around(stage: Stage, moved: Moved, pieces: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the shares around trials of one move between which no control crosses a threshold.

    A watched quantity is w0 + a u / (1 - u + u s), its threshold T + u dT; they meet where

        -dT (s - 1) u**2 + ((w0 - T) (s - 1) - dT + a) u + (w0 - T) = 0.

    Where either direction of the amps counts, they meet -T as well.
    """
    count, controls = len(moved), stage.control_count
    low, high = np.zeros(count), np.ones(count)
    if not controls:
        return low, high
    moves = stage.moves
    move, share = moved.move[:, 0], moved.share[:, 0]
    passed = pieces[:, :, None] > np.arange(stage.wiring.rising.shape[1])
    healthy = np.where(passed, stage.wiring.falling, stage.wiring.rising)  # (E, K, 2)
    climb = np.zeros_like(healthy)
    own = np.flatnonzero(moves.control[move] >= 0)
    control = moves.control[move[own]]
    worst = np.where(
        passed[own, control], moves.worst_falling[move[own]], moves.worst_rising[move[own]]
    )
    drawn = healthy[own, control]
    with np.errstate(invalid="ignore"):
        climb[own, control] = np.where(np.isfinite(drawn), worst - drawn, 0.0)
    every, either_way = np.arange(controls), np.flatnonzero(stage.wiring.either_way)
    for chosen, still, slope, stiffer in stage.watched_lines(moved, pieces):
        here = share[chosen, None]
        for rows, sign in ((every, 1.0), (either_way, -1.0)):
            threshold = sign * healthy[np.ix_(chosen, rows)].transpose(2, 0, 1)
            rise = sign * climb[np.ix_(chosen, rows)].transpose(2, 0, 1)
            gap = still[:, rows] - threshold
            with np.errstate(invalid="ignore"):
                linear = gap * stiffer[:, None] - rise + slope[:, rows]
            roots = _roots(-rise * stiffer[:, None], linear, gap)  # (2 or 1, 2, E, K)
            below = np.where(roots < here, roots, 0.0).max(axis=(0, 1, 3), initial=0.0)
            above = np.where(roots > here, roots, 1.0).min(axis=(0, 1, 3), initial=1.0)
            low[chosen] = np.maximum(low[chosen], below)
            high[chosen] = np.minimum(high[chosen], above)
    return low, high


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
