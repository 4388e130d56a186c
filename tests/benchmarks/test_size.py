"""Cost against size: every single fault of circuits from 10 to 300 nodes, by several ways.

The table and a plot are written into the folder of pytest-benchmark (`--benchmark-storage`,
`.benchmarks` unless told otherwise) as cost_against_size.txt and .svg.
"""

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from circuits.engine import Network
from tests.benchmarks.ladder import ladder
from tests.benchmarks.plot import log_log_svg
from tests.benchmarks.reference import EntryTable, drawn_suspects, entries, entry_table
from tests.benchmarks.report import Measured
from tests.benchmarks.spice_loop import loop_deck, run_deck
from tests.judges import ngspice

SIZES = (10, 30, 100, 300)
# Bare solves of the largest circuits take long: of them, so many are run and told for all.
SOLVES_RUN = 60


def best_of(function: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        begin = time.perf_counter()
        function()
        times.append(time.perf_counter() - begin)
    return min(times)


def costs(network: Network, folder: Path) -> dict[str, float]:
    """Return the milliseconds of every single fault in one phase, by the way it is solved."""
    rounds = 5 if len(network.nodes) < 50 else 2
    found = {"engine, cold": best_of(lambda: entries(network, ()), rounds)}
    if len(network.nodes) <= 100:
        table = entry_table(network)
        found["bare LAPACK"] = bare_solves(table)
        if ngspice.is_there():
            deck = folder / "loop.cir"
            deck.write_text(loop_deck(table, printing=False))
            found["ngspice, one process"] = best_of(lambda: run_deck(deck), 1)
    return {way: 1e3 * seconds for way, seconds in found.items()}


def bare_solves(table: EntryTable) -> float:
    few = table.first(SOLVES_RUN)
    matrices, right_sides = few.systems()
    seconds = best_of(lambda: np.linalg.solve(matrices, right_sides), 3)
    return seconds * len(table) / len(few)


def test_cost_against_size(benchmark, measured: Measured, report_folder: Path) -> None:
    curves: dict[str, list[tuple[float, float]]] = {}
    lines = [f"{'nodes':>6} {'faults':>7}  milliseconds for all of them in one phase"]

    def every_size() -> None:
        for size in SIZES:
            network = ladder(size)
            nodes, faults = len(network.nodes), len(drawn_suspects(network))
            of_size = costs(network, report_folder)
            shown = ", ".join(f"{way} {ms:.2f}" for way, ms in of_size.items())
            lines.append(f"{nodes:>6} {faults:>7}  {shown}")
            for way, ms in of_size.items():
                curves.setdefault(way, []).append((nodes, ms))

    benchmark.pedantic(every_size, rounds=1)

    measured.tables.append("\n".join(lines))
    (report_folder / "cost_against_size.txt").write_text("\n".join([*lines, ""]))
    drawing = log_log_svg(curves, "nodes of the circuit", "ms, every single fault")
    (report_folder / "cost_against_size.svg").write_text(drawing)
    assert len(curves["engine, cold"]) == len(SIZES)
