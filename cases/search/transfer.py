"""Try the fault of a past case on the new readings, in the new circuit."""

from cases.models.choices import HEALTHY
from cases.search.evidence import fault_named
from cases.search.query import Query
from cases.search.results import OldFault, Transfer

_TRANSFERS = {
    "fits": Transfer.FITS,
    "does not fit": Transfer.EXCLUDED,
    "cannot say": Transfer.CANNOT_SAY,
}


def old_fault(query: Query, name: str) -> OldFault:
    """Return what an old fault, by its name among all circuits, does with the readings here."""
    circuit_key, suspect = fault_named(name)
    words, because = "", ""
    transfer = Transfer.NOT_COMPARED
    circuit = query.circuit
    if not suspect:
        because = "that case claims no fault"
    elif circuit is None:
        because = "no circuit is chosen here"
    elif circuit_key != query.circuit_key:
        because = "that case is about another circuit"
    elif suspect != HEALTHY and suspect not in circuit.suspects:
        because = "this circuit cannot have that fault"
    else:
        words = "circuit in order" if suspect == HEALTHY else circuit.suspects[suspect].describe()
        transfer, because = _tried(query, suspect)
    return OldFault(suspect=suspect, words=words or suspect, transfer=transfer, because=because)


def _tried(query: Query, suspect: str) -> tuple[Transfer, str]:
    if query.verdict_is_due:
        return Transfer.DUE, "whether the readings here allow it is still being worked out"
    before = query.verdict.before if query.verdict is not None else None
    if before is None:
        return Transfer.CANNOT_SAY, "there is no reading here yet"
    if not before.readings:
        return Transfer.CANNOT_SAY, "no reading here was taken with the symptom present yet"
    findings = {finding.suspect: finding for finding in (*before.findings, before.healthy)}
    finding = findings[suspect]
    return _TRANSFERS[finding.outcome], finding.because
