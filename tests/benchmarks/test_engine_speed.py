"""How long the engine takes, beside bare solves of as many matrices of the same size.

Each group prints a table with the ratio of its rows; nothing here is asserted of the clock. 'Cold'
means imported and nothing cached: networks are compiled anew in every round.
"""

import numpy as np
import pytest

from circuits.engine import judge, suspects
from circuits.engine.phases import PhaseRun
from circuits.engine.stage import Trials
from circuits.engine.wiring import Situation
from tests.circuits.reference_networks import ReferenceCircuit, reference_circuit
from tests.engine.test_judge import table_readings

# One severity in the middle of each suspect's scale.
HALFWAY = 0.5


def entry_trials(circuit: ReferenceCircuit) -> Trials:
    count = len(suspects(circuit.network))
    return Trials.of_singles(np.arange(count), np.full(count, HALFWAY), np.full(count, 1 - HALFWAY))


def entries_by_the_engine(circuit: ReferenceCircuit) -> int:
    """Settle every single fault in every phase; return how many entries that is."""
    run = PhaseRun(circuit.network, suspects(circuit.network))
    settled = run.go(entry_trials(circuit), {}, all_phases=True)
    return sum(len(outcome.chatters) for _, outcome in settled.values())


def same_size_systems(circuit: ReferenceCircuit) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return as many linear systems, as large as the circuit's in each phase."""
    random = np.random.default_rng(5)
    run = PhaseRun(circuit.network, (None,))
    systems = []
    for phase in circuit.network.phases:
        size = run.stage(Situation(phase=phase.name), ()).wiring.size
        for _ in suspects(circuit.network):
            matrix = random.standard_normal((size, size)) + size * np.eye(size)
            systems.append((matrix, random.standard_normal(size)))
    return systems


@pytest.mark.parametrize("key", ["C01", "C05"])
def test_all_single_faults_in_all_phases(benchmark, key: str) -> None:
    circuit = reference_circuit(key)
    benchmark.group = f"{key}: every single fault in every phase, cold"

    entries = benchmark(entries_by_the_engine, circuit)

    assert entries == len(suspects(circuit.network)) * len(circuit.network.phases)


@pytest.mark.parametrize("key", ["C01", "C05"])
def test_as_many_bare_solves(benchmark, key: str) -> None:
    """numpy.linalg.solve on ready-made matrices: no assembly, no states, no meters."""
    circuit = reference_circuit(key)
    benchmark.group = f"{key}: every single fault in every phase, cold"
    systems = same_size_systems(circuit)

    def solve_each() -> int:
        return sum(len(np.linalg.solve(matrix, right)) > 0 for matrix, right in systems)

    assert benchmark(solve_each) == len(systems)


@pytest.mark.parametrize("key", ["C01", "C05", "C07"])
def test_one_case_judged(benchmark, key: str) -> None:
    """A whole column of the table against every suspect, severity free, cold; C07 has filaments."""
    circuit = reference_circuit(key)
    readings = table_readings(circuit, "A")
    benchmark.group = "one case judged, cold"

    verdict = benchmark.pedantic(judge, (circuit.network, readings), rounds=3)

    assert verdict.fitting
