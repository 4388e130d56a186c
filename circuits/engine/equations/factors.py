"""One factorisation of a circuit, and what every fault makes of it.

The idea. With every branch in a known piece, the circuit is a linear system M x = b in the node
volts and branch amps (the sparse tableau of [1]_). A fault moves one row of it along a straight
line, or joins two nodes; the solution then moves along one fixed direction,

    x(share) = x0 + response * drive * share / (rest + share * stiffness),

with rest = 1 - share (Sherman and Morrison [2]_). So one inverse serves every fault at every
severity, and the ends of the line, an exact open and an ideal short, cost no digits. Several
faults at once are the same with small matrices in place of the numbers, see `grip`.

What hangs loose. Nodes that no law ties to 0 V form an island. One node of each island is held at
0 V to keep M regular; no current flows through that tie, so nothing is invented, and a reading
between two islands is reported as floating. A path that a fault makes into a loose island takes
the place of its hold: that is one more move, which gives the held node its own equation back.
Where a part forces a current into an island, the tie would carry it: it then has so many ohms
that the island's volts run off and the part lets go of its current, and a fault that is a path
out of the island carries it. A branch that is the only way to its far side carries no current;
opening it changes no volts on either side and makes the far side an island: its stiffness is zero.

References
----------
.. [1] Hachtel, Brayton, Gustavson: The sparse tableau approach to network analysis and design.
   IEEE Transactions on Circuit Theory 18 (1971). From memory.
.. [2] Sherman, Morrison: Adjustment of an inverse matrix corresponding to a change in one element
   of a given matrix. Annals of Mathematical Statistics 21 (1950). From memory.
"""

from functools import cached_property

import numpy as np

from circuits.engine.equations.moves import BoolArray, Moves
from circuits.engine.equations.wiring import ZERO_NODE, IntArray, Wiring
from circuits.engine.errors import ContradictoryNetwork
from circuits.engine.laws import FloatArray

# Below this an opened branch has no way round it; the smallest real stiffness, an ohm against
# the leakage of a gigaohm, is far above.
NO_WAY_ROUND = 1e-11
NO_DRIVE = 1e-7
# Where a forced current has no way out, its volts run off this far: beyond every threshold, and no
# further than digits last for a fault that leads it away.
RUN_OFF_VOLTS = 1e9
HALFWAY_SIEMENS = 1.0


class Factor:
    """The inverse of a wiring with every branch in a given piece, and the moves on top of it.

    The M moves of the suspects are followed by one for each of the H loose islands: letting go of
    its hold. Those are at share 1 where a path reaches into the island, and nowhere else.

    Attributes
    ----------
    inverse : (n, n)
        Columns of nodes are the response to amps put in there (zero for a held node), columns of
        branches the response to volts put in there.
    unmoved : (n,)
        The solution without a fault.
    response, feel : (M + H, n)
        Where a move drives the solution, and what it feels of it.
    drive, stiffness : (M + H,)
        See the module's first lines.
    splits : (M + H,)
        Whether an open there has no way round it.
    island : (N + 1,)
        The island of each node; the last entry is that of the zero node.
    path_islands : (M + H, 2)
        The two islands of a path's ends.
    """

    def __init__(self, wiring: Wiring, moves: Moves, pieces: IntArray) -> None:
        self.wiring = wiring
        self.moves = moves
        laws = wiring.laws[np.arange(len(wiring.branches)), pieces]
        matrix, right_side = tableau(wiring, laws)
        self.island = islands_of(wiring, laws)
        held = hold_islands(matrix, self.island)
        self.inverse = invert(matrix, wiring, laws)
        self.unmoved: FloatArray = self.inverse @ right_side
        self.inverse[:, held] = 0.0
        forced = self._run_off(wiring, held, laws)
        #: The islands that a path into them finds tied: that of 0 V, and those of forced currents.
        self.tied = frozenset({int(self.island[-1]), *forced})
        loose = [int(label) for label in self.island[held] if int(label) not in forced]
        #: The move that lets go of each loose island.
        self.hold_of = {label: len(moves.branch) + row for row, label in enumerate(loose)}
        self._make_room(len(moves.branch) + len(loose))
        self._apply_rows(laws, pieces)
        self._apply_paths(laws)
        for label, move in self.hold_of.items():
            pattern = (self.island[:-1] == label).astype(float)
            self.response[move, : len(pattern)] = self.feel[move, : len(pattern)] = pattern
            self.stiffness[move] = 0.0

    def _make_room(self, count: int) -> None:
        self.response = np.zeros((count, self.wiring.size))
        self.feel = np.zeros((count, self.wiring.size))
        self.drive = np.zeros(count)
        self.stiffness = np.ones(count)
        self.splits = np.zeros(count, dtype=bool)
        self.path_islands = np.full((count, 2), self.island[-1])
        #: The branch whose law a move shifts, and the one of which it leaves a share, or -1.
        self.moved_branch = np.full(count, -1, dtype=np.intp)
        self.thinned_branch = np.full(count, -1, dtype=np.intp)
        self._volts_factor_change = np.zeros(count)
        self._is_live_path = np.zeros(count, dtype=bool)

    def _run_off(self, wiring: Wiring, held: IntArray, laws: FloatArray) -> set[int]:
        """Drive off the volts of islands into which a part forces a current; return those."""
        nodes = wiring.node_count
        forced = set()
        for node in held:
            arrives = np.subtract(wiring.ends[:, 1] == node, wiring.ends[:, 0] == node, dtype=float)
            arriving_amps = arrives @ self.unmoved[nodes:]
            if abs(arriving_amps) <= NO_DRIVE:
                continue
            tie_ohms = RUN_OFF_VOLTS / abs(arriving_amps)
            arrival = arrives @ self.inverse[nodes:]
            arrival[node] = 1.0
            members = np.flatnonzero(self.island[:-1] == self.island[node])
            _refuse_endless_currents(wiring, laws, members)
            self.unmoved[members] += tie_ohms * arriving_amps
            self.inverse[members] += tie_ohms * arrival
            forced.add(int(self.island[node]))
        return forced

    def _apply_rows(self, laws: FloatArray, pieces: IntArray) -> None:
        moves, wiring = self.moves, self.wiring
        rows = np.flatnonzero(moves.branch >= 0)
        if not rows.size:
            return
        branch = moves.branch[rows]
        amps_index = wiring.node_count + branch
        change = moves.worst_laws[rows, pieces[branch]] - laws[branch]
        volts_factor, amps_ohms, emf_volts = change.T
        self._volts_factor_change[rows] = volts_factor
        self.moved_branch[rows] = branch
        self.thinned_branch[rows] = np.where(moves.opens[rows] & (volts_factor != 0), branch, -1)
        # Index -1, the zero node, falls on a row of zeros put at the end.
        padded = np.vstack([self.inverse, np.zeros(wiring.size)])
        unmoved = np.append(self.unmoved, 0.0)
        ends = wiring.ends[branch]
        across = padded[ends[:, 0]] - padded[ends[:, 1]]
        volts = unmoved[ends[:, 0]] - unmoved[ends[:, 1]]
        self.feel[rows] = (
            volts_factor[:, None] * across - amps_ohms[:, None] * self.inverse[amps_index]
        )
        self.response[rows] = self.inverse[:, amps_index].T
        self.drive[rows] = emf_volts - (volts_factor * volts - amps_ohms * unmoved[amps_index])
        self.stiffness[rows] = 1 + self.feel[rows, amps_index]
        # What is left of the stiffness there is rounding, and its sign would say which way the
        # volts of a forced current run off.
        no_way_round = np.abs(self.stiffness[rows]) < NO_WAY_ROUND
        self.stiffness[rows[no_way_round]] = 0.0
        split = no_way_round & (np.abs(self.drive[rows]) < NO_DRIVE)
        self.splits[rows] = split
        self.drive[rows[split]] = 0.0

    def _apply_paths(self, laws: FloatArray) -> None:
        moves = self.moves
        across_made = (moves.contact >= 0) & (laws[moves.contact, 0] != 0.0)
        paths = np.flatnonzero(moves.is_path & ~across_made)
        if not paths.size:
            return
        size = len(self.unmoved)
        first, second = moves.ends[paths].T
        columns = np.hstack([self.inverse, np.zeros((size, 1))])
        rows = np.vstack([self.inverse, np.zeros(size)])
        unmoved = np.append(self.unmoved, 0.0)
        self.response[paths] = (columns[:, second] - columns[:, first]).T
        self.feel[paths] = HALFWAY_SIEMENS * (rows[second] - rows[first])
        self.drive[paths] = HALFWAY_SIEMENS * (unmoved[first] - unmoved[second])
        padded = np.hstack([self.response[paths], np.zeros((len(paths), 1))])
        here = np.arange(len(paths))
        self.stiffness[paths] = HALFWAY_SIEMENS * (padded[here, second] - padded[here, first])
        self._is_live_path[paths] = True
        ends = self.island[np.stack([first, second], axis=1)]
        self.path_islands[paths] = ends

    @cached_property
    def joins(self) -> BoolArray:
        """Whether each move (M + H,) is a path that makes one of two islands."""
        joins: BoolArray = self.path_islands[:, 0] != self.path_islands[:, 1]
        return joins

    @cached_property
    def shifts(self) -> BoolArray:
        """Whether it alone (M + H,) carries no current, and only shifts a loose island's volts."""
        tied = np.isin(self.path_islands, list(self.tied)).all(axis=1)
        shifts: BoolArray = self.joins & ~tied
        return shifts

    @cached_property
    def coupling(self) -> FloatArray:
        """Return what each move feels of the response of each other (M + H, M + H).

        The diagonal is the stiffness.
        """
        moves, nodes = self.moves, self.wiring.node_count
        count = len(moves.branch)
        padded = np.hstack([self.feel, np.zeros((len(self.feel), 1))])
        coupling = np.zeros((len(self.feel), len(self.feel)))
        is_row = moves.branch >= 0
        coupling[:, :count][:, is_row] = self.feel[:, nodes + moves.branch[is_row]]
        paths = np.flatnonzero(self._is_live_path)
        first, second = moves.ends[paths].T
        coupling[:, paths] = padded[:, second] - padded[:, first]
        for move in self.hold_of.values():
            coupling[:, move] = self._felt_of_hold(self.response[move])
        np.fill_diagonal(coupling, self.stiffness)
        return coupling

    def _felt_of_hold(self, pattern: FloatArray) -> FloatArray:
        """Return what each move feels of one volt on all of a loose island (M + H,)."""
        moves = self.moves
        volts = np.append(pattern[: self.wiring.node_count], 0.0)
        felt = np.zeros(len(self.feel))
        ends = np.where(moves.is_path[:, None], moves.ends, self.wiring.ends[moves.branch])
        across = volts[ends[:, 0]] - volts[ends[:, 1]]
        own = felt[: len(across)]
        own += self._volts_factor_change[: len(across)] * across
        own -= np.where(self._is_live_path[: len(across)], HALFWAY_SIEMENS * across, 0.0)
        return felt


def tableau(wiring: Wiring, laws: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return M (n, n) and b (n,): Kirchhoff's current law at the nodes, then the laws."""
    nodes, branches = wiring.node_count, len(wiring.branches)
    matrix = np.zeros((wiring.size, wiring.size))
    numbers = np.arange(branches)
    for end, sign in ((0, 1.0), (1, -1.0)):
        inner = wiring.ends[:, end] != ZERO_NODE
        node = wiring.ends[inner, end]
        matrix[node, nodes + numbers[inner]] += sign
        matrix[nodes + numbers[inner], node] += sign * laws[inner, 0]
    matrix[nodes + numbers, nodes + numbers] = -laws[:, 1]
    return matrix, np.concatenate([np.zeros(nodes), laws[:, 2]])


def islands_of(wiring: Wiring, laws: FloatArray) -> IntArray:
    """Return the island of each node, the zero node last; a law that ties two nodes joins them."""
    parent = list(range(wiring.node_count + 1))

    def root(node: int) -> int:
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    # The zero node, -1, is the last one.
    for first, second in wiring.ends[laws[:, 0] != 0.0].tolist():
        parent[root(first)] = root(second)
    return np.array([root(node) for node in range(len(parent))], dtype=np.intp)


def hold_islands(matrix: FloatArray, island: IntArray) -> IntArray:
    """Hold one node of every loose island at 0 V; return those nodes."""
    held = [
        int(np.flatnonzero(island[:-1] == label)[0])
        for label in np.unique(island[:-1])
        if label != island[-1]
    ]
    for node in held:
        matrix[node] = 0.0
        matrix[node, node] = 1.0
    return np.array(held, dtype=np.intp)


def _refuse_endless_currents(wiring: Wiring, laws: FloatArray, members: IntArray) -> None:
    """Refuse a current into an island from a part that never lets go of it."""
    crosses = np.isin(wiring.ends, members).sum(axis=1) == 1
    forces = crosses & (laws[:, 0] == 0.0) & (laws[:, 2] != 0.0)
    endless = [
        f"{branch.name} forces a current that has no way back; close the circuit behind it"
        for branch, forced in zip(wiring.branches, forces, strict=True)
        if forced and branch.control is None
    ]
    if endless:
        raise ContradictoryNetwork(endless)


def invert(matrix: FloatArray, wiring: Wiring, laws: FloatArray) -> FloatArray:
    try:
        inverse = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    except np.linalg.LinAlgError:
        raise ContradictoryNetwork(_contradictions(wiring, laws)) from None
    if not np.isfinite(inverse).all():
        raise ContradictoryNetwork(_contradictions(wiring, laws))
    return inverse


def _contradictions(wiring: Wiring, laws: FloatArray) -> list[str]:
    """Say in trade words why a network has no one solution."""
    loop = _loop_without_resistance(wiring, laws)
    if loop:
        names = " and ".join(loop) if len(loop) < 3 else f"{', '.join(loop[:-1])} and {loop[-1]}"
        return [f"{names} form a loop without resistance; give one of them its real ohms"]
    return ["two parts force a current against each other; give one of them its inner resistance"]


def _loop_without_resistance(wiring: Wiring, laws: FloatArray) -> list[str]:
    """Return the parts of a closed path whose laws have no ohms, or nothing."""
    neighbours: dict[int, list[tuple[int, str]]] = {}
    for branch, (first, second), law in zip(wiring.branches, wiring.ends, laws, strict=True):
        if law[0] == 0.0 or law[1] != 0.0:
            continue
        path = _path(neighbours, int(first), int(second))
        name = branch.name.removesuffix(".terminal")
        if path is not None:
            return [*path, name]
        neighbours.setdefault(int(first), []).append((int(second), name))
        neighbours.setdefault(int(second), []).append((int(first), name))
    return []


def _path(neighbours: dict[int, list[tuple[int, str]]], start: int, goal: int) -> list[str] | None:
    trail: list[tuple[int, list[str]]] = [(start, [])]
    seen = {start}
    while trail:
        node, names = trail.pop()
        if node == goal:
            return names
        for neighbour, name in neighbours.get(node, []):
            if neighbour not in seen:
                seen.add(neighbour)
                trail.append((neighbour, [*names, name]))
    return None
