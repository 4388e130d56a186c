"""No fit is missed that brute force finds: every fault at every severity of a fine grid.

The slow way knows nothing of lines, stretches or refinement. It solves each fault anew for the
circuit as drawn and for one in which a single part is a little off, takes the differences for
slopes, and sets up the covariance of the readings of a case by itself: slopes at the edge of each
tolerance, a rectangular distribution each (JCGM 100:2008, 4.3.7 and 5.2), and the meter's own.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest

from circuits.engine import (
    Fault,
    Meter,
    Network,
    Place,
    Reading,
    chi_square_limit,
    judge,
    predict,
    suspects,
    sweep,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.test_tolerance_bands import drawn_car, tolerances

POINTS_PER_DECADE = 7
# As a share of a tolerance: small beside the curve of any reading, large beside rounding.
A_LITTLE = 0.01
# Slopes by differences are a per cent off, so a misfit this close to the limit is left undecided.
UNDECIDED_SHARE = 0.02
STEP_VOLTS = 0.01
CASES = 30
MOST_READINGS = 4


@dataclass(frozen=True)
class BruteForce:
    """What every fault shows (E, P, R) in P phases at R places, and how tolerances move it."""

    names: np.ndarray  # (E,), ids of faults, "" for the car in order
    values: np.ndarray  # (E, P, R)
    slopes: np.ndarray  # (T, E, P, R), at the edge of each tolerance
    usable: np.ndarray  # (E, P, R), neither loose nor restless, and no relay about to move

    def fitting(self, readings: list[Reading], seats: list[tuple[int, int]]) -> set[str]:
        """Return the ids of the faults that pass at one severity at least."""
        phases, places = (np.array(each) for each in zip(*seats, strict=True))
        rows = np.flatnonzero(self.usable[:, phases, places].all(axis=1))
        logged = np.array([reading.value for reading in readings])
        miss = logged - self.values[rows][:, phases, places]
        slopes = self.slopes[:, rows][:, :, phases, places]
        covariance = np.einsum("tem,ten->emn", slopes, slopes) / 3
        meter = Meter()
        own = meter.reading_fraction * np.abs(logged) + meter.counts * STEP_VOLTS
        covariance += np.diag((own**2 + (STEP_VOLTS / 2) ** 2) / 3)
        misfit = np.einsum("em,em->e", miss, np.linalg.solve(covariance, miss[..., None])[..., 0])
        surely = misfit <= (1 - UNDECIDED_SHARE) * chi_square_limit(len(readings))
        return set(self.names[rows[surely]].tolist())


@pytest.fixture(scope="module")
def places() -> list[Place]:
    """The listed volts of the fuel-pump circuit."""
    listed = reference_circuit("C05").places
    return [place for place in listed if not place.reads_ohms and not place.through]


@pytest.fixture(scope="module")
def brute_force(places: list[Place]) -> BruteForce:
    network = reference_circuit("C05").network
    faults = [None] + [
        Fault(suspect=suspect, severity=float(severity))
        for suspect in suspects(network)
        for severity in suspect.severity_grid(POINTS_PER_DECADE)
    ]
    names = list(tolerances(network))
    middle = dict.fromkeys(names, 0.0)
    shown = sweep(drawn_car(network, middle), places, faults)
    off = (sweep(drawn_car(network, {**middle, name: A_LITTLE}), places, faults) for name in names)
    return BruteForce(
        names=np.array([fault.suspect.id if fault is not None else "" for fault in faults]),
        values=shown.values,
        slopes=np.stack([(each.values - shown.values) / A_LITTLE for each in off]),
        usable=~(shown.floating | shown.chatters | shown.near_threshold),
    )


def drawn_case(
    network: Network, places: list[Place], random: np.random.Generator
) -> tuple[list[Reading], list[tuple[int, int]]]:
    """Return what a meter with its own error showed of a car with a fault, and where."""
    off = {name: float(random.uniform(-1, 1)) for name in tolerances(network)}
    listed = suspects(network)
    suspect = listed[random.integers(len(listed))]
    severity = float(random.choice(suspect.severity_grid(3)))
    fault = Fault(suspect=suspect, severity=severity)
    shown = predict(drawn_car(network, off), places, fault=fault)
    seats = [(row, column) for row in range(len(network.phases)) for column in range(len(places))]
    many = int(random.integers(2, MOST_READINGS + 1))
    taken = [seats[each] for each in random.choice(len(seats), many, replace=False)]
    readings = []
    for row, column in taken:
        phase, place = network.phases[row].name, places[column]
        volts = shown[phase, place.key].value
        volts += (Meter().reading_fraction * abs(volts) + STEP_VOLTS) * random.uniform(-1, 1)
        value = round(volts / STEP_VOLTS) * STEP_VOLTS
        readings.append(Reading(place=place, phase=phase, value=value, step=STEP_VOLTS))
    return readings, taken


@pytest.mark.slow
def test_every_fault_that_brute_force_finds_to_fit_is_found(brute_force, places) -> None:
    network = reference_circuit("C05").network
    random = np.random.default_rng(505)
    asked = told_apart = 0
    for _ in range(CASES):
        readings, seats = drawn_case(network, places, random)
        assert all(math.isfinite(reading.value) for reading in readings)
        by_force = brute_force.fitting(readings, seats)
        verdict = judge(network, readings)
        found = {finding.id for finding in verdict.findings if finding.passes}
        if verdict.healthy.passes:
            found.add("")

        assert by_force <= found, (by_force - found, readings)

        asked += len(by_force)
        told_apart += len(verdict.findings) + 1 - len(found)

    # The judge lets not everything through, and brute force finds more than the truth.
    assert told_apart > CASES
    assert asked > CASES
