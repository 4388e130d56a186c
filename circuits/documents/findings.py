"""The form in which an inspection travels: REST and the command use it."""

from collections.abc import Sequence
from datetime import datetime
from typing import Annotated, Final, Literal

from pydantic import Field

from circuits.acceptances import FindingLine
from circuits.documents.base import CircuitName, Document, NamedDocument
from circuits.sheet import Sheet

INSPECTION_SCHEMA: Final = "copperlog-inspection/1"


class AcceptanceShown(Document):
    """Who accepted a finding, when and why; `said_then` where it says something else by now."""

    reason: str
    by: str
    at: datetime
    revision: int
    said_then: str = ""


class FindingShown(Document):
    """One thing to mend or to accept; `id` stays the same while the drawing changes."""

    id: str
    kind: str
    gravity: str = Field(description="danger, wrong, blind or gap.")
    subject: str = Field(description="The part, phase, place or code that is meant.")
    problem: str
    why: str
    mend: str
    source: str = Field(description="The published rule that it breaks, if it is one.")
    accepted: AcceptanceShown | None = None


class InspectionDocument(NamedDocument):
    """What the inspection of a circuit finds, the gravest first."""

    schema_name: Annotated[Literal["copperlog-inspection/1"], Field(alias="schema")] = (
        INSPECTION_SCHEMA
    )
    circuit: CircuitName
    findings: tuple[FindingShown, ...]


def inspection_document(sheet: Sheet, lines: Sequence[FindingLine]) -> InspectionDocument:
    """Return an inspection as it travels."""
    return InspectionDocument(
        circuit=CircuitName(key=sheet.vehicle.key, title=sheet.vehicle.title),
        findings=tuple(map(_finding, lines)),
    )


def _finding(line: FindingLine) -> FindingShown:
    finding, acceptance = line.finding, line.acceptance
    accepted = None
    if acceptance is not None:
        accepted = AcceptanceShown(
            reason=acceptance.reason,
            by=acceptance.accepted_by.get_full_name() or acceptance.accepted_by.get_username(),
            at=acceptance.accepted_at,
            revision=acceptance.revision.number,
            said_then=line.said_then,
        )
    return FindingShown(
        id=finding.id,
        kind=finding.kind,
        gravity=finding.gravity,
        subject=finding.subject,
        problem=finding.problem,
        why=finding.why,
        mend=finding.mend,
        source=finding.source,
        accepted=accepted,
    )
