"""Take the fault that a person names: which one it is, and how bad."""

from circuits.engine import Fault, Network, find_suspect
from circuits.errors import BadSeverity
from circuits.predicting.severities import NotOnScale, SeverityScale


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
    scale, text = SeverityScale(suspect), severity.strip()
    try:
        return Fault(suspect=suspect, severity=scale.read(text) if text else scale.end)
    except NotOnScale as error:
        raise BadSeverity(text, error.problem, error.mend) from None
