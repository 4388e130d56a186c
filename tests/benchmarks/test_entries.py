"""Every single fault in every phase of the reference circuit, by the engine and by others.

'Cold' means imported and nothing cached: the suspects are listed, the network compiled and
factorised anew in every round. 'Warm' keeps the compiled network and its factors. The others are
given the states that the engine found; they only solve.
"""

from functools import cache
from pathlib import Path

import numpy as np

from circuits.engine.settling.phases import PhaseRun
from tests.benchmarks import report
from tests.benchmarks.reference import (
    EntryTable,
    drawn_suspects,
    entries,
    entry_count,
    entry_table,
    reference,
    with_curved_loads,
)
from tests.benchmarks.spice_loop import loop_deck, printed_volts, run_deck, single_deck
from tests.judges.agreement import STRAIGHT_VOLTS, needs_ngspice

# A process each takes long: so many are run, spread over the entries, and told for all.
PROCESSES_RUN = 30


@cache
def reference_entries() -> EntryTable:
    return entry_table(reference()[0])


def test_entries_cold(timed) -> None:
    network, places = reference()

    found = timed(report.ENTRIES_COLD, lambda: entries(network, places))

    assert found == entry_count(network)


def test_entries_warm(timed) -> None:
    network, places = reference()
    run = PhaseRun(network, drawn_suspects(network))

    found = timed(report.ENTRIES_WARM, lambda: entries(network, places, run))

    assert found == entry_count(network)


def test_entries_with_curved_loads_cold(timed) -> None:
    network, places = with_curved_loads(reference()[0]), reference()[1]

    found = timed(report.CURVED_ENTRIES_COLD, lambda: entries(network, places), rounds=3)

    assert found == entry_count(network)


def test_entries_with_curved_loads_warm(timed) -> None:
    network, places = with_curved_loads(reference()[0]), reference()[1]
    run = PhaseRun(network, drawn_suspects(network))

    found = timed(report.CURVED_ENTRIES_WARM, lambda: entries(network, places, run), rounds=3)

    assert found == entry_count(network)


def test_entries_by_bare_lapack(timed) -> None:
    """The node equations of each entry, set up beforehand and solved once: no states, no meters."""
    table = reference_entries()
    matrices, right_sides = table.systems()

    volts = timed(report.ENTRIES_BY_LAPACK, lambda: np.linalg.solve(matrices, right_sides))

    assert table.furthest_from_engine(volts[:, :, 0]) < STRAIGHT_VOLTS


@needs_ngspice
def test_entries_by_one_ngspice_process(timed, tmp_path: Path) -> None:
    table = reference_entries()
    deck = tmp_path / "loop.cir"
    deck.write_text(loop_deck(table, printing=False))

    timed(report.ENTRIES_BY_LOOP, lambda: run_deck(deck), rounds=5)

    assert table.furthest_from_engine(printed_volts(table)) < STRAIGHT_VOLTS


@needs_ngspice
def test_entries_by_an_ngspice_process_each(timed, tmp_path: Path) -> None:
    table = reference_entries()
    chosen = np.linspace(0, len(table) - 1, PROCESSES_RUN).astype(int).tolist()
    decks = [tmp_path / f"entry{entry}.cir" for entry in chosen]
    for entry, deck in zip(chosen, decks, strict=True):
        deck.write_text(single_deck(table, entry))

    said = timed(
        report.ENTRIES_BY_PROCESSES,
        lambda: [run_deck(deck) for deck in decks],
        rounds=2,
        of=len(table) / PROCESSES_RUN,
    )

    assert len(said) == PROCESSES_RUN
