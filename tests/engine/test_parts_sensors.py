"""Sensors: thermistors, platinum, potentiometers and three-wire sensors.

Published figures: two makers' tables of 10 kOhm NTC thermistors, the worked example of a
Steinhart-Hart calculator's manual, IEC 60751 for platinum, and the potentiometer chapters of an
open textbook (Lessons in Electric Circuits, vol. I).
"""

from dataclasses import replace

import pytest

from circuits.engine import (
    BadPart,
    BetaCurve,
    CurveProblem,
    IdealSource,
    Network,
    PlatinumCurve,
    Potentiometer,
    Resistor,
    SteinhartHartCurve,
    TableCurve,
    Thermistor,
    ThreeWireSensor,
    solve,
)
from tests.engine.drawing import network, phases, resistor
from tests.engine.solving import solved, the_solution

# A maker's table of a 10 kOhm NTC thermistor: degrees C, ohms.
MAKER_A = (
    *((-55, 519910), (-35, 158090), (-20, 71668), (-10, 44087), (0, 27936), (10, 18187)),
    *((20, 12136), (25, 10000), (30, 8284), (40, 5774), (50, 4103), (60, 2967), (70, 2182)),
    *((80, 1629), (90, 1234), (100, 946.6), (120, 578.1), (150, 298.9)),
)
# The same, by another maker, with B = 3974.
MAKER_B = (
    *((-25, 146676), (-15, 78875), (-5, 44424), (5, 26075), (15, 15881), (35, 6488), (45, 4326)),
    *((55, 2956), (65, 2066), (75, 1474), (85, 1072), (95, 793), (105, 596), (115, 454)),
    (125, 351),
)
STEINHART_HART_EXAMPLE = ((-25, 87041), (0, 27326), (25, 10000))


def thermistor(ends: str, curve, celsius: float) -> Thermistor:
    first, second = ends.split(" - ")
    return Thermistor(name="NTC", first=first, second=second, curve=curve, celsius=celsius)


def five_volts() -> IdealSource:
    return IdealSource(name="REF", first="5V", second="0", volts=5.0)


@pytest.mark.parametrize(("celsius", "ohms"), MAKER_A)
def test_a_table_gives_its_own_points(celsius: float, ohms: float) -> None:
    assert TableCurve(MAKER_A).ohms_at(celsius) == pytest.approx(ohms)


def test_between_the_points_of_a_table_the_makers_own_are_met_to_a_percent_and_a_half() -> None:
    """Every second point left out, so that gaps are up to 35 K wide: a third of a kelvin."""
    every_second = TableCurve(MAKER_A[::2] + MAKER_A[-1:])

    for celsius, ohms in MAKER_A[1:-1:2]:
        assert every_second.ohms_at(celsius) == pytest.approx(ohms, rel=0.015), celsius


def test_a_ptc_table_climbs_with_the_temperature() -> None:
    ptc = TableCurve(((150, 4000.0), (20, 100.0), (120, 300.0)))

    assert ptc.ohms_at(20) < ptc.ohms_at(90) < ptc.ohms_at(120) < ptc.ohms_at(140)


@pytest.mark.parametrize(("celsius", "ohms"), MAKER_B)
def test_the_b_formula_gives_a_makers_table_to_one_ohm(celsius: float, ohms: float) -> None:
    curve = BetaCurve(nominal_ohms=10_000, beta_kelvin=3974)

    assert curve.ohms_at(celsius) == pytest.approx(ohms, abs=1.0)


def test_three_points_give_the_published_coefficients_and_temperature() -> None:
    """7000 Ohm stand for 34.7531 C."""
    curve = SteinhartHartCurve(STEINHART_HART_EXAMPLE)

    assert curve.coefficients() == pytest.approx((8.975540e-4, 2.501791e-4, 1.948344e-7), rel=1e-6)
    assert curve.ohms_at(34.7531) == pytest.approx(7000, abs=0.05)


def test_three_points_of_the_makers_table_stay_within_a_twentieth_of_a_kelvin() -> None:
    """Through 0, 25 and 100 C, from -20 to 150 C; 0.05 K is 0.27 % of the ohms when cold."""
    curve = SteinhartHartCurve(((0, 27936), (25, 10000), (100, 946.6)))

    for celsius, ohms in MAKER_A:
        if celsius >= -20:
            slope = abs(curve.ohms_at(celsius + 0.025) - curve.ohms_at(celsius - 0.025)) / 0.05
            assert abs(curve.ohms_at(celsius) - ohms) / slope < 0.055, celsius


@pytest.mark.parametrize(
    ("celsius", "ohms"),
    [(0, 100.00), (25, 109.73), (50, 119.40), (80, 130.90), (100, 138.51), (120, 146.07)],
)
def test_platinum_follows_iec_60751(celsius: float, ohms: float) -> None:
    assert PlatinumCurve().ohms_at(celsius) == pytest.approx(ohms, abs=0.005)
    assert PlatinumCurve(1000.0).ohms_at(celsius) == pytest.approx(10 * ohms, abs=0.05)


def test_platinum_below_zero_has_a_term_more() -> None:
    """80.31 Ohm at -50 C (IEC 60751, value from memory)."""
    assert PlatinumCurve().ohms_at(-50) == pytest.approx(80.31, abs=0.005)


@pytest.mark.parametrize(
    ("pull_up_ohms", "celsius", "volts"),
    [
        *((2490, 0, 4.591), (2490, 20, 4.149), (2490, 25, 4.003), (2490, 80, 1.977)),
        *((2490, 100, 1.377), (1000, 0, 4.827), (1000, 20, 4.619), (1000, 25, 4.545)),
        *((1000, 80, 3.098), (1000, 100, 2.431)),
    ],
)
def test_a_coolant_sensor_divides_five_volts(
    pull_up_ohms: float, celsius: float, volts: float
) -> None:
    """5 V -- pull-up -- signal -- NTC -- ground: V = 5 R / (R + pull-up), R from the table."""
    drawn = network(
        five_volts(),
        resistor("PU", "5V - SIG", pull_up_ohms),
        thermistor("SIG - 0", TableCurve(MAKER_A), celsius),
        zero="0",
    )

    assert the_solution(drawn).volts["SIG"] == pytest.approx(volts, abs=0.0006)


def test_the_temperature_of_a_phase_moves_the_signal() -> None:
    cold = thermistor("SIG - 0", TableCurve(MAKER_A), 0)
    drawn = network(
        five_volts(),
        resistor("PU", "5V - SIG", 2490),
        cold,
        zero="0",
        phases=phases(cold=cold, hot=replace(cold, celsius=100)),
    )
    solutions = solved(drawn)

    assert solutions["cold"].volts["SIG"] == pytest.approx(4.591, abs=0.0006)
    assert solutions["hot"].volts["SIG"] == pytest.approx(1.377, abs=0.0006)


@pytest.mark.parametrize(
    ("curve", "celsius", "says"),
    [
        (TableCurve(MAKER_A), 151, "NTC: 151 °C .* this sensor's curve; .* from -55 to 150"),
        (TableCurve(MAKER_A), -56, "from -55 to 150"),
        (BetaCurve(nominal_ohms=1e4, beta_kelvin=3974), -300, "from -55 to 150"),
        (PlatinumCurve(), float("nan"), "nan °C"),
    ],
)
def test_a_temperature_off_the_curve_is_refused(curve, celsius: float, says: str) -> None:
    with pytest.raises(BadPart, match=says):
        thermistor("SIG - 0", curve, celsius)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: TableCurve(((0, 100.0),)), "two points or more"),
        (lambda: TableCurve(((0, 100.0), (0, 90.0))), "0 °C is given twice"),
        (lambda: TableCurve(((0, 100.0), (-400, 90.0))), "below absolute zero"),
        (lambda: TableCurve(((0, 100.0), (20, -90.0))), "ohms at 20 °C must be above zero"),
        (lambda: SteinhartHartCurve(MAKER_A), "three points, not 18"),
        (lambda: SteinhartHartCurve(((0, 10.0), (25, 90.0), (50, 400.0))), "no NTC curve"),
        (lambda: SteinhartHartCurve(((0, 10.0), (25, 10.0), (50, 5.0))), "the same ohms"),
        (lambda: BetaCurve(nominal_ohms=1e4, beta_kelvin=0), "B must be above zero"),
        (lambda: PlatinumCurve(-100.0), "must be above zero"),
    ],
)
def test_a_curve_that_is_none_is_refused_in_words(make, says: str) -> None:
    with pytest.raises(CurveProblem, match=says):
        make()


# ------------------------------------------------------------------------------------- wipers


def potentiometer(position: float, ohms: float = 5000.0, wiper_ohms: float = 1e-3) -> Potentiometer:
    return Potentiometer(
        name="TPS",
        first="5V",
        second="0",
        third="SIG",
        track_ohms=ohms,
        position_fraction=position,
        wiper_ohms=wiper_ohms,
    )


@pytest.mark.parametrize("track_ohms", [100.0, 5000.0, 1e6])
def test_at_half_travel_a_wiper_has_half_the_reference_whatever_its_track(
    track_ohms: float,
) -> None:
    """Lessons in Electric Circuits I, voltage divider circuits."""
    drawn = network(five_volts(), potentiometer(0.5, track_ohms), zero="0")

    assert the_solution(drawn).volts["SIG"] == pytest.approx(2.5)


@pytest.mark.parametrize(("source_volts", "dropped"), [(45.0, 10.0), (180.0, 40.0)])
def test_the_textbooks_divider_as_a_potentiometer(source_volts: float, dropped: float) -> None:
    """45 V, 22.5 kOhm, 2 mA: the first 5 kOhm drop 10 V, and 40 V at 180 V (LIEC I)."""
    source = IdealSource(name="B1", first="5V", second="0", volts=source_volts)
    solution = the_solution(network(source, potentiometer(1 - 5 / 22.5, 22_500.0), zero="0"))

    assert solution.drop_volts("5V", "SIG") == pytest.approx(dropped)
    assert solution.amps["TPS"] == pytest.approx(source_volts / 22_500)


def test_a_loaded_wiper_sags_as_two_resistors_would() -> None:
    """3.5 kOhm over 1.5 kOhm parallel to 10 kOhm behind 200 Ohm of wiper: 1.307 kOhm to ground.

    5 x 1.3077 / 4.8077 = 1.3600 V at the tap; the input takes 10 / 10.2 of it.
    """
    drawn = network(
        five_volts(),
        potentiometer(0.3, wiper_ohms=200.0),
        resistor("IN", "SIG - 0", 10e3),
        zero="0",
    )

    assert the_solution(drawn).volts["SIG"] == pytest.approx(1.3600 * 10 / 10.2, abs=2e-4)


@pytest.mark.parametrize("position", [0.0, 1.0])
def test_at_its_ends_a_wiper_has_all_or_nothing(position: float) -> None:
    drawn = network(
        five_volts(),
        potentiometer(position, wiper_ohms=0.0),
        resistor("IN", "SIG - 0", 10e3),
        zero="0",
    )
    # Without ohms the star has no middle to check by; the volts speak for themselves.
    (solution,) = solve(drawn)

    assert solution.volts["SIG"] == pytest.approx(5.0 * position)


def three_sensors(ground_ohms: float) -> Network:
    """Three sensors of 1.5 kOhm on one 5 V supply and one ground."""
    sensors = (
        ThreeWireSensor(
            name=name,
            first="5V",
            second="SG",
            third=f"{name}.out",
            track_ohms=1500.0,
            position_fraction=share,
            wiper_ohms=1e-3,
            supply_amps=supply_amps,
        )
        for name, share, supply_amps in (("RP", 0.28, 0.0), ("AC", 0.30, 0.0), ("MAP", 0.27, 2e-3))
    )
    return network(five_volts(), *sensors, resistor("SGW", "SG - 0", ground_ohms), zero="0")


def test_sensors_are_ratiometric_and_share_what_happens_to_their_ground() -> None:
    """By hand: I = 2 mA + V / 500, V = 5 - 100 I: 5 = V + 0.2 + V / 5, V = 4.0 V, ground 1.0 V.

    Every signal is its share of 4.0 V on top of 1.0 V.
    """
    healthy = the_solution(three_sensors(1e-6))
    lifted = the_solution(three_sensors(100.0))

    assert healthy.volts["RP.out"] == pytest.approx(1.40, abs=1e-4)
    assert sum(healthy.amps[name] for name in ("RP", "AC", "MAP")) == pytest.approx(12e-3, abs=1e-7)
    assert lifted.volts["SG"] == pytest.approx(1.0)
    for name, share in (("RP", 0.28), ("AC", 0.30), ("MAP", 0.27)):
        assert lifted.volts[f"{name}.out"] == pytest.approx(1.0 + share * 4.0, abs=1e-6)


def test_a_sensor_without_supply_gives_nothing() -> None:
    drawn = three_sensors(0.05).with_parts([Resistor(name="REF", first="5V", second="0", ohms=1.0)])

    assert all(
        volts == pytest.approx(0.0, abs=1e-9) for volts in the_solution(drawn).volts.values()
    )


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"position_fraction": 1.2}, "between 0 and 100 %, not 120%"),
        ({"track_ohms": 0.0}, "track_ohms must be above zero"),
        ({"wiper_ohms": -1.0}, "wiper_ohms cannot be below zero"),
        ({"third": "5V"}, "two of its three ends are at 5V"),
    ],
)
def test_a_potentiometer_that_cannot_be_is_refused(values, says: str) -> None:
    with pytest.raises(BadPart, match=says):
        network(five_volts(), replace(potentiometer(0.5), **values), zero="0")
