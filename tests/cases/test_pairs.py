"""Where no single fault fits a case: the reading that may have slipped, and two faults at once.

Circuit: a fuel pump, 12.35 V at the battery; what feed and ground lose and what is left for the
pump make the battery's volts (Kirchhoff's voltage law).
"""

from itertools import product
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from cases.documents.verdicts import PairDocument, PairedFault
from cases.errors import NoPairsWanted, NotYourCase
from cases.judging.pairs import grouped
from cases.models import Case, Verdict
from cases.services.pairs import PairSearch, look_again_for_pairs, look_for_pairs
from cases.services.readings import add_reading, add_readings
from cases.services.verdicts import latest_verdict
from circuits.models import Revision
from tests.api.rest import at, program_of
from tests.cases.case_files import case_file, run
from tests.cast import (
    FEED_FAULT,
    GROUND_FAULT,
    MONDAY,
    SOUND_READINGS,
    Cast,
    logged,
    one_reading,
    shared,
)
from tests.jobs import a_worker_was_seen, run_jobs, waiting_jobs
from tests.readings import readings

# 4.00 V lost in the feed, 2.80 V in the ground, 5.55 V left: 12.35 V.
FEED_AND_GROUND = """
        prime
    TP1 12.35
    TP2 5.55
    TP3 4.00
    TP4 2.80
"""
# A feed fault, and its ground drop of 0.07 V typed with the point lost.
SLIPPED = """
        prime
    TP1 12.35
    TP2 6.79
    TP3 5.49
    TP4 7
"""


def before(case: Case):
    verdict = latest_verdict(case)
    assert verdict is not None
    assert verdict.before is not None
    return verdict.before


def page(cast: Cast, case: Case, name: str = "case") -> str:
    client = Client()
    client.force_login(cast.technician)
    return client.get(reverse(f"cases:{name}", args=[case.pk])).content.decode()


def pair(first: str, second: str, misfit: float = 1.0) -> PairDocument:
    one, other = (PairedFault(suspect=name, words=name, severity=1.0) for name in (first, second))
    return PairDocument(
        first=one, second=other, misfit=misfit, misfit_limit=9.0, predicted=(), explained=()
    )


def test_two_faults_are_looked_for_in_the_background_where_no_single_one_fits(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, FEED_AND_GROUND, claim=FEED_FAULT)
    at_first = before(case)
    done = run_jobs()
    found = before(case)

    assert at_first.nothing_fits
    assert at_first.pairs is None
    assert "look_for_pairs" in done
    assert found.pairs is not None
    ends = [{each.first.suspect, each.second.suspect} for each in found.pairs]
    assert {FEED_FAULT, GROUND_FAULT} in ends
    told = found.pairs[ends.index({FEED_FAULT, GROUND_FAULT})]
    by_place = dict(zip((reading.place for reading in found.readings), told.explained, strict=True))
    assert by_place["TP1"] == "neither"
    # Each fault throttles the current of the other, so that no drop is what one alone would give.
    assert {by_place[place] for place in ("TP2", "TP3", "TP4")} == {"together"}


def test_no_pair_is_looked_for_where_one_fault_fits(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, SOUND_READINGS, claim=FEED_FAULT)

    assert [job.task_name for job in waiting_jobs() if job.task_name == "look_for_pairs"] == []
    assert not look_for_pairs(verdict=case.verdicts.latest())
    assert before(case).pairs is None


def test_pairs_of_a_verdict_that_a_newer_one_replaced_are_not_kept(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, FEED_AND_GROUND)
    older = case.verdicts.latest()
    reading = one_reading("TP1", "prime", "12.34")
    add_reading(case=case, reading=reading, by=cast.technician, at=MONDAY)

    assert not look_for_pairs(verdict=older)
    assert Verdict.objects.get(pk=older.pk).result["before"]["pairs"] is None


def test_a_slip_keeps_what_was_typed_and_says_what_would_fit(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, SLIPPED, claim=FEED_FAULT)
    slip = next(slip for slip in before(case).slips if slip.place == "TP4")

    assert before(case).nothing_fits
    assert slip.text == "7"
    assert FEED_FAULT in slip.fits
    assert 0.04 < slip.predicted < 0.12
    assert case.readings.get(pk=slip.number).text == "7"


def test_a_verdict_in_the_first_form_is_still_read(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, SOUND_READINGS)
    row = case.verdicts.latest()
    row.result["schema"] = "copperlog-verdict/1"
    for name in ("without_symptom", "slips", "pairs"):
        del row.result["before"][name]
    row.save()
    read = latest_verdict(case)

    assert read is not None
    assert read.schema_name == "copperlog-verdict/2"
    assert before(case).pairs is None


def test_a_sound_reading_without_the_symptom_leaves_the_claim_open(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, claim="resistance:K3.con")
    cold = readings(SOUND_READINGS, symptom_present="no")
    rows = add_readings(case=case, readings=cold, by=cast.technician, at=MONDAY)
    verdict = latest_verdict(case)

    assert verdict is not None
    assert verdict.outcome == "cannot say"
    assert {entry.number for entry in verdict.set_aside} == {row.pk for row in rows}
    assert "one reading with the symptom present" in before(case).claim.because


def test_like_cases_are_found_for_one_with_no_reading_left_to_judge(
    cast: Cast, fuel_pump: Revision
) -> None:
    logged(cast, fuel_pump, FEED_AND_GROUND, claim=FEED_FAULT)
    case = logged(cast, fuel_pump)
    cold = readings(SOUND_READINGS, symptom_present="no")
    add_readings(case=case, readings=cold, by=cast.technician, at=MONDAY)

    assert "taken with the symptom present yet" in page(cast, case, "similar")


def test_the_page_says_that_pairs_are_looked_for_and_then_groups_them(
    cast: Cast, fuel_pump: Revision
) -> None:
    a_worker_was_seen(seconds_ago=5)
    case = logged(cast, fuel_pump, FEED_AND_GROUND)
    waiting = page(cast, case)
    row = case.verdicts.latest()
    row.result["before"]["pairs"] = [
        pair(one, other)
        .model_copy(update={"predicted": (1.0,) * 4, "explained": ("first",) * 4})
        .as_data()
        for one, other in product(("FEED A", "FEED B"), ("GROUND",))
    ]
    row.save()
    shown = page(cast, case)

    assert "being looked for" in waiting
    assert "being looked for" not in shown
    assert shown.count("GROUND</strong>") == 1
    assert "together with one of" in shown
    assert waiting.index("Nothing fits") < waiting.index("Two faults at once")


def test_the_page_asks_for_a_slip_first_and_names_who_can_confirm_it(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, SLIPPED)
    shown = page(cast, case)

    assert cast.technician.username in shown[shown.index("One reading may have slipped") :]
    assert shown.index("One reading may have slipped") < shown.index("Two faults at once")


def test_a_drop_that_is_there_without_the_symptom_is_evidence(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, claim=GROUND_FAULT)
    lost = one_reading("TP4", "prime", "5.07", symptom_present="no")
    add_reading(case=case, reading=lost, by=cast.technician, at=MONDAY)

    assert [reading.place for reading in before(case).readings] == ["TP4"]
    assert before(case).claim.outcome == "fits"


def test_pairs_that_share_partners_are_told_together_and_each_once() -> None:
    listed = [pair(one, other) for one, other in product("ABC", "DE")]
    listed += [pair("A", "F", misfit=0.5), pair("G", "H", misfit=2.0)]
    groups = grouped(listed)
    told = [
        {one.suspect, other.suspect}
        for group in groups
        for one in group.ones
        for other in group.others
    ]

    assert len(told) == len(listed)
    assert all({each.first.suspect, each.second.suspect} in told for each in listed)
    assert len(groups) == 3
    assert groups[0].best.misfit == 0.5


def test_the_command_tells_slips_and_on_request_pairs(tmp_path: Path) -> None:
    taken = [
        {"number": number, "place": place, "phase": "prime", "text": text}
        for number, (place, text) in enumerate(
            (("TP1", "12.35"), ("TP2", "5.55"), ("TP3", "4.00"), ("TP4", "2.80")), start=1
        )
    ]
    path = case_file(tmp_path, readings=taken)
    without, with_pairs = run("verdict", path), run("verdict", path, "--pairs")

    assert without[0] == with_pairs[0] == 1
    assert "--pairs does" in without[1]
    assert "Two faults at once: " in with_pairs[1]
    assert "explained by" in with_pairs[1]


FIVE_TIMES = "tried five times and gave up"
NOBODY = "Nobody looks for pairs of faults at present"


def _job_ends_as(status: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE procrastinate_jobs SET status = %s WHERE task_name = 'look_for_pairs'", [status]
        )


def test_a_search_that_failed_for_good_says_so_and_can_be_had_again(
    cast: Cast, fuel_pump: Revision
) -> None:
    a_worker_was_seen(seconds_ago=5)
    case = logged(cast, fuel_pump, FEED_AND_GROUND, claim=FEED_FAULT)
    at_first = page(cast, case)
    _job_ends_as("failed")
    given_up = page(cast, case)
    client = Client()
    client.force_login(cast.technician)
    answer = client.post(reverse("cases:look-again-for-pairs", args=[case.pk]))
    meanwhile = page(cast, case)
    run_jobs()

    assert "are being looked for in the background" in at_first
    assert FIVE_TIMES not in at_first
    assert FIVE_TIMES in given_up
    assert answer.status_code == 302
    assert "are being looked for in the background" in meanwhile
    assert before(case).pairs
    assert FIVE_TIMES not in page(cast, case)


@pytest.mark.parametrize("status", ["todo", "doing"])
def test_a_search_that_is_on_its_way_is_not_queued_twice(
    cast: Cast, fuel_pump: Revision, status: str
) -> None:
    a_worker_was_seen(seconds_ago=5)
    case = logged(cast, fuel_pump, FEED_AND_GROUND)
    _job_ends_as(status)

    with pytest.raises(NoPairsWanted):
        look_again_for_pairs(case=case, by=cast.technician)


def test_another_shop_sees_that_the_search_failed_and_cannot_have_it_again(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = shared(logged(cast, fuel_pump, FEED_AND_GROUND), by=cast.technician)
    _job_ends_as("failed")
    outsider = Client()
    outsider.force_login(cast.outsider)
    shown = outsider.get(reverse("cases:case", args=[case.pk])).content.decode()

    assert FIVE_TIMES in shown
    assert "Look again" not in shown
    with pytest.raises(NotYourCase):
        look_again_for_pairs(case=case, by=cast.outsider)


@pytest.mark.parametrize("status", ["todo", "doing"])
def test_without_a_living_worker_the_page_says_so_and_looks_here_and_now(
    cast: Cast, fuel_pump: Revision, status: str
) -> None:
    """A worker that was killed leaves its job in hand; one that never ran leaves it waiting."""
    a_worker_was_seen(seconds_ago=3600)
    case = logged(cast, fuel_pump, FEED_AND_GROUND, claim=FEED_FAULT)
    _job_ends_as(status)
    at_first = page(cast, case)
    client = Client()
    client.force_login(cast.technician)
    answer = client.post(reverse("cases:look-again-for-pairs", args=[case.pk]))
    ends = [{each.first.suspect, each.second.suspect} for each in before(case).pairs or ()]

    assert NOBODY in at_first
    assert "are being looked for in the background" not in at_first
    assert answer.status_code == 302
    assert {FEED_FAULT, GROUND_FAULT} in ends
    assert NOBODY not in page(cast, case)


def test_the_job_that_waited_for_a_worker_finds_its_work_done(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, FEED_AND_GROUND)
    search = look_again_for_pairs(case=case, by=cast.technician)
    found = before(case)
    done = run_jobs()

    assert search is PairSearch.DONE
    assert "look_for_pairs" in done
    assert before(case) == found


def test_another_shop_cannot_have_pairs_looked_for_where_no_worker_lives(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = shared(logged(cast, fuel_pump, FEED_AND_GROUND), by=cast.technician)
    outsider = Client()
    outsider.force_login(cast.outsider)
    shown = outsider.get(reverse("cases:case", args=[case.pk])).content.decode()

    assert NOBODY in shown
    assert "Look now" not in shown
    with pytest.raises(NotYourCase):
        look_again_for_pairs(case=case, by=cast.outsider)


def test_a_program_learns_how_far_the_search_is_and_has_it_made_again(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = shared(logged(cast, fuel_pump, FEED_AND_GROUND), by=cast.technician)
    sound = logged(cast, fuel_pump, SOUND_READINGS, claim=FEED_FAULT)
    technician, outsider = program_of(cast.technician), program_of(cast.outsider)
    a_worker_was_seen(seconds_ago=5)
    waiting = technician.get(at(case, "pairs"))
    refused = technician.post(at(case, "pairs"))
    _job_ends_as("failed")
    given_up = technician.get(at(case, "pairs"))
    not_theirs = outsider.post(at(case, "pairs"))
    again = technician.post(at(case, "pairs"))
    run_jobs()
    found = technician.get(at(case, "pairs"))

    assert (waiting.data["search"], waiting.data["pairs"]) == ("on its way", [])
    assert (refused.status_code, refused.data["code"]) == (409, "no_pairs_wanted")
    assert given_up.data["search"] == "given up"
    assert not_theirs.status_code == 403
    assert (again.status_code, again.data["search"]) == (202, "on its way")
    assert found.data["search"] == "done"
    ends = [{each["first"]["suspect"], each["second"]["suspect"]} for each in found.data["pairs"]]
    assert {FEED_FAULT, GROUND_FAULT} in ends
    assert outsider.get(at(sound, "pairs")).status_code == 404
    assert technician.get(at(sound, "pairs")).data["search"] == "not needed"
