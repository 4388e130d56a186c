"""A case over REST from the first reading to the proof: the pump's feed joint of tests/cast.py."""

import csv
import io

import pytest

from cases.models import Case, LoggedReading, Verdict
from tests.api.rest import program_of
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
from tests.readings import readings

VEHICLE = {"make": "Tolvane", "model": "Juniver", "year": 2016, "plate": "TEST 042"}
COMPLAINT = "Loses power on the motorway after half an hour."


def lines(table: str, **same: object) -> list[dict[str, object]]:
    return [
        reading.model_dump(mode="json", exclude_defaults=True)
        for reading in readings(table, **same)
    ]


def new_case(**changes: object) -> dict[str, object]:
    usual = {"shop": "kestrel", "vehicle": VEHICLE, "complaint": COMPLAINT, "circuit": "fuel-pump"}
    return {**usual, **changes}


@pytest.fixture
def case(cast, fuel_pump) -> Case:
    return logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)


@pytest.fixture
def blank_case(cast, fuel_pump) -> Case:
    """A case without a reading, for tests of what is refused."""
    return logged(cast, fuel_pump)


def at(case: Case, deed: str = "") -> str:
    return f"/api/cases/{case.pk}/{f'{deed}/' if deed else ''}"


# ------------------------------------------------------------------------------ from the start


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


# ------------------------------------------------------------------------- verdicts, the table


def test_the_history_of_verdicts(technician, case) -> None:
    asked = technician.post(at(case, "verdicts"))
    rows = technician.get(at(case, "verdicts")).data["results"]
    oldest = technician.get(at(case, f"verdicts/{rows[-1]['id']}"))

    assert asked.status_code == 201
    assert asked.data["outcome"] == "fits"
    assert asked.data["result"]["schema"] == "copperlog-verdict/1"
    assert [row["claim"] for row in rows] == [FEED_FAULT, FEED_FAULT, ""]
    assert oldest.data["result"]["claim"] == ""
    assert Verdict.objects.count() == 3


def test_a_case_without_readings_is_not_judged(technician, cast, fuel_pump) -> None:
    answer = technician.post(at(logged(cast, fuel_pump), "verdicts"))

    assert (answer.status_code, answer.data["code"]) == (409, "nothing_to_judge")


def test_the_log_goes_out_as_a_table_and_comes_back(technician, cast, case, fuel_pump) -> None:
    table = technician.get(at(case, "readings"), HTTP_ACCEPT="text/csv")
    rows = list(csv.DictReader(io.StringIO(table.content.decode())))
    other = logged(cast, fuel_pump)
    answer = technician.post(at(other, "readings"), table.content, content_type="text/csv")
    back = technician.get(at(other, "readings"), {"format": "csv"})

    assert table["Content-Type"].startswith("text/csv")
    assert [row["reading"] for row in rows] == ["12.35", "6.79", "5.49", "0.07"]
    assert answer.status_code == 201
    assert back.content == table.content


def test_a_bad_line_of_a_table_is_told_by_its_number(technician, case) -> None:
    table = "place,phase,reading\nTP1,run,14.12\nTP2,run,lots\n"
    answer = technician.post(at(case, "readings"), table, content_type="text/csv")

    assert answer.status_code == 400
    assert [error["line"] for error in answer.data["errors"]] == [3]
    assert case.readings.count() == 4


# --------------------------------------------------------------------- sharing, other shops


def test_a_case_that_is_not_shared_does_not_exist_for_others(outsider, case) -> None:
    assert outsider.get(at(case)).status_code == 404
    assert outsider.get("/api/cases/").data["count"] == 0


def test_a_shared_case_leaves_vin_plate_and_people_in_the_shop(technician, outsider, case) -> None:
    preview = technician.get(at(case, "share"))
    shared_ = technician.put(at(case, "share"))
    seen = outsider.get(at(case))
    text = str(seen.data) + str(outsider.get(at(case, "document")).data)

    assert preview.data["is_shared"] is False
    assert shared_.data["shared_at"] is not None
    assert seen.data["vehicle"]["make"] == "Tolvane"
    assert seen.data["readings"][1]["text"] == "6.79"
    for private in ("TEST 042", "1G4AH59H45G118341", "tarn", "Ellery", "odile"):
        assert private not in text
        assert private not in str(preview.data["seen_by_others"])
    assert {key: seen.data[key] for key in seen.data if key != "shared_at"} == {
        key: value for key, value in preview.data["seen_by_others"].items() if key != "shared_at"
    }


def test_a_share_is_taken_back(technician, outsider, case) -> None:
    technician.put(at(case, "share"))
    answer = technician.delete(at(case, "share"))
    twice = technician.delete(at(case, "share"))

    assert answer.data["shared_at"] is None
    assert outsider.get(at(case)).status_code == 404
    assert (twice.status_code, twice.data["code"]) == (409, "not_shared")


def test_others_may_read_a_shared_case_and_change_nothing(technician, outsider, case) -> None:
    technician.put(at(case, "share"))
    reading = case.readings.first()
    deeds = [
        ("put", "facts", {"vehicle": VEHICLE, "complaint": "x"}),
        ("put", "circuit", {"circuit": "fuel-pump"}),
        ("put", "claim", {"suspect": GROUND_FAULT}),
        ("delete", "claim", None),
        ("put", "repair", {"outcome": "fixed"}),
        ("put", "withdrawal", {"reason": "x"}),
        ("get", "share", None),
        ("put", "share", None),
        ("delete", "share", None),
        ("post", "readings", {"readings": lines(SOUND_READINGS)}),
        (
            "post",
            f"readings/{reading.pk}/correction",
            {"reading": {"place": "TP1", "phase": "prime", "text": "1"}, "reason": "x"},
        ),
        ("post", "verdicts", None),
    ]
    for method, deed, body in deeds:
        answer = getattr(outsider, method)(at(case, deed), body)

        assert answer.status_code == 403, (method, deed, answer.data)
        assert answer.data["code"] in ("not_your_case", "owners_only")
    for deed in ("", "readings", "verdicts", "similar", "document"):
        assert outsider.get(at(case, deed)).status_code == 200


# ------------------------------------------------------------------------------------ exchange


def test_a_case_goes_out_and_comes_back_without_loss(technician, cast, fuel_pump) -> None:
    case = repaired(
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT),
        SOUND_READINGS,
        by=cast.technician,
    )
    document = technician.get(at(case, "document")).data
    answer = technician.post("/api/shops/kestrel/cases/", document)
    back = technician.get(f"{answer['Location']}document/").data

    assert document["schema"] == "copperlog-case/1"
    assert answer.status_code == 201
    differing = {name for name in document if back[name] != document[name]}
    assert differing == {"origin"}


def test_a_document_with_a_flaw_is_refused_whole(technician, case) -> None:
    document = technician.get(at(case, "document")).data
    document["readings"][1]["text"] = "lots"
    bad_line = technician.post("/api/shops/kestrel/cases/", document)
    bad_field = technician.post("/api/shops/kestrel/cases/", {**document, "schema": "other/9"})

    assert bad_line.status_code == 400
    assert "lots" in str(bad_line.data["errors"])
    assert [error["field"] for error in bad_field.data["errors"]] == ["schema"]
    assert Case.objects.count() == 1


def test_a_moment_far_from_greenwich_comes_in_as_utc(technician, case) -> None:
    """PostgreSQL refuses offsets of 16 hours and more; 22:27 west of UTC is the next morning."""
    document = technician.get(at(case, "document")).data
    far = technician.post(
        "/api/shops/kestrel/cases/", {**document, "opened_at": "2026-03-01T03:00:00-22:27"}
    )
    too_far = technician.post(
        "/api/shops/kestrel/cases/", {**document, "opened_at": "0001-01-01T00:00:00+01:00"}
    )

    assert far.data["opened_at"] == "2026-03-02T01:27:00Z"
    assert [error["field"] for error in too_far.data["errors"]] == ["opened_at"]


def test_a_document_comes_only_into_ones_own_shop(outsider, technician, case) -> None:
    document = technician.get(at(case, "document")).data

    assert outsider.post("/api/shops/kestrel/cases/", document).status_code == 404


# -------------------------------------------------------------------------------------- search


def test_search_finds_both_faults_that_starve_the_pump_and_what_parts_them(
    technician, cast, fuel_pump
) -> None:
    """6.8 V at the pump with 12.35 V at the battery is the feed or the ground; TP3, TP4 tell."""
    feed = repaired(
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT),
        SOUND_READINGS,
        by=cast.technician,
    )
    ground = repaired(
        logged(cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT),
        SOUND_READINGS,
        by=cast.technician,
    )
    asked = [
        {"place": "TP1", "phase": "prime", "text": "12.35"},
        {"place": "TP2", "phase": "prime", "text": "6.8 V"},
    ]
    answer = technician.post("/api/search/", {"circuit": "fuel-pump", "readings": asked})
    hits = [hit for group in answer.data["groups"] for hit in group["hits"]]

    assert {hit["case"]["id"] for hit in hits} == {feed.pk, ground.pk}
    assert {parting["place"] for parting in answer.data["partings"]} >= {"TP4"}
    for hit in hits:
        points = sum(reason["points"] for reason in hit["reasons"])
        assert points == pytest.approx(hit["score"], abs=1e-6)
        assert any("6.8" in reason["words"] for reason in hit["reasons"])


def test_similar_cases_of_an_open_case(technician, cast, case, fuel_pump) -> None:
    old = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    answer = technician.get(at(case, "similar"))
    hits = [hit["case"]["id"] for group in answer.data["groups"] for hit in group["hits"]]

    assert old.pk in hits
    assert case.pk not in hits


def test_search_finds_nothing_of_what_is_not_shared(outsider, case) -> None:
    asked = {
        "circuit": "fuel-pump",
        "words": "motorway",
        "codes": ["P0087"],
        "readings": lines(FEED_READINGS),
    }
    answer = outsider.post("/api/search/", asked)

    assert answer.data["nothing_similar"] is True
    assert answer.data["compared"] == 0
    assert answer.data["spelled"] == {}


@pytest.mark.parametrize(
    ("asked", "status", "code"),
    [
        ({"readings": [{"place": "TP1", "phase": "prime", "text": "1"}]}, 409, "circuit_not_known"),
        (
            {
                "circuit": "fuel-pump",
                "readings": [{"place": "TP1", "phase": "prime", "text": "1,500"}],
            },
            400,
            "bad_rows",
        ),
        ({"circuit": "fuel-pmp"}, 400, "bad_fields"),
        ({"limit": 0}, 400, "bad_fields"),
        ({"words": ["motorway"]}, 400, "bad_fields"),
        ({}, 200, None),
    ],
)
def test_a_search_that_cannot_be_made_says_why(technician, blank_case, asked, status, code) -> None:
    answer = technician.post("/api/search/", asked)

    assert answer.status_code == status
    assert answer.data.get("code") == code


def test_search_costs_the_same_queries_for_two_hits_as_for_nine(
    technician, cast, fuel_pump, django_assert_max_num_queries
) -> None:
    asked = {"circuit": "fuel-pump", "readings": lines(FEED_READINGS), "limit": 50}
    counts = []
    for more in (2, 7):
        for _ in range(more):
            logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
        technician.post("/api/search/", asked)
        with django_assert_max_num_queries(40) as queries:
            technician.post("/api/search/", asked)
        counts.append(len(queries))

    assert counts[0] == counts[1]


def test_a_trainer_of_another_shop_is_an_outsider_too(cast, case) -> None:
    assert program_of(cast.trainer).get(at(case)).status_code == 404
