"""The reading that decided, drawn with model and meter apart, and the history of verdicts."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from cases.models import Case, LoggedReading
from cases.services.cases import claim_fault
from cases.services.readings import add_reading, correct_reading
from cases.services.rejudging import take_over
from cases.views.range_bars import RangeBars, range_bars
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    MONDAY,
    SOUND_READINGS,
    Cast,
    judgement_on,
    logged,
    one_reading,
    shared,
)
from tests.jobs import run_jobs
from tests.pages.words import words_of
from tests.redrawn import LATER, POOR_JOINTS, redrawn


@pytest.fixture
def technician(cast: Cast, visit) -> Client:
    return visit(cast.technician)


def _bars(case: Case) -> RangeBars:
    before = judgement_on(case)
    found = range_bars(before, before.claim or before.healthy, None)
    assert found is not None
    return found


def test_the_bars_of_meter_and_model_stand_apart_and_say_by_how_much(cast: Cast, fuel_pump) -> None:
    """5.49 V are lost in the feed; no resistance in the ground wire, which lies behind TP3, takes
    more than a sound feed loses there. The bar of that claim ends before the meter's begins."""
    case = logged(cast, fuel_pump, FEED_READINGS, claim=GROUND_FAULT)
    bars = _bars(case)
    read, _healthy, claimed = bars.rows

    assert [row.mark for row in bars.rows] == ["read", "healthy", "claimed"]
    assert bars.title == "The reading that decided"
    assert bars.verdict.startswith("The claim is off by")
    assert claimed.low > read.high or claimed.high < read.low
    assert all(0 < row.low <= row.at <= row.high < 100 for row in bars.rows)


def test_the_meters_bar_is_its_percent_its_counts_and_its_last_digit(cast: Cast, fuel_pump) -> None:
    """0.5 % of 6.79 V is 33.95 mV, two counts of 10 mV are 20 mV, half a count is 5 mV."""
    before = judgement_on(logged(cast, fuel_pump, FEED_READINGS))
    at_pump = next(reading for reading in before.readings if reading.place == "TP2")

    assert at_pump.meter_reach == pytest.approx(0.05895, abs=1e-4)


def test_where_readings_cannot_say_the_bars_overlap_and_nothing_is_said_to_be_off(
    cast: Cast, fuel_pump
) -> None:
    bars = _bars(logged(cast, fuel_pump, SOUND_READINGS, claim=FEED_FAULT))
    read, healthy, claimed = bars.rows

    assert bars.title == "The reading that comes nearest to telling"
    assert bars.verdict == ""
    assert max(read.low, healthy.low, claimed.low) < min(read.high, healthy.high, claimed.high)


def test_a_verdict_of_an_older_engine_has_words_and_no_bars(cast: Cast, fuel_pump) -> None:
    """Verdicts that were kept before did not tell model and meter apart."""
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    before = judgement_on(case)
    older = before.model_copy(
        update={
            "readings": tuple(
                reading.model_copy(update={"meter_reach": None}) for reading in before.readings
            )
        }
    )

    assert range_bars(older, older.healthy, None) is None


def test_the_page_draws_what_decided_and_says_all_of_it_in_words(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    answer = technician.get(reverse("cases:case", args=[case.pk]))
    words = words_of(answer)

    assert "The reading that decided: TP3" in words
    assert "The circuit in order is off by" in words
    assert "the meter may be off by" in words
    assert "the parts' tolerances allow" in words
    assert answer.content.count(b'class="range-bar"') == 3
    assert reverse("cases:verdicts", args=[case.pk]).encode() in answer.content


def test_the_history_says_why_each_verdict_was_given_anew(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=GROUND_FAULT)
    ground_drop = LoggedReading.objects.get(case=case, place_key="TP4")
    correct_reading(
        reading=ground_drop,
        correction=one_reading("TP4", "prime", "0.08"),
        reason="read again",
        by=cast.technician,
        at=MONDAY,
    )
    claim_fault(case=case, suspect=FEED_FAULT, by=cast.technician, at=MONDAY)
    words = words_of(technician.get(reverse("cases:verdicts", args=[case.pk])))
    newest, older, second, first = words.split("Why:")[1:]

    assert "The claim: C40" in newest
    assert "Corrected or taken out: TP4 in 'prime', 0.07" in older
    assert "New reading: TP4 in 'prime', 0.08" in older
    assert "The claim: W4" in second
    assert "The first verdict" in first
    assert words.count("revision 1; engine") == 4


def test_the_history_names_the_revision_that_was_taken_over_and_what_it_changed(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    take_over(rejudgement=case.rejudgements.get(), by=cast.technician, at=LATER)
    words = words_of(technician.get(reverse("cases:verdicts", args=[case.pk])))
    newest = words.split("Why:")[1]

    assert newest.startswith(" Revision 2 of the circuit, no longer 1.")
    assert "it was 'fits' and is 'cannot say' now" in newest
    assert "taken over" in words


def test_others_see_the_history_of_a_shared_case_without_people(
    cast: Cast, fuel_pump, visit
) -> None:
    case = shared(logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT), by=cast.technician)
    words = words_of(visit(cast.outsider).get(reverse("cases:verdicts", args=[case.pk])))

    assert "The first verdict" in words
    assert "tarn" not in words.lower()


def test_the_history_costs_as_many_queries_for_eight_verdicts_as_for_two(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    address = reverse("cases:verdicts", args=[case.pk])
    technician.get(address)
    with CaptureQueriesContext(connection) as for_two:
        technician.get(address)
    for suspect in (GROUND_FAULT, FEED_FAULT) * 3:
        claim_fault(case=case, suspect=suspect, by=cast.technician, at=MONDAY)
    with CaptureQueriesContext(connection) as for_eight:
        technician.get(address)

    assert case.verdicts.count() == 8
    assert len(for_eight) == len(for_two)


def test_a_minimum_is_judged_as_a_bound_and_the_page_says_how_it_was_taken(
    cast: Cast, fuel_pump, technician
) -> None:
    """6.79 V accuse where they are steady; as the least that was caught they may be a dip."""
    case = logged(cast, fuel_pump, "prime\nTP1 12.35", claim=FEED_FAULT)
    add_reading(
        case=case,
        reading=one_reading("TP2", "prime", "6.79", statistic="minimum"),
        by=cast.technician,
        at=MONDAY,
    )
    before = judgement_on(case)
    words = words_of(technician.get(reverse("cases:case", args=[case.pk])))

    assert before.healthy.outcome == "fits"
    assert before.claim is not None
    assert before.claim.outcome == "cannot say"
    assert "TP2 in 'prime' is a minimum: the steady figure lies there or above" in words
