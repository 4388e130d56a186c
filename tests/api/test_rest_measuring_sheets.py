"""Test sheets and bench sheets over REST: the same checks as on the page, and where to log them.

Relay: 85 ohm +-10 % (a relay maker's data for a mini ISO relay).
"""

import pytest

from tests.cast import logged, publish

CHECKS = "/api/circuits/horn/checks/"
BENCH = "/api/circuits/horn/bench-checks/"


@pytest.fixture
def horn(cast):
    return publish("horn.txt", by=cast.technician)


def test_the_checks_of_a_part_say_where_each_reading_is_logged(technician, horn) -> None:
    answer = technician.get(CHECKS, {"part": "LOW"})
    places = {check["what"]: check["place"] for check in answer.data["checks"]}

    assert answer.status_code == 200
    assert places["source: source under load"] == "TP1"
    assert places["outputs: across LOW, at work"] == "TP2"
    assert places["powers: feed of LOW"] == "LOp - BN"
    assert answer.data["precedence"].startswith("The maker's procedure")


def test_a_check_asked_for_can_be_logged_as_it_says(technician, horn, cast) -> None:
    check = technician.get(BENCH, {"part": "K4"}).data["checks"][0]
    reading = {"place": check["place"], "phase": check["phase"], "text": "OL"}
    case = logged(cast, horn)
    made = technician.post(f"/api/cases/{case.pk}/readings/", {"readings": [reading]})

    assert check["expected"] == "76.50 Ohm to 93.50 Ohm"
    assert made.status_code == 201, made.data


@pytest.mark.parametrize("at", [CHECKS, BENCH])
def test_an_unknown_part_is_told_with_those_there_are(technician, horn, at) -> None:
    for part in ("K9", ""):
        answer = technician.get(at, {"part": part})

        assert (answer.status_code, answer.data["code"]) == (404, "unknown_subject")
        assert "K4" in answer.data["detail"]


def test_a_circuit_that_belongs_to_licensed_people_gets_no_sheet(technician, cast) -> None:
    publish("power_steering.txt", by=cast.technician, swap=("near-airbag", "airbag"))
    answer = technician.get("/api/circuits/power-steering/checks/", {"part": "EPS"})

    assert (answer.status_code, answer.data["code"]) == (409, "no_test_sheet")
    assert "maker's procedure" in answer.data["detail"]


def test_the_next_readings_of_a_case_come_with_what_each_would_mean(
    technician, outsider, cast, horn
) -> None:
    case = logged(cast, horn)
    at = f"/api/cases/{case.pk}/next-readings/"
    answer = technician.get(at)

    assert answer.status_code == 200
    assert answer.data["schema"] == "copperlog-next/1"
    first = answer.data["readings"][0]
    assert first["below"]["suspects"]
    assert first["above"]["suspects"]
    total = sum(each["probability"] for each in answer.data["likely"]) + answer.data["outside"]
    assert 0 < total <= 1.001
    assert outsider.get(at).status_code == 404


def test_no_next_reading_is_proposed_for_licensed_work(technician, cast) -> None:
    case = logged(
        cast, publish("power_steering.txt", by=cast.technician, swap=("near-airbag", "airbag"))
    )
    answer = technician.get(f"/api/cases/{case.pk}/next-readings/")

    assert (answer.status_code, answer.data["code"]) == (409, "not_for_proposals")


def test_the_work_after_a_repair_is_added_ticked_and_seen_by_its_shop_alone(
    technician, outsider, cast, horn
) -> None:
    case = logged(cast, horn)
    at = f"/api/cases/{case.pk}/after-work/"
    added = technician.post(at, {"kind": "coding", "words": "module taught"})
    ticked = technician.put(at, {"key": "own 1", "done": True})
    wrong = technician.post(at, {"kind": "magic", "words": "wave"})

    assert added.status_code == 201
    assert [line["key"] for line in added.data["lines"]] == ["own 1"]
    assert ticked.data["lines"][0]["done_by"] == cast.technician.username
    assert (wrong.status_code, wrong.data["errors"][0]["field"]) == (400, "kind")
    assert outsider.get(at).status_code == 404
