"""Many trials of one move each, in many states, solved together.

What a move makes of a state is one response and two numbers (see `factors`), whatever the share.
Such a *pair* of state and move is worked out once, many at a time, from the one inverse that all
states have (see `states`); a trial is then a pair and a share, and its readings a handful of
products. So trials of a hundred states go side by side.

This is for the great crowd of plain trials. What is odd is left to the full factorisation of its
state: several moves at once, a path that joins two islands, a current forced into an island.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine.factors import HALFWAY_SIEMENS, NO_DRIVE, NO_WAY_ROUND
from circuits.engine.grip import LEAST_STIFFNESS
from circuits.engine.growing import GrowingArray
from circuits.engine.laws import FloatArray
from circuits.engine.moves import BoolArray, Moves
from circuits.engine.states import StateTable
from circuits.engine.wiring import ZERO_NODE, IntArray, Wiring


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

    def of_own(self, unknowns: FloatArray) -> FloatArray:
        """Return what each feels of unknowns of its own (E, n + 1): (E,)."""
        here = np.arange(len(unknowns))
        across = unknowns[here, self.first] - unknowns[here, self.second]
        return np.asarray(
            self.volts_factor * across - self.amps_ohms * unknowns[here, self.amps_index]
        )


@dataclass(frozen=True, slots=True)
class Stances:
    """E plain trials: the pair of each, and how far its move pulls."""

    crowd: "Crowd"
    pair: IntArray  # (E,)
    pull: FloatArray  # (E,)
    cut_off: BoolArray  # (E,), whether an open leaves what is beyond it to itself
    bend: FloatArray | None = None  # (E, J), what the curved laws differ by from their chords

    @property
    def state(self) -> IntArray:
        return np.asarray(self.crowd.pair_state[self.pair])

    @property
    def drive(self) -> FloatArray:
        return np.asarray(self.crowd.drive[self.pair])

    @property
    def stiffness(self) -> FloatArray:
        return np.asarray(self.crowd.stiffness[self.pair])

    def still(self, part: slice) -> FloatArray:
        """Return rows of unknowns without the move (E, r)."""
        return np.asarray(self.crowd.still_rows[self.state, part])

    def response(self, part: slice) -> FloatArray:
        """Return how rows answer to the move (E, r)."""
        return np.asarray(self.crowd.response_rows[self.pair, part])

    def values(self, part: slice) -> FloatArray:
        """Return rows of unknowns (E, r)."""
        way = self.pull * self.drive
        if self.bend is None:
            return np.asarray(self.still(part) + way[:, None] * self.response(part))
        bent, felt = self.crowd.curve_gains.along(self, part, self.bend)
        way -= self.pull * felt
        return np.asarray(self.still(part) + bent + way[:, None] * self.response(part))

    def curve_gain(self, part: slice) -> FloatArray:
        """Return how rows answer to volts put into each curved branch, (E, r, J)."""
        return self.crowd.curve_gains.of(self, part)


class Crowd:
    """A wiring with its moves and the rows of unknowns that are looked at.

    The rows are, in this order: what controls watch, what places read, and the working point of
    all that has a tolerance, then volts and amps of the curved branches.
    """

    def __init__(
        self,
        wiring: Wiring,
        moves: Moves,
        place_rows: FloatArray,
        working_rows: FloatArray,
        port_rows: FloatArray,
    ) -> None:
        self.wiring = wiring
        self.moves = moves
        self.states = StateTable(wiring)
        first_place = len(wiring.controlled)
        first_working = first_place + len(place_rows)
        self.watched_part = slice(0, first_place)
        self.place_part = slice(first_place, first_working)
        first_port = first_working + len(working_rows)
        self.working_part = slice(first_working, first_port)
        self.port_part = slice(first_port, first_port + len(port_rows))
        inverse, nodes = self.states.inverse, wiring.node_count
        self._rows = np.pad(
            np.vstack([wiring.watched, place_rows, working_rows, port_rows]), ((0, 0), (0, 1))
        )
        self._rows_response = self._rows @ inverse  # (r, n + 1)
        self._rows_forces = self._rows @ self.states.forces  # (r, K)
        # Amps put in at red and taken out at black.
        self._into = inverse[:, :nodes] @ place_rows[:, :nodes].T  # (n + 1, R)
        self._ends = np.vstack([wiring.ends, [[ZERO_NODE, ZERO_NODE]]])
        self._pair_of = GrowingArray(len(moves.branch), dtype=np.intp, fill=-1)
        self._still_rows = GrowingArray(len(self._rows))
        self._pair_state = GrowingArray(dtype=np.intp)
        self._pair_move = GrowingArray(dtype=np.intp)
        self._plain = GrowingArray(dtype=bool)
        self._drive = GrowingArray()
        self._stiffness = GrowingArray()
        self._splits = GrowingArray(dtype=bool)
        self._thinned = GrowingArray(dtype=np.intp)
        self._response_rows = GrowingArray(len(self._rows))
        #: Ohms behind the places in each state, and what a move that pulls takes off in a pair.
        self._place_ohms = GrowingArray(len(place_rows))
        self._place_relief = GrowingArray(len(place_rows))
        #: How rows answer to volts put into the curved branches, and into those with a tolerance.
        self.curve_gains = Gains(self, [branch for branch, _ in wiring.curved])
        self.wobble_gains = Gains(self, [branch for branch, _ in wiring.wobbles])

    @property
    def still_rows(self) -> FloatArray:
        return self._still_rows.rows

    @property
    def response_rows(self) -> FloatArray:
        return self._response_rows.rows

    @property
    def pair_state(self) -> IntArray:
        return self._pair_state.rows

    @property
    def drive(self) -> FloatArray:
        return self._drive.rows

    @property
    def stiffness(self) -> FloatArray:
        return self._stiffness.rows

    def _states_of(self, pieces: IntArray) -> IntArray:
        """Return the states (E,) of trials by their pieces (E, K)."""
        numbers = self.states.numbers(pieces)
        begin = len(self._still_rows)
        if begin < len(self.states):
            self._still_rows.add(self.states.unmoved[begin:] @ self._rows.T)
            nothing = np.full((len(self.states) - begin, len(self.moves.branch)), -1)
            self._pair_of.add(nothing)
        return numbers

    def pairs(self, move: IntArray, pieces: IntArray) -> tuple[IntArray, BoolArray]:
        """Return the pair of each trial (E,), and which are plain."""
        state = self._states_of(pieces)
        pair = self._pair_of.rows[state, move]
        new = pair < 0
        if new.any():
            self._pair_up(state[new], move[new])
            pair = self._pair_of.rows[state, move]
        return pair, self._plain.rows[pair]

    def stances(self, pair: IntArray, share: FloatArray, rest: FloatArray) -> Stances:
        """Return plain trials (E,) solved."""
        below = rest + share * self.stiffness[pair]
        below = np.where(np.abs(below) < LEAST_STIFFNESS, LEAST_STIFFNESS, below)
        cut_off = self._splits.rows[pair] & (rest == 0)
        return Stances(self, pair, np.where(cut_off, 0.0, share / below), cut_off)

    def thinned(self, stances: Stances) -> IntArray:
        """Return the branch of whose law the added resistance of a trial leaves a share, or -1."""
        return np.asarray(self._thinned.rows[stances.pair])

    def _pair_up(self, state: IntArray, move: IntArray) -> None:
        """Work out new pairs of state and move."""
        together = np.unique(state * len(self.moves.branch) + move)
        state, move = np.divmod(together, len(self.moves.branch))
        moves, states = self.moves, self.states
        felt, drive_volts = self._felt(state, move)
        column, back = self._columns(state, move)
        force = self._force(state, move, column, back)
        response = (self._rows_response[:, column] - self._rows_response[:, back]).T
        response -= force @ self._rows_forces.T
        drive = drive_volts - felt.of_own(states.unmoved[state])
        stiffness = np.where(self._path_works(state, move), 0.0, 1.0)
        stiffness += self._felt_of_own(felt, column, back, force)
        splits = (moves.branch[move] >= 0) & (np.abs(stiffness) < NO_WAY_ROUND)
        splits &= np.abs(drive) < NO_DRIVE
        drive[splits] = stiffness[splits] = 0.0
        self._pair_of.rows[state, move] = np.arange(len(self._drive), len(self._drive) + len(move))
        self._pair_state.add(state)
        self._pair_move.add(move)
        self._plain.add(self._is_plain(state, move))
        self._drive.add(drive)
        self._stiffness.add(stiffness)
        self._splits.add(splits)
        thins = moves.opens[move] & (felt.volts_factor != 0.0)
        self._thinned.add(np.where(thins, moves.branch[move], -1))
        self._response_rows.add(response)

    def _is_plain(self, state: IntArray, move: IntArray) -> BoolArray:
        """Return which pairs are plain: no odd state, and no path between two islands."""
        first, second = self.moves.ends[move].T
        island = self.states.islands
        joins = self.moves.is_path[move] & (island[state, first] != island[state, second])
        lends = self.states.lends(state, self.moves.branch[move])
        plain: BoolArray = ~(self.states.odd[state] | joins | lends)
        return plain

    def _felt(self, state: IntArray, move: IntArray) -> tuple[Felt, FloatArray]:
        """Return what moves feel in their states, and by how many volts they move their law."""
        branch, works = self.moves.branch[move], self._path_works(state, move)
        is_row = branch >= 0
        worst = self.moves.worst_laws[move, self.states.piece(state, branch)]
        change = np.where(is_row[:, None], worst - self.states.laws(state, branch), 0.0)
        is_path = self.moves.is_path[move][:, None]
        ends = np.where(is_path, self.moves.ends[move], self._ends[branch])
        felt = Felt(
            first=ends[:, 0],
            second=ends[:, 1],
            amps_index=np.where(is_row, self.wiring.node_count + branch, -1),
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

    def _columns(self, state: IntArray, move: IntArray) -> tuple[IntArray, IntArray]:
        """Return the columns of the inverse, plus and minus, along which moves drive.

        A path drives amps from its second end to its first, a row volts into its own branch. The
        branch of a control has no column: its law is one of the equations of its state.
        """
        works, branch = self._path_works(state, move), self.moves.branch[move]
        first, second = self.moves.ends[move].T
        has_column = (branch >= 0) & (self.states.control_of[branch] < 0)
        row_column = np.where(has_column, self.wiring.node_count + branch, -1)
        return np.where(works, second, row_column), np.where(works, first, -1)

    def _force(
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

    # ----------------------------------------------------------------------------- places

    def place_ohms(self, stances: Stances) -> FloatArray:
        """Return the ohms (E, R) that a meter sees behind the leads of each place."""
        self._look_behind_places()
        relief = self._place_relief.rows[stances.pair]
        return np.asarray(self._place_ohms.rows[stances.state] - stances.pull[:, None] * relief)

    def _look_behind_places(self) -> None:
        begin, first_pair = len(self._place_ohms), len(self._place_relief)
        if begin == len(self.states) and first_pair == len(self._drive):
            return
        forces = self.states.force_of @ self.states.missed(self._into)  # (D, K, R)
        if begin < len(self.states):
            ohms = self._rows[self.place_part] @ self._into
            through = np.einsum("rk,dkr->dr", self._rows_forces[self.place_part], forces[begin:])
            self._place_ohms.add(np.diag(ohms) - through)
        state, move = self.pair_state[first_pair:], self._pair_move.rows[first_pair:]
        felt, _ = self._felt(state, move)
        felt_at = felt.of(self._into) - _summed(felt.of(self.states.forces), forces[state])
        self._place_relief.add(self.response_rows[first_pair:, self.place_part] * felt_at)

    def place_lines(self, pair: IntArray, input_ohms: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what meters of given ohms (R,) show along the lines of plain pairs.

        At share u that is (above[0] + above[1] u) / (below[0] + below[1] u), each (2, E, R).
        """
        self._look_behind_places()
        state = self.pair_state[pair]
        still = self.still_rows[state, self.place_part]
        way = self.drive[pair, None] * self.response_rows[pair, self.place_part]
        stiffer = (self.stiffness[pair] - 1.0)[:, None]
        loaded = 1 + self._place_ohms.rows[state] / input_ohms
        relief = self._place_relief.rows[pair] / input_ohms
        # Where nothing moves, the line is flat: not nought over nought at its end.
        stiffer = np.where((way == 0.0) & (relief == 0.0), 0.0, stiffer)
        above = np.stack([still, still * stiffer + way])
        return above, np.stack([loaded, loaded * stiffer - relief])

    # ------------------------------------------------------------------------------ gains

    def forced_by(self, branch: IntArray, first_state: int) -> FloatArray:
        """Return the forces that answer volts put into P branches, from a state on (D, K, P)."""
        states = self.states
        control = states.control_of[branch]
        force_of = states.force_of[first_state:]
        forces = force_of @ states.missed(states.inverse[:, self.column(branch)], first_state)
        own = np.flatnonzero(control >= 0)
        forces[:, :, own] = -force_of[:, :, control[own]]
        return np.asarray(forces)

    def felt_by(self, branch: IntArray, forces: FloatArray, first_pair: int) -> FloatArray:
        """Return what moves feel of volts put into P branches, from a pair on (pairs, P)."""
        state, move = self.pair_state[first_pair:], self._pair_move.rows[first_pair:]
        felt, _ = self._felt(state, move)
        return felt.of(self.states.inverse[:, self.column(branch)]) - _summed(
            felt.of(self.states.forces), forces[state]
        )

    def still_gains(self, branch: IntArray, forces: FloatArray, part: slice) -> FloatArray:
        """Return how rows answer to volts put into P branches without a move (D, r, P)."""
        gains = self._rows_response[part][:, self.column(branch)] - self._rows_forces[part] @ forces
        return np.asarray(gains)

    def column(self, branch: IntArray) -> IntArray:
        """Return the columns of the inverse along which branches drive; controls have none."""
        has_column = self.states.control_of[branch] < 0
        return np.where(has_column, self.wiring.node_count + branch, -1)


class Gains:
    """How rows answer to volts put into P branches; worked out once for each state and pair."""

    def __init__(self, crowd: Crowd, branches: Sequence[int]) -> None:
        self._crowd = crowd
        self._branch = np.array(branches, dtype=np.intp)
        self._forces = GrowingArray(len(crowd.wiring.controlled), len(branches))
        self._felt = GrowingArray(len(branches))
        self._still: dict[tuple[int, int], GrowingArray] = {}

    def of(self, stances: Stances, part: slice) -> FloatArray:
        """Return how rows of plain trials answer (E, r, P)."""
        still = self._still_in(part)
        moved = stances.pull[:, None] * stances.response(part)
        gains: FloatArray = moved[:, :, None] * self._felt.rows[stances.pair][:, None, :]
        return np.subtract(still[stances.state], gains, out=gains)

    def along(
        self, stances: Stances, part: slice, volts: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return how rows answer to given volts (E, P) without a move (E, r), and what it feels."""
        still = self._still_in(part)
        felt = np.einsum("ep,ep->e", self._felt.rows[stances.pair], volts)
        state = stances.state
        if len(state) and (state == state[0]).all():
            return volts @ still[state[0]].T, felt
        answer = np.empty((len(state), still.shape[1]))
        for each in np.unique(state):
            own = np.flatnonzero(state == each)
            answer[own] = volts[own] @ still[each].T
        return answer, felt

    def _still_in(self, part: slice) -> FloatArray:
        """Return how rows answer in each state (D, r, P), all states and pairs made ready."""
        crowd, branch = self._crowd, self._branch
        if len(self._forces) < len(crowd.states):
            self._forces.add(crowd.forced_by(branch, len(self._forces)))
        if len(self._felt) < len(crowd.drive):
            self._felt.add(crowd.felt_by(branch, self._forces.rows, len(self._felt)))
        still = self._still.setdefault(
            (part.start, part.stop), GrowingArray(part.stop - part.start, len(branch))
        )
        if len(still) < len(self._forces):
            still.add(crowd.still_gains(branch, self._forces.rows[len(still) :], part))
        return still.rows


def _summed(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the sum over k of one (E, k) times other (E, k, c)."""
    return np.asarray((one[:, None, :] @ other)[:, 0])
