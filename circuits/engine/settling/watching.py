"""What the controls of trials watch, and which pieces that asks for."""

from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.moves import BoolArray, Moved
from circuits.engine.equations.stage import Stage
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray


@dataclass(frozen=True, slots=True)
class Controls:
    """Some of the controls of E trials, with their thresholds on the way up and down."""

    columns: IntArray  # (C,)
    rising: FloatArray  # (thresholds, E, C)
    falling: FloatArray  # (thresholds, E, C)


class Watch:
    """E trials in pieces that may change, with what is watched there, worked out once.

    `harder` (E, K) says by how much the thresholds lie higher than they are drawn.

    Attributes
    ----------
    pieces : (E, K)
        To be changed by `stand` alone.
    bend : (E, J)
        What the curved laws differ by from their chords, as far as they have been looked at.
    quick, slow
        The controls without memory, and those that have one.
    is_diode : (C,)
        Which of the quick ones block in their first piece and conduct in the second.
    """

    def __init__(
        self, stage: Stage, moved: Moved, start: IntArray, harder: FloatArray | None
    ) -> None:
        self.stage = stage
        self.moved = moved
        self.pieces = start.copy()
        self.bend = stage.straight(len(moved))
        rising, falling = thresholds(stage, moved)
        if harder is not None:
            rising += harder
            falling += harder
        self.quick, self.slow = (
            _chosen(np.flatnonzero(chosen), rising, falling)
            for chosen in (~stage.wiring.remembers, stage.wiring.remembers)
        )
        laws = stage.wiring.laws[stage.wiring.controlled[self.quick.columns]]
        blocks = (laws[:, 0, [0, 2]] == 0.0).all(axis=1)
        self.is_diode: BoolArray = blocks & (laws[:, 1, 0] != 0.0)
        self._watched = np.empty((len(moved), stage.control_count))
        self._is_stale = np.ones(len(moved), dtype=bool)

    def piece(self, trials: IntArray, controls: Controls) -> IntArray:
        """Return in which pieces some controls of some trials are (A, C)."""
        return np.asarray(self.pieces[trials[:, None], controls.columns])

    def stand(
        self, trials: IntArray, controls: Controls, piece: IntArray, before: IntArray
    ) -> BoolArray:
        """Put some controls of some trials into pieces (A, C); return who was in others (A,)."""
        turns: BoolArray = (piece != before).any(axis=1)
        if turns.any():
            turned = trials[turns]
            self.pieces[turned[:, None], controls.columns] = piece[turns]
            self._is_stale[turned] = True
        return turns

    def is_fresh(self, trials: IntArray) -> bool:
        """Return whether all these have been looked at as they stand, curved laws obeyed."""
        return bool(self.stage.control_count) and not self._is_stale[trials].any()

    def watched(self, trials: IntArray, controls: Controls) -> FloatArray:
        """Return what some controls of some trials watch (A, C): of a core the size of its amps."""
        stale = self._is_stale[trials]
        if stale.any():
            some = trials if stale.all() else trials[stale]
            bend = self.bend[some]
            watched = self.stage.watched(self.moved.take(some), self.pieces[some], bend)
            np.abs(watched, out=watched, where=self.stage.wiring.either_way)
            self.bend[some], self._watched[some] = bend, watched
            self._is_stale[some] = False
        return np.asarray(self._watched[trials[:, None], controls.columns])

    def wanted(
        self, trials: IntArray, controls: Controls, piece: IntArray, gap: float = 0.0
    ) -> IntArray:
        """Return the pieces (A, C) that the watched quantities ask for, of those that are in some.

        To turn, a control must be beyond its threshold by more than the gap.
        """
        watched = self.watched(trials, controls)
        wanted = np.zeros(piece.shape, dtype=np.intp)
        for number, rising in enumerate(controls.rising):
            beyond = watched > rising[trials] + gap
            # Who is just at the threshold on the way down stays.
            stays = watched >= controls.falling[number][trials] - gap
            wanted += np.where(piece > number, stays, beyond)
        return wanted


def thresholds(stage: Stage, moved: Moved) -> tuple[FloatArray, FloatArray]:
    """Return rising and falling thresholds (thresholds, E, K), moved along with the suspects."""
    wiring, moves = stage.wiring, stage.moves
    trial, slot = np.nonzero(moves.control[moved.move] >= 0)
    own = moved.move[trial, slot]
    control = moves.control[own]
    share, rest = moved.share[trial, slot, None], moved.rest[trial, slot, None]
    found = []
    for healthy, worst in (
        (wiring.rising, moves.worst_rising),
        (wiring.falling, moves.worst_falling),
    ):
        moving = np.repeat(healthy.T[:, None], len(moved), axis=1)
        if own.size:
            drawn = healthy[control]
            with np.errstate(invalid="ignore"):
                there = rest * drawn + share * worst[own]
            moving[:, trial, control] = np.where(np.isfinite(drawn), there, np.inf).T
        found.append(moving)
    return found[0], found[1]


def bounds_of(thresholds: FloatArray, piece: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return between which thresholds (T, E, C), the same both ways, pieces (E, C) hold."""
    edges = np.full((len(thresholds) + 2, *piece.shape), np.inf)
    edges[0], edges[1:-1] = -np.inf, thresholds
    below, above = (np.take_along_axis(edges, piece[None] + side, axis=0)[0] for side in (0, 1))
    return below, above


def _chosen(columns: IntArray, rising: FloatArray, falling: FloatArray) -> Controls:
    """Return controls with as many thresholds as one of them has: most have a single one."""
    used = int(np.isfinite(rising[:, :, columns]).any(axis=(1, 2)).sum())
    return Controls(columns, rising[:used, :, columns], falling[:used, :, columns])
