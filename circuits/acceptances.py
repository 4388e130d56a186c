"""What the inspection of a stored circuit finds, and what somebody accepted of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from django.contrib.auth.models import User
from django.db import transaction

from circuits.errors import NotAccepted, ReasonMissing, UnknownFinding
from circuits.inspection import Finding, inspect
from circuits.models import Acceptance, AcceptanceQuerySet, Circuit, Revision
from circuits.services import (
    REVISIONS_KEPT,
    latest_revision,
    network_of,
    sheet_of,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLine:
    """A finding, and how it was accepted if it was."""

    finding: Finding
    acceptance: Acceptance | None

    @property
    def said_then(self) -> str:
        """Return what the finding said when it was accepted, if that was something else."""
        if self.acceptance is None or self.acceptance.words == self.finding.problem:
            return ""
        return self.acceptance.words


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """The findings of a revision, gravest first: those that are open, and those accepted."""

    open: tuple[FindingLine, ...]
    accepted: tuple[FindingLine, ...]


def inspection_of(revision: Revision) -> Inspection:
    """Return what a revision's inspection finds, with what was accepted of it."""
    lines = finding_lines(revision.circuit, findings_of(revision))
    return Inspection(
        open=tuple(line for line in lines if line.acceptance is None),
        accepted=tuple(line for line in lines if line.acceptance is not None),
    )


def finding_lines(circuit: Circuit, findings: Sequence[Finding]) -> list[FindingLine]:
    """Return findings with what is accepted of them in this circuit."""
    in_force = {
        acceptance.finding: acceptance
        for acceptance in _in_force(circuit).select_related("accepted_by", "revision")
    }
    return [
        FindingLine(finding=finding, acceptance=in_force.get(finding.id)) for finding in findings
    ]


def findings_of(revision: Revision) -> tuple[Finding, ...]:
    """Return what a stored revision's inspection finds; the last ones asked for are kept."""
    return _findings_of(revision.pk)


# Revisions never change, so what was found in one holds as long as the process lives.
@lru_cache(maxsize=REVISIONS_KEPT)
def _findings_of(revision_pk: int) -> tuple[Finding, ...]:
    revision = Revision.objects.select_related("circuit").get(pk=revision_pk)
    return inspect(sheet_of(revision), network_of(revision))


def finding_named(revision: Revision, finding_id: str) -> Finding:
    """Return a finding of a revision by its id.

    Raises
    ------
    UnknownFinding
        The inspection finds no such thing.
    """
    for finding in findings_of(revision):
        if finding.id == finding_id:
            return finding
    raise UnknownFinding(finding_id, revision.circuit.key)


@transaction.atomic
def accept_finding(
    *, circuit: Circuit, finding_id: str, reason: str, by: User, at: datetime
) -> Acceptance:
    """Take a finding of the newest revision as it is, with the reason; a new one replaces the old.

    Raises
    ------
    UnknownFinding, ReasonMissing
        There is no such finding, or no reason is given.
    """
    if not reason.strip():
        raise ReasonMissing
    circuit = Circuit.objects.select_for_update().get(pk=circuit.pk)
    revision = latest_revision(circuit)
    finding = finding_named(revision, finding_id)
    _end(circuit, [finding_id], why="accepted anew, with another reason", by=by, at=at)
    return Acceptance.objects.create(
        circuit=circuit,
        finding=finding.id,
        words=finding.problem,
        reason=reason.strip(),
        revision=revision,
        accepted_by=by,
        accepted_at=at,
    )


@transaction.atomic
def take_back_acceptance(*, circuit: Circuit, finding_id: str, by: User, at: datetime) -> None:
    """Open a finding again.

    Raises
    ------
    NotAccepted
        Nobody had accepted it.
    """
    circuit = Circuit.objects.select_for_update().get(pk=circuit.pk)
    # Compared here and not in the database: a text from outside may hold what that cannot store.
    if finding_id not in set(_in_force(circuit).values_list("finding", flat=True)):
        raise NotAccepted(finding_id)
    _end(circuit, [finding_id], why="taken back", by=by, at=at)


def end_outlived(*, revision: Revision, by: User, at: datetime) -> None:
    """End the acceptances of what a new revision no longer has, so that they cannot come back."""
    accepted = set(_in_force(revision.circuit).values_list("finding", flat=True))
    # Without acceptances there is nothing to end, and the inspection need not be done yet.
    if not accepted:
        return
    gone = accepted - {finding.id for finding in findings_of(revision)}
    _end(revision.circuit, sorted(gone), why=f"gone in revision {revision.number}", by=by, at=at)


def _in_force(circuit: Circuit) -> AcceptanceQuerySet:
    return Acceptance.objects.in_force().filter(circuit=circuit)


def _end(circuit: Circuit, findings: Sequence[str], *, why: str, by: User, at: datetime) -> int:
    in_force = _in_force(circuit).filter(finding__in=findings)
    return in_force.update(ended_at=at, ended_by=by, ended_why=why)
