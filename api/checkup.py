"""The checks that every change must pass, one after the other, with a count at the end.

A stage that fails does not stop the others: whoever mends one thing wants to know of the rest.
"""

import codecs
import os
import re
import shutil
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

PYTHON = sys.executable
BROWSER_TESTS = "tests/pages/browser"
BENCHMARKS = "tests/benchmarks"
# Programs of the system that some tests need, and the Debian package that brings each.
SYSTEM_PROGRAMS = {"chromium": "chromium", "ngspice": "ngspice"}
COUNTED = re.compile(r"(\d+) (passed|failed|skipped|errors?|xfailed|xpassed)\b")
COLOUR = re.compile(r"\x1b\[[0-9;]*m")
FROM_PYTEST = re.compile(r"^(=+ )?\d+ .*\bin [\d.]+s\b.*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One run of one tool. `needs` names a program without which it cannot run."""

    name: str
    command: Sequence[str]
    needs: str = ""


@dataclass(slots=True, kw_only=True)
class Outcome:
    """How a stage went; `reason` says why it was not run."""

    stage: Stage
    seconds: float = 0.0
    failed: bool = False
    reason: str = ""
    counts: Counter[str] = field(default_factory=Counter)


def stages(*, long: bool) -> list[Stage]:
    """Return what is to be run, quickest first."""
    script = Path(PYTHON).with_name  # beside the interpreter
    pytest = [PYTHON, "-m", "pytest", "-q"]
    workers = ["-n", str(min(os.cpu_count() or 1, 4))]
    usual = [
        Stage(name="lint", command=[PYTHON, "-m", "ruff", "check", "."]),
        Stage(name="format", command=[PYTHON, "-m", "ruff", "format", "--check", "."]),
        Stage(name="types", command=[PYTHON, "-m", "mypy", "."]),
        Stage(name="import contracts", command=[str(script("lint-imports"))]),
        Stage(
            name="migrations",
            command=[PYTHON, "manage.py", "makemigrations", "--check", "--dry-run"],
        ),
        Stage(name="suite", command=[*pytest, *workers]),
        Stage(name="browser", command=[*pytest, BROWSER_TESTS], needs="chromium"),
    ]
    if not long:
        return usual
    return [
        *usual,
        Stage(name="long tests", command=[*pytest, *workers, "-m", "long"]),
        Stage(name="benchmarks", command=[*pytest, BENCHMARKS, "--benchmark-only"]),
    ]


def run(stage: Stage, *, environment: Mapping[str, str]) -> Iterator[str | Outcome]:
    """Yield the stage's output as it comes, dot by dot, then its outcome."""
    outcome = Outcome(stage=stage)
    begun = time.monotonic()
    unfinished = ""
    with subprocess.Popen(
        stage.command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env={**os.environ, **environment},
    ) as process:
        for piece in pieces_of(process):
            yield piece
            *lines, unfinished = (unfinished + piece).split("\n")
            for line in lines:
                outcome.counts = counts_in(line) or outcome.counts
    outcome.counts = counts_in(unfinished) or outcome.counts
    outcome.seconds = time.monotonic() - begun
    outcome.failed = process.returncode != 0
    yield outcome


def pieces_of(process: subprocess.Popen[bytes]) -> Iterator[str]:
    """Yield what the process prints, without waiting for the end of a line."""
    assert process.stdout is not None
    decoder = codecs.getincrementaldecoder("utf-8")(errors="replace")
    while piece := os.read(process.stdout.fileno(), 4096):
        yield decoder.decode(piece)


def counts_in(line: str) -> Counter[str]:
    """Return what pytest counted, if this is the line it closes with."""
    plain = COLOUR.sub("", line).strip()
    if not FROM_PYTEST.match(plain):
        return Counter()
    return Counter({word.rstrip("s"): int(count) for count, word in COUNTED.findall(plain)})


def missing_programs() -> list[str]:
    """Return which of the system programs are not to be found."""
    return [name for name in SYSTEM_PROGRAMS if shutil.which(name) is None]


def may_install() -> bool:
    """Say whether we can bring missing programs in ourselves: as root, with Debian's apt-get."""
    return os.geteuid() == 0 and shutil.which("apt-get") is not None


def install_command(programs: Sequence[str]) -> str:
    """Return the line that installs the programs on Debian."""
    packages = " ".join(SYSTEM_PROGRAMS[name] for name in programs)
    return f"apt-get install --yes --no-install-recommends {packages}"


def install(programs: Sequence[str]) -> None:
    """Install the programs; whether that worked shows in `missing_programs` afterwards."""
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in ("apt-get update", install_command(programs)):
        subprocess.run(
            [*command.split(), "-qq"], env=environment, stdout=subprocess.DEVNULL, check=False
        )
