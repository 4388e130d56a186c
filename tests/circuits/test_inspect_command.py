"""`manage.py inspect` as people and programs call it."""

import json
from pathlib import Path

import pytest
from django.core.management import call_command

from tests.circuits.drawn import drawn_text

SOUND = """B1 battery BP - BN 12.6 V, 11 mOhm | measured
F1 fuse BP - A 10 A
W1 wire A - L 1.5 mm2, 1 m
H1 lamp L - BN 21 W | base"""


def ran(capsys, *arguments) -> tuple[int, str, str]:
    status = 0
    try:
        call_command("inspect", *arguments)
    except SystemExit as leaving:
        status = int(leaving.code or 0)
    told = capsys.readouterr()
    return status, told.out, told.err


@pytest.fixture
def sheet_file(tmp_path: Path):
    def written(parts: str) -> str:
        path = tmp_path / "sheet.txt"
        path.write_text(drawn_text(parts), encoding="utf-8")
        return str(path)

    return written


def test_a_sound_file_has_nothing_to_mend_and_needs_no_database(capsys, sheet_file) -> None:
    status, out, _ = ran(capsys, sheet_file(SOUND))

    assert status == 0
    assert "nothing to mend" in out


def test_open_findings_are_told_with_their_mend_and_status_one(capsys, sheet_file) -> None:
    status, out, _ = ran(capsys, sheet_file(SOUND.replace("10 A", "30 A")))

    assert status == 1
    assert "can burn or hurt: fuse-too-large:W1" in out
    assert "Mend: Fit a fuse of at most 20 A or draw a wire of 2.5 mm²." in out


def test_programs_get_json_with_a_schema(capsys, sheet_file) -> None:
    status, out, _ = ran(capsys, sheet_file(SOUND.replace("10 A", "30 A")), "--json")
    document = json.loads(out)

    assert status == 1
    assert document["schema"] == "copperlog-inspection/1"
    assert [found["id"] for found in document["findings"]] == ["fuse-too-large:W1"]


def test_bad_input_is_status_two_with_words(capsys, tmp_path) -> None:
    assert ran(capsys, "nowhere.txt")[::2] == (2, "There is no file 'nowhere.txt'.\n")
    broken = tmp_path / "broken.txt"
    broken.write_text("[vehicle]\nkey: x\nsistem: fuel\n", encoding="utf-8")
    status, _, err = ran(capsys, str(broken))

    assert status == 2
    assert "line 3" in err
