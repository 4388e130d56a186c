"""A slow and plain solver that says where relays and rules come to rest: for tests only.

Two steps, both from first principles and neither shared with the engine.

*Volts for contacts that stand still.* Every part but one draws more amps at more volts, so the
amps at the nodes are the slope of a convex function of the node volts (the content of Millar [1]_)
and the circuit's solution is its minimum, whichever piece each part turns out to be in. Newton's
method with an exact search along its line cannot miss it. What takes a power draws *less* at more
volts; it is given the amps of the volts before, from above, until these stand still, which finds
the solution with the most volts if there are several.

*Contacts, event by event.* From where they stood in the phase before, the first contact whose
winding or pin asks for the other position moves, with it those on the same core or pin that ask
too, the circuit is solved again, and so on: until none asks, or until a state comes back, which
then has no end. `all_ends` tries every order instead of the order of the parts.

References
----------
.. [1] Millar: Some general theorems for non-linear systems possessing resistance. Philosophical
   Magazine 42 (1951), 1150-1160. From memory.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tests.judges.elements import MOST_PIECES, Floats, Moved, Straight, TakesPower
from tests.judges.plain import PlainCircuit

# Keeps a place that hangs loose where it is, while a forced current still moves it on.
HOLD_SIEMENS = 1e-5
STEP_VOLTS = 30.0
# A part this flat ties nothing: a tenth of the leakage of a gigaohm.
LEAST_SLOPE_SIEMENS = 1e-10
CLOSE_VOLTS = 1e-9
# Amps that a diode which ties nothing carries by rounding alone.
IDLE_AMPS = 1e-9
MOST_ROUNDS = 200
MOST_CUTS = 4
MOST_POWER_ROUNDS = 3000
MOST_EVENTS = 200


class NoPoint(Exception):
    """The slow solver came to no operating point."""


@dataclass(frozen=True, slots=True)
class Point:
    """Volts of every node, and the circuit that they solve with contacts as in `passed`."""

    volts: Mapping[str, float]
    tied: frozenset[str]

    def across(self, first: str, second: str) -> float:
        return self.volts[first] - self.volts[second]


@dataclass(frozen=True, slots=True)
class Rest:
    """Where a circuit came to rest: which contacts have passed, or that they never rest.

    `margin` is how near a watched quantity came to its threshold on the way, as a share of it;
    `undefined` says that a rule watched a place that hangs loose.
    """

    passed: Mapping[str, int]
    chatters: bool
    volts: Mapping[str, float]
    tied: frozenset[str]
    margin: float
    undefined: bool


def straight_pieces(circuit: PlainCircuit, volts: Mapping[str, float]) -> dict[str, int]:
    return {
        element.name: element.piece(volts[element.first] - volts[element.second])
        for element in circuit.straight
    }


def solve_still(circuit: PlainCircuit, passed: Mapping[str, int]) -> Point:
    """Return the volts with contacts standing still.

    Raises
    ------
    NoPoint
        The search for the lowest content did not end.
    """
    return _StillCircuit(circuit, passed).point()


class _StillCircuit:
    def __init__(self, circuit: PlainCircuit, passed: Mapping[str, int]) -> None:
        self.circuit = circuit
        self.passed = passed
        self.stands_for = circuit.made_one(passed)
        roots = [r for r in dict.fromkeys(self.stands_for.values()) if r != circuit.zero]
        self.index = {root: number for number, root in enumerate(roots)}
        self.count = len(roots)
        still = [
            Straight(moved.name, moved.first, moved.second, (1 / ohms,))
            for moved in circuit.moved
            if 0 < (ohms := moved.ohms(passed)) < np.inf
        ]
        self.straight = (*circuit.straight, *still)
        self.curved = circuit.curved
        self.power = [c for c in self.curved if isinstance(c, TakesPower)]
        self._compile()

    def _compile(self) -> None:
        size = len(self.straight)
        self.siemens = np.zeros((size, MOST_PIECES))
        self.at_zero = np.zeros((size, MOST_PIECES))
        self.bends = np.zeros((size, MOST_PIECES - 1))
        for row, element in enumerate(self.straight):
            self.siemens[row], self.at_zero[row], self.bends[row] = element.laid_out()
        elements = (*self.straight, *self.curved)
        self.incidence = np.zeros((len(elements), self.count))
        for row, each in enumerate(elements):
            for node, sign in ((each.first, 1.0), (each.second, -1.0)):
                root = self.stands_for[node]
                if root != self.circuit.zero:
                    self.incidence[row, self.index[root]] += sign
        self.rows = np.arange(size)

    def amps_and_slopes(
        self, across: Floats, held_amps: Mapping[str, float] | None
    ) -> tuple[Floats, Floats]:
        size = len(self.straight)
        own = across[:size]
        piece = (own[:, None] > self.bends).sum(axis=1)
        slope = np.empty(len(across))
        amps = np.empty(len(across))
        slope[:size] = self.siemens[self.rows, piece]
        amps[:size] = slope[:size] * own + self.at_zero[self.rows, piece]
        for row, element in enumerate(self.curved, start=size):
            volts = float(across[row])
            if held_amps is not None and isinstance(element, TakesPower):
                collapsed = element.collapsed_siemens * volts
                under = collapsed < held_amps[element.name]
                amps[row] = collapsed if under else held_amps[element.name]
                slope[row] = element.collapsed_siemens if under else 0.0
            else:
                amps[row], slope[row] = element.amps(volts), element.siemens(volts)
        return amps, slope

    def point(self) -> Point:
        volts = self.lowest_content(np.zeros(self.count), {p.name: 0.0 for p in self.power})
        if self.power:
            volts = self._from_above(volts)
        by_root = {root: float(volts[number]) for root, number in self.index.items()}
        by_root[self.circuit.zero] = 0.0
        by_node = {node: by_root[root] for node, root in self.stands_for.items()}
        pieces = {**straight_pieces(self.circuit, by_node), **self.passed}
        ties = {**pieces, **self._idle_pieces(pieces, by_node)}
        return Point(by_node, frozenset(self.circuit.tied_nodes(ties, by_node)))

    def _idle_pieces(self, pieces: Mapping[str, int], volts: Mapping[str, float]) -> dict[str, int]:
        """Return the blocking pieces of diodes that stand at their bend: they tie nothing there."""
        found = {}
        for element in self.circuit.straight:
            piece = pieces[element.name]
            if piece and not element.siemens_of_piece[piece - 1]:
                amps = element.amps(volts[element.first] - volts[element.second])
                if abs(amps) < IDLE_AMPS:
                    found[element.name] = piece - 1
        return found

    def _from_above(self, volts: Floats) -> Floats:
        first = len(self.straight)
        for _ in range(MOST_POWER_ROUNDS):
            across = self.incidence @ volts
            held = {
                element.name: min(element.amps(max(float(across[row]), 1.0)), element.max_amps)
                for row, element in enumerate(self.curved, start=first)
                if isinstance(element, TakesPower)
            }
            lower = self.lowest_content(volts, held)
            moved = float(np.abs(lower - volts).max())
            volts = lower
            if moved < 1e-10:
                return volts
        raise NoPoint("what takes a power does not come to rest")

    def lowest_content(self, volts: Floats, held_amps: Mapping[str, float]) -> Floats:
        """Return the node volts at which the amps of every node cancel."""
        cut_short = 0
        for _ in range(MOST_ROUNDS):
            amps, slope = self.amps_and_slopes(self.incidence @ volts, held_amps)
            left_over = self.incidence.T @ amps
            steep = (self.incidence.T * slope) @ self.incidence
            steep[np.diag_indices(self.count)] += HOLD_SIEMENS * self._hangs_loose(slope)
            newton: Floats = np.asarray(np.linalg.solve(steep, -left_over), dtype=np.float64)
            way = newton * min(1.0, STEP_VOLTS / max(float(np.abs(newton).max()), 1e-300))
            length = self._down(volts, way, held_amps)
            volts = volts + length * way
            # Where a part bends the way is cut short; what is left is gone in the next rounds.
            cut_short += length * np.abs(way).max() < CLOSE_VOLTS
            if np.abs(way).max() < CLOSE_VOLTS or cut_short > MOST_CUTS:
                return volts
        if cut_short:
            return volts
        raise NoPoint("the content has no lowest point within reach")

    def _hangs_loose(self, slope: Floats) -> Floats:
        """Return 1 for each node that no part with a slope ties to zero, 0 for the others."""
        steep = self.incidence[slope > LEAST_SLOPE_SIEMENS]
        tied = (np.abs(steep).sum(axis=1) == 1) @ np.abs(steep) > 0
        while True:
            reached = tied | ((np.abs(steep) @ tied > 0) @ np.abs(steep) > 0)
            if (reached == tied).all():
                return np.where(tied, 0.0, 1.0)
            tied = reached

    def _down(self, volts: Floats, way: Floats, held_amps: Mapping[str, float]) -> float:
        """Return how far along the way the content falls: its slope rises all along."""

        def slope(length: float) -> float:
            amps, _ = self.amps_and_slopes(self.incidence @ (volts + length * way), held_amps)
            return float(way @ (self.incidence.T @ amps))

        steepest = -slope(0.0)
        if slope(1.0) <= 0.1 * steepest:
            return 1.0
        short, long = 0.0, 1.0
        for _ in range(60):
            middle = (short + long) / 2
            here = slope(middle)
            if abs(here) <= 0.1 * steepest:
                return middle
            short, long = (middle, long) if here < 0 else (short, middle)
        return short


# --------------------------------------------------------------------------------- contacts


def watched(moved: Moved, circuit: PlainCircuit, point: Point) -> float:
    """Return the amps through the contact's windings, or the volts between its rule's pins.

    A core is pulled whichever way the current runs; two windings on it add up or cancel.
    """
    if not moved.windings:
        return point.across(moved.red, moved.black)
    return abs(
        sum(
            element.amps(point.across(element.first, element.second))
            for element in circuit.straight
            if element.name in moved.windings
        )
    )


def is_undefined(moved: Moved, point: Point) -> bool:
    return not moved.windings and not {moved.red, moved.black} <= point.tied


def asks_for(moved: Moved, passed: int, quantity: float) -> int:
    if passed:
        return int(quantity >= moved.falling)
    return int(quantity > moved.rising)


def come_to_rest(circuit: PlainCircuit, before: Mapping[str, int]) -> Rest:
    """Move contacts one at a time, the first in the order of the parts, until none asks."""
    passed = {moved.name: before.get(moved.name, 0) for moved in circuit.moved}
    seen: set[tuple[int, ...]] = set()
    margin, undefined = np.inf, False
    for _ in range(MOST_EVENTS):
        point = solve_still(circuit, passed)
        seen.add(tuple(passed.values()))
        for moved in circuit.moved:
            quantity = watched(moved, circuit, point)
            threshold = moved.falling if passed[moved.name] else moved.rising
            margin = min(margin, abs(quantity - threshold) / max(abs(threshold), 1e-3))
            undefined = undefined or is_undefined(moved, point)
        turns = asking_together(circuit, passed, point)
        if not turns:
            return Rest(passed, False, point.volts, point.tied, margin, undefined)
        passed = turned(passed, turns[0])
        if tuple(passed.values()) in seen:
            return Rest(passed, True, point.volts, point.tied, margin, undefined)
    raise NoPoint("contacts moved on and on without coming back to a state")


def asking_together(
    circuit: PlainCircuit, passed: Mapping[str, int], point: Point
) -> list[list[str]]:
    """Return the contacts that ask for the other position, those that one thing moves as one."""
    groups: dict[tuple[object, ...], list[str]] = {}
    for moved in circuit.moved:
        if (
            asks_for(moved, passed[moved.name], watched(moved, circuit, point))
            != passed[moved.name]
        ):
            by = (frozenset(moved.windings), moved.red, moved.black)
            groups.setdefault(by, []).append(moved.name)
    return list(groups.values())


def turned(passed: Mapping[str, int], names: Sequence[str]) -> dict[str, int]:
    return {name: 1 - has if name in names else has for name, has in passed.items()}


def all_ends(circuit: PlainCircuit, before: Mapping[str, int]) -> list[dict[str, int]]:
    """Return every state at rest that some order of moving reaches."""
    start = {moved.name: before.get(moved.name, 0) for moved in circuit.moved}
    reached, trail, ends = {tuple(start.values())}, [start], []
    while trail:
        passed = trail.pop()
        turns = asking_together(circuit, passed, solve_still(circuit, passed))
        if not turns:
            ends.append(passed)
        for names in turns:
            further = turned(passed, names)
            if tuple(further.values()) not in reached:
                reached.add(tuple(further.values()))
                trail.append(further)
    return ends
