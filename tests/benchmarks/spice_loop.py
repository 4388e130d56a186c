"""One ngspice process that goes through all entries by `alter`, and prints only if asked.

Every element stands in the netlist once; between two entries only what differs is altered. The
contacts stand where the engine has them, so ngspice has no states to find: that is to its favour.
"""

import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tests.benchmarks.reference import EntryTable
from tests.judges.elements import Floats
from tests.judges.ngspice import MOST_SECONDS, OPTIONS, PROGRAM, NgspiceFoundNothing


def loop_deck(table: EntryTable, *, printing: bool) -> str:
    """Return the netlist with its loop."""
    lines = ["* every entry by alter", *_elements(table), OPTIONS, ".control", "set numdgt=15"]
    for entry in range(len(table)):
        lines += _alterations(table, entry)
        lines.append("op")
        if printing:
            lines += [f"print v(n{number})" for number in range(len(table.nodes))]
        # Without this every entry stays in memory, and the loop grows slower and slower.
        lines.append("destroy all")
    return "\n".join([*lines, "quit", ".endc", ".end", ""])


def single_deck(table: EntryTable, entry: int) -> str:
    """Return the netlist of one entry, for a process of its own."""
    lines = ["* one entry", *_elements(table, entry), OPTIONS, ".op", ".end", ""]
    return "\n".join(lines)


def _elements(table: EntryTable, entry: int = 0) -> Iterator[str]:
    name = {node: f"n{number}" for number, node in enumerate(table.nodes)} | {table.zero: "0"}
    drives = (table.amps != 0.0).any(axis=0)
    for number, (_, first, second) in enumerate(table.ends):
        ends = f"{name[first]} {name[second]}"
        yield f"R{number} {ends} {float(1 / table.siemens[entry, number])!r}"
        if drives[number]:
            yield f"I{number} {ends} {float(table.amps[entry, number])!r}"


def _alterations(table: EntryTable, entry: int) -> Iterator[str]:
    if entry == 0:
        return
    for number in np.flatnonzero(table.siemens[entry] != table.siemens[entry - 1]):
        yield f"alter R{number} = {float(1 / table.siemens[entry, number])!r}"
    for number in np.flatnonzero(table.amps[entry] != table.amps[entry - 1]):
        yield f"alter I{number} = {float(table.amps[entry, number])!r}"


def run_deck(deck: Path) -> str:
    """Run a deck and return what it said.

    Raises
    ------
    NgspiceFoundNothing
        It ended without an operating point; its status does not tell.
    """
    ran = subprocess.run(
        [PROGRAM, "--no-spiceinit", "-b", str(deck)],
        capture_output=True,
        text=True,
        timeout=MOST_SECONDS,
        cwd=deck.parent,
        check=False,
    )
    if "aborted" in ran.stdout + ran.stderr or "rror" in ran.stderr:
        raise NgspiceFoundNothing((ran.stdout + ran.stderr)[:2000])
    return ran.stdout


def printed_volts(table: EntryTable) -> Floats:
    """Return the node volts (entries, N) that the loop finds."""
    with tempfile.TemporaryDirectory(prefix="netlist-") as folder:
        deck = Path(folder, "loop.cir")
        deck.write_text(loop_deck(table, printing=True))
        said = run_deck(deck)
    shown = [line.split("=")[1] for line in said.splitlines() if line.startswith("v(n")]
    return np.array(shown, dtype=float).reshape(len(table), len(table.nodes))
