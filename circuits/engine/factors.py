"""One factorisation of a circuit, and what every single fault makes of it.

The idea. With every branch in a known piece, the circuit is a linear system M x = b in the node
volts and branch amps (the sparse tableau of [1]_). A fault moves one row of it along a straight
line, or joins two nodes; the solution then moves along one fixed direction,

    x(share) = x0 + response * drive * share / (rest + share * stiffness),

with rest = 1 - share (Sherman and Morrison [2]_). So one inverse serves every fault at every
severity, and the ends of the line, an exact open and an ideal short, cost no digits.

What hangs loose. Nodes that no law ties to 0 V form an island. One node of each island is held at
0 V to keep M regular; no current flows through that tie, so nothing is invented, and a reading
between two islands is reported as floating. Where a part forces a current into an island, the tie
would carry it: it then has so many ohms that the island's volts run off and the part lets go of
its current, and a fault that is a path out of the island carries it. A
branch that is the only way to its far side carries no current; opening it changes no volts on
either side and makes the far side an island: its stiffness is zero.

References
----------
.. [1] Hachtel, Brayton, Gustavson: The sparse tableau approach to network analysis and design.
   IEEE Transactions on Circuit Theory 18 (1971). From memory.
.. [2] Sherman, Morrison: Adjustment of an inverse matrix corresponding to a change in one element
   of a given matrix. Annals of Mathematical Statistics 21 (1950). From memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuits.engine.errors import ContradictoryNetwork
from circuits.engine.faults import Suspect, path_ends, worst_branch
from circuits.engine.laws import Curve, FloatArray
from circuits.engine.network import Network
from circuits.engine.parts import Contact, FaultKind, RuleContact, Switch
from circuits.engine.wiring import MOST_PIECES, ZERO_NODE, IntArray, Situation, Wiring, law_array

BoolArray = NDArray[np.bool_]

# Below this an opened branch has no way round it; the smallest real stiffness, an ohm against
# the leakage of a gigaohm, is far above.
NO_WAY_ROUND = 1e-11
NO_DRIVE = 1e-7
# Where a forced current has no way out, its volts run off this far: beyond every threshold, and no
# further than digits last for a fault that leads it away.
RUN_OFF_VOLTS = 1e9
HALFWAY_SIEMENS = 1.0


@dataclass(frozen=True, slots=True)
class Moves:
    """How F suspects move a wiring: one row each along a line, or a path between two nodes."""

    branch: IntArray  # (F,) the moved branch, or -1
    worst_laws: FloatArray  # (F, pieces, 3)
    control: IntArray  # (F,) the controlled branch whose thresholds move along, or -1
    worst_rising: FloatArray  # (F, 2)
    worst_falling: FloatArray  # (F, 2)
    ends: IntArray  # (F, 2) the nodes that a path joins
    is_path: BoolArray  # (F,)
    #: (F,) the contact that a path lies across, or -1: made, it leaves the path nothing to do
    contact: IntArray
    #: By suspect: the curved branch that it moves, and the curve at its worst
    curves: dict[int, tuple[int, Curve]]


def compile_moves(
    network: Network, situation: Situation, wiring: Wiring, suspects: Sequence[Suspect | None]
) -> Moves:
    """Return the moves of suspects in a situation; None is the healthy circuit, which stays."""
    count = len(suspects)
    moves = Moves(
        branch=np.full(count, -1, dtype=np.intp),
        worst_laws=np.zeros((count, MOST_PIECES, 3)),
        control=np.full(count, -1, dtype=np.intp),
        worst_rising=np.full((count, MOST_PIECES - 1), np.inf),
        worst_falling=np.full((count, MOST_PIECES - 1), np.inf),
        ends=np.full((count, 2), ZERO_NODE, dtype=np.intp),
        is_path=np.zeros(count, dtype=bool),
        contact=np.full(count, -1, dtype=np.intp),
        curves={},
    )
    phase = network.phase(situation.phase)
    parts = {part.name: part for part in network.parts_in(phase)}
    control_of = {int(branch): row for row, branch in enumerate(wiring.controlled)}
    for number, suspect in enumerate(suspects):
        if suspect is None:
            continue
        if suspect.is_path:
            first, second = path_ends(network, suspect)
            # A part that is unplugged takes a short inside it along.
            if suspect.kind is FaultKind.BYPASS and suspect.target in situation.unplugged:
                continue
            moves.ends[number] = wiring.node(first), wiring.node(second)
            moves.is_path[number] = True
            if suspect.kind is FaultKind.BYPASS and isinstance(
                parts[suspect.target], Contact | RuleContact | Switch
            ):
                moves.contact[number] = wiring.branch_index[suspect.target]
            continue
        if suspect.target in situation.unplugged:
            continue
        worst = worst_branch(parts[suspect.target], suspect)
        if worst is None:
            continue
        branch = wiring.branch_index[worst.name]
        moves.branch[number] = branch
        moves.worst_laws[number] = law_array([worst.pieces])[0]
        if worst.curve is not None:
            moves.curves[number] = branch, worst.curve
        if branch in control_of and worst.control is not None:
            moves.control[number] = control_of[branch]
            moves.worst_rising[number, : len(worst.control.rising)] = worst.control.rising
            moves.worst_falling[number, : len(worst.control.falling)] = worst.control.falling
    return moves


class Factor:
    """The inverse of a wiring with every branch in a given piece, and the moves on top of it.

    Attributes
    ----------
    inverse : (n, n)
        Columns of nodes are the response to amps put in there (zero for a held node), columns of
        branches the response to volts put in there.
    unmoved : (n,)
        The solution without a fault.
    response, feel : (F, n)
        Where a move drives the solution, and what it feels of it.
    drive, stiffness : (F,)
        See the module's first lines.
    splits : (F,)
        Whether an open there has no way round it.
    joins : (F, 2)
        The two islands that a path joins, or the same one twice.
    shifts : (F,)
        Whether such a path carries no current: it only shifts the volts of a loose island.
    island : (N + 1,)
        The island of each node; the last entry is that of the zero node.
    """

    def __init__(self, wiring: Wiring, moves: Moves, pieces: IntArray) -> None:
        laws = wiring.laws[np.arange(len(wiring.branches)), pieces]
        matrix, right_side = _tableau(wiring, laws)
        self.island = _islands(wiring, laws)
        held = _hold_islands(matrix, self.island)
        self.inverse = _invert(matrix, wiring, laws)
        self.unmoved: FloatArray = self.inverse @ right_side
        self.inverse[:, held] = 0.0
        self._forced = self._run_off(wiring, held, laws)
        self._apply_rows(wiring, moves, laws, pieces)
        self._apply_paths(moves, laws)

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

    def _apply_rows(self, wiring: Wiring, moves: Moves, laws: FloatArray, pieces: IntArray) -> None:
        count, size = len(moves.branch), wiring.size
        self.response = np.zeros((count, size))
        self.feel = np.zeros((count, size))
        self.drive = np.zeros(count)
        self.stiffness = np.ones(count)
        self.splits = np.zeros(count, dtype=bool)
        self.joins = np.full((count, 2), self.island[-1])
        self.shifts = np.zeros(count, dtype=bool)
        rows = np.flatnonzero(moves.branch >= 0)
        if not rows.size:
            return
        branch = moves.branch[rows]
        amps_index = wiring.node_count + branch
        change = moves.worst_laws[rows, pieces[branch]] - laws[branch]
        volts_factor, amps_ohms, emf_volts = change.T
        # Index -1, the zero node, falls on a row of zeros put at the end.
        padded = np.vstack([self.inverse, np.zeros(size)])
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
        split = (np.abs(self.stiffness[rows]) < NO_WAY_ROUND) & (
            np.abs(self.drive[rows]) < NO_DRIVE
        )
        self.splits[rows] = split
        self.drive[rows[split]] = 0.0
        self.stiffness[rows[split]] = 0.0

    def _apply_paths(self, moves: Moves, laws: FloatArray) -> None:
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
        volts = unmoved[first] - unmoved[second]
        self.drive[paths] = HALFWAY_SIEMENS * volts
        padded = np.hstack([self.response[paths], np.zeros((len(paths), 1))])
        here = np.arange(len(paths))
        self.stiffness[paths] = HALFWAY_SIEMENS * (padded[here, second] - padded[here, first])
        self._join_islands(paths, first, second, volts)

    def _join_islands(
        self, paths: IntArray, first: IntArray, second: IntArray, volts: FloatArray
    ) -> None:
        """Let a path between two islands shift a loose one without any current.

        A current that a part forces into the loose island goes on through the path instead.
        """
        tied = {int(self.island[-1]), *self._forced}
        for number, one, other, difference in zip(paths, first, second, volts, strict=True):
            islands = int(self.island[one]), int(self.island[other])
            if islands[0] == islands[1]:
                continue
            self.joins[number] = sorted(islands)
            if tied.issuperset(islands):
                continue
            loose, sign = (islands[0], -1.0) if islands[0] not in tied else (islands[1], 1.0)
            self.shifts[number] = True
            self.response[number] = 0.0
            self.response[number, np.flatnonzero(self.island[:-1] == loose)] = sign
            self.drive[number] = difference

    def pull(self, move: IntArray, share: FloatArray, rest: FloatArray) -> FloatArray:
        """Return share / (rest + share * stiffness), by which a move pulls the solution (E,)."""
        below = rest + share * self.stiffness[move]
        # A forced current behind an open end drives its volts off; it then lets go, see solve.
        below = np.where(np.abs(below) < 1e-14, 1e-14, below)
        pull: FloatArray = share / below
        pull = np.where(self.shifts[move], (share > 0).astype(float), pull)
        # Where nothing flows, opening changes nothing.
        return np.where(self.splits[move] & (rest == 0), 0.0, pull)


def _tableau(wiring: Wiring, laws: FloatArray) -> tuple[FloatArray, FloatArray]:
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


def _islands(wiring: Wiring, laws: FloatArray) -> IntArray:
    """Return the island of each node, the zero node last; a law that ties two nodes joins them."""
    parent = np.arange(wiring.node_count + 1)

    def root(node: int) -> int:
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = int(parent[node])
        return node

    for (first, second), law in zip(wiring.ends, laws, strict=True):
        if law[0] != 0.0:
            parent[root(int(first) % len(parent))] = root(int(second) % len(parent))
    return np.array([root(node) for node in range(len(parent))], dtype=np.intp)


def _hold_islands(matrix: FloatArray, island: IntArray) -> IntArray:
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


def _invert(matrix: FloatArray, wiring: Wiring, laws: FloatArray) -> FloatArray:
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
