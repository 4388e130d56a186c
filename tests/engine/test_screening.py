"""The screen that is asked before the joint test: it may let too much through, never too little.

The joint test itself is the judge here; that a joint misfit is no less than that of one reading
alone is linear algebra (a quadratic form of an inverse covariance, and its marginal).
"""

from dataclasses import replace

import numpy as np
import pytest

from circuits.engine import Bound, Fault, Reading, judge, predict, suspects
from circuits.engine.judging.screening import Screen
from tests.circuits.reference_networks import reference_circuit

# Straight, with relays and a module; with filaments and motors, whose laws are curved.
CIRCUITS = ("C01", "C05", "C12")
LOGS = 6
READINGS = 4


def drawn_logs(circuit: str) -> list[list[Reading]]:
    """Return what cars with a fault read, at places, in phases and with slips drawn at random."""
    random = np.random.default_rng(404)
    reference = reference_circuit(circuit)
    places = [place for place in reference.places if not place.reads_ohms]
    listed = suspects(reference.network)
    logs = []
    for _ in range(LOGS):
        suspect = listed[random.integers(len(listed))]
        severity = float(random.choice(suspect.severity_grid(1)))
        shown = predict(reference.network, places, fault=Fault(suspect=suspect, severity=severity))
        phase = random.choice([phase.name for phase in reference.network.phases])
        taken = random.choice(len(places), min(READINGS, len(places)), replace=False)
        values = {places[each]: shown[phase, places[each].key].value for each in taken.tolist()}
        # Now and then a figure is a volt off, which many faults cannot explain.
        values[places[taken[0]]] += random.integers(2)
        logs.append(
            [
                Reading(place=place, phase=phase, value=round(value, 2), step=0.01)
                for place, value in values.items()
            ]
        )
    return logs


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_what_fits_all_readings_together_is_never_screened_out(circuit) -> None:
    network = reference_circuit(circuit).network
    logs = drawn_logs(circuit)
    screen = Screen(network, [reading for log in logs for reading in log], suspects(network))
    screened_out = 0
    for log in logs:
        verdict = judge(network, log)
        sound, left = screen.may_fit(log)

        assert {finding.id for finding in verdict.findings if finding.passes} <= left
        assert sound or not verdict.healthy.passes

        screened_out += len(verdict.findings) - len(left)

    assert screened_out > 0


def test_a_least_that_a_meter_caught_lets_all_through_that_reads_higher() -> None:
    network = reference_circuit("C05").network
    log = drawn_logs("C05")[0]
    deep = [replace(reading, value=-1000.0) for reading in log]
    least = [replace(reading, bound=Bound.FROM_BELOW) for reading in deep]
    screen = Screen(network, log, suspects(network))

    assert screen.may_fit(deep) == (False, frozenset())
    assert screen.may_fit(least)[1] == {suspect.id for suspect in suspects(network)}
