"""All states of a wiring from one inverse: which forces bring its controlled branches about.

The idea. Let every controlled branch go: in its place stands a plain ohm, and the rest of the
circuit is inverted once. The true laws of the K controlled branches are then K further equations
in K forces, a small matrix for each state, and many states are inverted in one call. A hundred
states so cost little more than one.

An island that only a state cuts off is bordered by controlled branches alone, each with its amps
laid down. One of these equations follows from the others, so the branch on the way to what is
held lends its own to hold the island (see `factors` on holds).
"""

from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.factors import NO_DRIVE, hold_islands, invert, islands_of, tableau
from circuits.engine.equations.growing import GrowingArray
from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.wiring import MOST_PIECES, ZERO_NODE, IntArray, Wiring
from circuits.engine.laws import FloatArray

#: The law that stands in for a controlled branch while it is let go.
STAND_IN = (1.0, 1.0, 0.0)
# So many digits of base three fit into 63 bits; more controls are counted in Python's integers.
MOST_DIGITS = 39


@dataclass(frozen=True, slots=True)
class Split:
    """The islands where some controlled branches tie and others do not, with the holds added."""

    island: IntArray  # (N + 1,)
    held: IntArray  # (H,) nodes
    lenders: IntArray  # (H,) the control that lends its equation to each hold


class StateTable:
    """A wiring let go, and the states (numbered from 0) that have been asked for so far.

    Rows and columns number n + 1: the unknowns, then the zero node, where all is nought.
    """

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        branches, controls = len(wiring.branches), len(wiring.controlled)
        self.resting_laws = wiring.laws[np.arange(branches), wiring.resting_pieces]
        laws = self.resting_laws.copy()
        laws[wiring.controlled] = STAND_IN
        matrix, right_side = tableau(wiring, laws)
        self._island = islands_of(wiring, laws)
        self._held = hold_islands(matrix, self._island)
        inverse = invert(matrix, wiring, laws)
        self.inverse = np.zeros((wiring.size + 1, wiring.size + 1))
        self.inverse[:-1, :-1] = inverse
        self.inverse[:, self._held] = 0.0
        self._let_go = np.append(inverse @ right_side, 0.0)
        self.amps_index = wiring.node_count + wiring.controlled
        self.forces = self.inverse[:, self.amps_index]  # (n + 1, K)
        #: The control of each branch, or -1; branch -1 has none.
        self.control_of = np.full(branches + 1, -1, dtype=np.intp)
        self.control_of[wiring.controlled] = np.arange(controls)
        self._control_ends = wiring.ends[wiring.controlled]
        laws[wiring.controlled, 0] = 0.0
        self._fixed_island = islands_of(wiring, laws)
        #: A number for each row of pieces, in order, and the state that it stands for. Beyond
        #: 2**63 they would no longer differ: with three pieces each, that is forty controls.
        self._digits = MOST_PIECES ** np.arange(controls, dtype=object)
        if controls <= MOST_DIGITS:
            self._digits = self._digits.astype(np.int64)
        # The last one is beyond all, so that there is always a next one.
        self._codes = np.array([MOST_PIECES**controls], dtype=self._digits.dtype)
        self._coded = np.array([-1], dtype=np.intp)
        self._split: dict[bytes, Split] = {}
        self._pieces = GrowingArray(controls, dtype=np.intp)
        self._own_laws = GrowingArray(controls, 3)
        self._plus = GrowingArray(controls, dtype=np.intp)
        self._minus = GrowingArray(controls, dtype=np.intp)
        self._volts_factor = GrowingArray(controls)
        self._amps_ohms = GrowingArray(controls)
        self._lent = GrowingArray(controls, dtype=bool)
        self._force_of = GrowingArray(controls, controls)
        self._unmoved = GrowingArray(wiring.size + 1)
        self._islands = GrowingArray(wiring.node_count + 1, dtype=np.intp)
        self._odd = GrowingArray(dtype=bool)

    def __len__(self) -> int:
        return len(self._odd)

    @property
    def pieces(self) -> IntArray:
        """Return the pieces of the controlled branches in each state (D, K)."""
        return self._pieces.rows

    @property
    def unmoved(self) -> FloatArray:
        """Return the solution of each state (D, n + 1)."""
        return self._unmoved.rows

    @property
    def islands(self) -> IntArray:
        """Return the island of each node in each state (D, N + 1)."""
        return self._islands.rows

    @property
    def odd(self) -> BoolArray:
        """Return in which states (D,) a part forces a current into an island."""
        return self._odd.rows

    @property
    def force_of(self) -> FloatArray:
        """Return the forces that answer a volt, or an amp, off each equation (D, K, K)."""
        return self._force_of.rows

    def lends(self, state: IntArray, branch: IntArray) -> BoolArray:
        """Return where branches have lent their equation in a state (E,)."""
        control = self.control_of[branch]
        lends = control >= 0
        lends[lends] = self._lent.rows[state[lends], control[lends]]
        return lends

    def laws(self, state: IntArray, branch: IntArray) -> FloatArray:
        """Return the laws of branches in states (E, 3)."""
        control = self.control_of[branch]
        own = control >= 0
        laws = self.resting_laws[branch]
        laws[own] = self._own_laws.rows[state[own], control[own]]
        return laws

    def piece(self, state: IntArray, branch: IntArray) -> IntArray:
        """Return the pieces of branches in states (E,)."""
        control = self.control_of[branch]
        own = control >= 0
        piece = self.wiring.resting_pieces[branch]
        piece[own] = self._pieces.rows[state[own], control[own]]
        return piece

    def codes(self, pieces: IntArray) -> IntArray:
        """Return a number for each row of pieces (E, K), by which rows are the same or not."""
        return np.asarray(pieces @ self._digits)

    def decoded(self, codes: IntArray) -> IntArray:
        """Return the rows of pieces (E, K) that codes (E,) stand for."""
        return np.asarray(codes[:, None] // self._digits % MOST_PIECES, dtype=np.intp)

    def numbers(self, pieces: IntArray) -> IntArray:
        """Return the states (E,) of trials by their pieces (E, K); new ones are made ready."""
        codes = self.codes(pieces)
        found = self._codes.searchsorted(codes)
        known = self._codes[found] == codes
        if not known.all():
            _, first = np.unique(codes[~known], return_index=True)
            fresh = pieces[~known][first]
            numbers = np.arange(len(self), len(self) + len(fresh))
            self._make_ready(fresh)
            every = np.concatenate([self.codes(fresh), self._codes])
            order = np.argsort(every)
            self._codes = every[order]
            self._coded = np.concatenate([numbers, self._coded])[order]
            found = self._codes.searchsorted(codes)
        return np.asarray(self._coded[found], dtype=np.intp)

    def missed(self, columns: FloatArray, first: int = 0) -> FloatArray:
        """Return how far columns of unknowns (n + 1, c) are off the equations, from a state on.

        The result is (D, K, c).
        """
        across = columns[self._plus.rows[first:]] - columns[self._minus.rows[first:]]
        missed: FloatArray = self._volts_factor.rows[first:, :, None] * across
        missed -= self._amps_ohms.rows[first:, :, None] * columns[self.amps_index]
        return missed

    def missed_by(self, state: IntArray, column: IntArray) -> FloatArray:
        """Return how far one column of the inverse is off the equations of one state (E, K)."""
        beside = column[:, None]
        across = self.inverse[self._plus.rows[state], beside]
        across -= self.inverse[self._minus.rows[state], beside]
        missed: FloatArray = self._volts_factor.rows[state] * across
        missed -= self._amps_ohms.rows[state] * self.inverse[self.amps_index[None], beside]
        return missed

    def columns(self, branch: IntArray) -> IntArray:
        """Return the columns of the inverse along which branches drive; controls have none, -1."""
        return np.where(self.control_of[branch] < 0, self.wiring.node_count + branch, -1)

    def forced_by(self, branch: IntArray, first_state: int) -> FloatArray:
        """Return the forces that answer volts put into P branches, from a state on (D, K, P)."""
        control = self.control_of[branch]
        force_of = self.force_of[first_state:]
        forces = force_of @ self.missed(self.inverse[:, self.columns(branch)], first_state)
        own = np.flatnonzero(control >= 0)
        forces[:, :, own] = -force_of[:, :, control[own]]
        return np.asarray(forces)

    # ---------------------------------------------------------------------------- making

    def _make_ready(self, pieces: IntArray) -> None:
        own = self.wiring.laws[self.wiring.controlled[None], pieces]  # (D, K, 3)
        plus, minus = (np.repeat(ends[None], len(pieces), axis=0) for ends in self._control_ends.T)
        factor, ohms, wanted = (own[:, :, term].copy() for term in range(3))
        lent = np.zeros(pieces.shape, dtype=bool)
        islands = np.empty((len(pieces), len(self._island)), dtype=np.intp)
        for state, ties in enumerate(own[:, :, 0] != 0.0):
            split = self._split_by(ties)
            islands[state] = split.island
            lent[state, split.lenders] = True
            plus[state, split.lenders] = split.held
        minus[lent], factor[lent], ohms[lent], wanted[lent] = ZERO_NODE, 1.0, 0.0, 0.0
        matrix = factor[:, :, None] * (self.forces[plus] - self.forces[minus])
        matrix -= ohms[:, :, None] * self.forces[self.amps_index]
        start = self._let_go
        off = wanted - (factor * (start[plus] - start[minus]) - ohms * start[self.amps_index])
        force_of, refused = _inverted(matrix)
        force = (force_of @ off[:, :, None])[:, :, 0]
        unmoved = start + force @ self.forces.T
        self._pieces.add(pieces)
        self._own_laws.add(own)
        self._plus.add(plus)
        self._minus.add(minus)
        self._volts_factor.add(factor)
        self._amps_ohms.add(ohms)
        self._lent.add(lent)
        self._force_of.add(force_of)
        self._unmoved.add(unmoved)
        self._islands.add(islands)
        self._odd.add(refused | self._forces_amps(own, unmoved, lent))

    def _forces_amps(self, own: FloatArray, unmoved: FloatArray, lent: BoolArray) -> BoolArray:
        """Return where a current arrives in an island: its hold, or a lent law, would show it."""
        wiring = self.wiring
        amps = unmoved[:, wiring.node_count : -1]
        first, second = self._control_ends.T
        across = unmoved[:, first] - unmoved[:, second]
        off = own[:, :, 0] * across - own[:, :, 1] * amps[:, wiring.controlled] - own[:, :, 2]
        forced = ((np.abs(off) > NO_DRIVE) & lent).any(axis=1)
        for node in self._held:
            arrives = np.subtract(wiring.ends[:, 1] == node, wiring.ends[:, 0] == node, dtype=float)
            forced = forced | (np.abs(amps @ arrives) > NO_DRIVE)
        return np.asarray(forced)

    def _split_by(self, ties: BoolArray) -> Split:
        key = ties.tobytes()
        if key not in self._split:
            self._split[key] = self._find_split(ties)
        return self._split[key]

    def _find_split(self, ties: BoolArray) -> Split:
        island = self._joined_by(ties)
        anchored = {int(island[-1]), *island[self._held].tolist()}
        held: list[int] = []
        lenders: list[int] = []
        borders = [
            (control, int(island[first]), int(island[second]))
            for control, (first, second) in enumerate(self._control_ends)
            if not ties[control]
        ]
        found = True
        while found:
            found = False
            for control, first, second in borders:
                if (first in anchored) != (second in anchored):
                    label = second if first in anchored else first
                    anchored.add(label)
                    held.append(int(np.flatnonzero(island[:-1] == label)[0]))
                    lenders.append(control)
                    found = True
        return Split(island, np.array(held, dtype=np.intp), np.array(lenders, dtype=np.intp))

    def _joined_by(self, ties: BoolArray) -> IntArray:
        """Return the islands (N + 1,) of the fixed branches, joined by the controls that tie."""
        stands_for = {label: label for label in self._fixed_island.tolist()}
        for first, second in self._fixed_island[self._control_ends[ties]].tolist():
            keep, drop = stands_for[first], stands_for[second]
            if keep != drop:
                stands_for = {
                    label: keep if root == drop else root for label, root in stands_for.items()
                }
        return np.array([stands_for[label] for label in self._fixed_island.tolist()])


def _inverted(matrices: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return inverses (D, K, K), and which have none: there laws contradict each other."""
    try:
        inverse = np.linalg.inv(matrices)
    except np.linalg.LinAlgError:
        return np.zeros_like(matrices), np.ones(len(matrices), dtype=bool)
    refused: BoolArray = ~np.isfinite(inverse).all(axis=(1, 2))
    inverse[refused] = 0.0
    return np.asarray(inverse, dtype=np.float64), refused
