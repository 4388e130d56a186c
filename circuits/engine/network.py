"""A circuit as parts between nodes, and the phases in which it is read."""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from circuits.engine.errors import BadPart, BadPhase, ContradictoryNetwork
from circuits.engine.parts import (
    Battery,
    Connector,
    Contact,
    Generator,
    IdealSource,
    Part,
    RuleContact,
    Supply,
)


class KeyState(StrEnum):
    """Where the key stands; a phase of a bench test has no key."""

    OFF = "off"
    ON = "on"
    CRANK = "crank"
    RUN = "run"
    BENCH = "bench"


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A named state of the circuit: `changes` holds the parts that differ, as they are then.

    >>> from circuits.engine import IdealSource, KeyState, Network, Phase, Resistor, solve
    >>> source = IdealSource(name="B1", first="plus", second="minus", volts=12.0)
    >>> low = IdealSource(name="B1", first="plus", second="minus", volts=9.0)
    >>> car = Network(
    ...     zero="minus",
    ...     parts=(source, Resistor(name="H1", first="plus", second="minus", ohms=6.0)),
    ...     phases=(
    ...         Phase(name="on", key_state=KeyState.ON),
    ...         Phase(name="crank", key_state=KeyState.CRANK, changes={"B1": low}),
    ...     ),
    ... )
    >>> [(each.phase, each.amps["H1"]) for each in solve(car)]
    [('on', 2.0), ('crank', 1.5)]
    """

    name: str
    key_state: KeyState
    changes: Mapping[str, Part] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compound:
    """A fault of several values at once that the trade has a name for.

    `faults` holds the id of each single fault and its severity at the compound's worst; at half
    of it, each is half as bad.
    """

    name: str
    words: str
    faults: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Parts between nodes, with phases in the order in which the car goes through them.

    `zero` is the node of 0 V (the battery's minus post, as a rule), `body` the node that a wire
    chafed to ground would touch, `supply` the node that a short to supply would touch. Body and
    engine grounds are ordinary nodes behind straps, because a bad strap is a fault we look for.

    Raises
    ------
    BadPart
        A name occurs twice, a part ends where it begins, or its tolerance is no number.
    BadPhase
        A name occurs twice, or a phase changes a part that does not exist or moves its ends.
    ContradictoryNetwork
        The zero node, the body or a sense pin is not in the drawing, or there is no phase.
    """

    parts: tuple[Part, ...]
    phases: tuple[Phase, ...] = (Phase(name="as drawn", key_state=KeyState.ON),)
    zero: str
    body: str = ""
    supply: str = ""
    compounds: tuple[Compound, ...] = ()

    def __post_init__(self) -> None:
        _check_names(self.parts)
        _check_tolerances(self)
        if not self.body:
            object.__setattr__(self, "body", self.zero)
        if not self.supply:
            object.__setattr__(self, "supply", _first_source_plus(self.parts, self.zero))
        _check_nodes(self)
        if not self.phases:
            raise ContradictoryNetwork(["the circuit has no phase in which to read it; add one"])
        names = [phase.name for phase in self.phases]
        for phase in self.phases:
            if names.count(phase.name) > 1:
                raise BadPhase(phase.name, "two phases have this name; give each its own")
            _check_phase(self, phase)

    @property
    def nodes(self) -> tuple[str, ...]:
        """Return every connection of the drawing, in the order of the parts."""
        return tuple(dict.fromkeys(node for part in self.parts for node in part.ends))

    def part(self, name: str) -> Part:
        """Return the part of this name as it is drawn, or raise BadPart."""
        for part in self.parts:
            if part.name == name:
                return part
        raise BadPart(name, "there is no such part in this circuit")

    def phase(self, name: str) -> Phase:
        """Return the phase of this name, or raise BadPhase."""
        for phase in self.phases:
            if phase.name == name:
                return phase
        known = ", ".join(f"'{phase.name}'" for phase in self.phases)
        raise BadPhase(name, f"this circuit has no such phase; it has {known}")

    def parts_in(self, phase: Phase) -> tuple[Part, ...]:
        """Return the parts as they are in a phase."""
        return tuple(phase.changes.get(part.name, part) for part in self.parts)

    def with_parts(self, changed: Iterable[Part]) -> "Network":
        """Return a new network in which these parts stand as given, in every phase."""
        by_name = {part.name: part for part in changed}
        for name in by_name:
            self.part(name)
        phases = tuple(
            replace(
                phase,
                changes={name: part for name, part in phase.changes.items() if name not in by_name},
            )
            for phase in self.phases
        )
        parts = tuple(by_name.get(part.name, part) for part in self.parts)
        return replace(self, parts=parts, phases=phases)

    def with_part_values(self, name: str, **values: Any) -> "Network":
        """Return a new network in which one part has other values, in every phase it has them.

        >>> from circuits.engine import IdealSource, Network, Resistor
        >>> lamp = Network(zero="minus", parts=(
        ...     IdealSource(name="B1", first="plus", second="minus", volts=12.0),
        ...     Resistor(name="R1", first="plus", second="minus", ohms=6.0),
        ... ))
        >>> lamp.with_part_values("R1", ohms=3.0).part("R1").ohms
        3.0
        """
        base = self.part(name)
        phases = []
        for phase in self.phases:
            changes = dict(phase.changes)
            if name in changes and type(changes[name]) is type(base):
                changes[name] = replace(changes[name], **values)
            phases.append(replace(phase, changes=changes))
        parts = tuple(replace(base, **values) if part is base else part for part in self.parts)
        return replace(self, parts=parts, phases=tuple(phases))

    def with_added(self, *parts: Part) -> "Network":
        """Return a new network with further parts in every phase."""
        return replace(self, parts=(*self.parts, *parts))


def _check_names(parts: tuple[Part, ...]) -> None:
    seen: set[str] = set()
    for part in parts:
        if part.name in seen:
            raise BadPart(part.name, "two parts have this name; give each its own")
        for node in part.ends:
            if part.ends.count(node) > 1:
                raise BadPart(part.name, _same_place_words(part, node))
        seen.add(part.name)


def _same_place_words(part: Part, node: str) -> str:
    if len(part.ends) == 2:
        return f"both ends are at {node}; a part joins two places"
    return f"two of its three ends are at {node}; each has a place of its own"


def _check_tolerances(network: Network) -> None:
    states = (part for phase in network.phases for part in phase.changes.values())
    for part in (*network.parts, *states):
        for name in ("tolerance_fraction", "volts_tolerance"):
            tolerance = getattr(part, name, None)
            if tolerance is not None and not (math.isfinite(tolerance) and tolerance >= 0):
                raise BadPart(part.name, f"{name} must be zero or more, not {tolerance:g}")


def _first_source_plus(parts: tuple[Part, ...], zero: str) -> str:
    for kinds in ((Battery, Supply, IdealSource), (Generator,)):
        for part in parts:
            if isinstance(part, kinds):
                return part.first
    return zero


def _check_nodes(network: Network) -> None:
    nodes = set(network.nodes)
    reasons = []
    for what, node in (("0 V", network.zero), ("body", network.body), ("supply", network.supply)):
        if node not in nodes:
            reasons.append(f"{what} is said to be at {node}, but no part is connected there")
    names = {part.name for part in network.parts}
    for part in network.parts:
        if isinstance(part, Contact):
            reasons.extend(
                f"{part.name} is moved by {winding}, but there is no such winding"
                for winding in (part.coil, part.pull_winding)
                if winding and winding not in names
            )
        if isinstance(part, Connector) and part.beside:
            reasons.extend(_neighbour_reasons(part, network.parts))
        if isinstance(part, RuleContact):
            reasons.extend(
                f"{part.name} watches {pin}, but no part is connected there"
                for pin in (part.sense_red, part.sense_black)
                if pin not in nodes
            )
    if reasons:
        raise ContradictoryNetwork(reasons)


def _neighbour_reasons(pin: Connector, parts: tuple[Part, ...]) -> Iterator[str]:
    if pin.beside == pin.name:
        yield f"{pin.name} is said to sit beside itself; name the pin next to it"
    elif not any(isinstance(part, Connector) and part.name == pin.beside for part in parts):
        yield f"{pin.name} is said to sit beside {pin.beside}, but there is no such connector pin"


def _check_phase(network: Network, phase: Phase) -> None:
    for name, changed in phase.changes.items():
        drawn = network.part(name)
        if (changed.name, changed.ends) != (name, drawn.ends):
            raise BadPhase(phase.name, f"moves or renames {name}; a phase only changes its values")
