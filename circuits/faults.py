"""Take the fault that a person names: which one it is, and how bad."""

import math

from circuits.engine import Fault, Network, Suspect, find_suspect
from circuits.errors import BadSeverity
from circuits.severities import HEALTHY, OPEN, SHORT, SeverityScale
from circuits.units import UnitError, format_quantity, parse_quantity


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
    scale = SeverityScale(suspect)
    word = text.lower()
    if word in ("", scale.end_word):
        return scale.end
    if word == HEALTHY:
        return scale.healthy
    if word in (OPEN, SHORT):
        raise BadSeverity(text, f"{suspect.describe()} cannot be that.", _mend(scale))
    try:
        severity = parse_quantity(text, suspect.unit).number
    except UnitError as error:
        raise BadSeverity(text, error.problem, error.mend) from None
    if not (severity == scale.healthy or suspect.can_be(severity)):
        raise BadSeverity(text, _range_words(suspect), _mend(scale))
    return severity


def _range_words(suspect: Suspect) -> str:
    if not suspect.graded:
        return f"{suspect.describe()}: that is so or it is not, and has no degrees."
    least = format_quantity(suspect.least, suspect.unit) if suspect.least else "0"
    most = "" if math.isinf(suspect.most) else f" to {format_quantity(suspect.most, suspect.unit)}"
    return f"A severity runs from {least}{most}."


def _mend(scale: SeverityScale) -> str:
    suspect = scale.suspect
    if not suspect.graded:
        return f"Leave it empty, or write {HEALTHY}."
    example = format_quantity(min(1.0, suspect.most), suspect.unit)
    words = [word for word in (scale.end_word, HEALTHY) if word]
    return f"Write it like {example}, or {' or '.join(words)}."
