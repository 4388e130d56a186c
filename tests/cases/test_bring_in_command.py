"""`manage.py bring_in`: its exit status, its report, and what it leaves.

Common practice, no source.
"""

from pathlib import Path

import pytest
from django.core.management import CommandError

from cases.models import Case, OlderLog
from tests.cases.case_files import run
from tests.cast import Cast

GOOD = "1,Tolvane,Horn silent"
BAD = "2,,Wipers stop"


def file_of(folder: Path, *lines: str) -> Path:
    path = folder / "old.csv"
    path.write_text("\n".join(("case,make,complaint", *lines, "")), encoding="utf-8")
    return path


def test_good_lines_come_in_and_the_refused_are_written_to_be_mended(
    cast: Cast, tmp_path: Path
) -> None:
    refused = tmp_path / "refused.csv"
    words = ("--shop", "kestrel", "--by", "odile")
    status, out, _ = run("bring_in", file_of(tmp_path, GOOD, BAD), *words, "--refused", refused)

    assert (status, Case.objects.count()) == (1, 1)
    assert "line 3: make: is empty." in out
    assert "Of 2 cases 1 came in, 0 were here already, 1 were refused." in out
    mended = refused.read_text(encoding="utf-8").replace("2,,", "2,Tolvane,")
    refused.write_text(mended, encoding="utf-8")
    assert run("bring_in", refused, *words)[0] == 0
    assert run("bring_in", refused, *words)[0] == 0
    assert Case.objects.count() == 2


def test_a_dry_run_leaves_nothing_and_all_or_nothing_takes_nothing(
    cast: Cast, tmp_path: Path
) -> None:
    file = file_of(tmp_path, GOOD, BAD)
    words = (file, "--shop", "kestrel", "--by", "odile")
    status, out, _ = run("bring_in", *words, "--dry-run")

    assert (status, Case.objects.count(), OlderLog.objects.count()) == (1, 0, 0)
    assert "1 can come in; nothing did yet" in out
    status, out, _ = run("bring_in", *words, "--all-or-nothing")
    assert (status, Case.objects.count()) == (1, 0)
    assert "nothing did yet" in out


def test_a_file_that_cannot_be_read_is_status_2(cast: Cast, tmp_path: Path) -> None:
    (tmp_path / "old.csv").write_bytes(b"\xff")
    status, _, complaint = run(
        "bring_in", tmp_path / "old.csv", "--shop", "kestrel", "--by", "odile"
    )

    assert status == 2
    assert "UTF-8" in complaint


@pytest.mark.parametrize(
    ("shop", "by", "words"),
    [
        ("nowhere", "odile", "there are corder, fennick, kestrel"),
        ("kestrel", "nobody", "Nobody signs in"),
        ("kestrel", "tarn", "Only an owner"),
    ],
)
def test_whoever_is_no_owner_brings_nothing_in(
    shop: str, by: str, words: str, cast: Cast, tmp_path: Path
) -> None:
    with pytest.raises(CommandError, match=words) as refused:
        run("bring_in", file_of(tmp_path, GOOD), "--shop", shop, "--by", by)

    assert refused.value.returncode == 2
    assert not Case.objects.exists()
