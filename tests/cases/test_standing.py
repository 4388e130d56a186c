"""How well a case stands, rule by rule. Circuit: a fuel pump, 12.35 V at the battery, prime.

battery --relay--[W2]--[inertia]--[W3]--[C40]--(pump 4.55 A)--[W4]--pillar--

Sums by hand, common practice, no source: 1.1 Ohm in the feed at 4.55 A drops 5.0 V, so the pump
has 6.79 V of 11.71, and the feed drop is 5.49 V instead of 0.56.
"""

from datetime import timedelta
from typing import Any

import pytest

from cases.documents.cases import Repair
from cases.models import HEALTHY, HELD, Case, EarnedStanding, Outcome
from cases.services.after_work import tick_after_work
from cases.services.cases import claim_fault, log_case, record_repair, withdraw_case
from cases.services.exchange import export_case, import_case
from cases.services.readings import add_reading, add_readings, correct_reading
from cases.services.sharing import shared_view
from cases.services.shops import set_hold_days
from cases.standing import Standing
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    MONDAY,
    SOUND_READINGS,
    Cast,
    facts,
    logged,
    one_reading,
    publish,
    repaired,
    shared,
)
from tests.readings import readings

UNPLUGGED = {"rig": {"unplugged": ["PUMP"]}}


def standing(case: Case, cast: Cast) -> Standing:
    case = Case.objects.get(pk=case.pk)
    found = shared_view(case, cast.technician, at=MONDAY).standing

    # The copy on the case, which lists use, must say the same as the record.
    assert found.earned == case.earned_standing
    return found


def test_a_story_is_a_note(cast: Cast) -> None:
    found = standing(logged(cast, None), cast)

    assert found.earned == EarnedStanding.NOTE
    assert found.missing == (
        "Choose the circuit.",
        "Claim a fault.",
        "Log a reading from before the repair.",
    )


def test_readings_without_a_claim_are_a_note(cast: Cast, fuel_pump: Revision) -> None:
    found = standing(logged(cast, fuel_pump, FEED_READINGS), cast)

    assert found.earned == EarnedStanding.NOTE
    assert found.missing == ("Claim a fault.",)


def test_a_part_fitted_is_no_evidence_of_a_fault(cast: Cast, fuel_pump: Revision) -> None:
    case = repaired(logged(cast, fuel_pump, claim=FEED_FAULT), by=cast.technician)

    assert standing(case, cast).earned == EarnedStanding.NOTE


def test_a_reading_the_healthy_car_gives_too_leaves_a_claim_a_claim(
    cast: Cast, fuel_pump: Revision
) -> None:
    """Pump unplugged, no current flows: 12.40 V with 1.1 Ohm in the feed and without."""
    case = logged(cast, fuel_pump, claim=FEED_FAULT)
    reading = one_reading("TP2", "prime", "12.40", **UNPLUGGED)
    add_reading(case=case, reading=reading, by=cast.technician, at=MONDAY)
    found = standing(case, cast)

    assert found.earned == EarnedStanding.CLAIMED
    assert "in order would give" in found.missing[0]


def test_loaded_readings_that_one_severity_explains_are_consistent(
    cast: Cast, fuel_pump: Revision
) -> None:
    found = standing(logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT), cast)

    assert found.earned == EarnedStanding.CONSISTENT
    assert "resistance:W1" in found.rivals
    assert set(found.twins) == {"resistance:W2", "resistance:INERT", "resistance:W3"}


def test_an_unloaded_open_shows_but_does_not_carry_a_case(cast: Cast, fuel_pump: Revision) -> None:
    """0.00 V at the unplugged pump proves an open; it was taken without load all the same."""
    case = logged(cast, fuel_pump, claim=FEED_FAULT)
    reading = one_reading("TP2", "prime", "0.00", **UNPLUGGED)
    add_reading(case=case, reading=reading, by=cast.technician, at=MONDAY)
    found = standing(case, cast)

    assert found.earned == EarnedStanding.CLAIMED
    assert "under load" in found.missing[0]


def test_a_lamp_across_the_open_plug_is_a_load(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, claim=FEED_FAULT)
    rig = {"rig": {"unplugged": ["PUMP"], "lamp_watts": 21}}
    at_plug = one_reading("TP2", "prime", "0.00", **rig)
    at_driver = one_reading("TP6", "prime", "0.09")
    add_readings(case=case, readings=[at_plug, at_driver], by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.CONSISTENT


def test_readings_that_another_phase_explains_wait_for_one_that_tells_the_phase(
    cast: Cast, fuel_pump: Revision
) -> None:
    """No volts at the pump in its two seconds of priming, or simply after them?

    The driver holds the relay's pin at 0.1 V while it asks for the pump, common practice, no
    source.
    """
    case = logged(cast, fuel_pump, claim="resistance:K3.con")
    no_volts = one_reading("TP5", "prime", "0.00")
    add_reading(case=case, reading=no_volts, by=cast.technician, at=MONDAY)
    found = standing(case, cast)

    assert found.earned == EarnedStanding.CLAIMED
    assert found.missing == (
        "The car in order would give what was read in 'prime' if it was in 'after': take TP6 "
        "there, or repeat TP5 in 'prime' with somebody at the key.",
    )

    asked_for = one_reading("TP6", "prime", "0.09")
    add_reading(case=case, reading=asked_for, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.CONSISTENT


def test_where_nothing_tells_the_phase_a_reading_that_is_repeated_does(cast: Cast) -> None:
    """A battery that does not sag and no volts at terminal 50: was the key turned at all?"""
    revision = publish("starting_relay.txt", by=cast.technician)
    taken = "crank\n TP1 12.53\n TP3 0.000\n TP6 0.000"
    case = logged(cast, revision, taken, claim="resistance:S2_clutch")
    found = standing(case, cast)

    assert found.earned == EarnedStanding.CLAIMED
    assert "repeat TP1 in 'crank' with somebody at the key" in found.missing[0]

    again = one_reading("TP1", "crank", "12.53")
    add_reading(case=case, reading=again, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.CONSISTENT


def test_amps_that_would_be_right_as_milliamps_are_read_again_first(cast: Cast) -> None:
    """17.5 mA is a car asleep; 17.5 A would empty its battery over dinner."""
    revision = publish("key_off_drain.txt", by=cast.technician)
    taken = "asleep\n TP1 12.62\n TP2 17.5A"
    case = logged(cast, revision, taken, claim="draws-more:F4_load")
    found = standing(case, cast)

    assert found.earned == EarnedStanding.CLAIMED
    assert found.missing == (
        "TP2 in 'asleep' was perhaps written a thousand times too large: read it again.",
    )

    again = one_reading("TP2", "asleep", "17.4A")
    add_reading(case=case, reading=again, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.CONSISTENT


def test_readings_in_another_phase_than_the_complaint_do_not_carry_it(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, complaint_phase="run")
    found = standing(case, cast)

    assert found.earned == EarnedStanding.CLAIMED
    assert "'run'" in found.missing[0]


def test_clean_readings_without_the_symptom_neither_clear_nor_convict(
    cast: Cast, fuel_pump: Revision
) -> None:
    """A relay contact that opens when hot: cold in the bay everything reads as it should."""
    case = logged(cast, fuel_pump, claim="resistance:K3.con")
    cold = readings(SOUND_READINGS, symptom_present="no")
    add_readings(case=case, readings=cold, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.CLAIMED

    hot = [
        one_reading("TP5", "prime", "0.00", symptom_present="yes"),
        one_reading("TP6", "prime", "0.09", symptom_present="yes"),
    ]
    add_readings(case=case, readings=hot, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.CONSISTENT


def test_a_claim_that_does_not_explain_the_readings_is_doubtful(
    cast: Cast, fuel_pump: Revision
) -> None:
    """The drop is in the feed, the claim is the ground: 0.07 V of ground drop speaks against."""
    case = logged(cast, fuel_pump, FEED_READINGS, claim=GROUND_FAULT)
    found = standing(case, cast)

    assert found.earned == EarnedStanding.DOUBTFUL
    assert len(found.earned_by) == 1
    assert case.readings.get(pk=found.earned_by[0]).place_key in ("TP3", "TP4")


@pytest.fixture
def inertia_tripped(cast: Cast, fuel_pump: Revision) -> Case:
    """Read on both sides of the contact side, and across the part: nothing else is left."""
    table = """
            prime
        TP1 12.40
        TP2 0.00
        TP5 12.40
        TP7 0.0
    """
    return logged(cast, fuel_pump, table, claim=FEED_FAULT)


def test_proven_needs_every_rival_excluded_and_names_the_twins(
    cast: Cast, inertia_tripped: Case
) -> None:
    """12.40 V behind the relay and none at the pump: open between, and no place lies between."""
    found = standing(inertia_tripped, cast)

    assert found.earned == EarnedStanding.CONSISTENT
    assert not found.is_proven
    assert "Not told apart yet" in found.missing[-1]

    # The full battery volts from plus to pump plus, and no ground drop: the feed is open, and the
    # pump and its ground are whole, or TP3 would float.
    more = readings("prime\nTP3 12.40\nTP4 0.00")
    add_readings(case=inertia_tripped, readings=more, by=cast.technician, at=MONDAY)
    found = standing(inertia_tripped, cast)

    assert found.earned == EarnedStanding.PROVEN
    assert found.is_proven
    assert found.rivals == ()
    assert set(found.twins) == {"resistance:W2", "resistance:INERT", "resistance:W3"}


def test_a_severity_found_that_is_not_the_one_needed_keeps_a_case_from_proven(
    cast: Cast, inertia_tripped: Case
) -> None:
    """The readings need an open; 0.2 Ohm was found in the joint."""
    more = readings("prime\nTP3 12.40\nTP4 0.00")
    add_readings(case=inertia_tripped, readings=more, by=cast.technician, at=MONDAY)
    claim_fault(
        case=inertia_tripped, suspect=FEED_FAULT, severity=0.2, by=cast.technician, at=MONDAY
    )
    found = standing(inertia_tripped, cast)

    assert found.earned == EarnedStanding.CONSISTENT
    assert any("200 mOhm was found" in words for words in found.missing)


def test_the_same_places_in_order_after_the_repair_verify_it(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    found = standing(repaired(case, SOUND_READINGS, by=cast.technician), cast)

    assert found.earned == EarnedStanding.VERIFIED
    assert len(found.earned_by) == 4
    # Verified says the car is well; who else could have been it is still told.
    assert not found.is_proven
    assert "resistance:W1" in found.rivals


def test_a_repair_without_after_readings_verifies_nothing(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    found = standing(repaired(case, by=cast.technician), cast)

    assert found.earned == EarnedStanding.CONSISTENT
    assert found.missing[0].startswith("Read again after the repair, the same way: ")


@pytest.mark.parametrize(
    "table",
    ["run\nTP2 13.50\nTP3 0.58", "prime\nTP1 12.34\nTP5 12.22"],
    ids=["another phase", "other places"],
)
def test_an_after_reading_elsewhere_counts_as_new_not_as_after(
    cast: Cast, fuel_pump: Revision, table: str
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    found = standing(repaired(case, table, by=cast.technician), cast)

    assert found.earned == EarnedStanding.CONSISTENT


def test_an_after_reading_without_the_load_of_before_does_not_count(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = repaired(
        logged(cast, fuel_pump, "prime\nTP2 6.79", claim=FEED_FAULT), by=cast.technician
    )
    unplugged = one_reading("TP2", "prime", "12.40", stage="after", **UNPLUGGED)
    add_reading(case=case, reading=unplugged, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.CONSISTENT

    loaded = one_reading("TP2", "prime", "11.71", stage="after")
    add_reading(case=case, reading=loaded, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.CONSISTENT
    tick_after_work(case=case, key="unplugged PUMP", done=True, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.VERIFIED


def test_a_minimum_from_before_is_proved_by_a_minimum_and_by_no_steady_figure(
    cast: Cast, fuel_pump: Revision
) -> None:
    """5.49 V of feed drop caught as the least: the steady drop is that or more, 0.56 V in order."""
    case = logged(cast, fuel_pump)
    before = [
        each.model_copy(update={"statistic": "minimum"}) if each.place == "TP3" else each
        for each in readings(FEED_READINGS)
    ]
    add_readings(case=case, readings=before, by=cast.technician, at=MONDAY)
    claim_fault(case=case, suspect=FEED_FAULT, by=cast.technician, at=MONDAY)
    case = repaired(case, SOUND_READINGS, by=cast.technician)
    steady = standing(case, cast)
    least = one_reading("TP3", "prime", "0.56", statistic="minimum", stage="after")
    add_reading(case=case, reading=least, by=cast.technician, at=MONDAY)

    assert steady.earned != EarnedStanding.VERIFIED
    assert any("TP3 in 'prime' (minimum)" in words for words in steady.missing)
    assert standing(case, cast).earned == EarnedStanding.VERIFIED


def test_after_readings_of_a_faulty_circuit_are_doubtful(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    found = standing(repaired(case, FEED_READINGS, by=cast.technician), cast)

    assert found.earned == EarnedStanding.DOUBTFUL
    assert "not in order" in found.because


def test_the_symptom_still_there_after_the_repair_keeps_it_unverified(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = repaired(logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT), by=cast.technician)
    after = readings(SOUND_READINGS, stage="after", symptom_present="yes")
    add_readings(case=case, readings=after, by=cast.technician, at=MONDAY)
    found = standing(case, cast)

    assert found.earned == EarnedStanding.CONSISTENT
    assert "The symptom was still there after the repair." in found.missing


def test_after_readings_alone_without_a_recorded_repair_verify_nothing(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    after = readings(SOUND_READINGS, stage="after")
    add_readings(case=case, readings=after, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.CONSISTENT

    record_repair(
        case=case, repair=Repair(outcome=Outcome.NOT_FIXED), by=cast.technician, at=MONDAY
    )

    assert standing(case, cast).earned == EarnedStanding.CONSISTENT


def test_a_symptom_that_came_seldom_asks_for_more_clean_tries(
    cast: Cast, fuel_pump: Revision
) -> None:
    """One hit in four tries: 0.75^n falls below 0.05 at n = 11 (0.75^10 = 0.056)."""
    seldom: dict[str, Any] = {"tries_before": 4, "hits_before": 1}
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, **seldom)
    case = repaired(case, SOUND_READINGS, by=cast.technician, clean_tries_after=10)
    found = standing(case, cast)

    assert found.earned == EarnedStanding.CONSISTENT
    assert any("11 clean tries" in words for words in found.missing)

    repair = Repair(outcome=Outcome.FIXED, clean_tries_after=11)
    record_repair(case=case, repair=repair, by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.VERIFIED


def test_verified_becomes_held_after_the_shops_own_period(cast: Cast, fuel_pump: Revision) -> None:
    set_hold_days(shop=cast.shop, days=30, by=cast.owner)
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    case = repaired(case, SOUND_READINGS, by=cast.technician, at=MONDAY)

    assert case.standing_at(MONDAY + timedelta(days=29)) == EarnedStanding.VERIFIED
    assert case.standing_at(MONDAY + timedelta(days=30)) == HELD


def test_consistent_alone_is_never_held(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    case = repaired(case, by=cast.technician)

    assert case.standing_at(MONDAY + timedelta(days=1000)) == EarnedStanding.CONSISTENT


def test_a_comeback_lowers_the_case_at_once(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    case = repaired(case, SOUND_READINGS, by=cast.technician)
    comeback = log_case(
        shop=cast.shop,
        facts=facts(complaint="Same again."),
        revision=fuel_pump,
        comeback_of=case,
        by=cast.technician,
        at=MONDAY + timedelta(days=20),
    )
    found = standing(case, cast)

    assert found.earned == EarnedStanding.DOUBTFUL
    assert found.because == "The vehicle came back."
    assert Case.objects.get(pk=case.pk).standing_at(MONDAY + timedelta(days=900)) == "doubtful"

    withdraw_case(case=comeback, reason="another car", by=cast.technician, at=MONDAY)

    assert standing(case, cast).earned == EarnedStanding.VERIFIED


def test_a_correction_can_lower_a_standing(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    slip = case.readings.get(place_key="TP3")
    correct_reading(
        reading=slip,
        correction=one_reading("TP3", "prime", "0.49"),
        reason="typed one digit too many",
        by=cast.technician,
        at=MONDAY,
    )

    assert standing(case, cast).earned == EarnedStanding.DOUBTFUL


def test_a_withdrawn_case_says_why(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    withdraw_case(case=case, reason="Drawing of another year.", by=cast.technician, at=MONDAY)
    found = standing(case, cast)

    assert found.earned == EarnedStanding.WITHDRAWN
    assert found.because == "Withdrawn: Drawing of another year."


def test_a_copied_case_starts_as_a_note_whatever_it_brings(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    case = repaired(case, SOUND_READINGS, by=cast.technician)
    shared(case, by=cast.technician)
    document = export_case(case, by=cast.outsider, at=MONDAY)
    copy = import_case(document=document, shop=cast.other_shop, by=cast.outsider, at=MONDAY)
    copy = Case.objects.get(pk=copy.pk)
    found = shared_view(copy, cast.outsider, at=MONDAY)

    assert copy.copied_from == case
    assert copy.earned_standing == EarnedStanding.NOTE
    # The verdict on what came with it is shown all the same.
    assert found.verdict is not None
    assert found.verdict.outcome == "fits"

    own = readings(FEED_READINGS)
    add_readings(case=copy, readings=own, by=cast.outsider, at=MONDAY)

    assert Case.objects.get(pk=copy.pk).earned_standing == EarnedStanding.CONSISTENT


def test_a_circuit_in_order_is_consistent_and_never_proven(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, SOUND_READINGS, claim=HEALTHY)
    found = standing(case, cast)

    assert found.earned == EarnedStanding.CONSISTENT
    assert not found.is_proven
