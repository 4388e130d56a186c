"""A circuit is drawn anew: its cases are judged once more, and nothing of them is lost.

The readings are those of the cast: 1.1 Ohm in the feed of the pump, worked in the circuit's test.
Common practice, no source.
"""

import pytest
from django.db import transaction

from cases.errors import AlreadySettled, NoRoomInRevision, NotYourCase
from cases.models import Case, EarnedStanding, Rejudgement, Settlement, Verdict
from cases.services import rejudging
from cases.services.cases import withdraw_case
from cases.services.readings import add_reading
from cases.services.rejudging import leave_as_it_was, rejudge_case, take_over
from cases.services.verdicts import check_case
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    MONDAY,
    Cast,
    logged,
    one_reading,
)
from tests.jobs import run_jobs, waiting_jobs
from tests.redrawn import COIL_WIRE, LATER, OTHER_LEADS, POOR_JOINTS, redrawn


@pytest.fixture
def case(cast: Cast, fuel_pump: Revision) -> Case:
    return logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)


def rejudged(case: Case) -> Rejudgement:
    return Rejudgement.objects.get(case=case, settled_at__isnull=True)


def test_a_change_that_moves_no_reading_changes_no_verdict(cast, fuel_pump, case) -> None:
    newer = redrawn(fuel_pump, COIL_WIRE, by=cast.trainer)
    done = run_jobs()

    found = rejudged(case)
    assert done == ["rejudge_circuit", "rejudge_case"]
    assert (found.revision, found.changes, found.outcome) == (newer, [], "fits")
    assert not Rejudgement.objects.visible_to(cast.technician).waiting().exists()


def test_the_case_keeps_its_revision_and_the_shop_is_told_what_would_change(
    cast, fuel_pump, case
) -> None:
    """With 1.1 Ohm drawn into the feed the car in order reads what was logged: no proof left."""
    verdicts = list(case.verdicts.all())
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()

    found = Rejudgement.objects.visible_to(cast.technician).waiting().get()
    words = " ".join(found.changes)
    kept = Case.objects.get(pk=case.pk)
    assert "the circuit in order: it was 'does not fit' and would be 'fits' – " in words
    assert "The standing: 'consistent' before" in words
    assert (kept.revision, kept.earned_standing) == (fuel_pump, EarnedStanding.CONSISTENT)
    assert list(kept.verdicts.all()) == verdicts
    assert not Rejudgement.objects.visible_to(cast.outsider).exists()


def test_taken_over_the_newer_revision_counts_and_the_old_verdict_stays(
    cast, fuel_pump, case
) -> None:
    newer = redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    found = rejudged(case)
    take_over(rejudgement=found, by=cast.owner, at=LATER)

    now = Case.objects.get(pk=case.pk)
    assert now.revision == newer
    assert now.verdicts.latest().revision == newer
    assert Verdict.objects.filter(pk=found.earlier_id, revision=fuel_pump).exists()
    assert now.earned_standing == found.standing != EarnedStanding.CONSISTENT
    assert not Rejudgement.objects.visible_to(cast.owner).waiting().exists()
    with pytest.raises(AlreadySettled, match="taken over"):
        leave_as_it_was(rejudgement=found, by=cast.owner, at=LATER)


def test_left_as_it_was_it_leaves_the_list_and_nothing_else_changes(cast, fuel_pump, case) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    with pytest.raises(NotYourCase):
        leave_as_it_was(rejudgement=rejudged(case), by=cast.outsider, at=LATER)
    leave_as_it_was(rejudgement=rejudged(case), by=cast.technician, at=LATER)

    assert Case.objects.get(pk=case.pk).revision == fuel_pump
    assert not Rejudgement.objects.waiting().exists()


def test_a_place_with_other_leads_is_said_and_never_taken_for_the_old_one(
    cast, fuel_pump, case
) -> None:
    redrawn(fuel_pump, OTHER_LEADS, by=cast.trainer)
    run_jobs()

    found = rejudged(case)
    assert "TP2 is measured elsewhere there: PP - PN became PP - BN" in found.trouble
    assert found.changes == [found.trouble]
    with pytest.raises(NoRoomInRevision, match="TP2"):
        take_over(rejudgement=found, by=cast.technician, at=LATER)
    assert Case.objects.get(pk=case.pk).revision == fuel_pump


def test_a_job_that_is_run_twice_does_its_work_once(cast, fuel_pump, case) -> None:
    newer = redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    first = rejudged(case)

    assert rejudge_case(case=case, revision=newer, at=LATER) == first
    assert Rejudgement.objects.count() == 1


def test_of_two_revisions_only_the_newest_asks_for_an_answer(cast, fuel_pump, case) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    redrawn(fuel_pump, COIL_WIRE, by=cast.trainer)
    run_jobs()

    assert [each.settlement for each in case.rejudgements.order_by("pk")] == [
        Settlement.REPLACED,
        "",
    ]
    assert not Rejudgement.objects.waiting().exists()


def test_a_revision_that_is_taken_back_leaves_no_job_behind(cast, fuel_pump, case) -> None:
    with pytest.raises(RuntimeError):
        _publish_and_fail(cast, fuel_pump)

    assert fuel_pump.circuit.revisions.count() == 1
    assert waiting_jobs() == []


def _publish_and_fail(cast: Cast, fuel_pump: Revision) -> None:
    with transaction.atomic():
        redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
        assert len(waiting_jobs()) == 1
        raise RuntimeError("power cut")


def test_withdrawn_cases_and_cases_without_readings_are_left_alone(cast, fuel_pump) -> None:
    withdrawn = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    withdraw_case(case=withdrawn, reason="wrong car", by=cast.technician, at=MONDAY)
    logged(cast, fuel_pump)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)

    assert run_jobs() == ["rejudge_circuit"]
    assert not Rejudgement.objects.exists()


def test_a_newer_engine_judges_the_cases_again_and_keeps_what_the_old_one_said(
    cast, fuel_pump, case, monkeypatch
) -> None:
    old = case.verdicts.latest()
    assert rejudging.queue_due_to_engine() == 0
    for module in ("cases.services.rejudging", "cases.judging.verdict"):
        monkeypatch.setattr(f"{module}.ENGINE_VERSION", "99")

    assert rejudging.queue_due_to_engine() == 1
    run_jobs()
    found = rejudged(case)
    newest = case.verdicts.latest()
    assert (found.changes, found.is_by_engine, found.earlier) == ([], True, old)
    assert (newest.engine_version, newest.revision) == ("99", fuel_pump)
    assert case.verdicts.count() > 1
    assert rejudging.queue_due_to_engine() == 0


def test_readings_that_come_later_are_judged_with_the_revision_of_the_case(
    cast, fuel_pump, case
) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    more = one_reading("TP5", "prime", "11.9")
    add_reading(case=case, reading=more, by=cast.technician, at=LATER)

    assert check_case(case=case, by=cast.technician, at=LATER).revision == fuel_pump
