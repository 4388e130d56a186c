"""Take the fault that a person names: which one it is, and how bad."""

import math

from circuits.engine import Fault, Network, Suspect, find_suspect
from circuits.errors import BadSeverity
from circuits.units import UnitError, format_quantity, parse_quantity

OPEN, SHORT = "open", "short"


def named_fault(network: Network, suspect_id: str, severity: str = "") -> Fault:
    """Return the fault; without a severity it is as bad as it can be.

    Raises
    ------
    UnknownSuspect
        The circuit cannot have that fault; the nearest ones are named.
    BadSeverity
        It is no number in the fault's unit, or none that the fault can have.
    """
    suspect = find_suspect(network, suspect_id)
    return Fault(suspect=suspect, severity=_severity(suspect, severity.strip()))


def _severity(suspect: Suspect, text: str) -> float:
    worst, word = _worst(suspect)
    if not text or text.lower() == word:
        return worst
    if text.lower() in (OPEN, SHORT):
        raise BadSeverity(text, f"{suspect.describe()} cannot be that.", _mend(suspect))
    try:
        severity = parse_quantity(text, suspect.unit).number
    except UnitError as error:
        raise BadSeverity(text, error.problem, error.mend) from None
    if not 0 <= severity <= suspect.most:
        most = (
            "" if math.isinf(suspect.most) else f" to {format_quantity(suspect.most, suspect.unit)}"
        )
        raise BadSeverity(text, f"A severity runs from 0{most}.", _mend(suspect))
    return severity


def _worst(suspect: Suspect) -> tuple[float, str]:
    if suspect.unit != "ohm":
        return suspect.most, ""
    return (0.0, SHORT) if suspect.is_path else (math.inf, OPEN)


def _mend(suspect: Suspect) -> str:
    example = format_quantity(min(1.0, suspect.most), suspect.unit)
    word = _worst(suspect)[1]
    return f"Write it like {example}{f', or {word}' if word else ''}."
