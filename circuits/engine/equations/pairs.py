"""What moves make of states: each pair of state and move worked out once, many at a time.

What a move makes of a state is one response and two numbers (see `factors`), whatever the share.
All of that follows from the one inverse that all states have (see `states`), so pairs of a hundred
states are worked out side by side.
"""

from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.factors import HALFWAY_SIEMENS, NO_DRIVE, NO_WAY_ROUND
from circuits.engine.equations.growing import GrowingArray
from circuits.engine.equations.moves import BoolArray, Moves
from circuits.engine.equations.states import StateTable
from circuits.engine.equations.wiring import ZERO_NODE, IntArray, Wiring
from circuits.engine.laws import FloatArray


@dataclass(frozen=True, slots=True)
class Felt:
    """What E moves feel: volts_factor * (volts from first to second) - amps_ohms * amps."""

    first: IntArray
    second: IntArray
    amps_index: IntArray
    volts_factor: FloatArray
    amps_ohms: FloatArray

    def of(self, columns: FloatArray) -> FloatArray:
        """Return what is felt of columns of unknowns (n + 1, c): (E, c)."""
        felt: FloatArray = self.volts_factor[:, None] * (columns[self.first] - columns[self.second])
        felt -= self.amps_ohms[:, None] * columns[self.amps_index]
        return felt

    def of_rows(self, table: FloatArray, row: IntArray) -> FloatArray:
        """Return what each feels of its own row (E,) of a table of unknowns (T, n + 1): (E,)."""
        flat, begin = table.reshape(-1), row * table.shape[1]
        felt: FloatArray = flat.take(begin + self.first)
        felt -= flat.take(begin + self.second)
        felt *= self.volts_factor
        felt -= self.amps_ohms * flat.take(begin + self.amps_index)
        return felt


class PairTable:
    """The pairs of a wiring's states and moves that have been asked for, numbered from 0."""

    def __init__(self, wiring: Wiring, moves: Moves) -> None:
        self.wiring = wiring
        self.moves = moves
        self.states = StateTable(wiring)
        self._ends = np.vstack([wiring.ends, [[ZERO_NODE, ZERO_NODE]]])
        self._pair_of = GrowingArray(len(moves.branch), dtype=np.intp, fill=-1)
        self._state = GrowingArray(dtype=np.intp)
        self._plain = GrowingArray(dtype=bool)
        self._drive = GrowingArray()
        self._stiffness = GrowingArray()
        self._splits = GrowingArray(dtype=bool)
        self._thinned = GrowingArray(dtype=np.intp)
        #: The columns of the inverse, plus and minus, along which the move drives, and the forces
        #: by which controlled branches answer it.
        self._columns = GrowingArray(2, dtype=np.intp)
        self._force = GrowingArray(len(wiring.controlled))
        #: What it feels: of which unknowns (first, second, amps), by which factors.
        self._felt_unknowns = GrowingArray(3, dtype=np.intp)
        self._felt_factors = GrowingArray(2)

    def __len__(self) -> int:
        return len(self._state)

    @property
    def state(self) -> IntArray:
        """Return the state of each pair."""
        return self._state.rows

    @property
    def drive(self) -> FloatArray:
        return self._drive.rows

    @property
    def stiffness(self) -> FloatArray:
        return self._stiffness.rows

    @property
    def splits(self) -> BoolArray:
        """Return where an open has no way round it."""
        return self._splits.rows

    @property
    def thinned(self) -> IntArray:
        """Return the branch of whose law an added resistance leaves a share, or -1."""
        return self._thinned.rows

    def of(self, move: IntArray, pieces: IntArray) -> tuple[IntArray, IntArray, BoolArray]:
        """Return the state of each trial (E,), its pairs (E, k), and which trials are plain.

        Odd are a path between two islands, a current forced into one, and a law that is lent.
        """
        state = self.states.numbers(pieces)
        if len(self._pair_of) < len(self.states):
            missing = len(self.states) - len(self._pair_of)
            self._pair_of.add(np.full((missing, len(self.moves.branch)), -1))
        of_move = state[:, None]
        pair = self._pair_of.rows[of_move, move]
        if pair.min(initial=0) < 0:
            new = pair < 0
            self._pair_up(np.broadcast_to(of_move, new.shape)[new], move[new])
            pair = self._pair_of.rows[of_move, move]
        return state, pair, self._plain.rows[pair].all(axis=1)

    def felt(self, pair: IntArray | slice) -> Felt:
        """Return what the moves of pairs feel."""
        return Felt(*self._felt_unknowns.rows[pair].T, *self._felt_factors.rows[pair].T)

    def felt_of(self, columns: FloatArray, forces: FloatArray, pairs: slice) -> FloatArray:
        """Return what pairs feel of columns (n + 1, c), with the forces that answer (D, K, c)."""
        felt, state = self.felt(pairs), self.state[pairs]
        return felt.of(columns) - _summed(felt.of(self.states.forces), forces[state])

    def response(self, of_column: FloatArray, of_force: FloatArray, begin: int) -> FloatArray:
        """Return how r rows of unknowns answer to the moves, from a pair on (pairs, r).

        `of_column` (n + 1, r) is how they answer along each column of the inverse, `of_force`
        (K, r) how to each force.
        """
        plus, minus = self._columns.rows[begin:].T
        response = of_column.take(plus, axis=0, mode="wrap")
        response -= of_column.take(minus, axis=0, mode="wrap")
        response -= self._force.rows[begin:] @ of_force
        return np.asarray(response)

    def _pair_up(self, state: IntArray, move: IntArray) -> None:
        """Work out new pairs of state and move."""
        together = np.unique(state * len(self.moves.branch) + move)
        state, move = np.divmod(together, len(self.moves.branch))
        moves, states, works = self.moves, self.states, self._path_works(state, move)
        felt, drive_volts = self._felt(state, move, works)
        plus, minus = self._columns_of(move, works)
        force = self._forces_of(state, move, plus, minus)
        drive = drive_volts - felt.of_rows(states.unmoved, state)
        stiffness = np.where(works, 0.0, 1.0) + self._felt_of_own(felt, plus, minus, force)
        # What is left of a stiffness there is rounding, see `factors`.
        no_way_round = (moves.branch[move] >= 0) & (np.abs(stiffness) < NO_WAY_ROUND)
        stiffness[no_way_round] = 0.0
        splits = no_way_round & (np.abs(drive) < NO_DRIVE)
        drive[splits] = 0.0
        thins = moves.opens[move] & (felt.volts_factor != 0.0)
        self._pair_of.rows[state, move] = np.arange(len(self), len(self) + len(move))
        self._state.add(state)
        self._plain.add(self._is_plain(state, move))
        self._drive.add(drive)
        self._stiffness.add(stiffness)
        self._splits.add(splits)
        self._thinned.add(np.where(thins, moves.branch[move], -1))
        self._columns.add(np.stack([plus, minus], axis=1))
        self._force.add(force)
        self._felt_unknowns.add(np.stack([felt.first, felt.second, felt.amps_index], axis=1))
        self._felt_factors.add(np.stack([felt.volts_factor, felt.amps_ohms], axis=1))

    def _is_plain(self, state: IntArray, move: IntArray) -> BoolArray:
        """Return which pairs are plain: no odd state, and no path between two islands."""
        first, second = self.moves.ends[move].T
        island = self.states.islands
        joins = self.moves.is_path[move] & (island[state, first] != island[state, second])
        lends = self.states.lends(state, self.moves.branch[move])
        plain: BoolArray = ~(self.states.odd[state] | joins | lends)
        return plain

    def _felt(self, state: IntArray, move: IntArray, works: BoolArray) -> tuple[Felt, FloatArray]:
        """Return what moves feel in their states, and by how many volts they move their law."""
        branch, zero = self.moves.branch[move], self.wiring.size
        is_row = branch >= 0
        worst = self.moves.worst_laws[move, self.states.piece(state, branch)]
        change = np.where(is_row[:, None], worst - self.states.laws(state, branch), 0.0)
        is_path = self.moves.is_path[move][:, None]
        ends = np.where(is_path, self.moves.ends[move], self._ends[branch])
        ends = np.where(ends == ZERO_NODE, zero, ends)
        felt = Felt(
            first=ends[:, 0],
            second=ends[:, 1],
            amps_index=np.where(is_row, self.wiring.node_count + branch, zero),
            volts_factor=np.where(works, -HALFWAY_SIEMENS, change[:, 0]),
            amps_ohms=change[:, 1],
        )
        return felt, change[:, 2]

    def _path_works(self, state: IntArray, move: IntArray) -> BoolArray:
        """Return which moves are paths that no made contact beside them leaves nothing to do."""
        contact = self.moves.contact[move]
        made = (contact >= 0) & (self.states.laws(state, contact)[:, 0] != 0.0)
        works: BoolArray = self.moves.is_path[move] & ~made
        return works

    def _columns_of(self, move: IntArray, works: BoolArray) -> tuple[IntArray, IntArray]:
        """Return the columns of the inverse, plus and minus, along which moves drive.

        A path drives amps from its second end to its first, a row volts into its own branch. The
        branch of a control has no column: its law is one of the equations of its state.
        """
        branch = self.moves.branch[move]
        first, second = self.moves.ends[move].T
        has_column = (branch >= 0) & (self.states.control_of[branch] < 0)
        row_column = np.where(has_column, self.wiring.node_count + branch, -1)
        return np.where(works, second, row_column), np.where(works, first, -1)

    def _forces_of(
        self, state: IntArray, move: IntArray, column: IntArray, back: IntArray
    ) -> FloatArray:
        """Return the forces (E, K) by which the controlled branches keep to their laws."""
        missed = self.states.missed_by(state, column) - self.states.missed_by(state, back)
        force_of = self.states.force_of
        force = _summed(missed, np.swapaxes(force_of[state], 1, 2))
        control = self.states.control_of[self.moves.branch[move]]
        own = np.flatnonzero(control >= 0)
        force[own] = -force_of[state[own], :, control[own]]
        return force

    def _felt_of_own(
        self, felt: Felt, column: IntArray, back: IntArray, force: FloatArray
    ) -> FloatArray:
        """Return what each move feels of its own response (E,)."""
        inverse, forces = self.states.inverse, self.states.forces

        def at(row: IntArray) -> FloatArray:
            beyond = np.einsum("ek,ek->e", forces[row], force)
            return np.asarray(inverse[row, column] - inverse[row, back] - beyond)

        across = at(felt.first) - at(felt.second)
        return np.asarray(felt.volts_factor * across - felt.amps_ohms * at(felt.amps_index))


def _summed(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the sum over k of one (E, k) times other (E, k, c)."""
    return np.asarray((one[:, None, :] @ other)[:, 0])
