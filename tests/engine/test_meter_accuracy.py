"""How far a reading may be off, and how that is put together with the parts' tolerances.

Makers' worked examples are named beside their figures: [ACC] an instrument maker's introduction to
the accuracy of digital multimeters; [ERR] a second one on multimeter errors; [RUO] a third. GUM is
JCGM 100:2008, Guide to the expression of uncertainty in measurement.
"""

import math

import pytest

from circuits.engine import Battery, Meter, Place, Reading, Resistor, predict
from circuits.engine.instruments import meter_variance
from tests.engine.drawing import network, volts_place


@pytest.mark.parametrize(
    ("value", "step", "reading_fraction", "counts", "lowest", "highest"),
    [
        (100.0, 0.1, 0.01, 2, 98.8, 101.2),
        (2.000, 0.001, 0.005, 3, 1.987, 2.013),
        (2.0000, 0.0001, 0.0008, 20, 1.9964, 2.0036),
    ],
)
def test_percent_and_counts_bound_a_reading(
    value, step, reading_fraction, counts, lowest, highest
) -> None:
    """[ACC] 100.0 V at +-(1 % + 2); [ERR] 2.000 V at +-(0.5 % + 3); [RUO] +-(0.08 % + 2 mV).

    A bound a is a rectangular distribution of variance a^2 / 3 (JCGM 100:2008, 4.3.7); half a step
    of the display is a second one.
    """
    reading = Reading(
        place=volts_place("place", "a - b"),
        phase="as drawn",
        value=value,
        step=step,
        meter=Meter(reading_fraction=reading_fraction, counts=counts),
    )

    bound = math.sqrt(3 * meter_variance(reading) - (step / 2) ** 2)

    assert value - bound == pytest.approx(lowest, abs=1e-9)
    assert value + bound == pytest.approx(highest, abs=1e-9)


def test_a_bound_is_a_rectangle_of_variance_a_third_of_its_square() -> None:
    """GUM 4.3.7: a / sqrt(3). 12.00 V at +-(0.5 % + 2) is 0.08 V: u = 0.0462, and half a step."""
    reading = Reading(place=volts_place("V", "a - b"), phase="on", value=12.0, step=0.01)

    assert math.sqrt(meter_variance(reading)) == pytest.approx(
        math.hypot(0.08, 0.005) / math.sqrt(3), rel=1e-9
    )


def test_two_bounds_in_a_quotient_are_added_in_squares() -> None:
    """GUM 5.1: 12.00 V +-0.08 over 2.000 +-0.03 is 6.00 with u = 0.057 (sum by hand).

    Relative bounds 0.667 % and 1.5 %: sqrt(0.667^2 + 1.5^2) / sqrt(3) = 0.948 % of 6.00.
    """
    drawn = network(
        Battery(
            name="B1", first="plus", second="minus", open_circuit_volts=12.0, internal_ohms=1e-9,
            volts_tolerance=0.08, tolerance_fraction=0.0,
        ),
        Resistor(name="R1", first="plus", second="minus", ohms=2.0, tolerance_fraction=0.015),
        zero="minus",
    )  # fmt: skip
    exact = Meter(reading_fraction=0.0, counts=0.0)

    shown = predict(drawn, [Place(key="A", through="R1")], meter=exact)["as drawn", "A"]

    assert shown.value == pytest.approx(6.0, abs=1e-6)
    # 2.807 standard uncertainties hold 99.5 % of a normal quantity (table of the normal curve).
    assert (shown.high - shown.value) / 2.807 == pytest.approx(0.057, abs=0.0005)


def test_a_clamps_floor_is_added_to_its_percent() -> None:
    """+-(1.5 % + 0.1 A) at 20.0 A: 0.40 A (common practice, no source)."""
    reading = Reading(
        place=Place(key="A", through="W1"), phase="on", value=20.0, step=0.1,
        meter=Meter(reading_fraction=0.015, counts=0.0, floor_amps=0.1),
    )  # fmt: skip

    assert math.sqrt(3 * meter_variance(reading) - 0.05**2) == pytest.approx(0.40, abs=1e-9)
