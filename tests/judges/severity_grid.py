"""Every suspect at many severities by plain solves, through the phases of its network.

A suspect that moves one thing is laid out in one go (see `phase_grid`). One that moves several, as
a wiper that shifts the track on both of its sides, is drawn anew at every point, fault by fault,
as it would be on the bench.
"""

import math

import numpy as np

from circuits.engine import FaultKind, Network, Potentiometer, Suspect
from tests.judges.elements import Floats
from tests.judges.phase_grid import GridPoints, Ints, PhaseGrid
from tests.judges.plain import PlainCircuit, plain_circuit


def moves_one_thing(network: Network, suspect: Suspect) -> bool:
    """Whether a suspect moves one thing alone; a wiper that shifts moves two."""
    drifts = suspect.kind in (FaultKind.DRIFTS_UP, FaultKind.DRIFTS_DOWN)
    return not suspect.members and not (
        drifts and isinstance(network.part(suspect.target), Potentiometer)
    )


def members_in_full(suspect: Suspect) -> int:
    """Count the faults that a compound has in full at any share of it: opens and dead shorts."""
    return sum(
        member.severity == (math.inf if member.suspect.kind is FaultKind.RESISTANCE else 0.0)
        for member in suspect.members
        if member.suspect.in_ohms
    )


class SeverityGrid:
    """One suspect of a network at many shares of its line (P,), taken through the phases."""

    def __init__(self, network: Network, suspect: Suspect, shares: Floats) -> None:
        self.network = network
        self.suspect = suspect
        self.shares = shares
        self._grid_of = PhaseGrid if moves_one_thing(network, suspect) else DrawnGrid

    def through_phases(self) -> dict[str, tuple[PhaseGrid, GridPoints]]:
        found: dict[str, tuple[PhaseGrid, GridPoints]] = {}
        before: dict[str, Ints] = {}
        for phase in self.network.phases:
            grid = self._grid_of(self.network, phase, self.suspect, self.shares)
            points = grid.come_to_rest(before)
            before = {
                moved.name: points.passed[:, number] for number, moved in enumerate(grid.moved)
            }
            found[phase.name] = grid, points
        return found


class DrawnGrid(PhaseGrid):
    """The node equations of one suspect in one phase, drawn anew for each of its points."""

    def _draw(self) -> PlainCircuit:
        self._draws = [
            plain_circuit(self.network, self.phase, self.fault(point))
            for point in range(len(self.shares))
        ]
        first = self._draws[0]
        laid_out = {tuple(e.name for e in each.straight) for each in self._draws}
        assert len(laid_out) == 1, "the points of a line are to have the same elements"
        assert all(each.joined == first.joined for each in self._draws)
        return first

    def _move_values(self) -> None:
        self._open_siemens = np.zeros((len(self.shares), len(self.moved)))
        for point, drawn in enumerate(self._draws):
            for row, element in enumerate(drawn.straight):
                laid_out = element.laid_out()
                self.siemens[point, row], self.amps_at_zero[point, row] = laid_out[:2]
                self.bends[point, row] = laid_out[2]
            for row, moved in enumerate(drawn.moved):
                if math.isfinite(moved.open_ohms):
                    self._open_siemens[point, row] = 1 / moved.open_ohms

    def _laws(self, points: Ints, pieces: Ints, passed: Ints) -> tuple[Floats, Floats]:
        siemens, at_zero = super()._laws(points, pieces, passed)
        moved = slice(len(self.straight), len(self.straight) + len(self.moved))
        is_open = siemens[:, moved] == 0
        siemens[:, moved] += np.where(is_open, self._open_siemens[points], 0.0)
        return siemens, at_zero
