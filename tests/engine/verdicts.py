"""Readings as they are logged, of the pump and of the reference set, and what is said of them."""

from typing import Any

from circuits.engine import Reading, Verdict, judge
from tests.circuits.reference_networks import ReferenceCircuit, reference_circuit

PUMP = reference_circuit("C05")
PRIME = "ignition on, prime (first 2 s)"


def display_step(value: float) -> float:
    """Return the last digit of a 6000-count multimeter."""
    return 0.001 if abs(value) < 6 else 0.01


def claimed(verdict: Verdict) -> Any:
    """Return what the verdict finds of the claim, with figures that a fit has and others lack."""
    assert verdict.claim is not None
    return verdict.claim


def fitting_ids(verdict: Verdict) -> set[str]:
    return {finding.id for finding in verdict.fitting}


def at_the_pump(phase: str = PRIME, **shown: float) -> list[Reading]:
    """Return readings at places of the pump circuit, each with the rig of its row."""
    return [
        Reading(
            place=PUMP.row(key).place,
            phase=phase,
            value=value,
            step=display_step(value),
            rig=PUMP.row(key).rig(PUMP.network),
        )
        for key, value in shown.items()
    ]


def pump_verdict(readings: list[Reading], claim: str) -> Verdict:
    return judge(PUMP.network, readings, claim=claim, supply_places=("TP1",), places=PUMP.places)


def step_of(circuit: ReferenceCircuit, key: str, phase: str) -> float:
    """Return the last digit on the range that a technician sets for the largest figure to come."""
    row = circuit.row(key)
    most = max(abs(phases[phase][key]) for phases in circuit.predicted.values())
    if row.place.reads_amps:
        return 0.1 if most >= 10 else 0.01 if most >= 0.4 else 0.0001
    if row.per_base_unit == 1000 and most < 0.6:
        return 0.0001
    return display_step(most)


def table_readings(circuit: ReferenceCircuit, letter: str) -> list[Reading]:
    """Return a whole column of a table as a technician would have logged it."""
    readings = []
    for row in circuit.rows:
        for phase in circuit.network.phases:
            step = step_of(circuit, row.key, phase.name)
            exact = circuit.predicted[letter][phase.name][row.key]
            readings.append(
                Reading(
                    place=row.place,
                    phase=phase.name,
                    value=round(exact / step) * step,
                    step=step,
                    rig=row.rig(circuit.network),
                )
            )
    return readings
