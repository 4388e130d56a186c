"""Draw a fault into a network, as one part more or one value changed: the plain way."""

import math
from dataclasses import replace

from circuits.engine.faults import Fault, Suspect, part_moved, path_ends
from circuits.engine.network import Network
from circuits.engine.parts import (
    Absent,
    Contact,
    FaultKind,
    Part,
    Resistor,
    RuleContact,
    Switch,
)


def with_fault(network: Network, fault: Fault) -> Network:
    """Return the network with a fault drawn into it, as a new network.

    The solver does not go this way (it moves one law along its line); this is the plain way, for
    looking at one fault and for judging the solver in tests.

    >>> from circuits.engine import Fault, IdealSource, Network, Resistor, find_suspect, with_fault
    >>> lamp = Network(zero="minus", parts=(
    ...     IdealSource(name="B1", first="plus", second="minus", volts=12.0),
    ...     Resistor(name="H1", first="plus", second="minus", ohms=6.0),
    ... ))
    >>> burnt = Fault(suspect=find_suspect(lamp, "resistance:H1"), severity=2.0)
    >>> len(with_fault(lamp, burnt).parts) - len(lamp.parts)
    1
    """
    suspect, severity = fault.suspect, fault.severity
    if suspect.members:
        for member in suspect.members_at(severity):
            network = with_fault(network, member)
        return network
    if suspect.kind is FaultKind.RESISTANCE:
        return _with_series_part(network, suspect.target, severity)
    if suspect.is_path:
        if math.isinf(severity):
            return network
        return _with_path(network, suspect, max(severity, 1e-9))
    share = severity / suspect.most
    part = network.part(suspect.target)

    def weakened(state: Part) -> Part:
        return part_moved(state, suspect, share)

    phases = tuple(
        replace(
            phase,
            changes={
                name: weakened(state) if name == part.name else state
                for name, state in phase.changes.items()
            },
        )
        for phase in network.phases
    )
    parts = tuple(weakened(state) if state is part else state for state in network.parts)
    return replace(network, parts=parts, phases=phases)


def _with_path(network: Network, suspect: Suspect, ohms: float) -> Network:
    name = f"fault at {suspect.target}"
    first, second = path_ends(network, suspect)
    plain = Resistor(name=name, first=first, second=second, ohms=ohms)
    if suspect.kind is not FaultKind.BYPASS:
        return network.with_added(plain)

    def path(part: Part) -> Part:
        """Return what lies across a part; across a contact it shows only while that is open."""
        match part:
            case Contact():
                other = not part.normally_closed
                return replace(part, name=name, made_ohms=ohms, normally_closed=other)
            case RuleContact(enabled=True):
                closes, opens = part.opens_volts, part.closes_volts
                return replace(
                    part, name=name, made_ohms=ohms, closes_volts=closes, opens_volts=opens
                )
            case Switch():
                return replace(part, name=name, closed_ohms=ohms, closed=not part.closed)
            case _:
                return plain

    drawn = network.part(suspect.target)
    phases = tuple(
        replace(phase, changes={**phase.changes, name: path(phase.changes[drawn.name])})
        if drawn.name in phase.changes
        else phase
        for phase in network.phases
    )
    return replace(network, parts=(*network.parts, path(drawn)), phases=phases)


def _with_series_part(network: Network, target: str, added_ohms: float) -> Network:
    inner = f"{target}.fault"
    drawn = network.part(target)

    def moved(part: Part) -> Part:
        return replace(part, **{drawn.series_end: inner}) if part.name == target else part

    outer = getattr(drawn, drawn.series_end)
    name = f"fault at {target}"
    fault: Part
    if math.isinf(added_ohms):
        fault = Absent(name=name, first=outer, second=inner)
    else:
        fault = Resistor(name=name, first=outer, second=inner, ohms=max(added_ohms, 1e-9))
    phases = tuple(
        replace(phase, changes={name: moved(part) for name, part in phase.changes.items()})
        for phase in network.phases
    )
    parts = (*(moved(part) for part in network.parts), fault)
    return replace(network, parts=parts, phases=phases)
