"""Severities that readings allow, in closed form, against plain solves at many severities.

The judge solves the node equations anew by LAPACK at every point of a grid, follows the states
itself and asks whether each reading lies within its band; it knows of no intervals. Both must
agree on every point but those within a billionth of an interval's end.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from circuits.engine import (
    Compound,
    Diode,
    Fault,
    FaultKind,
    Meter,
    Network,
    NoClosedForm,
    Place,
    PreparedCircuit,
    Reading,
    Suspect,
    find_suspect,
    predict,
    severity_intervals,
    suspects,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, coil, network, resistor, switch, volts_place
from tests.fresh import seed_by_chance, seed_of_this_code
from tests.judges.corpus import stored_circuits
from tests.judges.plain import plain_circuit
from tests.judges.severity_grid import SeverityGrid, members_in_full, moves_one_thing

# A meter that loads nothing: the judge reads the volts of the nodes.
BARE = Meter(input_ohms=math.inf, reading_fraction=0.0, counts=0.0)
AT_END = 1e-9
# What rounding leaves of the judge's volts.
JUDGE_VOLTS = 1e-8

STRAIGHT_KEYS = ("C01", "C02", "C03", "C05", "C09", "C10", "C14")
# Each suspect's grid is solved once and asked by so many logs.
LOGS = 8
SUITE_SUSPECTS, SUITE_SHARES, SUITE_POINTS = 10, 1_000, 1_000_000
SEVERAL_SUSPECTS, SEVERAL_SHARES = 25, 40
LONG_CIRCUITS, LONG_SUSPECTS, LONG_SHARES, LONG_POINTS = 60, 12, 2_000, 20_000_000


@dataclass
class Compared:
    """How many severities were asked of logs, how many could be it, and where the two differ."""

    points: int = 0
    held: int = 0
    differences: list[str] = field(default_factory=list)


def suspects_with_a_line(drawn: Network) -> list[Suspect]:
    return [suspect for suspect in suspects(drawn) if members_in_full(suspect) < 2]


def compare(
    drawn: Network,
    dice: np.random.Generator,
    most: int,
    severities: int,
    compared: Compared,
    listed: Sequence[Suspect] | None = None,
) -> None:
    """Hold random suspects with readings of a random severity of theirs against the judge."""
    listed = suspects_with_a_line(drawn) if listed is None else listed
    prepared = PreparedCircuit(drawn, (), listed)
    for number in dice.permutation(len(listed))[:most].tolist():
        suspect = listed[number]
        shares = dice.random(severities) if suspect.graded else np.ones(1)
        volts = volts_at(drawn, suspect, shares)
        for _ in range(LOGS):
            hold_a_log(prepared, suspect, shares, volts, dice, compared)


def hold_a_log(
    prepared: PreparedCircuit,
    suspect: Suspect,
    shares: np.ndarray,
    volts: dict[tuple[str, str], np.ndarray],
    dice: np.random.Generator,
    compared: Compared,
) -> None:
    """Ask at each severity whether it could have shown the readings of one log."""
    readings = readings_at(volts, dice)
    if not readings:
        return
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
    ours = np.zeros(len(shares), dtype=bool)
    for each in found:
        ours |= (each.low_share <= shares) & (shares <= each.high_share)
    compared.points += int(usable.sum())
    compared.held += int((expected & usable).sum())
    for point in np.flatnonzero((ours != expected) & usable & ~near & ~unsure)[:3]:
        compared.differences.append(
            f"{suspect.id} at share {shares[point]!r}: the judge says {expected[point]}, "
            f"beyond the bands by {beyond[:, point].max():.3g} V"
        )


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
    volts: dict[tuple[str, str], np.ndarray], dice: np.random.Generator
) -> list[Reading]:
    """Return two or three readings of what the car showed at one of the severities."""
    point = dice.integers(len(next(iter(volts.values()))))
    steady = [key for key, values in volts.items() if np.isfinite(values[point])]
    readings = []
    for _ in range(dice.integers(2, 4) if len(steady) > 2 else 0):
        phase, red = steady[dice.integers(len(steady))]
        blacks = [node for name, node in steady if name == phase and node != red]
        if not blacks:
            continue
        black = blacks[dice.integers(len(blacks))]
        value = float(volts[phase, red][point] - volts[phase, black][point])
        place = Place(key=f"{red} to {black}", red=red, black=black)
        readings.append(Reading(place=place, phase=phase, value=value, step=1e-6, meter=BARE))
    return readings


def is_straight(drawn: Network) -> bool:
    return not any(plain_circuit(drawn, phase).curved for phase in drawn.phases)


def test_intervals_of_the_reference_circuits_hold_what_plain_solves_allow_on_a_million_points() -> (
    None
):
    dice = np.random.default_rng(seed_of_this_code())
    compared = Compared()

    for key in itertools.cycle(STRAIGHT_KEYS):
        drawn = reference_circuit(key).network
        compare(drawn, dice, SUITE_SUSPECTS, SUITE_SHARES, compared)
        assert not compared.differences, "\n".join([key, *compared.differences[:20]])
        if compared.points >= SUITE_POINTS and key == STRAIGHT_KEYS[-1]:
            break

    assert 0 < compared.held < compared.points


def test_a_suspect_that_moves_several_things_has_the_intervals_that_plain_solves_allow() -> None:
    """Wipers that shift, returns fitted elsewhere and compounds, each drawn fault by fault."""
    dice = np.random.default_rng(seed_of_this_code())
    compared = Compared()
    kinds: set[FaultKind] = set()

    for number in dice.permutation(len(stored_circuits())).tolist():
        drawn = stored_circuits()[number].network
        several = [s for s in suspects_with_a_line(drawn) if not moves_one_thing(drawn, s)]
        if not several or not is_straight(drawn):
            continue
        kinds |= {suspect.kind for suspect in several}
        compare(drawn, dice, 3, SEVERAL_SHARES, compared, several)
        if compared.points > SEVERAL_SHARES * SEVERAL_SUSPECTS * LOGS:
            break

    assert kinds > {FaultKind.NAMED, FaultKind.RETURN_ELSEWHERE}
    assert compared.points > SEVERAL_SHARES * SEVERAL_SUSPECTS * LOGS
    assert 0 < compared.held < compared.points
    assert not compared.differences, "\n".join(compared.differences[:20])


@pytest.mark.long
def test_intervals_of_random_circuits_agree_with_plain_solves_on_twenty_million_points() -> None:
    chance = seed_by_chance()
    drawn = [each for each in stored_circuits() if is_straight(each.network)]
    compared = Compared()
    circuits = 0

    for each in itertools.cycle(drawn):
        seeds = [chance, circuits]
        compare(each.network, np.random.default_rng(seeds), LONG_SUSPECTS, LONG_SHARES, compared)
        about = f"circuit {each.seed}, drawn with the seeds {seeds}"
        assert not compared.differences, "\n".join([about, *compared.differences[:20]])
        circuits += 1
        if compared.points >= LONG_POINTS:
            break

    assert circuits >= LONG_CIRCUITS
    assert 0 < compared.held < compared.points


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


RELAY = network(
    battery("B1", "plus - minus", volts=12.0, ohms=0.001),
    resistor("W1", "plus - in", 0.001),
    coil("K1", "in - minus", 88.0),
    zero="minus",
)


def at_the_coil(value: float, celsius: float) -> Reading:
    place = volts_place("coil", "in - minus")
    return Reading(
        place=place, phase="as drawn", value=value, step=0.01, meter=BARE, celsius=celsius
    )


def test_a_hot_coil_leaves_more_of_its_volts_to_itself() -> None:
    """At 90 C copper has 27.5 % more ohms (IEC 60028): half the volts take as many ohms before."""
    wire = find_suspect(RELAY, "resistance:W1")

    (hot,) = severity_intervals(RELAY, wire, [at_the_coil(6.0, 90.0)], [0.01])
    (cold,) = severity_intervals(RELAY, wire, [at_the_coil(6.0, 20.0)], [0.01])

    for found, ohms in ((hot, 88.0 * (1 + 0.00393 * 70)), (cold, 88.0)):
        least, most = found.severities
        assert least == pytest.approx(12 * ohms / 6.01 - ohms - 0.002, rel=1e-4)
        assert most == pytest.approx(12 * ohms / 5.99 - ohms - 0.002, rel=1e-4)


def test_readings_at_two_temperatures_leave_what_both_allow() -> None:
    """12 V behind R and a coil: 5 to 7 V cold is R from 62.9 to 123.2, 5 to 6 V hot from 112.2."""
    wire = find_suspect(RELAY, "resistance:W1")
    readings = [at_the_coil(6.0, 20.0), at_the_coil(5.5, 90.0)]

    (found,) = severity_intervals(RELAY, wire, readings, [1.0, 0.5])

    assert found.severities == pytest.approx((112.2, 123.2), rel=1e-3)
    assert severity_intervals(RELAY, wire, readings, [1.0, 0.01]) == ()


def test_a_compound_of_ohms_and_a_path_has_the_severity_that_ohms_law_gives() -> None:
    """0.8 ohm before the lamp and 5 ohm beside it, at 0.5 of it 0.4 and 10: 12 V * p / (0.402 + p).

    p is 10 beside 5.998 ohm: 3.749 ohm, so the lamp has 10.84 V.
    """
    damp = Compound(
        name="damp",
        words="connector full of water",
        faults=(("resistance:W1", 0.8), ("ground-short:in", 5.0)),
    )
    drawn = replace(LAMP, compounds=(damp,))
    suspect = find_suspect(drawn, "named:damp")
    beside = 1 / (1 / 5.998 + 1 / 10)
    volts = 12 * beside / (0.402 + beside)

    (found,) = severity_intervals(drawn, suspect, [lamp_reading(volts)], [1e-6])

    assert volts == pytest.approx(10.84, abs=0.005)
    assert found.severities == pytest.approx((0.5, 0.5), abs=1e-6)


REAR_WINDOW = network(
    battery("B1", "plus - minus", volts=14.0, ohms=0.001),
    resistor("GRID", "fed - tab", 1.25),
    resistor("HINGE", "tab - minus", 0.002),
    resistor("TELL", "fed - lit", 1000.0),
    Diode(name="LED", first="lit", second="minus", forward_volts=2.0, on_ohms=20.0),
    switch("S1", "plus - fed", closed=False),
    zero="minus",
)
ACROSS_THE_SWITCH = volts_place("across the switch", "plus - fed")


def test_a_meter_finds_its_way_through_a_tell_tale_behind_an_open_ground() -> None:
    """Relay off, hinge strap off: 14 V less the 2 V of the LED, of 10 MOhm and 1.02 kOhm (KVL)."""
    hinge = Fault(suspect=find_suspect(REAR_WINDOW, "resistance:HINGE"), severity=math.inf)

    shown = predict(REAR_WINDOW, [ACROSS_THE_SWITCH], fault=hinge)["as drawn", "across the switch"]

    assert not shown.floating
    assert shown.value == pytest.approx(12.0 * 10e6 / (10e6 + 1020), rel=1e-7)
    # The LED's 2 V are made within 10 %; the battery's 14 within 0.1 V.
    assert 0.1 < shown.worst_high - shown.value < 0.5


def test_severities_end_where_the_meter_begins_to_light_the_tell_tale() -> None:
    """14 V * 10 / (10 + R) in megohms, until R has the 2 V of the LED at 1.667; then 12 V."""
    hinge = find_suspect(REAR_WINDOW, "resistance:HINGE")
    reading = Reading(place=ACROSS_THE_SWITCH, phase="as drawn", value=13.0, step=0.01)

    (straight,) = severity_intervals(REAR_WINDOW, hinge, [reading], [0.1])
    (lit,) = severity_intervals(REAR_WINDOW, hinge, [replace(reading, value=12.0)], [0.05])

    ohms_at = {volts: 140e6 / volts - 10e6 for volts in (13.1, 12.9, 12.05)}
    assert straight.severities == pytest.approx((ohms_at[13.1], ohms_at[12.9]), rel=1e-4)
    assert lit.severities == pytest.approx((ohms_at[12.05], math.inf), rel=1e-4)


def test_two_opens_at_once_have_no_closed_form_and_are_named() -> None:
    cut = Compound(
        name="cut",
        words="loom cut through",
        faults=(("resistance:W1", math.inf), ("resistance:H1", math.inf)),
    )
    drawn = replace(LAMP, compounds=(cut,))
    suspect = find_suspect(drawn, "named:cut")

    with pytest.raises(NoClosedForm, match="named:cut"):
        severity_intervals(drawn, suspect, [lamp_reading(6.0)])


def test_a_filament_has_no_closed_form_and_is_named() -> None:
    drawn = reference_circuit("C07").network

    with pytest.raises(NoClosedForm, match="lamp"):
        severity_intervals(drawn, suspects(drawn)[0], [lamp_reading(6.0)])
