"""Many trials of few moves each, in many states, solved together.

A trial is a pair of state and move (see `pairs`) and a share for each of its moves, and its
readings a handful of products. So trials of a hundred states go side by side.

This is for the great crowd of plain trials. What is odd is left to the full factorisation of its
state: a path that joins two islands, a current forced into an island.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from circuits.engine.equations.grip import pull_alone, pull_together
from circuits.engine.equations.growing import GrowingArray
from circuits.engine.equations.moves import Moved, Moves
from circuits.engine.equations.pairs import PairTable
from circuits.engine.equations.wiring import IntArray, Wiring
from circuits.engine.laws import FloatArray


class RowSet:
    """Some rows of unknowns (r, n + 1) in every state and for every pair, once they are asked for.

    What belongs to all states is kept with trials last, to be gathered by rows.
    """

    def __init__(self, pairs: PairTable, rows: FloatArray) -> None:
        self._pairs = pairs
        self._rows = rows
        self._still = GrowingArray(len(rows))
        self._response = GrowingArray(len(rows))

    def __len__(self) -> int:
        return len(self._rows)

    @cached_property
    def response_of_columns(self) -> FloatArray:
        """Return how the rows answer along each column of the inverse (n + 1, r)."""
        return np.ascontiguousarray((self._rows @ self._pairs.states.inverse).T)

    @cached_property
    def response_of_forces(self) -> FloatArray:
        """Return how they answer to each force of a controlled branch (K, r)."""
        return np.ascontiguousarray((self._rows @ self._pairs.states.forces).T)

    def still(self, state: IntArray) -> FloatArray:
        """Return what the rows are in states (E,) without a move (E, r)."""
        unmoved = self._pairs.states.unmoved
        if len(self._still) < len(unmoved):
            self._still.add(unmoved[len(self._still) :] @ self._rows.T)
        return np.asarray(self._still.rows.take(state, axis=0))

    def responses(self) -> FloatArray:
        """Return how the rows answer to the move of each pair (pairs, r)."""
        begin = len(self._response)
        if begin < len(self._pairs):
            of_column, of_force = self.response_of_columns, self.response_of_forces
            self._response.add(self._pairs.response(of_column, of_force, begin))
        return self._response.rows

    def response(self, pair: IntArray) -> FloatArray:
        """Return how the rows answer to the moves of pairs (..., r)."""
        return np.asarray(self.responses().take(pair, axis=0))

    def line(self, pair: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the lines of the rows along pairs (E,): still, slope (E, r) and stiffer (E,).

        At share u a row is still + slope * u / (1 + stiffer * u).
        """
        slope = self.response(pair) * self._pairs.drive[pair, None]
        return self.still(self._pairs.state[pair]), slope, self._pairs.stiffness[pair] - 1.0


@dataclass(frozen=True, slots=True)
class Stances:
    """E plain trials of k moves each: the state and the pairs of each, and how its moves pull."""

    crowd: "Crowd"
    state: IntArray  # (E,)
    pair: IntArray  # (E, k)
    way: FloatArray  # (E, k), how far each goes along its response, curved laws on their chords
    pull: FloatArray  # (E, k, k), see `Grip`
    free: FloatArray | None  # (E, k, k), see `Grip`
    bend: FloatArray | None = None  # (E, J), what the curved laws differ by from their chords

    def values(self, rows: RowSet) -> FloatArray:
        """Return rows of unknowns (E, r)."""
        values, way = rows.still(self.state), self.way
        if self.bend is not None:
            bent, felt = self.crowd.curve_gains.along(self, rows, self.bend)
            values += bent
            way = way - self.pulled(felt[:, :, None])[:, :, 0]
        for slot, pair in enumerate(self.pair.T):
            values += way[:, slot, None] * rows.response(pair)
        return values

    def pulled(self, felt: FloatArray) -> FloatArray:
        """Return how far moves go along their responses for what they feel, (E, k, c) each."""
        # Of one move it is a plain product, without the price of a matrix for each trial.
        return self.pull * felt if felt.shape[1] == 1 else self.pull @ felt

    def thinned(self) -> IntArray:
        """Return the branches of whose laws added resistances leave a share, or -1 (E, k)."""
        return np.asarray(self.crowd.pairs.thinned[self.pair])

    def curve_gain(self, rows: RowSet) -> FloatArray:
        """Return how rows answer to volts put into each curved branch, (E, r, J)."""
        return self.crowd.curve_gains.of(self, rows)


class Crowd:
    """A wiring with its moves, and the rows of unknowns that are looked at.

    Those are what controls watch, what places read, the working point of all that has a
    tolerance, and the volts and amps of the curved branches.
    """

    def __init__(
        self,
        wiring: Wiring,
        moves: Moves,
        place_rows: FloatArray,
        working_rows: FloatArray,
        port_rows: FloatArray,
    ) -> None:
        self.pairs = PairTable(wiring, moves)
        self.states = self.pairs.states
        self.watched, self.places, self.working, self.ports = (
            RowSet(self.pairs, np.hstack([rows, np.zeros((len(rows), 1))]))
            for rows in (wiring.watched, place_rows, working_rows, port_rows)
        )
        self._everything = RowSet(self.pairs, np.eye(wiring.size + 1))
        #: How rows answer to volts put into the curved branches, and into those with a tolerance.
        self.curve_gains = Gains(self.pairs, [branch for branch, _ in wiring.curved])
        self.wobble_gains = Gains(self.pairs, [branch for branch, _ in wiring.wobbles])
        #: How they answer to amps put into the branches of controls, where these block.
        self.control_gains = Gains(self.pairs, wiring.controlled.tolist())
        nodes = wiring.node_count
        # Amps put in at red and taken out at black.
        self._into = self.states.inverse[:, :nodes] @ place_rows[:, :nodes].T  # (n + 1, R)
        self._own_ohms = np.einsum("rn,nr->r", place_rows, self._into[:-1])
        #: Ohms behind the places in each state, the forces that answer amps between their leads,
        #: and what the move of a pair feels of those.
        self._place_ohms = GrowingArray(len(place_rows))
        self._place_forces = GrowingArray(len(wiring.controlled), len(place_rows))
        self._place_felt = GrowingArray(len(place_rows))

    def stances(self, state: IntArray, pair: IntArray, moved: Moved) -> Stances:
        """Return plain trials solved, by their states (E,) and pairs (E, k)."""
        pairs = self.pairs
        drive = pairs.drive[pair]
        if pair.shape[1] == 1:
            alone = pull_alone(drive, pairs.stiffness[pair], pairs.splits[pair], moved)
            return Stances(self, state, pair, *alone)
        of_one_law = moved.of_one_law(pairs.moves.branch[moved.move], pairs.thinned[pair])
        together = pull_together(drive, self.coupling(pair), of_one_law)
        return Stances(self, state, pair, *together)

    def coupling(self, pair: IntArray) -> FloatArray:
        """Return what moves of trials feel of each other's responses (E, k, k)."""
        responses = self._everything.responses()
        # With trials last, as they are worked on.
        coupling = np.empty((pair.shape[1], *pair.T.shape))
        for feeling, own in enumerate(pair.T):
            felt = self.pairs.felt(own)
            for other, driving in enumerate(pair.T):
                coupling[feeling, other] = (
                    self.pairs.stiffness[own]
                    if feeling == other
                    else felt.of_rows(responses, driving)
                )
        return np.moveaxis(coupling, 2, 0)

    def place_ohms(self, stances: Stances) -> FloatArray:
        """Return the ohms (E, R) that a meter sees behind the leads of each place."""
        self._look_behind_places()
        ohms = self._place_ohms.rows.take(stances.state, axis=0)
        along = stances.pulled(self._place_felt.rows.take(stances.pair, axis=0))
        for slot, pair in enumerate(stances.pair.T):
            ohms -= along[:, slot] * self.places.response(pair)
        return np.asarray(ohms)

    def behind_places(self, state: IntArray, pair: IntArray) -> tuple[FloatArray, FloatArray]:
        """Return the ohms behind places without a move (E, R), and what moves feel (E, k, R)."""
        self._look_behind_places()
        return self._place_ohms.rows[state], self._place_felt.rows[pair]

    def _look_behind_places(self) -> None:
        begin, first_pair = len(self._place_ohms), len(self._place_felt)
        if begin < len(self.states):
            forces = self.states.force_of[begin:] @ self.states.missed(self._into, begin)
            through = np.einsum("kr,dkr->dr", self.places.response_of_forces, forces)
            self._place_ohms.add(self._own_ohms - through)
            self._place_forces.add(forces)
        if first_pair < len(self.pairs):
            pairs = slice(first_pair, None)
            self._place_felt.add(self.pairs.felt_of(self._into, self._place_forces.rows, pairs))

    def place_lines(self, pair: IntArray, input_ohms: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what meters of given ohms (R,) show along the lines of plain pairs.

        At share u that is (above[0] + above[1] u) / (below[0] + below[1] u), each (2, E, R).
        """
        self._look_behind_places()
        still, way, stiff = self.places.line(pair)
        loaded = 1 + self._place_ohms.rows[self.pairs.state[pair]] / input_ohms
        relief = self._place_felt.rows[pair] * self.places.response(pair) / input_ohms
        # Where nothing moves, the line is flat: not nought over nought at its end.
        stiffer = np.where((way == 0.0) & (relief == 0.0), 0.0, stiff[:, None])
        above = np.stack([still, still * stiffer + way])
        return above, np.stack([loaded, loaded * stiffer - relief])


class Gains:
    """How rows answer to volts put into P branches; worked out once for each state and pair."""

    def __init__(self, pairs: PairTable, branches: Sequence[int]) -> None:
        self._pairs = pairs
        self._branch = np.array(branches, dtype=np.intp)
        self._columns = pairs.states.columns(self._branch)
        self._forces = GrowingArray(len(pairs.wiring.controlled), len(branches))
        self._felt = GrowingArray(len(branches))
        self._still: dict[int, GrowingArray] = {}

    def of(self, stances: Stances, rows: RowSet) -> FloatArray:
        """Return how rows of plain trials answer (E, r, P)."""
        gains: FloatArray = self.still(rows)[stances.state]
        along = stances.pulled(self.felt(stances.pair))  # (E, k, P)
        for slot, pair in enumerate(stances.pair.T):
            gains -= rows.response(pair)[:, :, None] * along[:, slot, None, :]
        return gains

    def along(
        self, stances: Stances, rows: RowSet, volts: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return how rows answer to given volts (E, P) without the moves (E, r).

        The second is what those feel of the volts (E, k).
        """
        still = self.still(rows)
        felt = np.einsum("ekp,ep->ek", self.felt(stances.pair), volts)
        state = stances.state
        if len(state) and (state == state[0]).all():
            return volts @ still[state[0]].T, felt
        answer = np.empty((len(state), still.shape[1]))
        for each in np.unique(state):
            own = np.flatnonzero(state == each)
            answer[own] = volts[own] @ still[each].T
        return answer, felt

    def felt(self, pair: IntArray) -> FloatArray:
        """Return what the moves of pairs (...) feel of each branch (..., P)."""
        self._make_forces_ready()
        if len(self._felt) < len(self._pairs):
            later = slice(len(self._felt), None)
            driven = self._pairs.states.inverse[:, self._columns]
            self._felt.add(self._pairs.felt_of(driven, self._forces.rows, later))
        return np.asarray(self._felt.rows[pair])

    def _make_forces_ready(self) -> None:
        states = self._pairs.states
        if len(self._forces) < len(states):
            self._forces.add(states.forced_by(self._branch, len(self._forces)))

    def still(self, rows: RowSet) -> FloatArray:
        """Return how rows answer in each state (D, r, P), none of its moves made."""
        self._make_forces_ready()
        still = self._still.setdefault(id(rows), GrowingArray(len(rows), len(self._branch)))
        if len(still) < len(self._forces):
            driven = rows.response_of_columns[self._columns].T
            still.add(driven - rows.response_of_forces.T @ self._forces.rows[len(still) :])
        return still.rows
