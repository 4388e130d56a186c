"""What is watched and read in one factorisation, and trials solved in it."""

from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.factors import Factor
from circuits.engine.equations.grip import Grip
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray


@dataclass(frozen=True, slots=True)
class Rows:
    """What r rows of unknowns are in one factorisation: without a fault, and by each move."""

    unmoved: FloatArray  # (r,)
    response: FloatArray  # (M + H, r)
    curves: FloatArray  # (r, J), the answer to volts put into each curved branch

    @classmethod
    def of(cls, factor: Factor, rows: FloatArray, curved_columns: IntArray) -> "Rows":
        return cls(
            rows @ factor.unmoved,
            factor.response @ rows.T,
            rows @ factor.inverse[:, curved_columns],
        )


@dataclass(frozen=True, slots=True)
class View:
    """One factorisation with what is watched and read in it."""

    factor: Factor
    watched: Rows
    places: Rows
    ports: Rows  # volts of the curved branches, then their amps
    curves_felt: FloatArray  # (M + H, J)
    source_ohms: FloatArray  # (R,)
    places_felt: FloatArray  # (M + H, R)
    lead_islands: IntArray  # (R, 2), the same one twice for amps


@dataclass(frozen=True, slots=True)
class Solved:
    """Trials solved in one view: every row of unknowns follows from this."""

    view: View
    grip: Grip
    bend: FloatArray  # (E, J), what the curved laws differ by from their chords

    def values(self, rows: Rows) -> FloatArray:
        """Return rows of unknowns for each trial, (E, r)."""
        values: FloatArray = rows.unmoved + _summed(self.grip.way, rows.response[self.grip.move])
        if self.bend.shape[1]:
            values += np.einsum("erj,ej->er", self.curve_gain(rows), self.bend)
        return values

    def curve_gain(self, rows: Rows) -> FloatArray:
        """Return how rows answer to volts put into each curved branch, (E, r, J)."""
        along = np.swapaxes(self.grip.along(rows.response), 1, 2)
        gain: FloatArray = rows.curves - along @ self.view.curves_felt[self.grip.move]
        return gain


def _summed(way: FloatArray, response: FloatArray) -> FloatArray:
    """Return the sum over k of way (E, k) times response (E, k, r)."""
    if way.shape[1] == 1:
        return way * response[:, 0]
    return np.asarray((way[:, None, :] @ response)[:, 0])
