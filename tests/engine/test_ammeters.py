"""Amps: by an ammeter in series, by a clamp, by the drop across a shunt or a fuse.

LIEC: Tony R. Kuphaldt, Lessons in Electric Circuits, volume I, DC metering circuits (dcmeter.sml).
CP: OpenStax, College Physics, 21.4 DC voltmeters and ammeters (m42360). ATO: makers' typical cold
resistance of blade fuses, values from memory; 10 A agrees with a published drop chart, 1 mV =
130 mA (mvwautotechniek.nl), 15 A with another, 0.1 mV = 22 mA (MACS service reports, June 2017).
"""

import math

import pytest

from circuits.engine import (
    BadPlace,
    Fault,
    Fuse,
    Meter,
    Outcome,
    Place,
    Reading,
    Rig,
    amps_from_drop,
    find_suspect,
    judge,
    predict,
)
from tests.engine.drawing import battery, current, network, resistor, source, switch, volts_place
from tests.engine.solving import the_solution
from tests.engine.verdicts import claimed


def divider(volts: float, upper_ohms: float, lower_ohms: float):
    """plus --upper-- tap --lower-- minus."""
    return network(
        source("B1", "plus - minus", volts),
        resistor("upper", "plus - tap", upper_ohms),
        resistor("lower", "tap - minus", lower_ohms),
        zero="minus",
    )


# ----------------------------------------------------------------------- an ammeter in series


def through(name: str, **how) -> Place:
    return Place(key="amps", through=name, **how)


def read_amps(drawn, place: Place, rig: Rig, meter: Meter | None = None, fault=None):
    return predict(drawn, [place], rig=rig, meter=meter, fault=fault)["as drawn", "amps"]


def test_an_ammeter_in_a_low_branch_lowers_its_amps() -> None:
    """LIEC: 0.5 ohm of meter in a 3 ohm branch: 571.43 mA instead of 666.7 mA (2 V)."""
    drawn = network(
        source("B1", "plus - minus", 2.0), resistor("load", "plus - minus", 3.0), zero="minus"
    )

    clamped = read_amps(drawn, through("load"), Rig())
    opened = read_amps(drawn, through("load"), Rig(ammeter_in="load", burden_ohms=0.5))

    assert clamped.value == pytest.approx(0.6667, abs=5e-5)
    assert opened.value == pytest.approx(0.57143, abs=5e-6)


def test_a_good_ammeter_in_ten_ohm_is_a_fifth_of_a_percent_low() -> None:
    """CP 21.4: 0.0200 ohm in a branch of 10 ohm."""
    drawn = network(
        source("B1", "plus - minus", 10.0), resistor("load", "plus - minus", 10.0), zero="minus"
    )

    opened = read_amps(drawn, through("load"), Rig(ammeter_in="load", burden_ohms=0.0200))

    assert 1 - opened.value == pytest.approx(0.0020, abs=0.00005)


def test_the_burden_drops_volts_before_the_load_it_stands_in() -> None:
    """The milliamps range at 2 mV/mA is 2 ohm: 85 mA cost 0.17 V (maker's figure from memory)."""
    drawn = network(
        battery("B1", "plus - minus", 12.0, 0.001),
        resistor("W1", "plus - in", 0.01),
        resistor("load", "in - minus", 140.0),
        zero="minus",
    )
    rig = Rig(ammeter_in="load", burden_ohms=2.0)

    before = predict(drawn, [volts_place("V", "in - minus")], rig=rig)["as drawn", "V"]
    amps = read_amps(drawn, through("W1"), rig)

    assert before.value == pytest.approx(12.0, abs=0.002)
    assert amps.value == pytest.approx(12.0 / 142.01, rel=1e-5)


def test_a_short_inside_a_load_still_sends_its_amps_through_the_ammeter() -> None:
    """12 V over 0.1 ohm of wire, 0.5 ohm of ammeter and a dead short: 20 A (sum by hand)."""
    drawn = network(
        source("B1", "plus - minus", 12.0),
        resistor("W1", "plus - in", 0.1),
        resistor("load", "in - minus", 10.0),
        zero="minus",
    )
    shorted = Fault(suspect=find_suspect(drawn, "bypass:load"), severity=0.0)
    rig = Rig(ammeter_in="load", burden_ohms=0.5)

    assert read_amps(drawn, through("W1"), rig, fault=shorted).value == pytest.approx(20.0)


def test_an_ammeter_goes_into_a_part_that_is_there() -> None:
    with pytest.raises(BadPlace, match="W9: is said to have an ammeter in series, but there is no"):
        read_amps(divider(12.0, 1.0, 1.0), through("upper"), Rig(ammeter_in="W9"))


# ------------------------------------------------------------------------------- a clamp


def test_a_clamp_reads_without_touching_and_turns_its_sign_with_its_jaw() -> None:
    drawn = divider(12.0, 2.0, 4.0)
    places = [
        Place(key="one way", through="upper"),
        Place(key="other way", through="upper", reversed_clamp=True),
    ]

    amps = predict(drawn, places)

    assert amps["as drawn", "one way"].value == pytest.approx(2.0)
    assert amps["as drawn", "other way"].value == pytest.approx(-2.0)


def clamped(amps: float, step: float, *, floor_amps: float) -> Reading:
    meter = Meter(reading_fraction=0.015, counts=0.0, floor_amps=floor_amps)
    return Reading(place=through("feed"), phase="as drawn", value=amps, step=step, meter=meter)


def test_a_clamp_cannot_see_what_lies_below_its_floor() -> None:
    """+-(1.5 % + 0.1 A): 0.06 A of a consumer that does not sleep are as good as none.

    The same reading without a drifting zero convicts it. Common practice, no source.
    """
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01), resistor("feed", "plus - in", 0.01),
        resistor("load", "in - minus", 1200.0), zero="minus",
    )  # fmt: skip
    extra = "bypass:load"

    drifting = judge(drawn, [clamped(0.06, 0.01, floor_amps=0.1)], claim=extra)
    steady = judge(drawn, [clamped(0.06, 0.01, floor_amps=0.0)], claim=extra)

    assert drifting.outcome is Outcome.CANNOT_SAY
    assert steady.outcome is Outcome.FITS


def test_a_large_current_is_beyond_a_clamps_floor() -> None:
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01), resistor("feed", "plus - in", 0.01),
        resistor("load", "in - minus", 1.2), zero="minus",
    )  # fmt: skip

    verdict = judge(drawn, [clamped(5.2, 0.1, floor_amps=0.1)], claim="resistance:load")

    assert verdict.outcome is Outcome.FITS


# ----------------------------------------------------------------- a drop across a known part


def test_a_shunt_shows_its_millivolts_as_amps() -> None:
    """75 mV over 1.5 mOhm are 50 A; a shunt that has gone up by a tenth shows 55 (by hand)."""
    drawn = network(
        current("load", "a - minus", 50.0),
        resistor("shunt", "plus - a", 1.5e-3),
        source("B1", "plus - minus", 12.0),
        zero="minus",
    )
    place = through("shunt", by_drop=True)
    aged = Fault(suspect=find_suspect(drawn, "resistance:shunt"), severity=0.15e-3)

    assert read_amps(drawn, place, Rig()).value == pytest.approx(50.0, rel=1e-6)
    assert read_amps(drawn, place, Rig(), fault=aged).value == pytest.approx(55.0, rel=1e-5)
    turned = through("shunt", by_drop=True, reversed_clamp=True)
    assert read_amps(drawn, turned, Rig()).value == pytest.approx(-50.0, rel=1e-6)


def test_a_shunts_own_tolerance_is_in_what_it_shows() -> None:
    """10 % of a resistor's ohms as a bound: 2.807 x 10 % / sqrt(3) of 50 A either side."""
    drawn = network(
        current("load", "a - minus", 50.0),
        resistor("shunt", "plus - a", 1.5e-3),
        source("B1", "plus - minus", 12.0),
        zero="minus",
    )
    exact = Meter(reading_fraction=0.0, counts=0.0)

    shown = read_amps(drawn, through("shunt", by_drop=True), Rig(), exact)

    assert shown.high - 50.0 == pytest.approx(2.807 * 5.0 / math.sqrt(3), rel=1e-3)


def test_a_wire_is_no_shunt() -> None:
    drawn = network(
        source("B1", "plus - minus", 12.0), switch("S1", "plus - a"),
        resistor("load", "a - minus", 6.0), zero="minus",
    )  # fmt: skip

    with pytest.raises(BadPlace, match=r"S1 is no shunt: .* put a clamp round the wire"):
        read_amps(drawn, through("S1", by_drop=True), Rig())


FUSE_15 = Fuse(name="F17", first="plus", second="a", rated_amps=15.0)


@pytest.mark.parametrize(("drop_mv", "low_ma", "high_ma"), [(0.42, 56, 135), (0.0, -26, 26)])
def test_a_drop_across_a_fuse_is_an_interval_of_current(drop_mv, low_ma, high_ma) -> None:
    """ATO, 15 A: 4.80 mOhm give or take 20 %, on a meter that steps 0.1 mV.

    0.32 mV / 5.76 mOhm = 56 mA to 0.52 mV / 3.84 mOhm = 135 mA; a displayed 0.0 mV allows 26 mA.
    """
    found = amps_from_drop(FUSE_15, drop_mv * 1e-3, 0.1e-3)

    assert found.low * 1e3 == pytest.approx(low_ma, abs=0.5)
    assert found.value * 1e3 == pytest.approx(drop_mv / 4.80 * 1e3, abs=0.5)
    assert found.high * 1e3 == pytest.approx(high_ma, abs=0.5)


def test_a_link_of_125_amps_is_too_coarse_to_see_a_sleeping_car() -> None:
    """0.19 mV on 0.42 mOhm: 179 to 863 mA (sum by hand, link's ohms assumed)."""
    link = Fuse(name="LINK", first="plus", second="a", rated_amps=125.0, cold_ohms=0.42e-3)

    found = amps_from_drop(link, 0.19e-3, 0.1e-3)

    assert found.low == pytest.approx(0.179, abs=0.001)
    assert found.high == pytest.approx(0.863, abs=0.001)


@pytest.mark.parametrize(
    ("rated_amps", "drop_mv", "amps"), [(10.0, 1.0, 0.130), (15.0, 0.1, 0.022), (15.0, 1.0, 0.218)]
)
def test_published_fuse_drops_lie_within_the_fuses_tolerance(rated_amps, drop_mv, amps) -> None:
    """The two drop charts named above."""
    fuse = Fuse(name="F1", first="a", second="b", rated_amps=rated_amps)

    found = amps_from_drop(fuse, drop_mv * 1e-3, 0.0)

    assert found.low < amps < found.high
    assert found.value == pytest.approx(amps, rel=0.06)


def test_a_fuse_as_a_shunt_judges_a_sleeping_car_with_its_tolerance() -> None:
    """0.42 mV on F17 stand for 88 mA, and the fuse's 20 % leave 56 to 135 mA.

    A module of 85 mA fits it, and so does one of 110 mA; one of 300 mA does not.
    """
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01), FUSE_15, current("module", "a - minus", 0.010),
        resistor("leak", "a - minus", 1e6), zero="minus",
    )  # fmt: skip
    place = through("F17", by_drop=True)
    reading = Reading(
        place=place, phase="as drawn", value=0.42e-3 / 4.80e-3, step=0.1e-3 / 4.80e-3,
        meter=Meter(counts=1.0),
    )  # fmt: skip

    verdict = judge(drawn, [reading], claim="bypass:leak")

    assert verdict.outcome is Outcome.FITS
    drawn_amps = sorted(
        12.6 / severity
        for severity in (claimed(verdict).severity_low, claimed(verdict).severity_high)
    )
    assert drawn_amps[0] + 0.010 == pytest.approx(0.056, abs=0.015)
    assert drawn_amps[1] + 0.010 == pytest.approx(0.135, abs=0.05)


def test_the_sum_of_the_fuses_leaves_out_what_no_fuse_carries() -> None:
    """0.24 A past the fuse box: the clamp at the battery sees it, the link shows nothing of it."""
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01), FUSE_15, current("module", "a - minus", 0.010),
        current("glow strip", "plus - minus", 0.24), zero="minus",
    )  # fmt: skip
    solution = the_solution(drawn)

    by_fuse = read_amps(drawn, through("F17", by_drop=True), Rig())

    assert -solution.amps["B1"] == pytest.approx(0.25, abs=1e-6)
    assert by_fuse.value == pytest.approx(0.010, abs=1e-6)
