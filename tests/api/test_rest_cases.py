"""A case over REST from the first reading to the proof: the pump's feed joint of tests/cast.py."""

import pytest

from cases.models import Case, LoggedReading
from tests.api.rest import COMPLAINT, VEHICLE, at, lines
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    SOUND_READINGS,
    logged,
    repaired,
    shared,
)


def new_case(**changes: object) -> dict[str, object]:
    usual = {"shop": "kestrel", "vehicle": VEHICLE, "complaint": COMPLAINT, "circuit": "fuel-pump"}
    return {**usual, **changes}


def test_a_case_goes_from_first_reading_to_proof(technician, fuel_pump) -> None:
    """1.1 Ohm in the feed: TP4 at 0.07 V clears the ground side, and sound readings prove it."""
    case = technician.post(
        "/api/cases/", new_case(readings=lines(FEED_READINGS), codes=[{"code": "p0087"}])
    )
    address = case["Location"]
    claimed = technician.put(f"{address}claim/", {"suspect": FEED_FAULT})
    repaired_ = technician.put(
        f"{address}repair/", {"part_replaced": "Connector C40", "outcome": "fixed"}
    )
    after = technician.post(
        f"{address}readings/", {"readings": lines(SOUND_READINGS, stage="after")}
    )

    assert case.status_code == 201
    assert case.data["key"] == "kestrel-1"
    assert case.data["codes"][0]["code"] == "P0087"
    assert case.data["circuit"] == {"key": "fuel-pump", "revision": 1}
    assert claimed.data["verdict"]["outcome"] == "fits"
    assert claimed.data["claim_words"].startswith("C40: connector")
    assert repaired_.data["outcome"] == "fixed"
    assert after.status_code == 201
    assert after.data["standing"]["earned"] == "verified"
    assert len(after.data["readings"]) == 8


def test_the_log_shows_predicted_beside_measured(technician, case) -> None:
    answer = technician.get(at(case))
    pump = next(line for line in answer.data["readings"] if line["place"] == "TP2")

    assert (pump["text"], pump["value"]) == ("6.79", 6.79)
    assert pump["healthy"] == pytest.approx(11.71, abs=0.05)
    assert pump["claimed"] == pytest.approx(6.79, abs=0.05)
    assert pump["healthy_distance"] < -5
    assert abs(pump["claimed_distance"]) < 1
    assert pump["by"] == "tarn"


def test_an_odd_vin_is_warned_of_and_kept(technician, fuel_pump) -> None:
    """49 CFR 565.15: 1G4AH59H45G118341 has check digit 4; with 5 it warns, and never refuses."""
    answer = technician.post(
        "/api/cases/", new_case(vehicle={**VEHICLE, "vin": "1G4AH59H55G118341"})
    )

    assert answer.status_code == 201
    assert answer.data["vehicle"]["vin"] == "1G4AH59H55G118341"
    assert "would be" in answer.data["vin_warnings"][0]


def test_facts_are_mended_as_a_whole_and_keep_what_they_were(technician, case) -> None:
    facts = {"vehicle": {**VEHICLE, "make": "Tolvane"}, "complaint": "Dies on the motorway."}
    answer = technician.put(at(case, "facts"), facts)

    assert answer.data["complaint"] == "Dies on the motorway."
    assert case.changes.filter(field="complaint", old=COMPLAINT).exists()


def test_a_circuit_can_be_chosen_later(technician, cast, fuel_pump) -> None:
    case = logged(cast, None)
    before = technician.post(at(case, "readings"), {"readings": lines(FEED_READINGS)})
    answer = technician.put(at(case, "circuit"), {"circuit": "fuel-pump"})
    unknown = technician.put(at(case, "circuit"), {"circuit": "fuel-pmp"})

    assert (before.status_code, before.data["code"]) == (409, "circuit_not_known")
    assert answer.data["circuit"]["key"] == "fuel-pump"
    assert unknown.status_code == 400
    assert "fuel-pump" in unknown.data["errors"][0]["detail"]


def test_a_claim_can_be_taken_back(technician, case) -> None:
    answer = technician.delete(at(case, "claim"))

    assert answer.data["claim"] == ""
    assert answer.data["standing"]["earned"] == "note"


def test_a_claim_may_be_an_open_circuit(technician, case) -> None:
    answer = technician.put(at(case, "claim"), {"suspect": FEED_FAULT, "severity": "Infinity"})

    assert answer.status_code == 200
    assert answer.data["claimed_severity"] == "Infinity"


def test_a_correction_is_a_newer_line(technician, case) -> None:
    wrong = LoggedReading.objects.get(case=case, place_key="TP2")
    answer = technician.post(
        at(case, f"readings/{wrong.pk}/correction"),
        {"reading": {"place": "TP2", "phase": "prime", "text": "6,80 V"}, "reason": "misread"},
    )
    again = technician.post(
        at(case, f"readings/{wrong.pk}/correction"),
        {"reading": {"place": "TP2", "phase": "prime", "text": "6,81 V"}, "reason": "misread"},
    )
    old, new = (
        next(line for line in answer.data["readings"] if line["text"] == text)
        for text in ("6.79", "6,80 V")
    )

    assert answer.status_code == 201
    assert (old["corrected"], new["corrects"], new["value"]) == (True, old["number"], 6.8)
    assert (again.status_code, again.data["code"]) == (409, "already_corrected")


def test_a_withdrawn_case_takes_no_more_entries(technician, case) -> None:
    answer = technician.put(at(case, "withdrawal"), {"reason": "wrong vehicle"})
    later = technician.put(at(case, "claim"), {"suspect": FEED_FAULT})

    assert answer.data["standing_word"] == "withdrawn"
    assert (later.status_code, later.data["code"]) == (409, "case_withdrawn")


# ---------------------------------------------------------------------------------- bad input


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"shop": "corder"}, "shop"),
        ({"shop": ""}, "shop"),
        ({"circuit": "fuel-pmp"}, "circuit"),
        ({"complaint": ""}, "complaint"),
        ({"complaint": "a\0b"}, "complaint"),
        ({"complaint": "x" * 20_001}, "complaint"),
        ({"vehicle": "a car"}, "vehicle"),
        ({"vehicle": {}}, "vehicle.make"),
        ({"vehicle": {**VEHICLE, "year": 10**30}}, "vehicle.year"),
        ({"symptom": "stalls"}, "symptom"),
        ({"codes": [{"code": "P0087", "failure_type": "zz"}]}, "codes.0.failure_type"),
        ({"codes": [{"code": "SPN 168", "fmi": "four"}]}, "codes.0.fmi"),
        ({"readings": [{"place": "TP1"}]}, "readings.0.phase"),
        ({"comeback_of": 4711}, "comeback_of"),
        ({"tries_before": 2, "hits_before": 3}, "hits_before"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_a_bad_field_of_a_case_is_named_and_nothing_is_kept(
    technician, fuel_pump, changes, field
) -> None:
    answer = technician.post("/api/cases/", new_case(**changes))

    assert answer.status_code == 400
    assert field in [error["field"] for error in answer.data["errors"]], answer.data
    assert not Case.objects.exists()


@pytest.mark.parametrize(
    ("reading", "hint"),
    [
        ({"place": "TP9"}, "TP1, TP2"),
        ({"phase": "primed"}, "prime"),
        ({"text": "1,500"}, "1.5 or 1500"),
        ({"text": "about 6"}, "6"),
        ({"text": "6.79 A"}, "V"),
        ({"text": "6.79 MV"}, "mV"),
        ({"unit": "Ohm"}, "V"),
        ({"rig": {"unplugged": ["PUMPP"]}}, "PUMPP"),
    ],
)
def test_every_reading_that_cannot_be_logged_is_told_and_none_is_kept(
    technician, blank_case, reading, hint
) -> None:
    good = {"place": "TP1", "phase": "run", "text": "14.12"}
    bad = {"place": "TP2", "phase": "run", "text": "13.40", **reading}
    answer = technician.post(at(blank_case, "readings"), {"readings": [good, bad, bad]})

    assert answer.status_code == 400
    assert answer.data["code"] == "bad_rows"
    assert [error["line"] for error in answer.data["errors"]] == [2, 3]
    assert hint in answer.data["errors"][0]["detail"], answer.data
    assert not blank_case.readings.exists()


@pytest.mark.parametrize(
    ("body", "code", "hint"),
    [
        ({"suspect": "resistance:C4"}, "unknown_fault", "resistance:C40"),
        ({"suspect": ""}, "bad_fields", "suspect"),
        ({"suspect": FEED_FAULT, "severity": -1}, "bad_fields", "severity"),
        ({"suspect": FEED_FAULT, "severity": "NaN"}, "bad_fields", "severity"),
        ({"suspect": FEED_FAULT, "severity": "much"}, "bad_fields", "severity"),
        ({}, "bad_fields", "suspect"),
    ],
)
def test_a_claim_that_cannot_be_is_refused_with_a_hint(
    technician, blank_case, body, code, hint
) -> None:
    answer = technician.put(at(blank_case, "claim"), body)

    assert answer.status_code == 400
    assert answer.data["code"] == code
    assert hint in answer.data["detail"]
    blank_case.refresh_from_db()
    assert blank_case.claimed_suspect == ""


# ------------------------------------------------------------------------------- lists, filters


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({}, 2),
        ({"circuit": "fuel-pump", "claim": FEED_FAULT}, 1),
        ({"circuit": "other"}, 0),
        ({"shop": "kestrel", "make": "TOLVANE", "model": "juniver"}, 2),
        ({"code": "p0087"}, 2),
        ({"standing": "verified"}, 1),
        ({"outcome": "open"}, 1),
        ({"shared": "true"}, 0),
        ({"opened_from": "2026-03-03"}, 0),
        ({"opened_before": "2026-03-03"}, 2),
        ({"code": "\0"}, 0),
    ],
)
def test_cases_are_listed_by_what_others_may_know_of_them(
    technician, cast, fuel_pump, asked, found
) -> None:
    repaired(
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT),
        SOUND_READINGS,
        by=cast.technician,
    )
    logged(cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT)
    answer = technician.get("/api/cases/", asked)

    if "\0" in asked.get("code", ""):
        assert answer.status_code == 400
    else:
        assert answer.data["count"] == len(answer.data["results"]) == found


@pytest.mark.parametrize(
    "asked",
    [
        {"standing": "excellent"},
        {"outcome": "maybe"},
        {"opened_from": "soon"},
        {"plate": "TEST 042"},
        {"vin": "1"},
    ],
)
def test_a_filter_that_makes_no_sense_is_refused(technician, blank_case, asked) -> None:
    answer = technician.get("/api/cases/", asked)

    assert answer.status_code == 400
    assert [error["field"] for error in answer.data["errors"]] == list(asked)


def test_pages_of_a_list(technician, cast, fuel_pump) -> None:
    for _ in range(3):
        logged(cast, fuel_pump)
    first = technician.get("/api/cases/", {"page_size": 2})
    second = technician.get(first.data["next"])

    assert [row["key"] for row in first.data["results"]] == ["kestrel-3", "kestrel-2"]
    assert [row["key"] for row in second.data["results"]] == ["kestrel-1"]
    assert technician.get("/api/cases/", {"page": 9}).status_code == 404


def test_a_list_costs_the_same_queries_for_two_cases_as_for_fifty(
    outsider, cast, fuel_pump, django_assert_max_num_queries
) -> None:
    for _ in range(2):
        shared(logged(cast, fuel_pump), by=cast.technician)
    outsider.get("/api/cases/")
    with django_assert_max_num_queries(20) as two:
        assert outsider.get("/api/cases/").data["count"] == 2
    for _ in range(48):
        shared(logged(cast, fuel_pump), by=cast.technician)
    with django_assert_max_num_queries(len(two)) as fifty:
        assert len(outsider.get("/api/cases/").data["results"]) == 50

    assert len(fifty) == len(two)
