"""Failure types: what the byte behind a fault code says of the kind of fault.

The numbers and their words are those of SAE J2012-DA and ISO 15031-6, read in two public lists
that quote them; 1A to 1F partly from memory. Which kinds of fault each leaves is common practice,
no source. A byte says what a module took its own pin for: it narrows and never excludes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from circuits.engine import FaultKind

TO_GROUND = frozenset({FaultKind.GROUND_SHORT, FaultKind.NEIGHBOUR_SHORT, FaultKind.BYPASS})
TO_BATTERY = frozenset({FaultKind.SUPPLY_SHORT, FaultKind.NEIGHBOUR_SHORT, FaultKind.BYPASS})
OPEN = frozenset({FaultKind.RESISTANCE})
FEWER_AMPS = OPEN | {
    FaultKind.LOW_VOLTS,
    FaultKind.LIMITED,
    FaultKind.DISCHARGED,
    FaultKind.LOST_PHASE,
    FaultKind.DRIFTS_UP,
    FaultKind.WRONG_HIGH,
}
MORE_AMPS = (
    TO_GROUND
    | TO_BATTERY
    | {
        FaultKind.DRAGS,
        FaultKind.DRAWS_MORE,
        FaultKind.SEIZED,
        FaultKind.DRIFTS_DOWN,
        FaultKind.WRONG_LOW,
    }
)
_FEWER_OHMS = TO_GROUND | TO_BATTERY | {FaultKind.DRIFTS_DOWN, FaultKind.WRONG_LOW}
_MORE_OHMS = OPEN | {FaultKind.DRIFTS_UP, FaultKind.WRONG_HIGH}


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureType:
    """What a failure-type byte means; `kinds` are the faults it leaves, empty where it leaves all.

    `comes_and_goes` is set where it says that the fault does.
    """

    byte: str
    words: str
    kinds: frozenset[FaultKind] = frozenset()
    comes_and_goes: bool = False


FAILURE_TYPES: Mapping[str, FailureType] = MappingProxyType(
    {
        each.byte: each
        for each in (
            FailureType(byte="11", words="short to ground", kinds=TO_GROUND),
            FailureType(byte="12", words="short to battery", kinds=TO_BATTERY),
            FailureType(byte="13", words="open", kinds=OPEN),
            FailureType(byte="14", words="short to ground or open", kinds=TO_GROUND | OPEN),
            FailureType(byte="15", words="short to battery or open", kinds=TO_BATTERY | OPEN),
            FailureType(byte="16", words="voltage below threshold"),
            FailureType(byte="17", words="voltage above threshold"),
            FailureType(byte="18", words="current below threshold", kinds=FEWER_AMPS),
            FailureType(byte="19", words="current above threshold", kinds=MORE_AMPS),
            FailureType(byte="1A", words="resistance below threshold", kinds=_FEWER_OHMS),
            FailureType(byte="1B", words="resistance above threshold", kinds=_MORE_OHMS),
            FailureType(byte="1C", words="voltage out of range"),
            FailureType(byte="1D", words="current out of range"),
            FailureType(byte="1E", words="resistance out of range"),
            FailureType(byte="1F", words="intermittent", comes_and_goes=True),
        )
    }
)


def failure_type(byte: str) -> FailureType | None:
    """Return what a byte means; None where it says nothing of an electrical fault.

    >>> from circuits.codes.failure_types import failure_type
    >>> failure_type("1f").words
    'intermittent'
    """
    return FAILURE_TYPES.get(byte.upper())
