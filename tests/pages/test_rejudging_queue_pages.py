"""A case that waits to be judged once more: on its way, without a worker, or given up."""

import pytest
from django.db import connection
from django.urls import reverse

from cases.errors import NoRejudgingWanted, NotYourCase
from cases.models import Case, Rejudgement
from cases.services import rejudging
from cases.services.rejudging_queue import Rejudging, given_up, rejudge_again, rejudging_of
from circuits.models import Revision
from tests.api.rest import at, program_of
from tests.cast import FEED_FAULT, FEED_READINGS, Cast, logged, shared
from tests.jobs import a_worker_was_seen, run_jobs, waiting_jobs
from tests.pages.words import words_of
from tests.redrawn import COIL_WIRE, LATER, POOR_JOINTS, redrawn

TRIED_FIVE_TIMES = "The worker tried five times and gave up"


@pytest.fixture
def case(cast: Cast, fuel_pump: Revision) -> Case:
    return logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)


def rejudged(case: Case) -> Rejudgement:
    return Rejudgement.objects.get(case=case, settled_at__isnull=True)


def _failed_for_good(task: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE procrastinate_jobs SET status = 'failed' WHERE task_name = %s", [task]
        )


def _case_page(case: Case, visit, person) -> str:
    return words_of(visit(person).get(reverse("cases:case", args=[case.pk])))


@pytest.mark.parametrize("task", ["rejudge_circuit", "rejudge_case"])
def test_a_case_that_the_worker_gave_up_says_so_and_is_judged_when_somebody_tries_again(
    cast, fuel_pump, case, visit, task
) -> None:
    a_worker_was_seen(seconds_ago=5)
    newer = redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    if task == "rejudge_case":
        rejudging.queue_cases(newer)
        _failed_for_good("rejudge_circuit")
    _failed_for_good(task)
    stuck = _case_page(case, visit, cast.technician)
    listed = words_of(visit(cast.technician).get(reverse("cases:rejudged")))
    again = visit(cast.technician).post(reverse("cases:rejudge-again", args=[case.pk]), follow=True)
    meanwhile = words_of(again)
    run_jobs()

    assert TRIED_FIVE_TIMES in stuck
    assert "Could not be judged once more." in listed
    assert case.key in listed
    assert "is being judged once more" in meanwhile
    assert TRIED_FIVE_TIMES not in meanwhile
    assert rejudged(case).revision == newer
    assert TRIED_FIVE_TIMES not in _case_page(case, visit, cast.technician)


def test_a_job_that_failed_long_ago_is_forgotten_once_a_later_one_did_its_work(
    cast, fuel_pump, case, visit
) -> None:
    redrawn(fuel_pump, COIL_WIRE, by=cast.trainer)
    _failed_for_good("rejudge_circuit")
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()

    assert rejudging_of(case) is Rejudging.NOT_DUE
    assert not given_up(Case.objects.all()).exists()


def test_without_a_worker_a_waiting_case_is_judged_when_somebody_asks(
    cast, fuel_pump, case
) -> None:
    newer = redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    before = rejudging_of(case)
    after = rejudge_again(case=case, by=cast.technician, at=LATER)

    assert before is Rejudging.NO_WORKER
    assert after is Rejudging.NOT_DUE
    assert rejudged(case).revision == newer


def test_what_is_not_due_or_on_its_way_is_not_judged_twice(cast, fuel_pump, case) -> None:
    with pytest.raises(NoRejudgingWanted):
        rejudge_again(case=case, by=cast.technician, at=LATER)
    a_worker_was_seen(seconds_ago=5)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    with pytest.raises(NoRejudgingWanted):
        rejudge_again(case=case, by=cast.technician, at=LATER)

    assert [job.task_name for job in waiting_jobs()] == ["rejudge_circuit"]


def test_another_shop_neither_sees_that_it_was_given_up_nor_can_try_again(
    cast, fuel_pump, case, visit
) -> None:
    shared(case, by=cast.technician)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    _failed_for_good("rejudge_circuit")
    listed = words_of(visit(cast.outsider).get(reverse("cases:rejudged")))
    program = program_of(cast.outsider)

    assert TRIED_FIVE_TIMES not in _case_page(case, visit, cast.outsider)
    assert "Could not be judged once more." not in listed
    assert program.get(at(case, "rejudging")).status_code == 403
    with pytest.raises(NotYourCase):
        rejudge_again(case=case, by=cast.outsider, at=LATER)


def test_a_program_learns_that_it_was_given_up_and_has_it_judged_again(
    cast, fuel_pump, case
) -> None:
    a_worker_was_seen(seconds_ago=5)
    program = program_of(cast.technician)
    not_due = program.get(at(case, "rejudging")).data
    refused = program.post(at(case, "rejudging"))
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    _failed_for_good("rejudge_circuit")
    stuck = program.get(at(case, "rejudging")).data
    again = program.post(at(case, "rejudging"))

    assert not_due == {"state": "not due"}
    assert (refused.status_code, refused.data["code"]) == (409, "no_rejudging_wanted")
    assert stuck == {"state": "given up"}
    assert (again.status_code, again.data) == (202, {"state": "on its way"})
