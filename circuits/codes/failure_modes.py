"""Failure mode identifiers: what the FMI behind a heavy vehicle's code says of the kind of fault.

The numbers and their words are those of SAE J1939-73, appendix A: value from memory, shortened to
what they say. Which kinds of fault each leaves is common practice, no source: an input that is
pulled up or down reads high or low when its wire is open, so 3 and 4 leave an open too. Like a
failure-type byte it narrows and never excludes.
"""

import re
from collections.abc import Mapping
from types import MappingProxyType

from circuits.codes.failure_types import (
    FEWER_AMPS,
    MORE_AMPS,
    OPEN,
    TO_BATTERY,
    TO_GROUND,
    FailureType,
    failure_type,
)

_WRITTEN = re.compile(r"\bFMI\s*(?P<number>[0-9]{1,2})\b", re.IGNORECASE)
_BEHIND = re.compile(r"(?P<code>.*\S)\s+FMI\s*(?P<number>[0-9]{1,2})", re.IGNORECASE)
#: An FMI has five bits.
MOST_FMI = 31

#: By number; 22 to 30 are not assigned.
FAILURE_MODES: Mapping[int, FailureType] = MappingProxyType(
    {
        int(each.byte): each
        for each in (
            FailureType(byte="0", words="valid, above normal, most severe"),
            FailureType(byte="1", words="valid, below normal, most severe"),
            FailureType(byte="2", words="erratic, intermittent or incorrect", comes_and_goes=True),
            FailureType(
                byte="3", words="voltage above normal, or shorted high", kinds=TO_BATTERY | OPEN
            ),
            FailureType(
                byte="4", words="voltage below normal, or shorted low", kinds=TO_GROUND | OPEN
            ),
            FailureType(byte="5", words="current below normal, or open", kinds=FEWER_AMPS),
            FailureType(byte="6", words="current above normal, or grounded", kinds=MORE_AMPS),
            FailureType(byte="7", words="mechanical system not responding"),
            FailureType(byte="8", words="abnormal frequency, pulse width or period"),
            FailureType(byte="9", words="abnormal update rate"),
            FailureType(byte="10", words="abnormal rate of change"),
            FailureType(byte="11", words="root cause not known"),
            FailureType(byte="12", words="bad device"),
            FailureType(byte="13", words="out of calibration"),
            FailureType(byte="14", words="special instructions"),
            FailureType(byte="15", words="valid, above normal, least severe"),
            FailureType(byte="16", words="valid, above normal, moderately severe"),
            FailureType(byte="17", words="valid, below normal, least severe"),
            FailureType(byte="18", words="valid, below normal, moderately severe"),
            FailureType(byte="19", words="received data in error"),
            FailureType(byte="20", words="drifted high"),
            FailureType(byte="21", words="drifted low"),
            FailureType(byte="31", words="condition exists"),
        )
    }
)


def with_fmi(code: str, fmi: int) -> str:
    """Return a code with its FMI behind it, as it is written."""
    return f"{code} FMI {fmi}"


def without_fmi(code: str) -> tuple[str, int | None]:
    """Return a code without the FMI behind it, and that; None where it has none.

    >>> from circuits.codes.failure_modes import without_fmi
    >>> without_fmi("SPN 168 FMI 4"), without_fmi("P0087")
    (('SPN 168', 4), ('P0087', None))
    """
    written = _BEHIND.fullmatch(code.strip())
    if written is None or int(written["number"]) > MOST_FMI:
        return code, None
    return written["code"], int(written["number"])


def failure_of(code: str, byte: str) -> FailureType | None:
    """Return what a code says of the kind of fault, by its byte or by the FMI written in it.

    >>> from circuits.codes.failure_modes import failure_of
    >>> failure_of("SPN 168 FMI 4", "").words
    'voltage below normal, or shorted low'
    """
    if byte:
        return failure_type(byte)
    written = _WRITTEN.search(code)
    return FAILURE_MODES.get(int(written["number"])) if written is not None else None
