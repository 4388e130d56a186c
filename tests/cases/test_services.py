"""Cases through their services: who may do what, what is kept, what is refused and how."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from pydantic import ValidationError

from cases.documents.cases import CodeFacts, Repair, VainPart, VehicleFacts
from cases.documents.readings import NewReading
from cases.errors import (
    AlreadyCorrected,
    BadFact,
    BadRig,
    BadRows,
    CaseError,
    CaseWithdrawn,
    CircuitNotKnown,
    NotAMember,
    NothingToJudge,
    NotYourCase,
    OwnersOnly,
    PhaseNotInCircuit,
    PlaceNotInCircuit,
    SentBefore,
    UnknownFault,
    UnreadableReading,
)
from cases.models import Case, CodeStatus, LoggedReading, Outcome, Role, Shop
from cases.services.cases import (
    choose_circuit,
    claim_fault,
    edit_case,
    log_case,
    record_repair,
    take_back_claim,
    withdraw_case,
)
from cases.services.readings import add_reading, add_readings, correct_reading
from cases.services.record import latest_verdict
from cases.services.shops import add_member, open_shop, remove_member, role_in, set_hold_days
from cases.services.verdicts import check_case
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_READINGS,
    MONDAY,
    SOUND_READINGS,
    Cast,
    facts,
    logged,
    one_reading,
    repaired,
)

# ------------------------------------------------------------------------------------ shops


def test_who_opens_a_shop_owns_it(cast: Cast) -> None:
    shop = open_shop(name="  Heron Yard  ", by=cast.outsider, at=MONDAY)

    assert (shop.name, shop.slug) == ("Heron Yard", "heron-yard")
    assert role_in(shop, cast.outsider) == Role.OWNER


@pytest.mark.parametrize("name", ["kestrel lane GARAGE", " ", "!!!"])
def test_a_shop_needs_a_name_of_its_own(cast: Cast, name: str) -> None:
    with pytest.raises(BadFact) as refused:
        open_shop(name=name, by=cast.outsider, at=MONDAY)

    assert refused.value.field == "name"


def test_only_an_owner_takes_people_in_and_out(cast: Cast) -> None:
    with pytest.raises(OwnersOnly):
        add_member(shop=cast.shop, user=cast.outsider, role="owner", by=cast.technician, at=MONDAY)
    with pytest.raises(OwnersOnly):
        remove_member(shop=cast.shop, user=cast.owner, by=cast.technician)
    with pytest.raises(OwnersOnly):
        set_hold_days(shop=cast.shop, days=10, by=cast.outsider)
    assert role_in(cast.shop, cast.outsider) is None


def test_a_shop_keeps_an_owner(cast: Cast) -> None:
    with pytest.raises(BadFact, match="needs an owner"):
        remove_member(shop=cast.shop, user=cast.owner, by=cast.owner)
    with pytest.raises(BadFact, match="needs an owner"):
        add_member(shop=cast.shop, user=cast.owner, role="technician", by=cast.owner, at=MONDAY)
    add_member(shop=cast.shop, user=cast.technician, role="owner", by=cast.owner, at=MONDAY)
    remove_member(shop=cast.shop, user=cast.owner, by=cast.owner)

    assert role_in(cast.shop, cast.owner) is None


def test_an_unknown_role_is_named_with_those_there_are(cast: Cast) -> None:
    with pytest.raises(BadFact, match="technician, trainer, owner"):
        add_member(shop=cast.shop, user=cast.outsider, role="king", by=cast.owner, at=MONDAY)


# ------------------------------------------------------------------------------------ cases


def test_cases_are_numbered_from_one_in_each_shop(cast: Cast) -> None:
    keys = [logged(cast, None).key for _ in range(2)]
    other = logged(cast, None, by=cast.outsider, shop=cast.other_shop)

    assert [*keys, other.key] == ["kestrel-1", "kestrel-2", "corder-1"]


def test_an_outsider_logs_nothing_in_a_shop(cast: Cast) -> None:
    with pytest.raises(NotAMember):
        log_case(shop=cast.shop, facts=facts(), by=cast.outsider, at=MONDAY)
    assert not Case.objects.exists()


def test_a_vehicle_known_by_its_plate_or_vin_is_the_same_vehicle(cast: Cast) -> None:
    first = logged(cast, None)
    second = logged(cast, None, complaint="Wipers dead.")
    elsewhere = logged(cast, None, by=cast.outsider, shop=cast.other_shop)
    stranger = logged(cast, None, vehicle=VehicleFacts(make="Tolvane", model="Juniver"))

    assert second.vehicle == first.vehicle
    assert elsewhere.vehicle != first.vehicle
    assert stranger.vehicle != first.vehicle


def test_a_strange_vin_is_taken(cast: Cast) -> None:
    vehicle = VehicleFacts(make="Tolvane", vin="sgz cz43d13s812715")

    assert logged(cast, None, vehicle=vehicle).vehicle.vin == "SGZCZ43D13S812715"


def test_a_comeback_must_be_of_a_case_one_can_see(cast: Cast) -> None:
    hidden = logged(cast, None)

    with pytest.raises(BadFact, match="not shared with you"):
        log_case(
            shop=cast.other_shop,
            facts=facts(),
            comeback_of=hidden,
            by=cast.outsider,
            at=MONDAY,
        )


def test_changed_facts_keep_what_they_were(cast: Cast) -> None:
    case = logged(cast, None)
    changed = facts(
        complaint="Cuts out after half an hour.",
        codes=(
            CodeFacts(code="p0087", failure_type="1c", module="engine", status=CodeStatus.STORED),
        ),
        parts_in_vain=(VainPart(part="fuel filter"),),
        vehicle=VehicleFacts(make="Tolvane", model="Juniver", plate="TEST 043"),
    )
    edit_case(case=case, facts=changed, by=cast.owner, at=MONDAY + timedelta(hours=1))
    case.refresh_from_db()
    noted = {change.field: (change.old, change.new) for change in case.changes.all()}

    assert case.complaint == "Cuts out after half an hour."
    assert case.codes.get().failure_type == "1C"
    assert noted["complaint"][0] == "Loses power on the motorway after half an hour."
    assert noted["codes"] == ("P0087", "P0087 1C engine stored")
    assert noted["vehicle plate"] == ("TEST 042", "TEST 043")
    assert {change.by for change in case.changes.all()} == {cast.owner}


@pytest.mark.parametrize(
    "told", [{"code": "spn 168", "fmi": 18}, {"code": "SPN 168 fmi18"}, {"code": "SPN 168 FMI 18"}]
)
def test_an_fmi_is_told_beside_its_code_or_written_behind_it(told: dict[str, Any]) -> None:
    """A heavy vehicle's code is a number for what (SPN) and one for how (FMI), SAE J1939-73."""
    code = CodeFacts.model_validate(told)

    assert code.fmi == 18
    assert CodeFacts.model_validate(code.as_data()) == code


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"tries_before": 2, "hits_before": 3}, "more often than it was tried"),
        ({"hits_before": 1}, "more often than it was tried"),
        ({"codes": ({"code": "P0087"}, {"code": "p0087"})}, "P0087 is listed twice"),
        (
            {"codes": ({"code": "spn 168", "fmi": 4}, {"code": "SPN 168 FMI 4"})},
            "SPN 168 FMI 4 is listed twice",
        ),
        ({"codes": ({"code": "SPN 168", "fmi": 4, "failure_type": "11"},)}, "tell one of them"),
    ],
)
def test_facts_that_cannot_be_are_refused_in_words(
    cast: Cast, changes: dict[str, Any], words: str
) -> None:
    with pytest.raises(BadFact, match=words):
        logged(cast, None, **changes)
    assert not Case.objects.exists()


@pytest.mark.parametrize(
    "changes",
    [
        {"complaint": "  "},
        {"complaint": "a\x00b"},
        {"vehicle": {"make": ""}},
        {"vehicle": {"make": "Tolvane", "year": 20166}},
        {"codes": [{"code": "P0087", "failure_type": "1G"}]},
        {"codes": [{"code": "SPN 168", "fmi": 32}]},
        {"codes": [{"code": "SPN 168 FMI 4", "fmi": 5}]},
        {"symptom": "haunted"},
        {"parts_in_vain": [{"part": "pump", "hours": -1}]},
        {"colour": "red"},
    ],
)
def test_facts_of_the_wrong_form_are_refused(changes: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        facts(**changes)


def test_a_withdrawn_case_takes_nothing_more(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump)
    with pytest.raises(BadFact, match="say in a line why"):
        withdraw_case(case=case, reason="  ", by=cast.technician, at=MONDAY)
    withdraw_case(case=case, reason="wrong car", by=cast.technician, at=MONDAY)

    with pytest.raises(CaseWithdrawn):
        add_reading(
            case=case, reading=one_reading("TP2", "prime", "1"), by=cast.technician, at=MONDAY
        )


# --------------------------------------------------------------------------------- readings


def test_digits_are_kept_as_typed(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump)
    typed = ["12.40", "12,4", "12400 mV", "OL", "-", "0"]
    rows = add_readings(
        case=case,
        readings=[one_reading("TP2", "prime", text) for text in typed],
        by=cast.technician,
        at=MONDAY,
    )

    assert [row.text for row in rows] == typed
    assert [row.value for row in rows] == [12.4, 12.4, 12.4, None, None, 0.0]
    assert [row.step for row in rows[:3]] == [0.01, 0.1, 0.001]
    assert [row.over_range for row in rows] == [False, False, False, True, False, False]


@pytest.mark.parametrize(
    ("place", "phase", "changes", "refusal", "words"),
    [
        ("TP22", "prime", {}, PlaceNotInCircuit, "no place 'TP22'; it has TP1, TP2"),
        ("TP2", "cranking", {}, PhaseNotInCircuit, "no phase 'cranking'; it has prime, after"),
        ("TP2", "prime", {"text": "1,500"}, UnreadableReading, "thousands mark"),
        ("TP2", "prime", {"text": "twelve"}, UnreadableReading, "TP2"),
        ("TP2", "prime", {"text": "4 A"}, UnreadableReading, "V is wanted"),
        ("TP2", "prime", {"unit": "A"}, UnreadableReading, "reads V, not A"),
        ("TP2", "prime", {"unit": "furlong"}, UnreadableReading, "no unit that we know"),
        ("TP2", "prime", {"rig": {"unplugged": ["LAMP"]}}, BadRig, "no part LAMP to unplug"),
        ("TP2", "prime", {"rig": {"bridged": [["K30", "X9"]]}}, BadRig, "no connection X9"),
        ("TP2", "prime", {"rig": {"bridged": [["K30", "K30"]]}}, BadRig, "both ends"),
    ],
)
def test_a_reading_that_cannot_be_says_what_is_wrong(
    cast: Cast,
    fuel_pump: Revision,
    place: str,
    phase: str,
    changes: dict[str, object],
    refusal: type[CaseError],
    words: str,
) -> None:
    case = logged(cast, fuel_pump)
    reading = NewReading.model_validate({"place": place, "phase": phase, "text": "12.4", **changes})

    with pytest.raises(refusal, match=words):
        add_reading(case=case, reading=reading, by=cast.technician, at=MONDAY)
    assert not case.readings.exists()


def test_several_readings_are_logged_all_or_none(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump)
    wanted = [
        one_reading("TP2", "prime", "12.4"),
        one_reading("TP9", "prime", "12.4"),
        one_reading("TP2", "prime", "12.4x"),
    ]

    with pytest.raises(BadRows) as refused:
        add_readings(case=case, readings=wanted, by=cast.technician, at=MONDAY)
    assert [(problem.line, problem.column) for problem in refused.value.problems] == [
        (2, "TP9"),
        (3, "TP2"),
    ]
    assert not case.readings.exists()


def test_readings_need_a_circuit_and_the_circuit_can_come_later(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, None, system="not known yet")
    reading = one_reading("TP2", "prime", "6.79")

    with pytest.raises(CircuitNotKnown):
        add_reading(case=case, reading=reading, by=cast.technician, at=MONDAY)
    with pytest.raises(CircuitNotKnown):
        claim_fault(case=case, suspect=FEED_FAULT, by=cast.technician, at=MONDAY)
    choose_circuit(case=case, revision=fuel_pump, by=cast.technician, at=MONDAY)
    add_reading(case=case, reading=reading, by=cast.technician, at=MONDAY)
    case.refresh_from_db()

    assert case.system == "fuel"
    assert case.changes.get(field="circuit").new == "fuel-pump revision 1"


def test_a_correction_is_a_newer_line_and_the_old_one_stays(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, "prime\nTP2 67.9")
    slip = case.readings.get()
    right = one_reading("TP2", "prime", "6.79")

    with pytest.raises(BadFact, match="why the reading is corrected"):
        correct_reading(reading=slip, correction=right, reason="", by=cast.owner, at=MONDAY)
    correct_reading(
        reading=slip, correction=right, reason="decimal point", by=cast.owner, at=MONDAY
    )
    slip.refresh_from_db()

    assert slip.text == "67.9"
    assert [row.text for row in LoggedReading.objects.current()] == ["6.79"]
    with pytest.raises(AlreadyCorrected):
        correct_reading(reading=slip, correction=right, reason="again", by=cast.owner, at=MONDAY)


def test_the_database_itself_refuses_a_value_that_nobody_typed(
    cast: Cast, fuel_pump: Revision
) -> None:
    reading = logged(cast, fuel_pump, "prime\nTP2 6.79").readings.get()
    values = {
        field.attname: getattr(reading, field.attname)
        for field in LoggedReading._meta.concrete_fields
        if field.attname != "id"
    }
    for broken in ({"text": ""}, {"over_range": True}, {"step": -1}, {"lamp_watts": 0}):
        with pytest.raises(IntegrityError), transaction.atomic():
            LoggedReading.objects.create(**{**values, **broken})


def test_the_database_itself_keeps_a_logged_line_as_it_is(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, "prime\nTP2 6.79")
    reading = case.readings.get()
    reading.value = 11.71

    with pytest.raises(IntegrityError, match="log a correction"), transaction.atomic():
        reading.save()
    with pytest.raises(IntegrityError, match="log a correction"), transaction.atomic():
        case.readings.update(text="11.71")
    assert LoggedReading.objects.get().value == 6.79


# -------------------------------------------------------------------------- claim and verdict


def test_a_claim_must_be_a_fault_this_circuit_can_have(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump)

    with pytest.raises(UnknownFault, match="did you mean resistance:C40"):
        claim_fault(case=case, suspect="resistence:C40", by=cast.technician, at=MONDAY)
    with pytest.raises(NotYourCase):
        claim_fault(case=case, suspect=FEED_FAULT, by=cast.outsider, at=MONDAY)


def test_every_change_of_the_evidence_is_judged_and_old_verdicts_stay(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    take_back_claim(case=case, by=cast.technician, at=MONDAY + timedelta(hours=1))
    newest = case.verdicts.first()

    assert newest is not None
    assert [verdict.claimed_suspect for verdict in case.verdicts.all()] == ["", FEED_FAULT, ""]
    assert newest.revision == fuel_pump
    assert case.changes.filter(field="claimed_suspect").count() == 2


def test_what_was_judged_before_is_what_a_check_from_scratch_says(
    cast: Cast, fuel_pump: Revision
) -> None:
    """Readings first, the claim later, after-readings last: three verdicts, one judgement."""
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    repaired(case, SOUND_READINGS, by=cast.technician)
    taken_over = latest_verdict(case)
    check_case(case=case, by=cast.technician, at=MONDAY + timedelta(days=1))

    assert case.verdicts.count() == 4
    assert latest_verdict(case) == taken_over


def test_a_check_with_nothing_to_judge_says_so(cast: Cast, fuel_pump: Revision) -> None:
    with pytest.raises(CircuitNotKnown):
        check_case(case=logged(cast, None), by=cast.technician, at=MONDAY)
    with pytest.raises(NothingToJudge):
        check_case(case=logged(cast, fuel_pump), by=cast.technician, at=MONDAY)


def test_a_check_names_the_rivals_and_the_places_that_part_them(
    cast: Cast, fuel_pump: Revision
) -> None:
    """With the pump's volts alone, a bad feed and a bad ground give the same 6.79 V."""
    case = logged(cast, fuel_pump, "prime\nTP1 12.35\nTP2 6.79", claim=FEED_FAULT)
    verdict = check_case(case=case, by=cast.technician, at=MONDAY)
    document = latest_verdict(case)
    assert document is not None
    assert document.before is not None
    fitting = {entry.suspect for entry in document.before.findings if entry.outcome == "fits"}

    assert verdict.outcome == "fits"
    assert {"resistance:C40", "resistance:W4", "resistance:W1"} <= fitting

    case = logged(cast, fuel_pump, GROUND_READINGS, claim=FEED_FAULT)

    assert check_case(case=case, by=cast.technician, at=MONDAY).outcome == "does not fit"


def test_another_battery_is_no_fault(cast: Cast, fuel_pump: Revision) -> None:
    """11.64 V at the battery: the pump's 11.02 V is 0.946 of it, as in health (0.949).

    Common practice, no source: predictions follow the supply of the day.
    """
    beside = one_reading("TP2", "prime", "11.02", supply_volts=11.64)
    case = logged(cast, fuel_pump)
    add_reading(case=case, reading=beside, by=cast.technician, at=MONDAY)
    document = latest_verdict(case)
    assert document is not None
    assert document.before is not None

    assert document.before.healthy.outcome == "fits"
    assert [reading.noted for reading in document.before.readings] == [False, True]


def test_a_verdict_survives_the_database_with_its_infinities(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, "prime\nTP1 12.40\nTP2 0.00\nTP3 12.40", claim=FEED_FAULT)
    document = latest_verdict(case)
    assert document is not None
    assert document.before is not None
    assert document.before.claim is not None

    assert document.before.claim.severity_high == float("inf")


def test_the_end_of_a_job_is_noted_and_can_be_reopened(cast: Cast) -> None:
    case = logged(cast, None)
    fixed = Repair(outcome=Outcome.FIXED, part_replaced="C40")
    record_repair(case=case, repair=fixed, by=cast.technician, at=MONDAY)
    case.refresh_from_db()

    assert case.closed_at == MONDAY

    again = Repair(outcome=Outcome.OPEN, part_replaced="C40")
    record_repair(case=case, repair=again, by=cast.technician, at=MONDAY)
    case.refresh_from_db()

    assert case.closed_at is None
    assert case.changes.filter(field="outcome").count() == 2


def test_two_cases_logged_at_once_get_two_numbers(cast: Cast) -> None:
    stale = Shop.objects.get(pk=cast.shop.pk)
    logged(cast, None)
    case = log_case(shop=stale, facts=facts(), by=cast.technician, at=MONDAY)

    assert case.number == 2


def test_readings_that_were_sent_twice_are_logged_once(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump)
    sent = [one_reading("TP1", "prime", "12.35"), one_reading("TP2", "prime", "6.79")]
    first, again = (
        add_readings(case=case, readings=sent, by=cast.technician, at=MONDAY, once="a1b2")
        for _ in range(2)
    )
    add_readings(case=case, readings=sent[:1], by=cast.technician, at=MONDAY, once="c3d4")

    assert [row.pk for row in again] == [row.pk for row in first]
    assert case.readings.count() == 3


def test_other_readings_under_the_key_of_a_sending_are_refused_and_not_dropped(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump)
    sent = [one_reading("TP1", "prime", "12.41")]
    add_readings(case=case, readings=sent, by=cast.technician, at=MONDAY, once="a1b2")
    for changed in ([one_reading("TP1", "prime", "12.14")], [*sent, *sent]):
        with pytest.raises(SentBefore, match=r"logged as 12\.41 at TP1"):
            add_readings(case=case, readings=changed, by=cast.technician, at=MONDAY, once="a1b2")

    assert [row.text for row in case.readings.all()] == ["12.41"]


@pytest.mark.parametrize("once", ["\x00", "x" * 400, "'; --", ""])
def test_a_key_that_no_form_draws_names_no_sending(
    cast: Cast, fuel_pump: Revision, once: str
) -> None:
    case = logged(cast, fuel_pump)
    sent = [one_reading("TP1", "prime", "12.41")]
    for _ in range(2):
        add_readings(case=case, readings=sent, by=cast.technician, at=MONDAY, once=once)

    assert case.readings.count() == 2
