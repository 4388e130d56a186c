"""A second look in the background, for seconds: what readings may have been meant as, two faults.

Two faults at once are looked for only where no single one fits.
"""

from enum import StrEnum

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
from cases.services.worker import ON_ITS_WAY, has_worker
from circuits.on_vehicles.references import narrowed_at


class PairSearch(StrEnum):
    """Where the search for two faults at once stands."""

    NOT_NEEDED = "not needed"
    DONE = "done"
    ON_ITS_WAY = "on its way"
    GIVEN_UP = "given up"
    NO_WORKER = "no worker"


def look_for_pairs(*, verdict: Verdict) -> bool:
    """Add the pairs of faults that fit, and what readings may have been meant as, to a verdict.

    Returns False where there is nothing to do: they are there, or a newer verdict has come.
    """
    document = VerdictDocument.model_validate(verdict.result)
    before = document.before
    if before is None or not before.lacks_second_look or not _is_newest(verdict):
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


def pair_search_of(case: Case) -> PairSearch:
    """Return where the search for pairs of the newest verdict stands.

    Queries the queue, only where pairs are lacking. A job that is gone was given up as well.
    """
    verdict = case.verdicts.first()
    if verdict is None:
        return PairSearch.NOT_NEEDED
    before = VerdictDocument.model_validate(verdict.result).before
    if before is None or not before.nothing_fits:
        return PairSearch.NOT_NEEDED
    if not before.lacks_pairs:
        return PairSearch.DONE
    jobs = ProcrastinateJob.objects.filter(
        task_name=LOOK_FOR_PAIRS, args__verdict_pk=verdict.pk, status__in=ON_ITS_WAY
    )
    if not jobs.exists():
        return PairSearch.GIVEN_UP
    return PairSearch.ON_ITS_WAY if has_worker() else PairSearch.NO_WORKER


def look_again_for_pairs(*, case: Case, by: User) -> PairSearch:
    """Queue the search for pairs once more; without a worker, make it here and now.

    The search takes seconds, up to a minute in a large circuit, and can be made twice without harm.

    Raises
    ------
    NotYourCase
        Another shop did the repair.
    NoPairsWanted
        They are there, or are being looked for.
    """
    with transaction.atomic():
        case = locked_for(case, by, "have pairs of faults looked for again")
        search = pair_search_of(case)
        if search not in (PairSearch.GIVEN_UP, PairSearch.NO_WORKER):
            raise NoPairsWanted
        verdict = case.verdicts.latest()
        if search is PairSearch.GIVEN_UP:
            queue.configure_task(LOOK_FOR_PAIRS).defer(verdict_pk=verdict.pk)
    if search is PairSearch.NO_WORKER:
        look_for_pairs(verdict=verdict)
    return pair_search_of(case)
