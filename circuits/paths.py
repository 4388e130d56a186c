"""What belongs to a pin: the way of its supply, the way back, its neighbours, and its complaints.

A way is followed through what conducts in a phase, by the fewest and the least resisting parts,
up to a source or back to 0 V. Where a way is broken, it is the one that is whole once every contact
is made, with the contacts named that are open.
"""

import heapq
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, permutations

from circuits.drawing import Leg, Marks, PhaseState, heights, states_of
from circuits.engine import (
    EngineError,
    Fault,
    FaultKind,
    Network,
    UnknownSuspect,
    find_suspect,
    solve,
)
from circuits.errors import UnknownPin
from circuits.sheet import ConnectionKind, PartEntry, Sheet
from circuits.units import format_quantity

SOURCES = frozenset({"battery", "supply", "generator"})
CONDUCTORS = frozenset({"wire", "fuse", "connector", "splice", "ground"})
CONTACTS = frozenset({"switch", "driver", "duty", "contact", "rule"})
#: Amps that somebody notices: a tenth of what flowed, and not less than a milliampere; a module
#: notices less at its inputs.
NOTICED_SHARE, NOTICED_AMPS, NOTICED_INPUT_AMPS = 0.1, 1e-3, 1e-6
#: Volts that a way may lose along conductors, and must win across a consumer.
STEP_VOLTS = 0.01
#: A load on the way counts as much as a thousand conductors, an input as a thousand loads.
_CONDUCTOR_COST, _LOAD_COST, _INPUT_COST = 1, 1_000, 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A row of parts from a pin to a source or to 0 V; empty at the end itself.

    `nodes` are the connections that it passes, the pin first, one more than parts. `blocked_by`
    names what is open or absent on the way in this phase.
    """

    parts: tuple[str, ...]
    end: str
    nodes: tuple[str, ...]
    blocked_by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseWays:
    """The supply and the way back of a pin in one phase; None where the drawing has none."""

    pin: str
    phase: str
    words: str
    supply: Way | None
    back: Way | None

    @property
    def marked(self) -> Marks:
        """Return the parts of the two ways with where these enter them, and the source itself.

        What lies on both from end to end is marked as supply.
        """
        legs = {
            (leg.part, frozenset(leg.ends)): leg
            for word, way in (("back", self.back), ("supply", self.supply))
            for leg in (_legs(word, way) if way else ())
        }
        source = (Leg(part=self.supply.end, way="supply"),) if self.supply else ()
        joined = frozenset({self.pin, *(self.back.nodes[-1:] if self.back else ())})
        return Marks(legs=(*legs.values(), *source), joined=joined)


def _legs(word: str, way: Way) -> Iterator[Leg]:
    for part, ends in zip(way.parts, pairwise(way.nodes), strict=True):
        yield Leg(part=part, way=word, ends=ends)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """A fuse, splice or ground on the pin's ways, and the consumers that hang on it too."""

    kind: str
    name: str
    consumers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A consumer whose amps a fault changes in a phase."""

    part: str
    phase: str
    healthy_amps: float
    faulty_amps: float

    @property
    def words(self) -> str:
        before, after = (
            format_quantity(abs(amps), "A") if abs(amps) > NOTICED_INPUT_AMPS else "nothing"
            for amps in (self.healthy_amps, self.faulty_amps)
        )
        # Next to nothing has no way to flow.
        turned = min(abs(self.healthy_amps), abs(self.faulty_amps)) > NOTICED_INPUT_AMPS and (
            self.healthy_amps < 0
        ) != (self.faulty_amps < 0)
        return f"{before} becomes {after}{' the other way' if turned else ''}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """What a fault at the pin does to the consumers; no changes where nobody notices."""

    fault: Fault
    changes: tuple[Change, ...]

    @property
    def words(self) -> str:
        return self.fault.suspect.describe(self.fault.severity)


@dataclass(frozen=True, slots=True, kw_only=True)
class PinReport:
    """Everything that belongs to a pin."""

    pin: str
    ways: tuple[PhaseWays, ...]
    shared: tuple[Shared, ...]
    complaints: tuple[Complaint, ...]


def pin_report(sheet: Sheet, network: Network, pin: str) -> PinReport:
    """Return the ways, neighbours and complaints of a connection.

    Raises
    ------
    UnknownPin
        No part of the sheet is connected there.
    """
    _require_pin(sheet, pin)
    states = states_of(network)
    finder = _Ways(sheet)
    ways = tuple(finder.in_phase(pin, state) for state in states.values())
    return PinReport(
        pin=pin,
        ways=ways,
        shared=tuple(_shared(sheet, finder, pin, ways)),
        complaints=tuple(_complaints(sheet, network, pin, ways, states)),
    )


def pin_ways(
    sheet: Sheet, network: Network, pin: str, phase: str, fault: Fault | None = None
) -> PhaseWays:
    """Return the supply and the way back of a connection in one phase, as a fault lets them be.

    Raises
    ------
    UnknownPin
        No part of the sheet is connected there.
    """
    _require_pin(sheet, pin)
    state = states_of(network, fault)[phase]
    if fault is not None and _opens(fault):
        state = replace(state, made={**state.made, fault.suspect.target: False})
    return _Ways(sheet).in_phase(pin, state)


def _opens(fault: Fault) -> bool:
    return fault.suspect.kind is FaultKind.RESISTANCE and math.isinf(fault.severity)


def _require_pin(sheet: Sheet, pin: str) -> None:
    known = list(dict.fromkeys(node for part in sheet.parts for node in part.ends))
    if pin not in known:
        raise UnknownPin(pin, known)


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeWays:
    """All that some pins hang on with every contact made: parts, connections and sources."""

    parts: frozenset[str]
    nodes: frozenset[str]
    sources: frozenset[str]


def whole_ways(sheet: Sheet, pins: Iterable[str]) -> WholeWays:
    """Return what the supplies and the ways back of some connections lead through.

    A ground among them has a way back alone.
    """
    finder = _Ways(sheet)
    pins = tuple(pins)
    fed = [pin for pin in pins if pin not in finder.grounds]
    up = [way for pin in fed if (way := finder.supply(pin, None)) is not None]
    down = [way for pin in pins if (way := finder.back(pin, None)) is not None]
    parts = frozenset(name for way in (*up, *down) for name in way.parts)
    nodes = {node for part in sheet.parts if part.name in parts for node in part.ends}
    return WholeWays(
        parts=parts,
        nodes=frozenset(nodes.union(pins)),
        sources=frozenset(way.end for way in up),
    )


def consumers_of(sheet: Sheet) -> list[PartEntry]:
    """Return the parts that do the work: neither sources, conductors, contacts nor inputs."""
    idle = SOURCES | CONDUCTORS | CONTACTS | {"input", "leak"}
    return [part for part in sheet.parts if part.kind not in idle]


# ------------------------------------------------------------------------------------ ways


class _Ways:
    """Finds ways in one sheet."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.links: dict[str, list[tuple[str, PartEntry]]] = {}
        for part in sheet.parts:
            if part.kind not in SOURCES:
                for one, other in permutations(part.ends, 2):
                    self.links.setdefault(one, []).append((other, part))
        self.zero = sheet.vehicle.zero
        self.height = heights(sheet)
        self.words = {phase.key: phase.words for phase in sheet.phases}
        self.grounds = {
            each.node for each in sheet.connections if each.kind is ConnectionKind.GROUND
        } | {self.zero, sheet.vehicle.body}
        self.pluses = {part.first: part.name for part in sheet.parts if part.kind in SOURCES}

    def in_phase(self, pin: str, state: PhaseState) -> PhaseWays:
        return PhaseWays(
            pin=pin,
            phase=state.phase,
            words=self.words[state.phase],
            supply=self.supply(pin, state),
            back=self.back(pin, state),
        )

    def supply(self, pin: str, state: PhaseState | None) -> Way | None:
        """Return the way to a source, never through a ground; without a state all is made."""
        absent = state.absent if state is not None else frozenset()
        goals = {node: name for node, name in self.pluses.items() if name not in absent}
        return self._best(_Search(pin, goals, frozenset(self.grounds), up=True), state)

    def back(self, pin: str, state: PhaseState | None) -> Way | None:
        """Return the way to 0 V, never through the plus of a source."""
        goals = {self.zero: self.zero}
        return self._best(_Search(pin, goals, frozenset(self.pluses), up=False), state)

    def _best(self, search: "_Search", state: PhaseState | None) -> Way | None:
        if state is not None:
            way = self._shortest(search, lambda *step: _leads_on(step, search.up, state))
            if way is not None:
                return way
        # As drawn; where the drawing turns back on itself, by any way at all.
        whole = self._shortest(
            search, lambda node, other, _: (self.height[other] > self.height[node]) == search.up
        ) or self._shortest(search, lambda *_: True)
        if whole is None or state is None:
            return whole
        blocked = tuple(name for name in whole.parts if _is_open(name, state))
        return replace(whole, blocked_by=blocked)

    def _shortest(
        self, search: "_Search", may_step: Callable[[str, str, PartEntry], bool]
    ) -> Way | None:
        reached: set[str] = set()
        queue: list[tuple[int, tuple[str, ...], tuple[str, ...]]] = [(0, (), (search.pin,))]
        while queue:
            cost, parts, nodes = heapq.heappop(queue)
            node = nodes[-1]
            if node in reached:
                continue
            reached.add(node)
            if node in search.goals:
                return Way(parts=parts, end=search.goals[node], nodes=nodes)
            if node in search.shunned and node != search.pin:
                continue
            for other, part in self.links.get(node, ()):
                if other not in reached and may_step(node, other, part):
                    step = (cost + _cost(part), (*parts, part.name), (*nodes, other))
                    heapq.heappush(queue, step)
        return None


@dataclass(frozen=True, slots=True)
class _Search:
    """From where to where a way is looked for, what it must not pass, and which way it climbs."""

    pin: str
    goals: Mapping[str, str]
    shunned: frozenset[str]
    up: bool


def _leads_on(step: tuple[str, str, PartEntry], up: bool, state: PhaseState) -> bool:
    """Return whether current can come (or go) by a step: the volts must rise (or fall) with it.

    Across a consumer they must do so plainly: one that carries nothing feeds nothing.
    """
    node, other, part = step
    if _is_open(part.name, state):
        return False
    here, there = state.volts.get(node), state.volts.get(other)
    if here is None or there is None:
        return False
    rise = there - here if up else here - there
    return rise > -STEP_VOLTS if part.kind in CONDUCTORS | CONTACTS else rise > STEP_VOLTS


def _cost(part: PartEntry) -> int:
    if part.kind in CONDUCTORS | CONTACTS:
        return _CONDUCTOR_COST
    return _INPUT_COST if part.kind == "input" else _LOAD_COST


def _is_open(name: str, state: PhaseState) -> bool:
    return name in state.absent or not state.made.get(name, True)


# -------------------------------------------------------------------------------- neighbours


def _shared(sheet: Sheet, finder: _Ways, pin: str, ways: Sequence[PhaseWays]) -> Iterator[Shared]:
    """Yield the fuses, splices and grounds of the pin's ways with what else hangs on each."""
    found = [way for phase in ways for way in (phase.supply, phase.back) if way is not None]
    own_parts = {name for way in found for name in way.parts}
    own_nodes = {pin} | {
        node for part in sheet.parts if part.name in own_parts for node in (part.first, part.second)
    }
    others = {part.name: _all_made(finder, part) for part in consumers_of(sheet)}
    for part in sheet.parts:
        if part.kind == "fuse" and part.name in own_parts:
            fed = tuple(name for name, (parts, _) in others.items() if part.name in parts)
            yield Shared(kind="fuse", name=part.name, consumers=fed)
    for each in sheet.connections:
        is_joint = each.kind in (ConnectionKind.SPLICE, ConnectionKind.GROUND)
        if is_joint and each.node in own_nodes:
            joined = tuple(name for name, (_, nodes) in others.items() if each.node in nodes)
            yield Shared(kind=each.kind.value, name=each.node, consumers=joined)


def _all_made(finder: _Ways, part: PartEntry) -> tuple[set[str], set[str]]:
    """Return the parts and connections of a consumer's ways with every contact made."""
    upper, lower = sorted((part.first, part.second), key=lambda node: -finder.height[node])
    ways = [way for way in (finder.supply(upper, None), finder.back(lower, None)) if way]
    parts = {name for way in ways for name in way.parts}
    nodes = {upper, lower}
    for other in finder.sheet.parts:
        if other.name in parts:
            nodes |= set(other.ends)
    return parts, nodes


# -------------------------------------------------------------------------------- complaints


def _complaints(
    sheet: Sheet,
    network: Network,
    pin: str,
    ways: Sequence[PhaseWays],
    healthy: Mapping[str, PhaseState],
) -> Iterator[Complaint]:
    """Yield what an open on either side of the pin and a chafed wire at it would change."""
    least = _least_amps(sheet)
    for fault in _faults_at(sheet, network, pin, ways):
        complaint = _complaint(network, fault, least, healthy)
        if complaint is not None:
            yield complaint


def complaint_of(sheet: Sheet, network: Network, fault: Fault) -> Complaint | None:
    """Return what a fault does to the consumers of a sheet; None where it cannot be solved."""
    return _complaint(network, fault, _least_amps(sheet), states_of(network))


def _least_amps(sheet: Sheet) -> dict[str, float]:
    """Return from how many amps on a change is noticed, by part."""
    least = {part.name: NOTICED_AMPS for part in consumers_of(sheet)}
    return least | {part.name: NOTICED_INPUT_AMPS for part in sheet.parts if part.kind == "input"}


def _complaint(
    network: Network, fault: Fault, least: Mapping[str, float], healthy: Mapping[str, PhaseState]
) -> Complaint | None:
    try:
        solutions = solve(network, fault)
    except EngineError:
        return None
    changes = tuple(
        Change(part=name, phase=phase, healthy_amps=before, faulty_amps=after)
        for (phase, state), solution in zip(healthy.items(), solutions, strict=True)
        for name, floor in least.items()
        if _is_noticed(
            before := state.amps.get(name, 0.0), after := solution.amps.get(name, 0.0), floor
        )
    )
    return Complaint(fault=fault, changes=changes)


def _faults_at(
    sheet: Sheet, network: Network, pin: str, ways: Sequence[PhaseWays]
) -> Iterator[Fault]:
    kinds = {part.name: part.kind for part in sheet.parts}
    firsts = dict.fromkeys(
        way.parts[0] for each in ways for way in (each.supply, each.back) if way and way.parts
    )
    named = [f"resistance:{name}" for name in firsts if kinds[name] in CONDUCTORS | CONTACTS]
    for suspect_id, severity in (
        *((name, float("inf")) for name in named),
        (f"ground-short:{pin}", 0.0),
    ):
        try:
            yield Fault(suspect=find_suspect(network, suspect_id), severity=severity)
        except UnknownSuspect:
            # The drawing has no such fault: a ground cannot be chafed to ground.
            continue


def _is_noticed(before: float, after: float, floor: float) -> bool:
    return abs(after - before) > max(floor, NOTICED_SHARE * abs(before))
