"""Where the two lines of a law meet: a source at its limit, a diode that begins to conduct.

With v the volts and i the amps of a branch either piece is a line in their plane. A tolerance
moves a line, and with it where both meet.
"""

from typing import NamedTuple

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.wiring import MOST_PIECES, IntArray, Wiring
from circuits.engine.laws import FloatArray

# Lines that hardly cross meet nowhere to speak of, and the law's two pieces are one.
LEAST_CROSSING = 1e-12
# How far a threshold may lie off where the two lines meet, in volts or amps; a law that jumps there
# has no corner.
SAME_CORNER = 1e-6


class Corners(NamedTuple):
    """The C controls whose laws turn, and how far each of P tolerances, at its edge, moves that.

    A control with memory jumps from one law to the other and has no corner.
    """

    columns: IntArray  # (C,), of the controls
    #: (C, 2), whether there is a corner between the first two pieces, and the last two
    turns: BoolArray
    moved: FloatArray  # (C, 2, P), what is watched at the corner

    def of_controls(self, columns: IntArray) -> "Corners":
        """Return those of some controls alone."""
        chosen = np.flatnonzero(np.isin(self.columns, columns))
        return Corners(self.columns[chosen], self.turns[chosen], self.moved[chosen])


def find_corners(wiring: Wiring, widths: FloatArray) -> Corners:
    """Return the corners of a wiring; tolerances move laws by `widths` (3 terms, P, pieces)."""
    quick = np.flatnonzero(~wiring.remembers)
    branches = wiring.controlled[quick]
    columns, turns, moved = [], [], []
    for column, branch in zip(quick.tolist(), branches.tolist(), strict=True):
        rows = [wiring.volts_row(*wiring.ends[branch]), wiring.amps_row(branch)]
        watches = [bool((row == wiring.watched[column]).all()) for row in rows]
        if not any(watches):
            continue
        own = [number for number, (each, _) in enumerate(wiring.wobbles) if each == branch]
        here = np.zeros(MOST_PIECES - 1, dtype=bool)
        shift = np.zeros((MOST_PIECES - 1, len(wiring.wobbles)))
        for edge in range(MOST_PIECES - 1):
            laws = wiring.laws[branch, edge : edge + 2]
            lines = laws[:, :2] * [1.0, -1.0]
            if abs(np.linalg.det(lines)) < LEAST_CROSSING:
                continue
            at = np.linalg.solve(lines, laws[:, 2])
            watched = watches.index(True)
            here[edge] = abs(at[watched] - wiring.rising[column, edge]) < SAME_CORNER
            factor, ohms, emf = widths[:, own, edge : edge + 2]  # (w, 2) each
            off = emf - factor * at[0] + ohms * at[1]
            shift[edge, own] = np.linalg.solve(lines, off.T)[watched]
        if here.any():
            columns.append(column)
            turns.append(here)
            moved.append(shift)
    count = len(columns)
    return Corners(
        np.array(columns, dtype=np.intp),
        np.array(turns, dtype=bool).reshape(count, MOST_PIECES - 1),
        np.array(moved).reshape(count, MOST_PIECES - 1, len(wiring.wobbles)),
    )
