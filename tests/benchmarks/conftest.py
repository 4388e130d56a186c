"""What the benchmarks share: a record of this run's best times, told at its end beside the aims.

Nothing is asserted of the clock: a ratio depends on the machine and on what else it does. For
ratios that can be compared run with one thread, OPENBLAS_NUM_THREADS=1, which has to be set before
Python starts; the report says how many there were.
"""

import os
import platform
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.benchmarks.report import Measured

MEASURED = pytest.StashKey[Measured]()
ONE_THREAD = "OPENBLAS_NUM_THREADS"


@pytest.fixture
def measured(request: pytest.FixtureRequest) -> Measured:
    return request.config.stash.setdefault(MEASURED, Measured())


@pytest.fixture
def timed(benchmark: Any, measured: Measured) -> Callable[..., Any]:
    """Return a function that times another under a name and gives back what it returned."""

    def run(name: str, function: Callable[[], Any], *, rounds: int = 10, of: float = 1.0) -> Any:
        benchmark.group = name
        result = benchmark.pedantic(function, rounds=rounds, warmup_rounds=1)
        measured.seconds[name] = benchmark.stats.stats.min * of
        return result

    return run


@pytest.fixture
def report_folder(request: pytest.FixtureRequest) -> Path:
    """The folder in which pytest-benchmark keeps its runs (`--benchmark-storage`)."""
    storage = str(request.config.getoption("benchmark_storage"))
    folder = Path(storage.removeprefix("file://"))
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    if MEASURED not in config.stash:
        return
    threads = os.environ.get(ONE_THREAD)
    terminalreporter.section("speed beside the aims")
    terminalreporter.line(
        f"{platform.machine()}, Python {platform.python_version()}, NumPy {np.__version__}, "
        + (f"{threads} thread(s)" if threads else f"threads not limited: set {ONE_THREAD}=1")
    )
    for line in config.stash[MEASURED].lines():
        terminalreporter.line(line)
