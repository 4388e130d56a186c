"""Older logs in the worker's hands: step by step, killed, given up, and behind who stands at a car.

Common practice of background work, no source.
"""

from typing import Any

import pytest
from django.db import connection
from procrastinate.contrib.django.models import ProcrastinateJob

from cases.errors import LogNotReady
from cases.models import (
    Case,
    LogState,
    OlderLog,
    Role,
    TakenInCase,
    Wanted,
)
from cases.services.older_logs import taking_in
from cases.services.older_logs.taking_in import bring_in_log, go_on_with_log
from cases.services.older_logs.writing import write_cases
from cases.services.record import settle_record
from circuits.models import Revision
from tests.cases.older_logs import GOOD, OTHER, brought, counts, table
from tests.cast import (
    MONDAY,
    Cast,
)
from tests.jobs import run_jobs, waiting_jobs


def five_in_steps_of_two(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> OlderLog:
    """Return a log of five cases that the owner brings in, two cases a step."""
    monkeypatch.setattr(taking_in, "CASES_IN_A_STEP", 2)
    lines = [f"{number};;Tolvane;;;;Horn silent;;;;;;;;" for number in range(1, 6)]
    return bring_in_log(
        shop=cast.shop,
        name="old.csv",
        content=table(*lines),
        wanted=Wanted.GOOD,
        by=cast.owner,
        at=MONDAY,
    )


def test_a_worker_that_is_killed_leaves_whole_steps_and_the_next_goes_on(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two cases a step; the process dies in the second step, after its rows are written."""
    log = five_in_steps_of_two(cast, monkeypatch)
    written = []

    def killed(*args: Any, **kwargs: Any) -> None:
        write_cases(*args, **kwargs)
        written.append(1)
        if len(written) == 2:
            raise KeyboardInterrupt

    monkeypatch.setattr(taking_in, "write_cases", killed)
    with pytest.raises(KeyboardInterrupt):
        taking_in.go_through_log(log_pk=log.pk, at=MONDAY)
    log.refresh_from_db()

    assert (log.cases_done, Case.objects.count(), log.state) == (2, 2, LogState.WAITING)
    run_jobs()
    log.refresh_from_db()
    assert (counts(log), log.state) == ((5, 0, 0), LogState.TAKEN_IN)
    assert list(Case.objects.order_by("number").values_list("number", flat=True)) == [1, 2, 3, 4, 5]
    assert set(TakenInCase.objects.values_list("key", flat=True)) == set("12345")


def test_a_log_gives_others_a_turn_and_verdicts_come_behind_all_else(
    cast: Cast, fuel_pump: Revision, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(taking_in, "CASES_IN_A_STEP", 1)
    log = bring_in_log(
        shop=cast.shop,
        name="old.csv",
        content=table(GOOD, OTHER),
        wanted=Wanted.GOOD,
        by=cast.owner,
        at=MONDAY,
    )
    more = taking_in.go_through_log(log_pk=log.pk, at=MONDAY, seconds=0)
    log.refresh_from_db()

    assert (more, log.cases_done) == (True, 1)
    jobs = {job.task_name: job.priority for job in waiting_jobs()}
    assert jobs == {"take_in_log": 0, "judge_taken_in": -10}


def test_pairs_of_faults_in_old_cases_wait_behind_the_first_verdicts_of_all(
    cast: Cast, fuel_pump: Revision
) -> None:
    """Less at the battery than at the pump: no single fault gives that, so pairs are looked for."""
    brought(cast, table(GOOD.replace("12,35", "6.0").replace("6.79", "11.9")))
    taking_in.judge_taken_in(case_pks=[Case.objects.get().pk], at=MONDAY)

    jobs = {job.task_name: job.priority for job in waiting_jobs()}
    assert jobs["look_for_pairs"] < jobs["judge_taken_in"] < 0


def test_a_case_that_cannot_be_judged_keeps_no_other_from_its_verdict(
    cast: Cast, fuel_pump: Revision, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = [GOOD.replace("17;2016", f"{number};2016").replace("\n17;", "\n;") for number in "123"]
    brought(cast, table(*lines))
    first, second, third = Case.objects.order_by("number")

    def broken(case: Case, **others: Any) -> None:
        if case == second:
            raise ZeroDivisionError
        settle_record(case, **others)

    monkeypatch.setattr(taking_in, "settle_record", broken)
    pks = [first.pk, second.pk, third.pk]
    with pytest.raises(ExceptionGroup):
        taking_in.judge_taken_in(case_pks=pks, at=MONDAY)

    assert [case.verdicts.count() for case in (first, second, third)] == [1, 0, 1]
    monkeypatch.undo()
    taking_in.judge_taken_in(case_pks=pks, at=MONDAY)
    assert [case.verdicts.count() for case in (first, second, third)] == [1, 1, 1]


def test_a_log_that_the_worker_gave_up_can_be_gone_on_with(cast: Cast) -> None:
    log = bring_in_log(
        shop=cast.shop,
        name="old.csv",
        content=table(OTHER),
        wanted=Wanted.GOOD,
        by=cast.owner,
        at=MONDAY,
    )
    with pytest.raises(LogNotReady):
        go_on_with_log(log=log, wanted=Wanted.GOOD, by=cast.owner)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE procrastinate_jobs SET status = 'failed'")
    assert ProcrastinateJob.objects.filter(status="failed").exists()
    go_on_with_log(log=log, wanted=Wanted.GOOD, by=cast.owner)
    run_jobs()

    assert Case.objects.count() == 1


def test_a_log_stops_with_the_ownership_of_who_brought_it_in_until_another_owner_goes_on(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two cases a step; in the middle of it the owner hands the shop over."""
    log = five_in_steps_of_two(cast, monkeypatch)
    roles = cast.shop.memberships

    def hand_over(gone: OlderLog) -> None:
        roles.filter(user=cast.technician).update(role=Role.OWNER)
        roles.filter(user=cast.owner).update(role=Role.TECHNICIAN)

    goes_on = taking_in.go_through_log(log_pk=log.pk, at=MONDAY, told=hand_over)
    run_jobs()
    log.refresh_from_db()

    assert (goes_on, log.cases_done, Case.objects.count()) == (False, 2, 2)
    assert taking_in.has_stopped(log)
    go_on_with_log(log=log, wanted=Wanted.GOOD, by=cast.technician)
    run_jobs()
    log.refresh_from_db()
    assert (log.state, log.by, Case.objects.count()) == (LogState.TAKEN_IN, cast.technician, 5)
