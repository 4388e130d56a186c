"""Judge cases once more when their circuit has a newer revision, or the engine is a newer one.

A case keeps the revision it was judged with, and its old verdicts. What the newer revision would
say stands beside them until the shop takes it over or leaves it. A newer engine reads the same
drawing better, so its verdict counts at once, and the shop is told where it differs.
"""

from collections.abc import Iterator
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet, Subquery
from procrastinate.contrib.django import app as queue
from procrastinate.types import JSONValue

from cases.circuit import circuit_of
from cases.documents.verdicts import VerdictDocument
from cases.errors import AlreadySettled, BadInput, NoRoomInRevision, PlaceMoved
from cases.judging.changes import verdict_changes
from cases.judging.verdict import judge_lines
from cases.models import Case, Rejudgement, Settlement, Verdict
from cases.services.cases import choose_circuit
from cases.services.record import (
    came_back,
    codes_of,
    current_readings,
    line_of,
    locked_for,
    rate_of,
    require_room,
    settle_record,
)
from cases.standing import standing_of
from circuits.engine import ENGINE_VERSION
from circuits.models import Revision
from circuits.on_vehicles.references import narrowed_at
from circuits.sheet import PlaceEntry

REJUDGE_CASE = "rejudge_case"
REJUDGE_CIRCUIT = "rejudge_circuit"
JOBS_AT_ONCE = 1000


# ------------------------------------------------------------------------------ what is due


def queue_circuit(revision: Revision) -> None:
    """Put all cases of a circuit into the queue, in the same transaction as the revision."""
    queue.configure_task(REJUDGE_CIRCUIT).defer(revision_pk=revision.pk)


def queue_cases(revision: Revision) -> int:
    """Put a job for each case that an older revision judged into the queue; return how many."""
    older = _judged().filter(
        revision__circuit=revision.circuit_id, revision__number__lt=revision.number
    )
    return _queue((pk, revision.pk) for pk in older.values_list("pk", flat=True).iterator())


def queue_due_to_engine() -> int:
    """Put a job for each case that another engine judged into the queue; return how many."""
    judged_by = Verdict.objects.filter(case=OuterRef("pk")).values("engine_version")[:1]
    due = _judged().annotate(judged_by=Subquery(judged_by)).exclude(judged_by=ENGINE_VERSION)
    pairs = due.values_list("pk", "revision").iterator()
    return _queue((pk, revision) for pk, revision in pairs if revision is not None)


def _judged() -> QuerySet[Case]:
    has_verdict = Exists(Verdict.objects.filter(case=OuterRef("pk")))
    return Case.objects.filter(has_verdict, withdrawn_at__isnull=True, revision__isnull=False)


def _queue(pairs: Iterator[tuple[int, int]]) -> int:
    task = queue.configure_task(REJUDGE_CASE)
    jobs: list[dict[str, JSONValue]] = [
        {"case_pk": case_pk, "revision_pk": revision_pk} for case_pk, revision_pk in pairs
    ]
    for start in range(0, len(jobs), JOBS_AT_ONCE):
        task.batch_defer(*jobs[start : start + JOBS_AT_ONCE])
    return len(jobs)


# ---------------------------------------------------------------------------------- judging


@transaction.atomic
def rejudge_case(*, case: Case, revision: Revision, at: datetime) -> Rejudgement | None:
    """Judge a case with a revision and keep what it says beside the verdict it was compared with.

    Asked a second time it returns what is there. None where there is nothing to compare: the case
    was withdrawn, has no verdict, or is about another circuit by now.
    """
    case = Case.objects.select_for_update(of=("self",)).select_related("shop").get(pk=case.pk)
    earlier = case.verdicts.select_related("revision").first()
    if earlier is None or case.withdrawn_at is not None or case.revision is None:
        return None
    if case.revision.circuit_id != revision.circuit_id or case.revision.number > revision.number:
        return None
    known = Rejudgement.objects.filter(
        earlier=earlier, revision=revision, engine_version=ENGINE_VERSION
    ).first()
    if known is not None:
        return known
    by_engine = case.revision_id == revision.pk
    if by_engine and earlier.engine_version == ENGINE_VERSION:
        return None
    _replace_older(case, at)
    if by_engine:
        return _judged_by_newer_engine(case, earlier, at=at)
    return _judged_with_newer_revision(case, earlier, revision, at=at)


def _replace_older(case: Case, at: datetime) -> None:
    case.rejudgements.filter(settled_at__isnull=True).update(
        settled_at=at, settlement=Settlement.REPLACED
    )


def _judged_by_newer_engine(case: Case, earlier: Verdict, *, at: datetime) -> Rejudgement:
    stood = case.earned_standing
    settle_record(case, at=at, from_scratch=True)
    later = case.verdicts.latest()
    return _kept(
        case,
        earlier,
        earlier.revision,
        VerdictDocument.model_validate(later.result),
        stood=stood,
        stands=case.earned_standing,
        at=at,
    )


def _judged_with_newer_revision(
    case: Case, earlier: Verdict, revision: Revision, *, at: datetime
) -> Rejudgement:
    lines = [line_of(reading) for reading in current_readings(case)]
    circuit = circuit_of(revision)
    try:
        require_room(case, circuit)
        _require_same_places(case, revision)
        document = judge_lines(
            circuit,
            lines,
            claim=case.claimed_suspect,
            narrowed=narrowed_at(revision),
            codes=codes_of(case),
            rate=rate_of(case),
        )
    except BadInput as error:
        trouble = f"It cannot be judged with revision {revision.number}: {error}"
        return Rejudgement.objects.create(
            case=case,
            earlier=earlier,
            revision=revision,
            engine_version=ENGINE_VERSION,
            changes=[trouble],
            trouble=trouble,
            computed_at=at,
        )
    stands = standing_of(case, lines, document, came_back=came_back(case)).earned
    return _kept(
        case, earlier, revision, document, stood=case.earned_standing, stands=stands, at=at
    )


def _kept(
    case: Case,
    earlier: Verdict,
    revision: Revision,
    document: VerdictDocument,
    *,
    stood: str,
    stands: str,
    at: datetime,
) -> Rejudgement:
    changes = list(verdict_changes(VerdictDocument.model_validate(earlier.result), document))
    if stood != stands:
        changes.append(f"The standing: '{stood}' before, '{stands}' with it.")
    return Rejudgement.objects.create(
        case=case,
        earlier=earlier,
        revision=revision,
        engine_version=ENGINE_VERSION,
        result=document.as_data(),
        outcome=document.outcome,
        standing=stands,
        changes=changes,
        computed_at=at,
    )


def _require_same_places(case: Case, revision: Revision) -> None:
    """Refuse where a reading's place has the same key but other leads by now."""
    assert case.revision is not None
    was, now = circuit_of(case.revision), circuit_of(revision)
    for key in dict.fromkeys(reading.place_key for reading in current_readings(case)):
        before, after = _where(was.place_entry(key)), _where(now.place_entry(key))
        if before != after:
            raise PlaceMoved(key, before, after)


def _where(place: PlaceEntry) -> str:
    if place.through:
        return f"{'against' if place.against else 'through'} {place.through}"
    return f"{place.red} - {place.black}"


# ----------------------------------------------------------------------------- what to do


@transaction.atomic
def take_over(*, rejudgement: Rejudgement, by: User, at: datetime) -> Case:
    """Let the newer revision count for the case; the old verdict stays in its history."""
    case = locked_for(rejudgement.case, by, "take a revision over")
    rejudgement = _locked(rejudgement)
    if rejudgement.trouble:
        raise NoRoomInRevision(rejudgement.trouble)
    if not rejudgement.is_by_engine:
        _require_same_places(case, rejudgement.revision)
        case = choose_circuit(case=case, revision=rejudgement.revision, by=by, at=at)
    _settle(rejudgement, Settlement.TAKEN_OVER, by=by, at=at)
    return case


@transaction.atomic
def leave_as_it_was(*, rejudgement: Rejudgement, by: User, at: datetime) -> Rejudgement:
    """Keep the case with the revision it was judged with, and take it off the list."""
    locked_for(rejudgement.case, by, "leave the verdict as it was")
    return _settle(_locked(rejudgement), Settlement.LEFT, by=by, at=at)


def _locked(rejudgement: Rejudgement) -> Rejudgement:
    locked = (
        Rejudgement.objects.select_for_update(of=("self",))
        .select_related("earlier", "revision__circuit", "case")
        .get(pk=rejudgement.pk)
    )
    if locked.settled_at is not None:
        raise AlreadySettled(locked.settlement)
    return locked


def _settle(rejudgement: Rejudgement, how: Settlement, *, by: User, at: datetime) -> Rejudgement:
    rejudgement.settlement, rejudgement.settled_by, rejudgement.settled_at = how, by, at
    rejudgement.save(update_fields=["settlement", "settled_by", "settled_at"])
    return rejudgement
