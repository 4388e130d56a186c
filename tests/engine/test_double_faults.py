"""Where no single fault fits: two at once, or one reading that slipped."""

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from circuits.engine import (
    Explains,
    Fault,
    Network,
    Reading,
    Suspect,
    Verdict,
    find_suspect,
    judge,
    predict,
    suspects,
)
from circuits.engine.equations.stage import Trials
from circuits.engine.judging.bench import Bench
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, network, resistor, volts_place
from tests.engine.verdicts import table_readings

HEADLAMPS = reference_circuit("C07")

TWO_LAMPS = network(
    battery("B1", "plus - minus", 12.6, 0.01),
    resistor("W1", "plus - left", 0.05),
    resistor("H1", "left - leftground", 6.0),
    resistor("G1", "leftground - minus", 0.02),
    resistor("W2", "plus - right", 0.05),
    resistor("H2", "right - rightground", 6.0),
    resistor("G2", "rightground - minus", 0.02),
    zero="minus",
)
PLACES = (
    volts_place("battery", "plus - minus"),
    volts_place("left lamp", "left - leftground"),
    volts_place("left ground", "leftground - minus"),
    volts_place("right lamp", "right - rightground"),
    volts_place("right ground", "rightground - minus"),
)


def readings_of(circuit: Network, *faults: tuple[str, float]) -> list[Reading]:
    """Return what a 6000-count meter would show with these faults in the circuit."""
    there = [Fault(suspect=find_suspect(circuit, name), severity=size) for name, size in faults]
    shown = predict(circuit, PLACES, fault=there)
    return [
        Reading(place=place, phase="as drawn", value=round(each.value, 3), step=0.001)
        for place, each in zip(PLACES, shown.values(), strict=True)
    ]


def explained_at(verdict: Verdict, place: str) -> Explains:
    number = [reading.place.key for reading in verdict.readings].index(place)
    return verdict.doubles[0].explained[number]


def test_a_blown_filament_and_a_bad_ground_are_both_named_each_with_its_readings() -> None:
    """Left dipped filament blown and right cluster ground +0.7 ohm; the reference table."""
    readings = [
        reading
        for reading in table_readings(HEADLAMPS, "E")
        if reading.phase.startswith("running, dipped")
        and reading.place.key in {"TP4", "TP6", "TP7", "TP8", "TP9"}
    ]

    verdict = judge(HEADLAMPS.network, readings, doubles=True)

    assert verdict.nothing_fits
    # The open may as well be in the wire to that filament; the bad ground is there in any case.
    pairs = {(double.first.id, double.second.id): double for double in verdict.doubles}
    found = pairs["resistance:lampLOWL", "resistance:WgR"]
    assert math.isinf(found.first_severity)
    assert found.second_severity == pytest.approx(0.7, rel=0.05)
    assert all("resistance:WgR" in pair for pair in pairs)


def test_each_of_two_faults_answers_for_its_own_readings() -> None:
    readings = readings_of(TWO_LAMPS, ("resistance:G1", 1.5), ("resistance:W2", 2.5))

    verdict = judge(TWO_LAMPS, readings, doubles=True)

    best = verdict.doubles[0]
    assert (best.first.id, best.second.id) == ("resistance:G1", "resistance:W2")
    assert best.first_severity == pytest.approx(1.5, rel=0.05)
    assert best.second_severity == pytest.approx(2.5, rel=0.05)
    assert explained_at(verdict, "left ground") is Explains.FIRST
    assert explained_at(verdict, "right lamp") is Explains.SECOND
    assert explained_at(verdict, "battery") is Explains.NEITHER


def test_no_pair_is_offered_where_one_fault_fits() -> None:
    verdict = judge(TWO_LAMPS, readings_of(TWO_LAMPS, ("resistance:G1", 1.5)), doubles=True)

    assert [finding.id for finding in verdict.fitting] == ["resistance:G1"]
    assert verdict.doubles == ()
    assert verdict.slips == ()


def test_no_pair_is_looked_for_unasked() -> None:
    readings = readings_of(TWO_LAMPS, ("resistance:G1", 1.5), ("resistance:W2", 2.5))

    assert judge(TWO_LAMPS, readings).doubles == ()


def test_one_reading_that_slipped_is_named_with_what_it_should_have_been() -> None:
    """Millivolts written down as volts on a sound ground."""
    readings = readings_of(TWO_LAMPS, ("resistance:G1", 1.5))
    number = [reading.place.key for reading in readings].index("right ground")
    was = readings[number].value
    readings[number] = replace(readings[number], value=was * 100)

    verdict = judge(TWO_LAMPS, readings)

    assert verdict.nothing_fits
    slip = next(slip for slip in verdict.slips if slip.reading == number)
    assert slip.fits == ("resistance:G1",)
    assert slip.predicted == pytest.approx(was, abs=0.005)


def test_every_pair_that_a_fine_grid_finds_is_found() -> None:
    readings = readings_of(TWO_LAMPS, ("resistance:H1", 4.0), ("ground-short:right", 1.0))

    verdict = judge(TWO_LAMPS, readings, doubles=True)

    found = {(double.first.id, double.second.id) for double in verdict.doubles}
    assert found >= pairs_on_a_fine_grid(TWO_LAMPS, readings)
    assert ("resistance:H1", "ground-short:right") in found


def pairs_on_a_fine_grid(circuit: Network, readings: list[Reading]) -> set[tuple[str, str]]:
    """Return the pairs of which some severities on a grid pass the joint test."""
    listed = suspects(circuit)
    bench = Bench(circuit, readings, listed)
    passing = set()
    for one, other in combinations(range(len(listed)), 2):
        shares = [shares_of(listed[number]) for number in (one, other)]
        rows = np.indices([len(each) for each in shares]).reshape(2, -1)
        both = np.stack([each[row] for each, row in zip(shares, rows, strict=True)], axis=1)
        # The bench counts the healthy circuit as the first of its suspects.
        numbers = np.tile(np.array([one, other]) + 1, (len(both), 1))
        if bench.weigh(Trials(numbers, both[:, :, 0], both[:, :, 1])).misfit.min() <= bench.limit:
            passing.add((listed[one].id, listed[other].id))
    return passing


def shares_of(suspect: Suspect) -> np.ndarray:
    """Return severities between what can just be seen and the end, as (share, 1 - share)."""
    severities = suspect.severity_grid(points_per_decade=2)
    seen = (severities > 0.03) & (severities < 300) | ~np.isfinite(severities)
    return np.array([suspect.share(severity) for severity in severities[seen]])
