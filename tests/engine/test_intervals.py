"""Severities that readings allow, in closed form, against plain solves at many severities.

The judge solves the node equations anew by LAPACK at every point of a grid, follows the states
itself and asks whether each reading lies within its band; it knows of no intervals. Both must
agree on every point but those within a billionth of an interval's end.
"""

import math
from dataclasses import dataclass, field

import numpy as np
import pytest

from circuits.engine import (
    Meter,
    Network,
    NoClosedForm,
    Place,
    PreparedCircuit,
    Reading,
    Suspect,
    find_suspect,
    severity_intervals,
    suspects,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, network, resistor, volts_place
from tests.judges.corpus import stored_circuits
from tests.judges.plain import plain_circuit
from tests.judges.severity_grid import SeverityGrid, has_a_line

# A meter that loads nothing: the judge reads the volts of the nodes.
BARE = Meter(input_ohms=math.inf, reading_fraction=0.0, counts=0.0)
AT_END = 1e-9
# What rounding leaves of the judge's volts.
JUDGE_VOLTS = 1e-8

STRAIGHT_KEYS = ("C01", "C02", "C03", "C05", "C09", "C10", "C14")
SUITE_SUSPECTS, SUITE_POINTS = 10, 150
MORE_DRAWS = 4
LONG_CIRCUITS, LONG_SUSPECTS, LONG_POINTS = 60, 12, 1500


@dataclass
class Compared:
    points: int = 0
    held: int = 0
    differences: list[str] = field(default_factory=list)


def compare(drawn: Network, dice: np.random.Generator, most: int, points: int) -> Compared:
    """Hold random suspects with readings of a random severity of theirs against the judge."""
    compared = Compared()
    listed = [suspect for suspect in suspects(drawn) if has_a_line(drawn, suspect)]
    prepared = PreparedCircuit(drawn, (), listed)
    for number in dice.permutation(len(listed))[:most].tolist():
        suspect = listed[number]
        shares = dice.random(points)
        volts = volts_at(drawn, suspect, shares)
        readings = readings_at(drawn, volts, dice)
        if not readings:
            continue
        half = 10 ** dice.uniform(-3, 0.3, len(readings))
        values = np.array(
            [volts[r.phase, r.place.red] - volts[r.phase, r.place.black] for r in readings]
        )
        beyond = np.abs(values - [[reading.value] for reading in readings]) - half[:, None]
        usable = np.isfinite(beyond).all(axis=0)
        unsure = (np.abs(beyond) < JUDGE_VOLTS).any(axis=0)
        expected = (beyond <= 0).all(axis=0)
        found = prepared.intervals(readings, half.tolist()).get(suspect.id, ())
        ends = np.array([end for each in found for end in (each.low_share, each.high_share)])
        near = np.abs(shares[:, None] - ends).min(axis=1, initial=1.0) < AT_END
        ours = np.array([any(each.holds(share) for each in found) for share in shares.tolist()])
        compared.points += int(usable.sum())
        compared.held += int((expected & usable).sum())
        for point in np.flatnonzero((ours != expected) & usable & ~near & ~unsure)[:3]:
            compared.differences.append(
                f"{suspect.id} at share {shares[point]!r}: the judge says {expected[point]}, "
                f"beyond the bands by {beyond[:, point].max():.3g} V"
            )
    return compared


def volts_at(
    drawn: Network, suspect: Suspect, shares: np.ndarray
) -> dict[tuple[str, str], np.ndarray]:
    """Return the judge's volts by phase and node; NaN where it is loose or nothing is steady."""
    volts: dict[tuple[str, str], np.ndarray] = {}
    for phase, (grid, points) in SeverityGrid(drawn, suspect, shares).through_phases().items():
        steady = np.where(points.chatters[:, None], np.nan, points.volts)
        volts[phase, drawn.zero] = np.where(points.chatters, np.nan, 0.0)
        volts.update(((phase, node), steady[:, row]) for row, node in enumerate(grid.nodes))
    return volts


def readings_at(
    drawn: Network, volts: dict[tuple[str, str], np.ndarray], dice: np.random.Generator
) -> list[Reading]:
    """Return two or three readings of what the car showed at the first severity."""
    steady = [key for key, values in volts.items() if np.isfinite(values[0])]
    readings = []
    for _ in range(dice.integers(2, 4) if len(steady) > 2 else 0):
        phase, red = steady[dice.integers(len(steady))]
        blacks = [node for name, node in steady if name == phase and node != red]
        if not blacks:
            continue
        black = blacks[dice.integers(len(blacks))]
        value = float(volts[phase, red][0] - volts[phase, black][0])
        place = Place(key=f"{red} to {black}", red=red, black=black)
        readings.append(Reading(place=place, phase=phase, value=value, step=1e-6, meter=BARE))
    return readings


def is_straight(drawn: Network) -> bool:
    return not any(plain_circuit(drawn, phase).curved for phase in drawn.phases)


@pytest.mark.parametrize("key", STRAIGHT_KEYS)
def test_intervals_hold_the_severities_that_plain_solves_allow(key: str) -> None:
    dice = np.random.default_rng()

    compared = compare(reference_circuit(key).network, dice, SUITE_SUSPECTS, SUITE_POINTS)
    for _ in range(MORE_DRAWS):
        # Now and then the suspects drawn show in no reading, and every severity of theirs holds.
        if 0 < compared.held < compared.points:
            break
        more = compare(reference_circuit(key).network, dice, SUITE_SUSPECTS, SUITE_POINTS)
        compared = Compared(
            compared.points + more.points,
            compared.held + more.held,
            [*compared.differences, *more.differences],
        )

    assert compared.points > SUITE_POINTS
    assert 0 < compared.held < compared.points
    assert not compared.differences, "\n".join(compared.differences[:20])


@pytest.mark.long
def test_intervals_of_random_circuits_agree_with_plain_solves_on_a_million_points() -> None:
    found: list[str] = []
    points = circuits = 0

    for circuit in stored_circuits():
        if circuits == LONG_CIRCUITS or not is_straight(circuit.network):
            continue
        circuits += 1
        dice = np.random.default_rng(circuit.seed)
        compared = compare(circuit.network, dice, LONG_SUSPECTS, LONG_POINTS)
        points += compared.points
        found += [f"seed {circuit.seed}, {difference}" for difference in compared.differences]

    assert circuits == LONG_CIRCUITS
    assert points > 1_000_000
    assert not found, "\n".join(found[:20])


LAMP = network(
    battery("B1", "plus - minus", volts=12.0, ohms=0.001),
    resistor("W1", "plus - in", 0.001),
    resistor("H1", "in - minus", 5.998),
    zero="minus",
)


def lamp_reading(value: float, meter: Meter = BARE) -> Reading:
    place = volts_place("lamp", "in - minus")
    return Reading(place=place, phase="as drawn", value=value, step=0.01, meter=meter)


def test_a_divider_at_half_its_volts_has_as_many_ohms_above_as_below() -> None:
    """12 V * 5.998 / (6 + R): 5.9 V at 6.2 ohm too many, 6.1 V at 5.8 (Ohm's law)."""
    (found,) = severity_intervals(
        LAMP, find_suspect(LAMP, "resistance:W1"), [lamp_reading(6.0)], [0.1]
    )

    least, most = found.severities
    assert least == pytest.approx(12 * 5.998 / 6.1 - 6.0, rel=1e-12)
    assert most == pytest.approx(12 * 5.998 / 5.9 - 6.0, rel=1e-12)


def test_an_open_reads_nothing_through_a_meter_however_large_its_ohms() -> None:
    """With 10 MOhm behind an open lead the display falls to nought: it ends in an open."""
    meter = Meter(reading_fraction=0.0, counts=1.0)
    series = network(
        battery("B1", "plus - minus", volts=12.0, ohms=0.001),
        resistor("W1", "plus - in", 0.001),
        resistor("R1", "in - minus", 50e6),
        zero="minus",
    )

    (found,) = severity_intervals(
        series, find_suspect(series, "resistance:W1"), [lamp_reading(0.0, meter)]
    )

    least, most = found.severities
    # 12 V * P / (P + R) = 15 mV, one count and half a step, with 50 and 10 MOhm side by side as P.
    side_by_side = 50e6 / 6
    assert least == pytest.approx(12 * side_by_side / 0.015 - side_by_side, rel=1e-5)
    assert math.isinf(most)


def test_readings_that_contradict_each_other_leave_no_severity() -> None:
    wire = find_suspect(LAMP, "resistance:W1")

    assert severity_intervals(LAMP, wire, [lamp_reading(6.0), lamp_reading(9.0)]) == ()


def test_a_filament_has_no_closed_form_and_is_named() -> None:
    drawn = reference_circuit("C07").network

    with pytest.raises(NoClosedForm, match="lamp"):
        severity_intervals(drawn, suspects(drawn)[0], [lamp_reading(6.0)])
