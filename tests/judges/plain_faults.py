"""What a fault does to the values of a part, in the unit of its severity."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from circuits.engine import (
    Battery,
    CurrentLoad,
    FanMotor,
    Fault,
    FaultKind,
    Generator,
    Lamp,
    Motor,
    Part,
    Potentiometer,
    Resistor,
    Thermistor,
    ThreeWireSensor,
)

# Of its watts: a lamp weaker than this is an open one.
LEAST_GLOW = 0.01

Faults = tuple[Fault, ...]
"""Faults that are there together; none is the healthy circuit."""

PLACE_FAULTS = (FaultKind.GROUND_SHORT, FaultKind.SUPPLY_SHORT, FaultKind.NEIGHBOUR_SHORT)

#: What the fault changes: a value by the severity, or by that share of the value.
_MOVED_VALUES = {
    (Battery, FaultKind.LOW_VOLTS): ("open_circuit_volts", -1),
    (Generator, FaultKind.LOW_VOLTS): ("volts", -1),
    (Generator, FaultKind.LIMITED): ("max_amps", -1),
    (Motor, FaultKind.DRAGS): ("base_amps", 1),
    (FanMotor, FaultKind.DRAGS): ("rated_amps", 1),
    (CurrentLoad, FaultKind.DRAWS_MORE): ("amps", 1),
    (ThreeWireSensor, FaultKind.DRAWS_MORE): ("supply_amps", 1),
    (Lamp, FaultKind.WRONG_HIGH): ("rated_watts", 1),
    (Lamp, FaultKind.WRONG_LOW): ("rated_watts", -1),
    (Thermistor, FaultKind.DRIFTS_UP): ("off_fraction", 1),
    (Thermistor, FaultKind.DRIFTS_DOWN): ("off_fraction", -1),
}
_MOVED_SHARES = {
    (Resistor, FaultKind.WRONG_HIGH): ("ohms", 1),
    (Resistor, FaultKind.WRONG_LOW): ("ohms", -1),
    (Generator, FaultKind.LOST_PHASE): ("max_amps", -1),
    # A million times the torque of its rated point: as good as a resistance.
    (FanMotor, FaultKind.SEIZED): ("rated_amps", 1e6),
}


def said(faults: Sequence[Fault]) -> str:
    return " and ".join(str(fault) for fault in faults) or "healthy"


def single_faults(faults: Sequence[Fault]) -> Iterator[Fault]:
    """Yield the faults, a compound one as what it is made of: each in proportion to it.

    A path of so many ohms at its worst has twice as many when half as bad.
    """
    for fault in faults:
        if not fault.suspect.members:
            yield fault
            continue
        size = fault.severity / fault.suspect.most
        for member in fault.suspect.members:
            if member.suspect.kind in (*PLACE_FAULTS, FaultKind.BYPASS):
                severity = member.severity / size if size else math.inf
            else:
                severity = member.severity * size if size else 0.0
            yield replace(member, severity=severity)


def weakened(part: Part, fault: Fault) -> Part:
    """Move the value that the fault moves; nothing gives less than nothing.

    A value smaller than the suspect's largest change, as a generator commanded lower in one
    phase, goes to zero in proportion.
    """
    kind, severity, most = fault.suspect.kind, fault.severity, fault.suspect.most
    match part, kind:
        case Battery(), FaultKind.DISCHARGED:
            lost = part.lost_charge_fraction
            return replace(part, lost_charge_fraction=lost + severity * (1 - lost))
        case Battery(), FaultKind.REVERSED:
            return replace(part, polarity=1 - 2 * severity)
        case Generator(fallback_volts=float(fallback)), FaultKind.FALLS_BACK:
            return replace(part, volts=part.volts + severity * (fallback - part.volts))
        case Potentiometer(), FaultKind.DRIFTS_UP | FaultKind.DRIFTS_DOWN:
            return _shifted(part, severity, 1 if kind is FaultKind.DRIFTS_UP else -1)
    key = (type(part), kind)
    if key in _MOVED_SHARES:
        name, factor = _MOVED_SHARES[key]
        return replace(part, **{name: getattr(part, name) * (1 + factor * severity)})
    if key not in _MOVED_VALUES:
        return part
    name, sign = _MOVED_VALUES[key]
    value = getattr(part, name)
    # A share that a sensor is off by has no bottom at nought; amps, volts and watts have.
    if sign < 0 and name != "off_fraction" and most > value:
        severity *= value / most
    moved = value + sign * severity
    # The weakest lamp that fits where this one belongs still glows.
    return replace(part, **{name: max(moved, LEAST_GLOW * value) if key[0] is Lamp else moved})


def _shifted(part: Potentiometer, severity: float, sign: int) -> Potentiometer:
    """Return the wiper moved along its track, to the end of it at most."""
    return replace(part, position_fraction=min(max(part.position_fraction + sign * severity, 0), 1))
