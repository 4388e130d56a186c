"""The temperature noted with a reading: copper and windings follow it, what has its own does not.

IEC 60028: the temperature coefficient of annealed copper is 0.00393 /K at 20 C, so 90 C is 27.5 %
more; IEC 60228 gives R20/Rt = 0.806 at 80 C and 1.064 at 5 C.
"""

from typing import Any

import pytest

from circuits.engine import (
    BadPlace,
    Meter,
    Network,
    Outcome,
    Place,
    Reading,
    Wire,
    at_ambient,
    judge,
    solve,
)
from tests.engine.drawing import (
    battery,
    coil,
    contact,
    network,
    phases,
    resistor,
    switch,
    volts_place,
)


def wire(name: str, ends: str, metres: float, celsius: float = 20.0) -> Wire:
    first, second = ends.split(" - ")
    return Wire(name=name, first=first, second=second, wire_mm2=1.5, metres=metres, celsius=celsius)


def value(drawn: Network, part: str, name: str) -> Any:
    """Return a value that parts of its kind have."""
    return getattr(drawn.part(part), name)


@pytest.mark.parametrize(
    ("celsius", "factor"), [(90.0, 1.275), (80.0, 1 / 0.806), (5.0, 1 / 1.064)]
)
def test_copper_follows_the_temperature_that_was_noted(celsius, factor) -> None:
    """IEC 60028 and IEC 60228, which rounds the coefficient to 0.004: 0.5 % apart."""
    drawn = network(wire("W1", "plus - a", 4.0), coil("K1", "a - minus", 88.0),
                    battery("B1", "plus - minus", 12.0, 0.01), zero="minus")  # fmt: skip

    warm = at_ambient(drawn, celsius)

    assert value(warm, "W1", "ohms") / value(drawn, "W1", "ohms") == pytest.approx(
        factor, rel=0.006
    )
    assert 12 / solve(warm)[0].amps["K1"] / 88.0 == pytest.approx(factor, rel=0.007)


def test_a_part_with_a_temperature_of_its_own_keeps_it() -> None:
    drawn = network(coil("hot", "plus - minus", 88.0, celsius=90.0),
                    coil("K1", "plus - minus", 88.0),
                    battery("B1", "plus - minus", 12.0, 0.01), zero="minus")  # fmt: skip

    cold = at_ambient(drawn, -10.0)

    assert value(cold, "hot", "celsius") == 90.0
    assert value(cold, "K1", "celsius") == -10.0
    assert value(drawn, "K1", "celsius") == 20.0


def relay(volts: float):
    """plus -- key -- 88 ohm winding -- minus; its contact feeds a lamp of 6 ohm."""
    winding = coil("K1", "in - minus", 88.0)
    return network(
        battery("B1", "plus - minus", volts, 0.01),
        switch("key", "plus - in", closed=False),
        winding,
        contact("K1.contact", "plus - out", of=winding, pull_in_volts=7.2, drop_out_volts=2.0),
        resistor("lamp", "out - minus", 6.0),
        zero="minus",
        phases=phases(off=(), on=switch("key", "plus - in")),
    )


def logged(celsius: float | None) -> Reading:
    return Reading(
        place=volts_place("OUT", "out - minus"), phase="on", value=0.0, step=0.01, celsius=celsius
    )


def test_a_relay_that_fails_hot_on_a_weak_battery_is_not_faulty_by_cold_figures() -> None:
    """88 ohm becomes 112, 7.2 V of pull-in becomes 9.2 V (IEC 60028): at 9.0 V it stays out."""
    noted = judge(relay(9.0), [logged(90.0)], claim="resistance:K1.contact")
    unnoted = judge(relay(9.0), [logged(None)], claim="resistance:K1.contact")

    assert noted.healthy.passes
    assert noted.outcome is Outcome.CANNOT_SAY
    assert not unnoted.healthy.passes
    assert unnoted.outcome is Outcome.FITS
    assert any("90 °C" in note and "OUT in 'on'" in note for note in noted.notes)
    assert not any("°C" in note for note in unnoted.notes)


def test_a_hot_and_a_cold_reading_of_one_phase_are_each_judged_at_their_own() -> None:
    """The relay pulls when cold and stays out when hot, in the same phase: a healthy car."""
    cold = Reading(place=volts_place("OUT", "out - minus"), phase="on", value=8.98, step=0.01,
                   celsius=20.0)  # fmt: skip

    verdict = judge(relay(9.0), [cold, logged(90.0)])

    assert verdict.healthy.passes
    assert verdict.healthy.predicted == pytest.approx((8.98, 0.0), abs=0.02)


def test_what_no_copper_follows_takes_no_second_look() -> None:
    drawn = network(battery("B1", "plus - minus", 12.6, 0.01), resistor("R1", "plus - minus", 10.0),
                    zero="minus")  # fmt: skip
    reading = Reading(place=Place(key="V", red="plus", black="minus"), phase="as drawn",
                      value=12.59, step=0.01, celsius=-15.0, meter=Meter())  # fmt: skip

    verdict = judge(drawn, [reading])

    assert verdict.healthy.passes
    assert verdict.notes == ()


@pytest.mark.parametrize("celsius", [-80.0, 450.0, float("nan")])
def test_a_temperature_that_no_vehicle_has_is_refused(celsius) -> None:
    with pytest.raises(BadPlace, match=r"OUT: .* is no temperature"):
        logged(celsius)
