"""What was really wrong with each vehicle of the demo, as changes to its circuit.

The demo itself holds only what a shop would write down. From what stands here a test works out
what every place must have shown, and compares it with what was written down.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from circuits.engine import (
    CurrentLoad,
    FanMotor,
    Fault,
    Network,
    Part,
    Phase,
    find_suspect,
    with_fault,
)

Change = Callable[[Network], Network]


def fault(suspect: str, severity: float = math.inf) -> Change:
    """Return a fault of a part; without a severity it is an open."""

    def changed(network: Network) -> Network:
        return with_fault(network, Fault(suspect=find_suspect(network, suspect), severity=severity))

    return changed


def on_other_bolt(name: str, second: str) -> Change:
    """Return a lead whose far end was bolted to another place."""
    return _in_every_phase(name, lambda part: replace(part, second=second))


def fan_at(name: str, **values: float) -> Change:
    """Return a fan with other values in every phase."""

    def changed(part: Part) -> Part:
        return replace(part, **values) if isinstance(part, FanMotor) else part

    return _in_every_phase(name, changed)


def consumer(first: str, second: str, amps: float) -> Change:
    """Return a consumer that someone added."""
    return lambda network: network.with_added(
        CurrentLoad(name=f"added {first}", first=first, second=second, amps=amps)
    )


def values(name: str, **values: float) -> Change:
    return lambda network: network.with_part_values(name, **values)


def _in_every_phase(name: str, change: Callable[[Part], Part]) -> Change:
    def phase_changed(phase: Phase) -> Phase:
        changes = {
            other: change(part) if other == name else part for other, part in phase.changes.items()
        }
        return replace(phase, changes=changes)

    def changed(network: Network) -> Network:
        parts = tuple(change(part) if part.name == name else part for part in network.parts)
        return replace(network, parts=parts, phases=tuple(map(phase_changed, network.phases)))

    return changed


FEED_JOINT = fault("resistance:C40", 1.1)
STRAP = fault("resistance:W3", 0.028)
INVERTER_ON_THE_POST = on_other_bolt("W8", "BN")
FULL_DRIVE = fan_at("FAN", drive_fraction=1.0)
RECTIFIER_LEAKS = fault("ground-short:BUS", 52.5)

#: What was wrong, by the number of the story; what is not listed was in order.
FAULTS: Mapping[int, tuple[Change, ...]] = {
    1: (STRAP,),
    2: (STRAP,),
    3: (fault("resistance:K1.con", 0.40),),
    4: (fault("resistance:S2_clutch"),),
    6: (INVERTER_ON_THE_POST,),
    7: (INVERTER_ON_THE_POST,),
    8: (values("G1", max_amps=62.0),),
    9: (values("G1", max_amps=55.0),),
    10: (fault("resistance:FL1", 0.022),),
    11: (fault("resistance:W5", 0.09),),
    12: (fault("resistance:W7", 65.0),),
    13: (fault("bypass:K5.con", 0.0015),),
    14: (FULL_DRIVE,),
    15: (FULL_DRIVE,),
    16: (fan_at("FAN", rated_amps=54.4),),
    17: (FEED_JOINT,),
    18: (FEED_JOINT,),
    19: (fault("resistance:body", 1.1),),
    20: (fault("resistance:K3.con"),),
    21: (fault("resistance:K3.con"),),
    24: (fault("resistance:WgL"),),
    25: (fault("resistance:lampLOWL"), fault("resistance:WgR", 0.7)),
    29: (fault("ground-short:ACs", 3.0),),
    30: (fault("resistance:G1", 100.0),),
    31: (fault("resistance:pin", 450.0),),
    32: (fault("bypass:NTC", 6800.0),),
    35: (RECTIFIER_LEAKS,),
    36: (RECTIFIER_LEAKS,),
    37: (fault("draws-more:F21_load", 0.085),),
    40: (
        values("BA", open_circuit_volts=12.05, internal_ohms=0.010),
        values("BB", open_circuit_volts=12.75),
        consumer("MID", "CH", 8.0),
    ),
    41: (values("BA", open_circuit_volts=12.25, internal_ohms=0.017),),
    42: (fault("resistance:F70", 0.025),),
    44: (fault("resistance:W2", 0.025),),
}
