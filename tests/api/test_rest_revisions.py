"""Revisions over REST: what changed, who saved first, and what a case makes of a newer one.

Common practice, no source.
"""

import pytest

from cases.models import Case
from circuits.models import Circuit
from tests.api.rest import program_of
from tests.cast import FEED_FAULT, FEED_READINGS, logged, publish
from tests.jobs import run_jobs
from tests.redrawn import POOR_JOINTS, PUMP, redrawn

REVISIONS = "/api/circuits/fuel-pump/revisions/"
SHORTER = PUMP.replace("K87 - INa    1.5 mm2, 1.6 m", "K87 - INa    1.5 mm2, 1.2 m")
LONGER = PUMP.replace("K87 - INa    1.5 mm2, 1.6 m", "K87 - INa    1.5 mm2, 1.8 m")


def test_what_changed_is_told_value_by_value(technician, cast, fuel_pump) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    told = technician.get(f"{REVISIONS}2/changes/").data
    authors = [row["author"] for row in technician.get(REVISIONS).data["results"]]

    (change,) = told["differences"]
    assert (told["old"], told["new"], authors) == (1, 2, ["tove", "tarn"])
    assert (change["section"], change["name"], change["way"]) == ("parts", "W3", "changed")
    assert change["words"].startswith("W3: joints 2 mOhm became joints 1.1 Ohm")
    assert technician.get(f"{REVISIONS}2/changes/?since=2").data["differences"] == []
    assert technician.get(f"{REVISIONS}2/changes/?since=x").status_code == 400
    assert technician.get(f"{REVISIONS}2/changes/?since=9").status_code == 404


@pytest.mark.parametrize("as_json", [True, False])
def test_the_second_to_save_gets_the_difference_and_nothing_is_stored(
    technician, cast, fuel_pump, as_json
) -> None:
    owner = program_of(cast.owner)
    assert (
        owner.post(
            REVISIONS, {"note": "W2", "redrawn": True, "text": LONGER, "base": 1}
        ).status_code
        == 201
    )
    if as_json:
        answer = technician.post(
            REVISIONS, {"note": "W2 too", "redrawn": True, "text": SHORTER, "base": 1}
        )
    else:
        answer = technician.post(
            f"{REVISIONS}?note=W2&base=1&redrawn=true", SHORTER, content_type="text/plain"
        )
    conflict = answer.data["conflict"]

    assert (answer.status_code, answer.data["code"]) == (409, "revision_moved_on")
    assert (conflict["base"], conflict["newest"]) == (1, 2)
    assert conflict["theirs"] == ["W2: 1.6 m became 1.8 m"]
    assert conflict["mine"] == ["W2: 1.6 m became 1.2 m"]
    assert [clash["name"] for clash in conflict["clashes"]] == ["W2"]
    assert Circuit.objects.get().revisions.count() == 2
    again = {"note": "W2 too", "redrawn": True, "text": conflict["merged"], "base": 2}
    assert technician.post(REVISIONS, again).status_code == 201


def test_whoever_does_not_say_what_theirs_was_made_from_is_asked(technician, fuel_pump) -> None:
    silent = technician.post(REVISIONS, {"note": "W2", "redrawn": True, "text": LONGER})
    beyond = technician.post(REVISIONS, {"note": "W2", "redrawn": True, "text": LONGER, "base": 5})

    assert (silent.status_code, silent.data["errors"][0]["field"]) == (400, "base")
    assert "the newest is 1" in silent.data["detail"]
    assert (beyond.status_code, beyond.data["code"]) == (400, "unknown_revision")


def test_the_shop_reads_which_verdicts_change_and_settles_them(
    technician, outsider, cast, case: Case, fuel_pump
) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    (row,) = technician.get("/api/rejudgements/?waiting=true").data["results"]
    address = f"/api/rejudgements/{row['id']}/"

    assert (row["case"], row["revision"], row["earlier_revision"]) == (case.pk, 2, 1)
    assert row["why"] == "Measured again."
    assert any("would be 'fits'" in words for words in row["changes"])
    assert technician.get(address).data["result"]["outcome"] == row["outcome"]
    assert outsider.get("/api/rejudgements/").data["results"] == []
    assert outsider.get(address).status_code == 404
    assert outsider.post(f"{address}settlement/", {"how": "leave"}).status_code == 404
    assert technician.post(f"{address}settlement/", {"how": "forget"}).status_code == 400

    settled = technician.post(f"{address}settlement/", {"how": "take over"})
    again = technician.post(f"{address}settlement/", {"how": "leave"})
    assert (settled.status_code, settled.data["settlement"]) == (200, "taken over")
    assert (again.status_code, again.data["code"]) == (409, "already_settled")
    assert technician.get(f"/api/cases/{case.pk}/").data["circuit"]["revision"] == 2
    assert technician.get("/api/rejudgements/?waiting=true").data["results"] == []


def test_a_list_of_rejudgements_costs_the_same_for_one_as_for_three(
    technician, cast, case, fuel_pump, django_assert_num_queries
) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    technician.get("/api/rejudgements/")  # the first use of a token is noted
    with django_assert_num_queries(3):
        few = technician.get("/api/rejudgements/").data["count"]
    for _ in range(2):
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    redrawn(fuel_pump, ("3.1 m, joints 2 mOhm", "3.1 m, joints 1.2 Ohm"), by=cast.trainer)
    run_jobs()
    with django_assert_num_queries(3):
        more = technician.get("/api/rejudgements/").data["count"]

    assert (few, more) == (1, 4)


def test_pins_are_ticked_and_a_circuit_is_confirmed_by_a_program(
    technician, outsider, fuel_pump
) -> None:
    pins = "/api/circuits/fuel-pump/pins/"
    technician.post(pins, {"pins": ["PP", "PN"]})
    answer = outsider.post(pins, {"pins": ["PP", "PN"], "checked": False})
    ticked = {row["pin"]: row["current"] for row in answer.data["pins"] if row["current"]}
    confirmed = technician.post(
        "/api/circuits/fuel-pump/confirmations/", {"make": "Tolvane", "model": "Juniver"}
    )
    refused = technician.post(
        "/api/circuits/fuel-pump/confirmations/",
        {"make": "Tolvane", "model": "Juniver", "note": "1G4AH59H45G118341"},
    )

    assert {pin: [tick["checked_by"] for tick in ticks] for pin, ticks in ticked.items()} == {
        "PP": ["tarn"],
        "PN": ["tarn"],
    }
    assert technician.post(pins, {"pins": ["nowhere"]}).status_code == 400
    assert (confirmed.status_code, confirmed.data["confirmations"][0]["revision"]) == (201, 1)
    assert (refused.status_code, refused.data["errors"][0]["field"]) == (400, "note")


def test_a_program_learns_what_a_fault_of_a_shared_part_does_elsewhere(
    technician, cast, fuel_pump
) -> None:
    publish("horn.txt", by=cast.technician)
    plain = technician.get("/api/circuits/fuel-pump/sheets/").data
    told = technician.get("/api/circuits/fuel-pump/sheets/?fault=resistance:Wg").data

    assert (plain["others"][0]["circuit"], plain["others"][0]["shared"]) == ("horn", ["Wg"])
    assert (plain["others"][0]["fault_is_there"], plain["ends"]) == (None, [])
    assert told["others"][0]["fault_is_there"]
    assert told["others"][0]["changes"]
    assert technician.get("/api/circuits/fuel-pump/sheets/?fault=x").status_code == 400
