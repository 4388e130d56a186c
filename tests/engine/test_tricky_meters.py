"""What the meter does to a reading: its own load, ohms on live parts, parallel paths, leads."""

from dataclasses import replace

import pytest

from circuits.engine import (
    CanNode,
    Fuse,
    Meter,
    Network,
    Outcome,
    Place,
    PowerNotRemoved,
    Reading,
    Rig,
    amps_from_drop,
    judge,
    ohms_on_live_parts,
    predict,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, network, resistor, switch
from tests.engine.tricky import PRIME, claim_of, fitting_ids, logged, verdict_on

PUMP = reference_circuit("C05")
PUMP_OUT = Rig(unplugged=frozenset({"PUMP"}))
AT_THE_PLUG = PUMP.row("TP8").place
OHMS_OFF = Rig(power_removed=True)
PLAIN = Meter(reading_fraction=0.0, counts=0.0, lead_ohms=0.0, lead_tolerance_ohms=0.0)


# ---------------------------------------------------------- a meter on an open that leaks


def damp_break() -> Network:
    """Return the pump circuit with C40 parted and 300 kOhm of damp across the break."""
    return PUMP.network.with_part_values("C40", ohms=300e3)


@pytest.mark.parametrize(
    ("rig", "input_ohms", "volts"),
    [
        pytest.param(PUMP_OUT, 10e6, 12.04, id="unplugged, 10 MOhm"),
        pytest.param(PUMP_OUT, 400e3, 7.08, id="unplugged, 400 kOhm"),
        pytest.param(replace(PUMP_OUT, lamp_watts=21.0), 10e6, 2.36e-5, id="unplugged, lamp"),
        pytest.param(Rig(), 10e6, 2.48e-5, id="plugged in"),
    ],
)
def test_the_same_damp_break_reads_anything_from_supply_to_nothing(rig, input_ohms, volts) -> None:
    """12.40 V x 10 M / 10.3 M = 12.04 V; x 400 k / 700 k = 7.09 V.

    A pump that stands still has 0.6 ohm: 12.40 V x 0.6 / 300 k = 0.025 mV. The lamp is cold, a
    twelfth of its 6.86 ohm: 12.40 V x 0.571 / 300 k = 0.024 mV; a hot filament would show 0.28.
    """
    shown = predict(damp_break(), [AT_THE_PLUG], rig=rig, meter=Meter(input_ohms=input_ohms))

    assert shown[PRIME, AT_THE_PLUG.key].value == pytest.approx(volts, rel=0.003)


def test_supply_volts_at_an_open_plug_prove_nothing_and_nought_volts_prove_an_open() -> None:
    """12.04 V on 10 MOhm is what a sound feed of a slightly low car reads as well as a damp break.

    Where the battery was read beside it, 12.40 V, the missing 0.36 V do tell. Nought volts fit no
    sound feed.
    """
    alone = logged("C05", PRIME, TP8=12.04)
    beside_battery = logged("C05", PRIME, TP1=12.40, TP8=12.04)
    dead = logged("C05", PRIME, TP1=12.40, TP8=0.0)

    undecided = verdict_on("C05", alone, "resistance:C40")
    leaks = verdict_on("C05", beside_battery, "resistance:C40", supply_places=("TP1",))
    proved = verdict_on("C05", dead, "resistance:C40", supply_places=("TP1",))

    assert undecided.outcome is Outcome.CANNOT_SAY
    assert leaks.outcome is Outcome.FITS
    assert claim_of(leaks).severity == pytest.approx(300e3, rel=0.01)
    assert proved.outcome is Outcome.FITS
    claim = claim_of(proved)
    assert claim.severity_low is not None
    assert claim.severity_low > 1e6


def test_the_plugged_reading_parts_a_damp_break_from_a_sound_feed() -> None:
    """12.04 V unplugged and 0.000 V at the loaded pump: sound no longer, a large resistance is."""
    readings = [
        *logged("C05", PRIME, TP1=12.40, TP8=12.04),
        *logged("C05", PRIME, TP2=0.0),
    ]

    verdict = verdict_on("C05", readings, "resistance:C40", supply_places=("TP1",))

    assert verdict.outcome is Outcome.FITS
    assert claim_of(verdict).severity == pytest.approx(300e3, rel=0.2)
    assert not verdict.healthy.passes


# --------------------------------------------------------------------- drops across fuses


def test_a_fuse_is_a_poor_shunt_and_gives_an_interval_of_current() -> None:
    """0.42 mV +-0.1 mV on 4.8 mOhm +-20 %: 0.32 / 5.76 = 56 mA to 0.52 / 3.84 = 135 mA.

    A shown 0.0 mV allows 0.1 / 3.84 = 26 mA. On the 125 A link (0.42 mOhm) 0.19 mV is
    0.09 / 0.504 = 179 mA to 0.29 / 0.336 = 863 mA, too coarse to use.
    """
    fuse = Fuse(name="F21", first="in", second="out", rated_amps=15.0, cold_ohms=0.0048)
    link = replace(fuse, name="FL", rated_amps=125.0, cold_ohms=0.00042)

    module = amps_from_drop(fuse, 0.42e-3, 0.1e-3)
    nothing_shown = amps_from_drop(fuse, 0.0, 0.1e-3)
    whole_car = amps_from_drop(link, 0.19e-3, 0.1e-3)

    assert (module.low, module.high) == pytest.approx((0.0556, 0.1354), abs=1e-4)
    assert nothing_shown.high == pytest.approx(0.026, abs=1e-4)
    assert (whole_car.low, whole_car.high) == pytest.approx((0.179, 0.863), abs=1e-3)


def test_current_that_goes_round_the_fuse_box_shows_at_the_battery_alone() -> None:
    """The generator leaks 0.24 A: 0.2575 A at the battery, 0.01 mV on the link to the fuse box.

    Every fuse reads as in a sound car; the sum of the branches against the total is the test.
    """
    asleep = "key off, 30 min (asleep)"
    fuses = logged(
        "C12", asleep, step=1e-5,
        TP3=1e-5, TP4=2e-5, TP5=2e-5, TP6=0.0, TP7=1e-5, TP8=1e-5, TP9=4e-5,
    )  # fmt: skip
    total = logged("C12", asleep, step=0.001, TP2=0.257)

    by_fuses = verdict_on("C12", fuses, "ground-short:BUS")
    with_total = verdict_on("C12", [*fuses, *total], "ground-short:BUS")

    assert by_fuses.healthy.passes
    assert not with_total.healthy.passes
    assert with_total.outcome is Outcome.FITS
    assert claim_of(with_total).severity == pytest.approx(12.6 / 0.24, rel=0.05)
    assert "draws-more:F21_load" not in fitting_ids(with_total)


# ---------------------------------------------------------------------------------- ohms


def bus() -> Network:
    """Return two terminators, a node of 10 kOhm an input at either end, and the wires between."""

    def node(name: str, end: str) -> CanNode:
        return CanNode(
            name=name, first=f"high {end}", second=f"low {end}", third="ground", input_ohms=20e3
        )

    return network(
        resistor("left terminator", "high left - low left", 120.0),
        resistor("right terminator", "high right - low right", 120.0),
        node("node A", "left"),
        node("node B", "right"),
        resistor("CAN high", "high left - high right", 0.05),
        resistor("CAN low", "low left - low right", 0.05),
        zero="ground",
    )


def ohms_place(key: str, leads: str) -> Place:
    red, black = leads.split(" - ")
    return Place(key=key, red=red, black=black, reads_ohms=True)


def test_ohms_are_refused_until_the_power_is_said_to_be_off() -> None:
    place = ohms_place("bus", "high left - low left")
    reading = Reading(place=place, phase="as drawn", value=360.0, step=0.1)

    with pytest.raises(PowerNotRemoved, match="bus"):
        judge(bus(), [reading], claim="resistance:left terminator")


def test_a_bus_that_talks_shows_ohms_that_no_terminator_has() -> None:
    """2.65 V on one line and 2.35 V on the other, held by drivers that 1 mA does not move.

    0.30 V / 1 mA = 300 ohm, with the leads swapped -300; asleep the same leads read 60 ohm.
    """
    awake = bus().with_added(
        battery("talk high", "high left - ground", 2.65, 0.001),
        battery("talk low", "low left - ground", 2.35, 0.001),
    )
    asked = [
        ohms_place("one way", "high left - low left"),
        ohms_place("other way", "low left - high left"),
    ]
    live = ohms_on_live_parts(awake, asked, meter=PLAIN)
    asleep = predict(bus(), [asked[0]], rig=OHMS_OFF, meter=PLAIN)

    assert live["as drawn", "one way"].value == pytest.approx(300.0, abs=1.0)
    assert live["as drawn", "other way"].value == pytest.approx(-300.0, abs=1.0)
    assert asleep["as drawn", "one way"].value == pytest.approx(60.0, abs=0.5)


def test_a_conductor_broken_in_the_middle_reads_both_terminators_and_names_itself() -> None:
    """End to end along CAN high: 118.6 ohm at either end (120 beside the nodes) make 237 ohm."""
    reading = Reading(
        place=ohms_place("along", "high left - high right"),
        phase="as drawn", value=237.3, step=0.1, rig=OHMS_OFF,
    )  # fmt: skip

    verdict = judge(bus(), [reading], claim="resistance:CAN high")

    assert verdict.outcome is Outcome.FITS
    assert claim_of(verdict).severity_high == float("inf")
    assert not verdict.healthy.passes


def test_one_dead_glow_plug_of_four_is_lost_in_the_leads() -> None:
    """0.45 ohm each: four 0.1125, three 0.15 ohm, and leads of 0.2 to 0.5 ohm. The leads taken
    off, 0.15 ohm shown to the milliohm tell the dead one; the plugs' values are common practice,
    no source.
    """
    glow = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("relay", "plus - strip", closed=False),
        *(resistor(f"plug {number}", "strip - minus", 0.45) for number in (1, 2, 3, 4)),
        zero="minus",
    )
    usual = Reading(
        place=ohms_place("strip", "strip - minus"),
        phase="as drawn", value=0.5, step=0.1, rig=OHMS_OFF,
    )  # fmt: skip
    fine = replace(
        usual, value=0.150, step=0.001, meter=replace(PLAIN, reading_fraction=0.005, counts=2.0)
    )

    hidden = judge(glow, [usual], claim="resistance:plug 1")
    plain = judge(glow, [fine], claim="resistance:plug 1")

    assert hidden.outcome is Outcome.CANNOT_SAY
    assert plain.outcome is Outcome.FITS
    assert claim_of(plain).severity_high == float("inf")
