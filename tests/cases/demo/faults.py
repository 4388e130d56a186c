"""What was really wrong with each vehicle of the demo, as changes to its circuit.

The demo itself holds only what a shop would write down. From what stands here a test works out
what every place must have shown, and compares it with what was written down.
"""

import math
from collections.abc import Callable, Mapping
from typing import Any

from circuits.engine import Fault, Network, find_suspect, with_fault

Change = Callable[[Network], Network]


def fault(suspect: str, severity: float = math.inf) -> Change:
    """Return a fault of a part; without a severity it is an open."""

    def changed(network: Network) -> Network:
        return with_fault(network, Fault(suspect=find_suspect(network, suspect), severity=severity))

    return changed


def values(name: str, **changed: Any) -> Change:
    """Return a part with other values, or with another end, in every phase."""
    return lambda network: network.with_part_values(name, **changed)


FEED_JOINT = fault("resistance:C40", 1.1)
STRAP = fault("resistance:W3", 0.028)
INVERTER_ON_THE_POST = values("W8", second="BN")
FULL_DRIVE = values("FAN", drive_fraction=1.0)
RECTIFIER_LEAKS = fault("bypass:RECT", 52.5)

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
    16: (values("FAN", rated_amps=54.4),),
    17: (FEED_JOINT,),
    18: (FEED_JOINT,),
    19: (fault("resistance:body", 1.1),),
    20: (fault("resistance:K3.con"),),
    21: (fault("resistance:K3.con"),),
    24: (fault("resistance:WgL"),),
    25: (fault("resistance:lampLOWL"), fault("resistance:WgR", 0.7)),
    29: (fault("bypass:AC_ins", 3.0),),
    30: (fault("resistance:G1", 100.0),),
    31: (fault("resistance:pin", 450.0),),
    32: (fault("bypass:NTC", 6800.0),),
    35: (RECTIFIER_LEAKS,),
    36: (RECTIFIER_LEAKS,),
    37: (fault("draws-more:F21_load", 0.085),),
    40: (
        values("BA", open_circuit_volts=12.05, internal_ohms=0.010),
        values("BB", open_circuit_volts=12.75),
        values("TAP", amps=8.0),
    ),
    41: (values("BA", open_circuit_volts=12.25, internal_ohms=0.017),),
    42: (fault("resistance:F70", 0.025),),
    44: (fault("resistance:W2", 0.025),),
}
