"""A source about to be at its limit: cars on either side of the corner, bands and verdicts."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from circuits.engine import (
    Battery,
    CurrentLoad,
    Generator,
    KeyState,
    Meter,
    Network,
    Outcome,
    Part,
    Phase,
    Place,
    Reading,
    Resistor,
    find_suspect,
    judge,
    least_seen,
    predict,
    solve,
)
from circuits.engine.judging.joint import MOST_WAYS, cheapest_ways

PERFECT = Meter(input_ohms=float("inf"), reading_fraction=0.0, counts=0.0)
VOLTS, INNER_OHMS, LOAD_OHMS, MOST_AMPS = 14.0, 0.01, 1.42, 10.0
LIMIT_TOLERANCE = 0.1
LOAD = Place(key="load", red="stud", black="minus")
LOAD_AMPS = Place(key="load amps", through="R1")
CARS = 60


def one_load(max_amps: float = MOST_AMPS) -> Network:
    """A generator of 14 V behind 10 mOhm, at most 10 A, and 1.42 ohm on it: 9.79 A, 13.90 V.

    stud --[R1 1.42]-- minus        up to the limit 14 R / (R + r), beyond it I R
    """
    generator = Generator(
        name="G1",
        first="stud",
        second="minus",
        volts=VOLTS,
        internal_ohms=INNER_OHMS,
        max_amps=max_amps,
        volts_tolerance=0.0,
        tolerance_fraction=LIMIT_TOLERANCE,
    )
    load = Resistor(name="R1", first="stud", second="minus", ohms=LOAD_OHMS, tolerance_fraction=0.0)
    return Network(zero="minus", supply="stud", parts=(generator, load))


def logged(volts: float, place: Place = LOAD) -> Reading:
    return Reading(place=place, phase="as drawn", value=volts, step=0.01)


def is_sound(*readings: Reading) -> bool:
    return judge(one_load(), readings, rivals=False).healthy.passes


def test_a_band_reaches_down_to_the_weakest_source_and_no_higher_than_its_volts() -> None:
    """Regulated 14 * 1.42 / 1.43 = 13.902 V; the weakest gives 9 A, 9 * 1.42 = 12.78 V.

    99.5 % of a limit that is off by 10 % / sqrt 3 lie within 2.807 of these: 8.379 A, 11.899 V.
    """
    band = predict(one_load(), [LOAD], meter=PERFECT)["as drawn", "load"]

    assert band.value == pytest.approx(13.902, abs=1e-3)
    assert (band.worst_low, band.worst_high) == pytest.approx((12.78, 13.902), abs=1e-3)
    assert (band.low, band.high) == pytest.approx((11.899, 13.902), abs=1e-3)


def test_a_source_well_below_its_limit_has_the_band_of_its_volts_alone() -> None:
    band = predict(one_load(max_amps=20.0), [LOAD], meter=PERFECT)["as drawn", "load"]

    assert (band.worst_low, band.worst_high) == pytest.approx((13.902, 13.902), abs=1e-3)


@pytest.mark.parametrize("volts", [13.90, 13.2, 12.5])
def test_a_car_at_its_limit_is_left_in_peace(volts: float) -> None:
    assert is_sound(logged(volts))


@pytest.mark.parametrize("volts", [11.3, 14.3, 15.0])
def test_what_neither_side_of_the_corner_shows_is_excluded(volts: float) -> None:
    """11.3 V would be 7.96 A, 3.5 standard uncertainties off; no source gives over its volts.

    The line at the limit goes on to 11 A and 15.6 V, where it no longer holds.
    """
    assert not is_sound(logged(volts))


def test_beyond_the_corner_readings_still_go_together() -> None:
    """At 12.8 V the load draws 9.01 A; the 9.79 A of the parts as drawn would be another car."""
    at_limit = logged(12.8)

    assert is_sound(at_limit, logged(9.0, LOAD_AMPS))
    assert not is_sound(at_limit, logged(9.8, LOAD_AMPS))


def test_volts_that_a_sound_car_at_its_limit_shows_tell_nothing_of_a_weaker_source() -> None:
    weaker = find_suspect(one_load(), "limited:G1")
    verdict = judge(one_load(), [logged(12.5)], claim=weaker.id)
    (least,) = least_seen(one_load(), weaker, [logged(12.5)])

    assert verdict.outcome is Outcome.CANNOT_SAY
    # 99.5 % of sound cars give 8.38 A and more; what is told is that to either side of 9.79 A, at
    # most 2.807 * 0.577 A, with the meter's 0.07 V: 8.15 A.
    assert least is not None
    assert 10.0 - 8.38 < least < 10.0 - 8.15 + 0.05


def with_a_battery(off: np.ndarray) -> Network:
    """A generator whose limit lies just above what loads draw; beyond it the battery gives.

    stud --[W1 10 mOhm]-- plus, 88 A of loads there, B1 12.6 V, 5 mOhm giving, 50 taking
    """
    volts, limit, draw, rest = off
    return Network(
        zero="minus",
        supply="plus",
        parts=(
            Generator(
                name="G1",
                first="stud",
                second="minus",
                volts=14.2 + 0.1 * volts,
                internal_ohms=0.002,
                max_amps=100.0 * (1 + 0.1 * limit),
            ),
            Resistor(name="W1", first="stud", second="plus", ohms=0.01, tolerance_fraction=0.0),
            CurrentLoad(name="E1", first="plus", second="minus", amps=88.0 * (1 + 0.1 * draw)),
            Battery(
                name="B1",
                first="plus",
                second="minus",
                open_circuit_volts=12.6 + 0.1 * rest,
                internal_ohms=0.005,
                charging_ohms=0.05,
                tolerance_fraction=0.0,
            ),
        ),
    )


def test_drawn_cars_on_either_side_of_two_corners_lie_in_their_bands_and_pass() -> None:
    """Each car is solved for itself; none lies beyond the worst case, one or two may fail.

    Failing are at most 0.5 % on average: three of 60 have a chance of 3 in 1000 (binomial).
    """
    random = np.random.default_rng(2026)
    places = [Place(key=node, red=node, black="minus") for node in ("stud", "plus")]
    places.append(Place(key="battery amps", through="B1"))
    drawn = with_a_battery(np.zeros(4))
    bands = predict(drawn, places, meter=PERFECT)
    charging = set()
    failing = 0
    for off in random.uniform(-1, 1, (CARS, 4)):
        (car,) = solve(with_a_battery(off))
        read = [car.volts["stud"], car.volts["plus"], car.amps["B1"]]
        charging.add(car.amps["B1"] > 0)
        for place, value in zip(places, read, strict=True):
            band = bands["as drawn", place.key]

            assert value is not None
            assert band.worst_low - 1e-6 <= value <= band.worst_high + 1e-6
        readings = [
            Reading(place=place, phase="as drawn", value=round(value, 2), step=0.01)
            for place, value in zip(places, read, strict=True)
            if value is not None
        ]
        failing += not judge(drawn, readings, rivals=False).healthy.passes

    assert charging == {True, False}
    assert failing <= 2


def test_of_many_ways_through_the_phases_the_cheapest_are_weighed() -> None:
    """Against all ways, added up one by one."""
    random = np.random.default_rng(7)
    own = np.array([2, 5, 6])
    situations = []
    for _ in range(4):
        regions_of = np.sort(random.choice(own, 9))
        situations.append((regions_of, random.uniform(size=len(regions_of))))
    row, picked = cheapest_ways(own, situations)

    for trial in own.tolist():
        regions = [np.flatnonzero(regions_of == trial).tolist() for regions_of, _ in situations]
        every = sorted(
            sum(cost[each] for (_, cost), each in zip(situations, way, strict=True) if each >= 0)
            for way in itertools.product(*(numbers or [-1] for numbers in regions))
        )
        mine = np.flatnonzero(row == trial)
        kept = sorted(
            sum(
                cost[pick[at]]
                for (_, cost), pick in zip(situations, picked, strict=True)
                if pick[at] >= 0
            )
            for at in mine.tolist()
        )
        assert kept == pytest.approx(every[:MOST_WAYS])
    assert len(row) > MOST_WAYS


def test_many_sources_about_to_be_at_their_limits_in_many_phases_are_judged() -> None:
    """Five of them in four phases have more than a million ways through their regions together."""
    sources, phases = range(5), ("one", "two", "three", "four")
    parts: list[Part] = []
    for number in sources:
        supply = Generator(
            name=f"G{number}",
            first=f"pin{number}",
            second="minus",
            volts=5.0,
            internal_ohms=0.01,
            max_amps=1.0,
            tolerance_fraction=LIMIT_TOLERANCE,
        )
        sensor = Resistor(name=f"R{number}", first=f"pin{number}", second="minus", ohms=5.05)
        parts += [supply, sensor]
    network = Network(
        zero="minus",
        supply="pin0",
        parts=tuple(parts),
        phases=tuple(Phase(name=name, key_state=KeyState.RUN) for name in phases),
    )
    # The second supply is at a limit of 0.93 A: 4.70 V.
    shown = {0: 4.97, 1: 4.70}
    readings = [
        Reading(
            place=Place(key=f"at {number}", red=f"pin{number}", black="minus"),
            phase=phase,
            value=volts,
            step=0.01,
        )
        for phase in phases
        for number, volts in shown.items()
    ]

    assert judge(network, readings, rivals=False).healthy.passes
    readings[1] = replace(readings[1], value=3.0)
    assert not judge(network, readings, rivals=False).healthy.passes
