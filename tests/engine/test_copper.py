"""Copper by size, length and temperature, against published tables."""

import math

import pytest

from circuits.engine import Wire, mm2_from_awg, ohms_per_metre, temperature_factor
from circuits.engine.copper import ANNEALED_COPPER_OHM_MM2_PER_METRE
from tests.engine.drawing import coil, network, resistor, source
from tests.engine.solving import the_solution

# gauge: bare diameter in inches, ohms per km of solid copper (ASTM B258 diameters; ohms as printed
# in public wire tables). 2/0 is gauge -1, 4/0 is -3.
WIRE_GAUGES = {
    -3: (0.4600, 0.16),
    -1: (0.3648, 0.26),
    0: (0.3249, 0.32),
    2: (0.2576, 0.51),
    4: (0.2043, 0.82),
    6: (0.1620, 1.30),
    8: (0.1285, 2.06),
    10: (0.1019, 3.28),
    12: (0.0808, 5.21),
    14: (0.0641, 8.28),
    16: (0.0508, 13.17),
    18: (0.0403, 20.94),
    20: (0.0320, 33.29),
    22: (0.0254, 52.94),
}
MM_PER_INCH = 25.4

# IEC 60228, plain copper at 20 C, most ohms per km: mm2 -> (class 1 or 2, class 5).
IEC_60228 = {
    0.5: (36.0, 39.0),
    0.75: (24.5, 26.0),
    1.0: (18.1, 19.5),
    1.5: (12.1, 13.3),
    2.5: (7.41, 7.98),
    4.0: (4.61, 4.95),
    6.0: (3.08, 3.30),
    10.0: (1.83, 1.91),
    16.0: (1.15, 1.21),
    25.0: (0.727, 0.780),
    35.0: (0.524, 0.554),
    50.0: (0.387, 0.386),
    70.0: (0.268, 0.272),
}


def test_annealed_copper_is_one_58th_of_an_ohm_for_a_metre_of_a_square_millimetre() -> None:
    """IEC 60028: 0.017241 ohm mm2/m at 20 C, 58 MS/m."""
    assert pytest.approx(1 / 58, rel=3e-5) == ANNEALED_COPPER_OHM_MM2_PER_METRE


@pytest.mark.parametrize(
    ("gauge", "diameter_inch"), [(gauge, inch) for gauge, (inch, _) in WIRE_GAUGES.items()]
)
def test_gauges_have_the_diameters_of_the_standard(gauge, diameter_inch) -> None:
    """ASTM B258, to the printed ten-thousandth of an inch."""
    diameter_mm = math.sqrt(4 * mm2_from_awg(gauge) / math.pi)

    assert diameter_mm / MM_PER_INCH == pytest.approx(diameter_inch, abs=0.00006)


@pytest.mark.parametrize(
    ("gauge", "ohms_per_km"), [(gauge, ohms) for gauge, (_, ohms) in WIRE_GAUGES.items()]
)
def test_gauges_have_the_ohms_of_the_wire_table(gauge, ohms_per_km) -> None:
    """Within 0.1 %, or the printed hundredth for the thick ones."""
    ours = 1000 * ANNEALED_COPPER_OHM_MM2_PER_METRE / mm2_from_awg(gauge)

    assert ours == pytest.approx(ohms_per_km, abs=max(0.001 * ohms_per_km, 0.006))


@pytest.mark.parametrize(("wire_mm2", "limits"), IEC_60228.items())
def test_vehicle_cable_lies_between_stiff_and_flexible_conductors(wire_mm2, limits) -> None:
    """The table of cable ohms is from memory (ISO 6722-1); IEC 60228 brackets it within 5 %."""
    stiff_ohms_per_km, flexible_ohms_per_km = limits

    ours = 1000 * ohms_per_metre(wire_mm2)
    assert 0.95 * stiff_ohms_per_km <= ours <= 1.001 * flexible_ohms_per_km


@pytest.mark.parametrize("wire_mm2", [0.35, 0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70])
def test_stranded_cable_resists_a_little_more_than_solid_copper(wire_mm2) -> None:
    """5 to 11.5 % more, as stranded maxima do (value from memory)."""
    solid = ANNEALED_COPPER_OHM_MM2_PER_METRE / wire_mm2

    assert 1.04 < ohms_per_metre(wire_mm2) / solid < 1.115


def test_a_size_between_the_table_falls_between_its_neighbours() -> None:
    assert ohms_per_metre(4.0) < ohms_per_metre(3.0) < ohms_per_metre(2.5)
    assert ohms_per_metre(95.0) < ohms_per_metre(70.0)


@pytest.mark.parametrize(
    ("celsius", "ratio_20_to_t"), [(5, 1.064), (50, 0.893), (80, 0.806), (100, 0.758)]
)
def test_hot_copper_resists_more_as_the_cable_standard_says(celsius, ratio_20_to_t) -> None:
    """IEC 60228 temperature factors; they imply 0.004 /K where IEC 60028 has 0.00393, so 1.5 %."""
    assert 1 / temperature_factor(celsius) == pytest.approx(ratio_20_to_t, rel=0.015)


def test_a_wire_adds_its_joints_to_its_copper() -> None:
    """1.4 m of 35 mm2 at 0.527 mOhm/m and 0.5 mOhm of joints make 1.238 mOhm."""
    wire = Wire(name="W1", first="a", second="b", wire_mm2=35.0, metres=1.4, joint_ohms=0.0005)

    assert wire.ohms == pytest.approx(0.0012378, rel=1e-6)


def test_only_the_copper_of_a_wire_warms() -> None:
    cold = Wire(name="W1", first="a", second="b", wire_mm2=1.5, metres=10, joint_ohms=0.010)
    hot = Wire(
        name="W1", first="a", second="b", wire_mm2=1.5, metres=10, joint_ohms=0.010, celsius=100
    )

    assert hot.ohms - 0.010 == pytest.approx((cold.ohms - 0.010) * (1 + 0.00393 * 80))


@pytest.mark.parametrize(
    ("celsius", "load_volts", "wire_volts"), [(20, 12.5, 0.75), (35, 12.42, 0.79)]
)
def test_warm_wires_leave_the_load_less(celsius, load_volts, wire_volts) -> None:
    """Two wires of 15 ohm feed 250 ohm from 14 V: 12.5 V and 0.75 V at 20 C, 12.42 and 0.79 at 35.

    Lessons in Electric Circuits, volume I, Physics of conductors and insulators (conduct.sml).
    """
    solution = the_solution(
        network(
            source("B1", "plus - minus", 14),
            coil("feed", "plus - load", 15, celsius=celsius),
            resistor("load", "load - return", 250),
            coil("ground", "return - minus", 15, celsius=celsius),
            zero="minus",
        )
    )

    assert solution.drop_volts("load", "return") == pytest.approx(load_volts, abs=0.0051)
    assert solution.drop_volts("plus", "load") == pytest.approx(wire_volts, abs=0.0051)
