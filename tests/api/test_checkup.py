"""The check command counts what ran, goes on after a failure, and says what did not run."""

import sys
from collections import Counter
from io import StringIO

import pytest
from django.core.management import call_command

from api import checkup
from api.checkup import Outcome, Stage, counts_in


def says(line: str, *, status: int = 0) -> list[str]:
    return [sys.executable, "-c", f"print({line!r}); raise SystemExit({status})"]


# The closing lines of pytest 9 as its terminal reporter writes them.
@pytest.mark.parametrize(
    ("line", "counts"),
    [
        ("===== 3 passed in 0.12s =====", {"passed": 3}),
        ("12 passed, 2 skipped in 1.50s", {"passed": 12, "skipped": 2}),
        ("1 failed, 2 passed, 1 error in 75.02s (0:01:15)", {"failed": 1, "passed": 2, "error": 1}),
        ("2 passed, 2 errors in 0.10s", {"passed": 2, "error": 2}),
        ("\x1b[32m\x1b[1m5 passed\x1b[0m\x1b[32m in 0.03s\x1b[0m", {"passed": 5}),
        ("3 files left unchanged", {}),
        ("E   assert '3 passed in 1s' == ''", {}),
    ],
)
def test_pytests_closing_line_is_understood_and_no_other(line, counts) -> None:
    assert counts_in(line) == Counter(counts)


@pytest.fixture
def check(monkeypatch, tmp_path):
    """Run the command on stages of our own; return its exit status and its lines."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CI", raising=False)

    def check(*stages: Stage, missing: tuple[str, ...] = ()) -> tuple[int, list[str]]:
        monkeypatch.setattr(checkup, "stages", lambda *, long: list(stages))
        monkeypatch.setattr(checkup, "missing_programs", lambda: list(missing))
        monkeypatch.setattr(checkup, "may_install", lambda: False)
        output = StringIO()
        try:
            call_command("test", stdout=output)
        except SystemExit as leaving:
            return int(leaving.code or 0), output.getvalue().splitlines()
        return 0, output.getvalue().splitlines()

    return check


def test_all_is_well_when_every_stage_is(check) -> None:
    status, lines = check(
        Stage(name="lint", command=says("All checks passed!")),
        Stage(name="suite", command=says("40 passed, 1 skipped in 2.00s")),
        Stage(name="browser", command=says("2 passed in 9.00s")),
    )

    assert (status, lines[-1]) == (0, "42 passed, 0 failed, 1 skipped")


def test_a_failed_stage_stops_no_other_and_fails_the_whole(check) -> None:
    status, lines = check(
        Stage(name="lint", command=says("one thing is wrong", status=1)),
        Stage(name="suite", command=says("3 failed, 7 passed in 2.00s", status=1)),
    )

    assert (status, lines[-1]) == (1, "7 passed, 4 failed")
    assert "one thing is wrong" in lines
    assert any(line.split()[:2] == ["lint", "FAILED"] for line in lines)


def test_a_suite_that_broke_down_without_counting_is_a_failure(check) -> None:
    status, lines = check(Stage(name="suite", command=says("INTERNALERROR", status=3)))

    assert (status, lines[-1]) == (1, "0 passed, 1 failed")


def test_a_missing_browser_is_named_with_the_way_to_get_it(check) -> None:
    browser = Stage(name="browser", command=says("2 passed in 1.00s"), needs="chromium")
    status, lines = check(browser, missing=("chromium",))

    assert (status, lines[-1]) == (0, "0 passed, 0 failed")
    assert "not run: chromium is not installed" in lines
    assert lines[-2].endswith("apt-get install --yes --no-install-recommends chromium")


def test_where_nobody_can_install_it_a_missing_browser_is_a_failure(check, monkeypatch) -> None:
    monkeypatch.setenv("CI", "true")
    browser = Stage(name="browser", command=says("2 passed in 1.00s"), needs="chromium")
    status, lines = check(browser, missing=("chromium",))

    assert (status, lines[-1]) == (1, "0 passed, 1 failed")


def test_the_usual_round_holds_every_kind_of_check_and_the_long_one_more() -> None:
    usual = [stage.name for stage in checkup.stages(long=False)]
    long = [stage.name for stage in checkup.stages(long=True)]

    assert usual == [
        "lint",
        "format",
        "types",
        "import contracts",
        "migrations",
        "suite",
        "browser",
    ]
    assert long == [*usual, "long tests", "benchmarks"]


def test_what_a_stage_prints_is_handed_on_before_its_line_is_full(tmp_path) -> None:
    """The stage prints dots and waits for a file that is made only when they were seen."""
    seen = tmp_path / "seen"
    program = f"""
import pathlib, time
print("...", end="", flush=True)
while not pathlib.Path({str(seen)!r}).exists():
    time.sleep(0.01)
print(" 3 passed in 0.01s")
"""
    pieces = checkup.run(Stage(name="x", command=[sys.executable, "-c", program]), environment={})
    assert next(pieces) == "..."
    seen.touch()
    *_, outcome = pieces

    assert isinstance(outcome, Outcome)
    assert not outcome.failed
    assert outcome.seconds > 0


def test_letters_beyond_ascii_survive_being_read_in_pieces() -> None:
    program = "import sys; sys.stdout.buffer.write('µΩ'.encode() * 5000)"
    *pieces, _ = checkup.run(
        Stage(name="x", command=[sys.executable, "-c", program]), environment={}
    )

    assert "".join(map(str, pieces)) == "µΩ" * 5000
