"""Where cases stand in the queue to be judged once more, and once more where that was given up."""

from datetime import datetime
from enum import StrEnum

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from procrastinate.contrib.django import app as queue
from procrastinate.contrib.django.models import ProcrastinateJob

from cases.errors import NoRejudgingWanted
from cases.models import Case, Rejudgement, Verdict
from cases.services.record import locked_for
from cases.services.rejudging import REJUDGE_CASE, REJUDGE_CIRCUIT, rejudge_case
from cases.services.worker import ON_ITS_WAY, has_worker
from circuits.engine import ENGINE_VERSION
from circuits.models import Revision

#: How the queue calls a job whose last try failed.
FAILED = "failed"


class Rejudging(StrEnum):
    """Whether a case waits in the queue to be judged once more."""

    NOT_DUE = "not due"
    ON_ITS_WAY = "on its way"
    NO_WORKER = "no worker"
    GIVEN_UP = "given up"


def rejudging_of(case: Case) -> Rejudging:
    """Return whether this case waits to be judged once more. Queries the queue."""
    one = Case.objects.filter(pk=case.pk)
    if not _due(one).exists():
        return Rejudging.NOT_DUE
    waits = Q(task_name=REJUDGE_CASE, args__case_pk=case.pk)
    if case.revision is not None:
        newer = Revision.objects.filter(
            circuit=case.revision.circuit_id, number__gt=case.revision.number
        )
        # A new revision is one job at first; it puts one for each of its cases into the queue.
        for pk in newer.values_list("pk", flat=True):
            waits |= Q(task_name=REJUDGE_CIRCUIT, args__revision_pk=pk)
    state = _state_of(waits)
    if state is Rejudging.NOT_DUE and given_up(one).exists():
        return Rejudging.GIVEN_UP
    return state


def rejudging_anywhere() -> Rejudging:
    """Return whether any case on this server waits to be judged once more. Queries the queue."""
    return _state_of(Q(task_name__in=(REJUDGE_CASE, REJUDGE_CIRCUIT)))


def _state_of(waits: Q) -> Rejudging:
    if not ProcrastinateJob.objects.filter(waits, status__in=ON_ITS_WAY).exists():
        return Rejudging.NOT_DUE
    return Rejudging.ON_ITS_WAY if has_worker() else Rejudging.NO_WORKER


def given_up(cases: QuerySet[Case]) -> QuerySet[Case]:
    """Return those of the cases that the worker gave up judging once more. Queries the queue.

    A job that failed counts as long as nothing has done since what it was for.
    """
    failed = ProcrastinateJob.objects.filter(status=FAILED)
    of_case = failed.filter(task_name=REJUDGE_CASE).values_list("args__case_pk", flat=True)
    of_circuit = failed.filter(task_name=REJUDGE_CIRCUIT)
    revisions = of_circuit.values_list("args__revision_pk", flat=True)
    circuits = Revision.objects.filter(pk__in=list(revisions)).values("circuit")
    return _due(cases).filter(Q(pk__in=list(of_case)) | Q(revision__circuit__in=circuits))


def _due(cases: QuerySet[Case]) -> QuerySet[Case]:
    """Return the cases that their circuit's newest revision or this engine has not judged yet."""
    newest = Revision.objects.filter(circuit=OuterRef("revision__circuit")).order_by("-number")
    judged_by = Verdict.objects.filter(case=OuterRef("pk")).values("engine_version")[:1]
    done = Rejudgement.objects.filter(
        case=OuterRef("pk"), revision=OuterRef("newest"), engine_version=ENGINE_VERSION
    )
    due = cases.filter(withdrawn_at__isnull=True).annotate(
        newest=Subquery(newest.values("pk")[:1]), judged_by=Subquery(judged_by)
    )
    return due.filter(
        ~Q(revision=F("newest")) | ~Q(judged_by=ENGINE_VERSION),
        ~Exists(done),
        judged_by__isnull=False,
    )


def rejudge_again(*, case: Case, by: User, at: datetime) -> Rejudging:
    """Queue a case once more to be judged; without a worker, judge it here and now.

    Raises
    ------
    NotYourCase, CaseWithdrawn
        Another shop did the repair; it was withdrawn.
    NoRejudgingWanted
        It is not due, or on its way.
    """
    with transaction.atomic():
        case = locked_for(case, by, "have it judged once more")
        state = rejudging_of(case)
        if state not in (Rejudging.GIVEN_UP, Rejudging.NO_WORKER) or case.revision is None:
            raise NoRejudgingWanted
        newest = Revision.objects.filter(circuit=case.revision.circuit_id).latest("number")
        if state is Rejudging.GIVEN_UP:
            queue.configure_task(REJUDGE_CASE).defer(case_pk=case.pk, revision_pk=newest.pk)
    if state is Rejudging.NO_WORKER:
        rejudge_case(case=case, revision=newest, at=at)
    return rejudging_of(case)
