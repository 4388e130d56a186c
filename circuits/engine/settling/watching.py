"""What the controls of trials watch, and which pieces that asks for."""

from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.moves import BoolArray, Moved
from circuits.engine.equations.stage import Stage
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray

# Controls without memory meet at their threshold; this keeps rounding from turning them about.
NO_MEMORY_GAP = 1e-10


@dataclass(frozen=True, slots=True)
class Look:
    """A trials as they stand: the pieces of their K controls, what these watch and ask for."""

    trials: IntArray  # (A,)
    piece: IntArray  # (A, K)
    watched: FloatArray  # (A, K), of a core the size of its amps
    wanted: IntArray  # (A, K)

    def take(self, chosen: BoolArray) -> "Look":
        if chosen.all():
            return self
        rows = np.flatnonzero(chosen)
        return Look(
            self.trials.take(rows),
            self.piece.take(rows, axis=0),
            self.watched.take(rows, axis=0),
            self.wanted.take(rows, axis=0),
        )


class Watch:
    """E trials in pieces that change on their way, and what their controls watch there.

    `harder` (E, K) says by how much the thresholds lie higher than they are drawn.

    Attributes
    ----------
    pieces : (E, K)
    bend : (E, J)
        What the curved laws differ by from their chords, as they were last looked at.
    rising : (thresholds, E, K)
    quick, is_diode : (K,)
        Which controls have no memory, and which of these block in their first piece and conduct in
        the second.
    """

    def __init__(
        self, stage: Stage, moved: Moved, start: IntArray, harder: FloatArray | None = None
    ) -> None:
        self.stage = stage
        self.moved = moved
        self.pieces = start.copy()
        self.bend = stage.straight(len(moved))
        self.rising, self._falling = thresholds(stage, moved)
        if harder is not None:
            self.rising += harder
            self._falling += harder
        wiring = stage.wiring
        self.quick: BoolArray = ~wiring.remembers
        laws = wiring.laws[wiring.controlled]
        blocks = (laws[:, 0, [0, 2]] == 0.0).all(axis=1)
        self.is_diode: BoolArray = self.quick & blocks & (laws[:, 1, 0] != 0.0)
        self._turns_either_way = bool(wiring.either_way.any())
        #: By threshold, the controls that have it, and beyond what a trial turns up and stays up.
        self._edges = [
            _Edges.of(np.flatnonzero(has), rising, falling)
            for has, rising, falling in zip(
                np.isfinite(wiring.rising.T), self.rising, self._falling, strict=True
            )
            if has.any()
        ]
        self.widen(slice(None), NO_MEMORY_GAP)

    def widen(self, trials: IntArray | slice, gap: float) -> None:
        """Let controls without memory of some trials turn only where they are a gap beyond."""
        for number, edges in enumerate(self._edges):
            gaps = np.where(self.quick[edges.columns], gap, 0.0)
            edges.up[trials] = self.rising[number, trials][:, edges.columns] + gaps
            down = self._falling[number, trials][:, edges.columns] - gaps
            # Who is just at the threshold on the way down stays.
            edges.down[trials] = np.nextafter(down, -np.inf)

    def look(self, trials: IntArray) -> Look:
        """Look at some trials as they stand, curved laws obeyed."""
        every = len(trials) == len(self.moved)
        piece, bend = self.pieces.take(trials, axis=0), self.bend.take(trials, axis=0)
        moved = self.moved if every else self.moved.take(trials)
        watched = self.stage.watched(moved, piece, bend)
        if self._turns_either_way:
            np.abs(watched, out=watched, where=self.stage.wiring.either_way)
        if bend.size:
            self.bend[trials] = bend
        wanted = np.zeros_like(piece)
        for number, edges in enumerate(self._edges):
            up, down = (edges.up, edges.down) if every else edges.at(trials)
            columns = edges.columns
            edge = np.where(piece[:, columns] > number, down, up)
            wanted[:, columns] += watched[:, columns] > edge
        return Look(trials, piece, watched, wanted)


@dataclass(frozen=True, slots=True)
class _Edges:
    """One threshold of C controls, by trial: turned when beyond `up`, back when not `down`."""

    columns: IntArray | slice  # (C,)
    up: FloatArray  # (E, C)
    down: FloatArray  # (E, C)

    @classmethod
    def of(cls, controls: IntArray, rising: FloatArray, falling: FloatArray) -> "_Edges":
        """Return the edges of those controls that have such a threshold, of all (E, K)."""
        columns = slice(None) if len(controls) == rising.shape[1] else controls
        return cls(columns, rising[:, columns].copy(), falling[:, columns].copy())

    def at(self, trials: IntArray) -> tuple[FloatArray, FloatArray]:
        return self.up.take(trials, axis=0), self.down.take(trials, axis=0)


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
    below, above = np.full(piece.shape, -np.inf), np.full(piece.shape, np.inf)
    for number, threshold in enumerate(thresholds):
        below = np.where(piece > number, threshold, below)
        above = np.where(piece == number, threshold, above)
    return below, above
