"""Every suspect at many severities by plain solves: one dense LAPACK solve for each and each state.

The engine cuts a suspect's line of severity where a state changes, and has a closed form between
two cuts. Here no such thing is known: at each point of a grid the node equations are set up from
the parts' own laws and solved, states are followed from the phase before, one contact at a time,
and what a contact or a piece then asks for is looked up in the volts. Only straight parts.

On the grid, severity runs from 0 to 1: added ohms are u / (1 - u), a path has u / (1 - u) siemens,
and a value goes that share of its way to the worst.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from circuits.engine import Fault, FaultKind, Network, Part, Phase, Potentiometer, Suspect
from tests.judges.elements import MOST_PIECES, Floats, Joint, Moved, Straight
from tests.judges.plain import PlainCircuit, path_ends, plain_circuit, reached_from
from tests.judges.plain_faults import PLACE_FAULTS, weakened
from tests.judges.plain_parts import elements_of
from tests.judges.settling import IDLE_AMPS, solve_still, straight_pieces

Ints = NDArray[np.intp]

QUICK_ROUNDS = 10
# A piece that meets its bend exactly, as a diode that carries nothing, may be in either.
AT_BEND_VOLTS = 1e-12
# Holds a place that hangs loose, while a current that is forced into it runs its volts off.
HOLD_SIEMENS = 1e-7
# A joint without ohms, where a fault adds some to it: less than any that count.
JOINT_SIEMENS = 1e9


@dataclass(frozen=True, slots=True)
class GridPoints:
    """P points of one suspect in one phase, at rest or going round."""

    passed: Ints  # (P, M) by contact
    chatters: NDArray[np.bool_]  # (P,)
    volts: Floats  # (P, N), NaN where a place hangs loose


class PhaseGrid:
    """The node equations of one suspect in one phase, for all its points."""

    def __init__(self, network: Network, phase: Phase, suspect: Suspect, shares: Floats) -> None:
        self.network, self.phase, self.suspect = network, phase, suspect
        self.shares = shares
        healthy = self._draw()
        if healthy.curved:
            raise ValueError(
                f"{healthy.curved[0].name} has a curved law; a grid is for straight ones"
            )
        with np.errstate(divide="ignore"):
            self.path_siemens = shares / (1 - shares)
        self.moved = healthy.moved
        self.straight = healthy.straight
        self._series = ""
        self._worn_joint: tuple[str, str] | None = None
        if suspect.kind is FaultKind.RESISTANCE:
            self._series = self._worn_element()
        self.elements: tuple[Straight | Moved, ...] = (*self.straight, *self.moved)
        joined = [pair for pair in healthy.joined if pair != self._worn_joint]
        stands_for = replace(healthy, joined=tuple(joined), moved=()).made_one({})
        self._root = {node: stands_for.get(node, node) for node in (*network.nodes, *stands_for)}
        roots = [root for root in dict.fromkeys(self._root.values()) if root != network.zero]
        self._row = {root: row for row, root in enumerate(roots)}
        self.size = len(roots)
        self.nodes = [node for node in network.nodes if node != network.zero]
        self.zero = healthy.zero
        movers = [(frozenset(m.windings), m.red, m.black) for m in self.moved]
        self._together = np.array([[one == other for other in movers] for one in movers])
        self._path = self._path_ends()
        self._compile()

    def _draw(self) -> PlainCircuit:
        return plain_circuit(self.network, self.phase)

    def _worn_element(self) -> str:
        """Return the element that a resistance is added to, put in if it was without ohms."""
        part = self.part()
        if not isinstance(part, Potentiometer):
            return part.name
        name = f"{part.name}.wiper"
        joints = [each for each in elements_of(part) if isinstance(each, Joint)]
        self._worn_joint = next(
            ((each.first, each.second) for each in joints if each.second == part.third), None
        )
        if self._worn_joint is not None:
            self.straight = (*self.straight, Straight(name, *self._worn_joint, (JOINT_SIEMENS,)))
        return name

    def part(self) -> Part:
        """Return the part at fault as it is in this phase."""
        return self.phase.changes.get(self.suspect.target, self.network.part(self.suspect.target))

    def _node(self, name: str) -> int:
        """Return the row of a place, or -1 for 0 V."""
        return self._row.get(self._root[name], -1)

    def _path_ends(self) -> tuple[str, str] | None:
        """Return the places that a path joins, unless it lies across a switch that is closed."""
        if self.suspect.kind in PLACE_FAULTS:
            return path_ends(self.network, Fault(suspect=self.suspect, severity=1.0))
        if self.suspect.kind is not FaultKind.BYPASS:
            return None
        drawn = plain_circuit(self.network, self.phase, Fault(suspect=self.suspect, severity=1.0))
        part = self.network.part(self.suspect.target)
        across_contact = any(math.isfinite(moved.open_ohms) for moved in drawn.moved)
        drawn_path = any(element.name == "fault 1" for element in drawn.straight)
        return (part.first, part.second) if across_contact or drawn_path else None

    def _compile(self) -> None:
        """Lay out the elements: straight ones, then contacts, then the path if there is one."""
        points, size = len(self.shares), len(self.straight)
        self.siemens = np.zeros((points, size, MOST_PIECES))
        self.amps_at_zero = np.zeros((points, size, MOST_PIECES))
        self.bends = np.full((points, size, MOST_PIECES - 1), np.inf)
        for row, element in enumerate(self.straight):
            laid_out = element.laid_out()
            for values, healthy in zip(
                (self.siemens, self.amps_at_zero, self.bends), laid_out, strict=True
            ):
                values[:, row] = healthy
        self._move_values()
        ends = [(each.first, each.second) for each in self.elements]
        if self._path is not None:
            ends.append(self._path)
        self.incidence = np.zeros((len(ends), self.size))
        for row, pair in enumerate(ends):
            for node, sign in zip(map(self._node, pair), (1.0, -1.0), strict=True):
                if node >= 0:
                    self.incidence[row, node] += sign
        self.series_ohms = np.zeros((points, len(ends)))
        for row, each in enumerate(self.elements):
            if each.name == self._series:
                self.series_ohms[:, row] = self.path_siemens

    def _move_values(self) -> None:
        """Put in what the part at fault is at every point, if it is a value that moves."""
        if math.isinf(self.suspect.most):
            return
        rows = {element.name: row for row, element in enumerate(self.straight)}
        for point, share in enumerate(self.shares.tolist()):
            fault = Fault(suspect=self.suspect, severity=share * self.suspect.most)
            for element in elements_of(weakened(self.part(), fault)):
                if isinstance(element, Straight):
                    row, laid_out = rows[element.name], element.laid_out()
                    self.siemens[point, row], self.amps_at_zero[point, row] = laid_out[:2]
                    self.bends[point, row] = laid_out[2]

    # ------------------------------------------------------------------------------- solving

    def solve(self, points: Ints, pieces: Ints, passed: Ints) -> tuple[Floats, Floats, Floats]:
        """Return node volts (p, N), element volts (p, E) and amps of points in one state."""
        siemens, at_zero = self._laws(points, pieces, passed)
        series = self.series_ohms[points]
        weaker = 1 + siemens * series
        siemens, at_zero = siemens / weaker, at_zero / weaker
        matrix = np.matmul(self.incidence.T, siemens[:, :, None] * self.incidence)
        held = self._held(siemens)
        matrix[:, held, held] += HOLD_SIEMENS
        right_side = -at_zero @ self.incidence
        volts = np.linalg.solve(matrix, right_side[:, :, None])[:, :, 0]
        across = volts @ self.incidence.T
        amps: Floats = siemens * across + at_zero
        inside: Floats = across - series * amps
        return np.asarray(volts, dtype=np.float64), inside, amps

    def _laws(self, points: Ints, pieces: Ints, passed: Ints) -> tuple[Floats, Floats]:
        rows = np.arange(len(self.straight))
        siemens = np.zeros((len(points), len(self.incidence)))
        at_zero = np.zeros_like(siemens)
        siemens[:, rows] = self.siemens[points][:, rows, pieces]
        at_zero[:, rows] = self.amps_at_zero[points][:, rows, pieces]
        path_siemens = self.path_siemens[points]
        for row, (moved, has_passed) in enumerate(
            zip(self.moved, passed, strict=True), start=len(rows)
        ):
            if bool(has_passed) == moved.made_when_passed:
                siemens[:, row] = 1 / moved.made_ohms
                if self._path is not None and moved.name == self._bypassed_contact:
                    path_siemens = np.zeros_like(path_siemens)
        if self._path is not None:
            siemens[:, -1] = path_siemens
        return siemens, at_zero

    @property
    def _bypassed_contact(self) -> str:
        return self.suspect.target if self.suspect.kind is FaultKind.BYPASS else ""

    def _held(self, siemens: Floats) -> Ints:
        """Return one node of every island that nothing ties to zero."""
        tied_rows = np.flatnonzero((siemens > 0).any(axis=0))
        ends = [self._ends(int(row)) for row in tied_rows]
        tied = reached_from(self.zero, ends)
        left = [node for node in self._row if node not in tied]
        held = []
        while left:
            island = reached_from(left[0], ends)
            held.append(self._row[left[0]])
            left = [node for node in left if node not in island]
        return np.array(held, dtype=np.intp)

    def _ends(self, row: int) -> tuple[str, str]:
        """Return the ends of a row of the incidence, by the nodes that stand for them."""
        pair = self._path
        if row < len(self.elements):
            pair = self.elements[row].first, self.elements[row].second
        assert pair is not None
        return self._root[pair[0]], self._root[pair[1]]

    # -------------------------------------------------------------------------------- states

    def come_to_rest(self, before: dict[str, Ints]) -> GridPoints:
        count = len(self.shares)
        passed = np.zeros((count, len(self.moved)), dtype=np.intp)
        for number, moved in enumerate(self.moved):
            if moved.name in before:
                passed[:, number] = before[moved.name]
        pieces = np.zeros((count, len(self.straight)), dtype=np.intp)
        chatters = np.zeros(count, dtype=bool)
        volts = np.empty((count, self.size))
        seen: list[set[bytes]] = [set() for _ in range(count)]
        active = np.arange(count)
        while active.size:
            watched = self._rest_quickly(active, pieces, passed, volts)
            wrong = self._wrong(watched, passed[active])
            active, wrong = active[wrong.any(axis=1)], wrong[wrong.any(axis=1)]
            for point, asking in zip(active.tolist(), wrong, strict=True):
                turns = asking & self._together[int(np.flatnonzero(asking)[0])]
                seen[point].add(passed[point].tobytes())
                passed[point, turns] ^= 1
                chatters[point] = passed[point].tobytes() in seen[point]
            active = active[~chatters[active]]
        return GridPoints(passed, chatters, self._without_loose(volts, pieces, passed))

    def _wrong(self, watched: Floats, passed: Ints) -> NDArray[np.bool_]:
        rising = np.array([moved.rising for moved in self.moved])
        falling = np.array([moved.falling for moved in self.moved])
        wanted = np.where(passed > 0, watched >= falling, watched > rising)
        return np.asarray(wanted != (passed > 0))

    def _rest_quickly(self, active: Ints, pieces: Ints, passed: Ints, volts: Floats) -> Floats:
        """Find the pieces of all straight parts at given contacts; return what contacts watch."""
        watched = np.empty((len(active), len(self.moved)))
        where = {int(point): row for row, point in enumerate(active)}
        restless = active
        for _ in range(QUICK_ROUNDS):
            still = []
            for points in _same_state(restless, pieces, passed):
                nodes, across, amps = self.solve(points, pieces[points[0]], passed[points[0]])
                volts[points] = nodes
                rows = [where[int(point)] for point in points]
                watched[rows] = self._watched(nodes, amps)
                asked = self._asked_pieces(points, across[:, : len(self.straight)], pieces[points])
                turned = (asked != pieces[points]).any(axis=1)
                pieces[points] = asked
                still.append(points[turned])
            restless = np.concatenate(still)
            if not restless.size:
                return watched
        while restless.size:
            # Parts that draw more at more volts have one solution: the pieces of one point are
            # right wherever they ask for nothing else.
            pieces[restless] = self._slow_pieces(int(restless[0]), passed)
            nodes, across, amps = self.solve(restless, pieces[restless[0]], passed[restless[0]])
            asked = self._asked_pieces(restless, across[:, : len(self.straight)], pieces[restless])
            same = (passed[restless] == passed[restless[0]]).all(axis=1)
            right = same & (asked == pieces[restless]).all(axis=1)
            right[0] = True
            volts[restless[right]] = nodes[right]
            watched[[where[int(point)] for point in restless[right]]] = self._watched(
                nodes[right], amps[right]
            )
            restless = restless[~right]
        return watched

    def _asked_pieces(self, points: Ints, across: Floats, pieces: Ints) -> Ints:
        bends = self.bends[points]
        above = (across[:, :, None] > bends + AT_BEND_VOLTS).sum(axis=2)
        at_or_above = (across[:, :, None] >= bends - AT_BEND_VOLTS).sum(axis=2)
        asked: Ints = np.clip(pieces, above, at_or_above)
        return asked

    def _slow_pieces(self, point: int, passed: Ints) -> list[int]:
        """Return the pieces of one point where turning all at once goes in circles."""
        circuit = plain_circuit(self.network, self.phase, self.fault(point))
        at_rest = {
            moved.name: int(has_passed)
            for moved, has_passed in zip(self.moved, passed[point], strict=True)
        }
        found = straight_pieces(circuit, solve_still(circuit, at_rest).volts)
        # A wiper without ohms of its own is put in here alone, as a resistance: that has one piece.
        return [found.get(element.name, 0) for element in self.straight]

    def fault(self, point: int) -> Fault:
        share = float(self.shares[point])
        match self.suspect.kind:
            case FaultKind.RESISTANCE:
                severity = share / (1 - share)
            case (
                FaultKind.BYPASS
                | FaultKind.GROUND_SHORT
                | FaultKind.SUPPLY_SHORT
                | FaultKind.NEIGHBOUR_SHORT
            ):
                severity = (1 - share) / share
            case _:
                severity = share * self.suspect.most
        return Fault(suspect=self.suspect, severity=severity)

    def _watched(self, nodes: Floats, amps: Floats) -> Floats:
        padded = np.hstack([nodes, np.zeros((len(nodes), 1))])
        columns = [self._watched_by(moved, padded, amps) for moved in self.moved]
        return np.array(columns).reshape(len(self.moved), len(nodes)).T

    def _watched_by(self, moved: Moved, padded: Floats, amps: Floats) -> Floats:
        if moved.windings:
            rows = [row for row, each in enumerate(self.straight) if each.name in moved.windings]
            return np.asarray(np.abs(amps[:, rows].sum(axis=1)))
        red, black = (self._node(pin) for pin in (moved.red, moved.black))
        return np.asarray(padded[:, red] - padded[:, black])

    def _without_loose(self, volts: Floats, pieces: Ints, passed: Ints) -> Floats:
        """Blank the places that hang loose; what conducts but carries nothing ties no place."""
        size = len(self.straight)
        blocks_below = np.hstack([np.zeros((size, 1), dtype=bool), self.siemens[0, :, :-1] == 0])
        for points in _same_state(np.arange(len(volts)), pieces, passed):
            piece = pieces[points[0]]
            siemens, _ = self._laws(points, piece, passed[points[0]])
            _, _, amps = self.solve(points, piece, passed[points[0]])
            ties = siemens > 0
            is_diode = blocks_below[np.arange(size), piece]
            ties[:, :size] &= ~(is_diode & (np.abs(amps[:, :size]) < IDLE_AMPS))
            for rows, group in _same_rows(points, ties):
                tied = reached_from(self.zero, [self._ends(int(row)) for row in rows])
                loose = [row for node, row in self._row.items() if node not in tied]
                volts[group[:, None], np.array(loose, dtype=np.intp)] = np.nan
        with_zero = np.hstack([volts, np.zeros((len(volts), 1))])
        by_node: Floats = with_zero[:, [self._node(node) for node in self.nodes]]
        return by_node


def _same_rows(points: Ints, ties: NDArray[np.bool_]) -> Iterator[tuple[Ints, Ints]]:
    """Split points by the elements that tie, and return those elements with each group."""
    patterns, kind = np.unique(ties, axis=0, return_inverse=True)
    for number, pattern in enumerate(patterns):
        yield np.flatnonzero(pattern), points[kind.ravel() == number]


def _same_state(points: Ints, pieces: Ints, passed: Ints) -> Sequence[Ints]:
    """Split points by the state that they are in."""
    if not points.size:
        return []
    states = np.hstack([pieces[points], passed[points]])
    varied = states[:, (states != states[0]).any(axis=0)]
    # As a number with a digit for each control; forty of them would fit.
    digits = MOST_PIECES ** np.arange(varied.shape[1], dtype=np.int64)
    _, kind = np.unique(varied @ digits, return_inverse=True)
    return [points[kind == number] for number in range(kind.max() + 1)]
