"""Two faults at once, looked for in the background: it takes seconds, and only where none fits."""

from django.contrib.auth.models import User
from django.db import transaction
from procrastinate.contrib.django import app as queue
from procrastinate.contrib.django.models import ProcrastinateJob

from cases.circuit import circuit_of
from cases.documents.verdicts import VerdictDocument
from cases.errors import NoPairsWanted
from cases.judging.verdict import judge_lines
from cases.models import Case, Verdict
from cases.services.record import (
    LOOK_FOR_PAIRS,
    codes_of,
    current_readings,
    line_of,
    locked_for,
    rate_of,
)
from circuits.references import narrowed_at

_ON_ITS_WAY = ("todo", "doing")


def look_for_pairs(*, verdict: Verdict) -> bool:
    """Add the pairs of faults that fit, and what readings may have been meant as, to a verdict.

    Returns False where there is nothing to do: they are there, or a newer verdict has come.
    """
    document = VerdictDocument.model_validate(verdict.result)
    if document.before is None or not document.before.lacks_pairs or not _is_newest(verdict):
        return False
    lines = [line_of(reading) for reading in current_readings(verdict.case)]
    found = judge_lines(
        circuit_of(verdict.revision),
        lines,
        claim=document.claim,
        with_pairs=True,
        narrowed=narrowed_at(verdict.revision),
        codes=codes_of(verdict.case),
        rate=rate_of(verdict.case),
    )
    return found.before is not None and _keep(verdict, document, found)


@transaction.atomic
def _keep(verdict: Verdict, document: VerdictDocument, found: VerdictDocument) -> bool:
    """Write what was found, unless the case went on while it was looked for."""
    Case.objects.select_for_update(of=("self",)).get(pk=verdict.case_id)
    if document.before is None or found.before is None or not _is_newest(verdict):
        return False
    before = document.before.model_copy(
        update={
            "pairs": found.before.pairs or (),
            "mended": found.before.mended,
            "other_rules": found.before.other_rules,
        }
    )
    looked = {"before": before, "look_at": found.look_at}
    verdict.result = document.model_copy(update=looked).as_data()
    verdict.save(update_fields=["result"])
    return True


def _is_newest(verdict: Verdict) -> bool:
    return verdict.case.verdicts.latest().pk == verdict.pk


def have_given_up(case: Case) -> bool:
    """Whether the worker gave up looking for pairs that the newest verdict still lacks.

    Queries the queue, only where pairs are lacking. A job that is gone was given up as well.
    """
    verdict = case.verdicts.first()
    if verdict is None:
        return False
    before = VerdictDocument.model_validate(verdict.result).before
    if before is None or not before.lacks_pairs:
        return False
    jobs = ProcrastinateJob.objects.filter(
        task_name=LOOK_FOR_PAIRS, args__verdict_pk=verdict.pk, status__in=_ON_ITS_WAY
    )
    return not jobs.exists()


@transaction.atomic
def look_again_for_pairs(*, case: Case, by: User) -> None:
    """Queue the search for pairs once more, after the worker gave it up.

    Raises
    ------
    NotYourCase
        Another shop did the repair.
    NoPairsWanted
        They are there, or are being looked for.
    """
    case = locked_for(case, by, "have pairs of faults looked for again")
    if not have_given_up(case):
        raise NoPairsWanted
    queue.configure_task(LOOK_FOR_PAIRS).defer(verdict_pk=case.verdicts.latest().pk)
