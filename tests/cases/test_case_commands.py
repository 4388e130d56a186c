"""The commands on case files: what they print, and the status they end with."""

import json
from pathlib import Path

import pytest

from cases.documents.verdicts import VerdictDocument
from circuits.models import Revision
from tests.cases.case_files import case_file, run
from tests.cast import FEED_FAULT, FEED_READINGS, GROUND_FAULT, Cast, logged, shared


def test_a_case_file_is_judged_without_a_database(tmp_path: Path) -> None:
    status, table, complaint = run("verdict", case_file(tmp_path))

    assert (status, complaint) == (0, "")
    assert "Claim resistance:C40: fits." in table
    assert "TP3    prime  5.49    0.557 V" in table
    assert "These give the readings as well" in table
    assert "maker's procedure" in table


def test_the_programs_form_of_a_verdict_has_a_schema_and_comes_back(tmp_path: Path) -> None:
    status, text, _ = run("verdict", case_file(tmp_path), "--json")
    verdict = VerdictDocument.model_validate_json(text)

    assert status == 0
    assert verdict.schema_name == "copperlog-verdict/2"
    assert verdict.outcome == "fits"
    assert verdict.before is not None
    assert [reading.number for reading in verdict.before.readings] == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("claim", "outcome"),
    [(GROUND_FAULT, "does not fit"), ("healthy", "does not fit")],
)
def test_a_claim_that_is_not_borne_out_ends_with_one(
    tmp_path: Path, claim: str, outcome: str
) -> None:
    status, text, _ = run("verdict", case_file(tmp_path), "--claim", claim, "--json")

    assert status == 1
    assert json.loads(text)["outcome"] == outcome


def test_readings_that_cannot_say_end_with_one_and_say_so(tmp_path: Path) -> None:
    unplugged = {
        "number": 1,
        "place": "TP2",
        "phase": "prime",
        "text": "12.40",
        "rig": {"unplugged": ["PUMP"]},
    }
    path = case_file(tmp_path, readings=[unplugged])

    assert json.loads(run("verdict", path, "--json")[1])["outcome"] == "cannot say"
    status, table, _ = run("verdict", path)
    assert status == 1
    assert "The circuit in order gives these readings too." in table


def test_a_corrected_line_of_a_file_is_not_judged(tmp_path: Path) -> None:
    readings = [
        {"number": 1, "place": "TP3", "phase": "prime", "text": "54.9"},
        {
            "number": 2,
            "place": "TP3",
            "phase": "prime",
            "text": "5.49",
            "corrects": 1,
            "correction_reason": "point",
        },
    ]
    text = run("verdict", case_file(tmp_path, readings=readings), "--json")[1]

    assert [entry["number"] for entry in json.loads(text)["before"]["readings"]] == [2]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"circuit": None}, "carries no circuit"),
        ({"circuit": {"file": "horn.txt"}}, "horn.txt cannot be read"),
        ({"circuit": {"text": "[vehicle]\nkey: x"}}, "circuit"),
        ({"claim": {"suspect": "resistance:C41"}}, "not a fault this circuit can have"),
        ({"readings": []}, "There is no reading to judge"),
        (
            {"readings": [{"number": 7, "place": "TP0", "phase": "prime", "text": "1"}]},
            "no place 'TP0'",
        ),
        ({"complaint": ""}, "complaint"),
    ],
)
def test_a_bad_case_file_ends_with_two_and_says_why(
    tmp_path: Path, changes: dict[str, object], words: str
) -> None:
    status, out, complaint = run("verdict", case_file(tmp_path, **changes))

    assert (status, out) == (2, "")
    assert words in complaint
    assert "Traceback" not in complaint


def test_a_file_that_is_not_there_ends_with_two(tmp_path: Path) -> None:
    status, _, complaint = run("verdict", tmp_path / "none.json")

    assert status == 2
    assert "cannot be read" in complaint


def test_a_mistake_of_ours_ends_with_seventy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: object, **options: object) -> None:
        raise RuntimeError("a wire came off")

    monkeypatch.setattr("cases.management.commands.verdict.judge_lines", broken)
    status, _, complaint = run("verdict", case_file(tmp_path))

    assert status == 70
    assert "a wire came off" in complaint
    assert "mistake of ours" in complaint


def test_similar_cases_are_found_as_a_person_may_see_them(
    tmp_path: Path, cast: Cast, fuel_pump: Revision
) -> None:
    own = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    path = case_file(tmp_path)

    assert "Nothing similar among 0 cases." in run("similar", path)[1]
    status, table, _ = run("similar", path, "--as", "tarn")
    assert status == 0
    assert own.key in table
    assert "agrees: TP2 in 'prime': 6.79 V here, 6.79 V there" in table
    assert run("similar", path, "--as", "oz")[1].startswith("Nothing similar")

    shared(own, by=cast.technician)
    data = json.loads(run("similar", path, "--json")[1])

    assert data["schema"] == "copperlog-similar/1"
    assert data["groups"][0]["suspect"] == FEED_FAULT
    assert data["groups"][0]["here"] == "fits here"


def test_similar_for_a_stranger_ends_with_two(tmp_path: Path, cast: Cast) -> None:
    status, _, complaint = run("similar", case_file(tmp_path), "--as", "nobody")

    assert status == 2
    assert "no person called 'nobody'" in complaint
