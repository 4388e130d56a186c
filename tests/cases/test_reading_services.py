"""Readings through their services: kept as typed, corrected by newer lines, refused in words."""

import pytest
from django.db import IntegrityError, transaction

from cases.documents.readings import NewReading
from cases.errors import (
    AlreadyCorrected,
    BadFact,
    BadRig,
    BadRows,
    CaseError,
    CircuitNotKnown,
    PhaseNotInCircuit,
    PlaceNotInCircuit,
    SentBefore,
    UnreadableReading,
)
from cases.models import LoggedReading
from cases.services.cases import (
    choose_circuit,
    claim_fault,
)
from cases.services.readings import add_reading, add_readings, correct_reading
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    MONDAY,
    Cast,
    logged,
    one_reading,
)


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
