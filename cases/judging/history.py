"""The verdicts of a case in their order: why each was given anew, and what it changed."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from cases.documents.verdicts import FindingDocument, JudgedReading, SetAside, VerdictDocument
from cases.judging.changes import verdict_changes
from cases.judging.code_words import code_standing, code_title, listed
from cases.models.choices import HEALTHY

MOST_NAMED = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenVerdict:
    """A verdict as it was kept, with what it was computed from."""

    document: VerdictDocument
    revision: int
    circuit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryEntry:
    """One verdict in words: why it was given anew, what it says, what that changed."""

    causes: tuple[str, ...]
    claim: str
    outcome: str
    because: str
    changes: tuple[str, ...]


def history_entry(earlier: GivenVerdict | None, given: GivenVerdict) -> HistoryEntry:
    """Return a verdict beside the one that was given before it; None before the first."""
    document = given.document
    finding = _claimed(document)
    return HistoryEntry(
        causes=tuple(_causes(earlier, given)),
        claim=finding.words if finding is not None else "",
        outcome=finding.outcome if finding is not None else "",
        because=finding.because if finding is not None else document.failure,
        changes=(
            verdict_changes(earlier.document, document, counts=True)
            if earlier is not None and earlier.circuit == given.circuit
            else ()
        ),
    )


def _claimed(document: VerdictDocument) -> FindingDocument | None:
    before = document.before
    if before is None or not document.claim:
        return None
    return before.healthy if document.claim == HEALTHY else before.claim


def _causes(earlier: GivenVerdict | None, given: GivenVerdict) -> Iterator[str]:
    if earlier is None:
        yield "The first verdict"
        return
    known = False
    for cause in chain(
        _of_circuit(earlier, given),
        _of_readings(earlier.document, given.document),
        _of_codes(earlier.document, given.document),
        _of_claim(earlier.document, given.document),
    ):
        known = True
        yield cause
    if not known:
        yield "Judged anew from the same record"


def _of_circuit(earlier: GivenVerdict, given: GivenVerdict) -> Iterator[str]:
    if earlier.circuit != given.circuit:
        yield f"Another circuit: {given.circuit}"
    elif earlier.revision != given.revision:
        yield f"Revision {given.revision} of the circuit, no longer {earlier.revision}"
    was, now = earlier.document.engine_version, given.document.engine_version
    if was != now:
        yield f"Engine {now}, no longer {was}"


def _of_codes(earlier: VerdictDocument, later: VerdictDocument) -> Iterator[str]:
    was, now = (
        [(code_title(code), code_standing(code)) for code in document.codes]
        for document in (earlier, later)
    )
    if was != now:
        told = listed([f"{title} ({standing})" for title, standing in now])
        yield f"Codes told: {told or 'none'}"


def _of_readings(earlier: VerdictDocument, later: VerdictDocument) -> Iterator[str]:
    was, now = _lines(earlier), _lines(later)
    added = [words for number, words in now.items() if number not in was]
    gone = [words for number, words in was.items() if number not in now]
    if added:
        yield f"New reading{'s' if len(added) > 1 else ''}: {_listed(added)}"
    if gone:
        yield f"Corrected or taken out: {_listed(gone)}"


def _lines(document: VerdictDocument) -> dict[int, str]:
    """Return every line that a verdict names, judged or set aside, by its number."""
    judged: list[JudgedReading | SetAside] = [
        reading
        for judgement in (document.before, document.after)
        if judgement is not None
        for reading in judgement.readings
        if not reading.noted
    ]
    return {
        line.number: f"{line.place} in '{line.phase}', {line.text or 'not measured'}"
        for line in (*judged, *document.set_aside)
    }


def _of_claim(earlier: VerdictDocument, later: VerdictDocument) -> Iterator[str]:
    if earlier.claim == later.claim:
        return
    finding = _claimed(later)
    if not later.claim:
        yield "The claim was taken back"
    else:
        yield f"The claim: {finding.words if finding is not None else later.claim}"


def _listed(words: list[str]) -> str:
    more = len(words) - MOST_NAMED
    return "; ".join(words[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
