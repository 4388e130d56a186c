"""The ohmmeter is a part: what it drives, where it goes, and what it shows on live parts.

Sources: [KVASER] ISO 11898-2 terminations as public CAN guides give them, 120 ohm at each end and
about 60 ohm measured with all power off (PCAN wiki; esd CAN guide; an I/O-system CANopen manual).
[LEADS] an instrument maker's note on the accuracy of multimeters: leads 0.2 to 0.5 ohm, subtract
them. What has no source is said to be a sum by hand or common practice.
"""

import math
from dataclasses import replace

import pytest

from circuits.engine import (
    BadPlace,
    CanNode,
    Diode,
    Driver,
    Fault,
    Lamp,
    Meter,
    Network,
    Outcome,
    Place,
    Potentiometer,
    PowerNotRemoved,
    Reading,
    Rig,
    find_suspect,
    judge,
    ohms_on_live_parts,
    predict,
    sweep,
)
from tests.engine.drawing import (
    battery,
    coil,
    contact,
    current,
    network,
    phases,
    resistor,
    source,
    switch,
)
from tests.engine.verdicts import claimed

OFF = Rig(power_removed=True)
#: Leads held together and subtracted, and a display that is right: what is left is the circuit.
PLAIN = Meter(reading_fraction=0.0, counts=0.0, lead_ohms=0.0, lead_tolerance_ohms=0.0)


def ohms_place(key: str, leads: str) -> Place:
    red, black = leads.split(" - ")
    return Place(key=key, red=red, black=black, reads_ohms=True)


def ohms(drawn: Network, leads: str, meter: Meter = PLAIN, rig: Rig = OFF, fault=None):
    found = predict(drawn, [ohms_place("R", leads)], meter=meter, rig=rig, fault=fault)
    return found["as drawn", "R"]


def bus(*ends: str, middle_ohms: float = 0.05) -> Network:
    """CAN-H and CAN-L with a 120 ohm terminator at each named end, and two nodes of 30 kOhm.

    hl --high-- hr       terminators: left hl - ll, right hr - lr
    ll --low--- lr
    """
    places = {"left": "hl - ll", "right": "hr - lr", "third": "hr - lr", "fourth": "hl - ll"}
    terminators = (resistor(f"term {end}", places[end], 120.0) for end in ends)
    return network(
        battery("B1", "plus - minus", 12.6, 0.01),
        resistor("high", "hl - hr", middle_ohms),
        resistor("low", "ll - lr", middle_ohms),
        resistor("node A", "hl - ll", 60e3),
        resistor("node B", "hr - lr", 60e3),
        resistor("bias", "ll - minus", 1e6),
        *terminators,
        zero="minus",
    )


# ----------------------------------------------------------------------- power is removed


def test_ohms_on_a_live_circuit_are_refused_with_the_drop_test_to_do_instead() -> None:
    with pytest.raises(PowerNotRemoved) as refusal:
        ohms(bus("left", "right"), "hl - ll", rig=Rig())

    said = str(refusal.value)
    assert said.startswith("R: ")
    assert "power is removed" in said
    assert "read the drop in volts from hl to ll" in said


def test_a_logged_ohms_reading_without_the_power_removed_is_refused_by_the_judge() -> None:
    reading = Reading(place=ohms_place("R", "hl - ll"), phase="as drawn", value=360.0, step=1.0)

    with pytest.raises(PowerNotRemoved):
        judge(bus("left", "right"), [reading])


def test_a_disconnected_battery_is_an_open_and_no_short() -> None:
    """plus --10 ohm-- tap --20 ohm-- minus, read from plus to minus: 30 ohm, not 0."""
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        resistor("upper", "plus - tap", 10.0),
        resistor("lower", "tap - minus", 20.0),
        zero="minus",
    )

    assert ohms(drawn, "plus - minus").value == pytest.approx(30.0, abs=1e-6)
    assert ohms(drawn, "tap - minus").value == pytest.approx(20.0, abs=1e-6)


def test_a_relay_has_let_go_once_the_power_is_removed() -> None:
    """A made contact of 5 mOhm with power is an open without: OL."""
    winding = coil("K1", "plus - minus", 85.0)
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        winding,
        contact("K1.contact", "30 - 87", of=winding, pull_in_volts=8.0, drop_out_volts=1.5),
        resistor("load", "87 - minus", 10.0),
        zero="minus",
    )

    assert ohms(drawn, "30 - 87").over_range
    assert ohms(drawn, "plus - minus").value == pytest.approx(85.0, abs=1e-6)


def test_a_module_without_power_lets_go_and_a_bus_node_loses_its_bias() -> None:
    """Two terminators and two nodes of 25 kOhm a line: 60 || 25k = 59.86 ohm (sum by hand)."""
    can = [
        CanNode(name=name, first="high", second="low", third="minus", input_ohms=25e3)
        for name in ("node A", "node B")
    ]
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        Driver(name="Q1", first="plus", second="out", closed_ohms=0.05),
        resistor("load", "out - minus", 10.0),
        resistor("term left", "high - low", 120.0),
        resistor("term right", "high - low", 120.0),
        *can,
        zero="minus",
    )

    assert ohms(drawn, "plus - out").over_range
    assert ohms(drawn, "high - low").value == pytest.approx(59.86, abs=0.01)
    assert ohms(drawn, "low - high").value == pytest.approx(59.86, abs=0.01)


def test_a_part_of_three_ends_is_unplugged_at_all_of_them() -> None:
    """5 kOhm of track with the wiper in the middle: 2.5 kOhm between wiper and ground.

    Unplugged, its three places are joined by nothing.
    """
    drawn = network(
        battery("B1", "plus - minus", 5.0, 0.01),
        Potentiometer(
            name="S1", first="plus", second="minus", third="signal", track_ohms=5e3,
            position_fraction=0.5,
        ),
        zero="minus",
    )  # fmt: skip
    apart = replace(OFF, unplugged=frozenset({"S1"}))

    assert ohms(drawn, "signal - minus").value == pytest.approx(2.5e3, rel=1e-6)
    assert ohms(drawn, "signal - minus", rig=apart).over_range
    place = Place(key="V", red="signal", black="minus")
    plugged = predict(drawn, [place])["as drawn", "V"]
    assert plugged.value == pytest.approx(2.5, abs=0.001)
    assert predict(drawn, [place], rig=Rig(unplugged=frozenset({"S1"})))["as drawn", "V"].floating


# ------------------------------------------------------------------------- parallel paths


@pytest.mark.parametrize(
    ("ends", "expected"),
    [
        (("left", "right"), 59.9),
        (("left",), 119.5),
        (("left", "right", "third"), 40.0),
        (("left", "right", "third", "fourth"), 30.0),
    ],
)
def test_terminators_in_parallel_are_what_a_sleeping_bus_reads(ends, expected) -> None:
    """[KVASER] two terminators 60 ohm, one 120, three 40, four 30, with all power off.

    With two nodes of 60 kOhm beside them: 60 || 30k = 59.88, 120 || 30k = 119.52, 39.95, 29.97;
    the wire adds 0.02 to 0.05 ohm where the far end is read through it.
    """
    read = ohms(bus(*ends), "hl - ll").value

    assert read == pytest.approx(expected, abs=0.15)


def test_a_break_in_one_conductor_leaves_120_ohm_from_either_side() -> None:
    """[KVASER] 120 ohm: a terminator is missing, or a break between (60k beside it: 119.8)."""
    broken = Fault(suspect=find_suspect(bus("left", "right"), "resistance:high"), severity=math.inf)

    for leads in ("hl - ll", "hr - lr"):
        read = ohms(bus("left", "right"), leads, fault=broken).value
        assert read == pytest.approx(119.8, abs=0.1)


def test_a_break_in_one_conductor_reads_both_terminators_end_to_end() -> None:
    """CAN-H open in the middle: along CAN-H both terminators in series, less the nodes' inputs.

    120 || 60 kOhm is 119.76 ohm at either end, and 0.05 ohm of CAN-L between: 239.6 ohm. Whole, the
    conductor reads as good as nothing.
    """
    drawn = bus("left", "right")
    broken = Fault(suspect=find_suspect(drawn, "resistance:high"), severity=math.inf)

    assert ohms(drawn, "hl - hr").value == pytest.approx(0.05, abs=0.001)
    assert ohms(drawn, "hl - hr", fault=broken).value == pytest.approx(239.57, abs=0.02)


def test_nodes_of_eight_kilohm_bring_the_broken_conductor_to_237_ohm() -> None:
    """120 || 10 kOhm = 118.58 ohm at either end: 237.2 ohm (sum by hand)."""
    drawn = bus("left", "right")
    drawn = drawn.with_part_values("node A", ohms=10e3).with_part_values("node B", ohms=10e3)
    broken = Fault(suspect=find_suspect(drawn, "resistance:high"), severity=math.inf)

    assert ohms(drawn, "hl - hr", fault=broken).value == pytest.approx(237.2, abs=0.1)


def test_conductors_shorted_together_read_nothing() -> None:
    """[KVASER] 0 ohm: shorted together; a line to ground is open when good."""
    drawn = bus("left", "right")
    shorted = Fault(suspect=find_suspect(drawn, "bypass:term left"), severity=0.0)

    assert ohms(drawn, "hl - ll", fault=shorted).value == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(("plugs", "expected"), [(4, 0.11), (3, 0.15)])
def test_four_cold_glow_plugs_and_three_differ_by_less_than_the_leads(plugs, expected) -> None:
    """0.45 ohm each: 0.1125 and 0.15 ohm in parallel; leads of 0.2 to 0.5 ohm drown that [LEADS].

    Situation of the trade, figures by hand.
    """
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("relay", "plus - rail", closed=False),
        *(resistor(f"G{number}", "rail - minus", 0.45) for number in range(plugs)),
        zero="minus",
    )

    plain = ohms(drawn, "rail - minus")
    common = ohms(drawn, "rail - minus", Meter())

    assert plain.value == pytest.approx(expected, abs=0.003)
    assert common.value == pytest.approx(expected + 0.35, abs=0.003)
    assert common.low < 0.15 + 0.35 < common.high


def test_a_winding_with_a_low_path_beside_it_reads_the_path() -> None:
    """90 ohm beside 4.85 ohm: 4.60 ohm (sum by hand)."""
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("S1", "plus - pin", closed=False),
        coil("K1", "pin - minus", 90.0),
        resistor("way round", "pin - minus", 4.85),
        zero="minus",
    )

    assert ohms(drawn, "pin - minus").value == pytest.approx(4.60, abs=0.01)
    apart = replace(OFF, unplugged=frozenset({"way round"}))
    assert ohms(drawn, "pin - minus", rig=apart).value == pytest.approx(90.0, abs=1e-6)


# ---------------------------------------------------------------------------------- OL


def test_between_leads_that_nothing_joins_the_meter_shows_ol() -> None:
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        resistor("load", "plus - minus", 10.0),
        resistor("island", "a - b", 47.0),
        zero="minus",
    )

    apart = ohms(drawn, "a - plus")
    own = ohms(drawn, "a - b")

    assert apart.over_range
    assert not apart.floating
    assert not own.over_range
    assert own.value == pytest.approx(47.0, abs=1e-6)


@pytest.mark.parametrize("true_ohms", [0.5, 120.0, 2.9e3, 3.1e3, 10e3, 250e3, 4.7e6])
def test_the_meter_finds_the_range_that_shows_it(true_ohms) -> None:
    drawn = network(source("B1", "plus - minus", 12.0), resistor("R1", "plus - a", true_ohms),
                    resistor("far", "a - minus", 10.0), zero="minus")  # fmt: skip

    read = ohms(drawn, "plus - a")

    assert not read.over_range
    assert read.value == pytest.approx(true_ohms, rel=1e-6)


def test_a_meter_held_on_its_lowest_range_shows_ol_above_three_kilohm() -> None:
    """About 3 V open, 1 mA: nothing above 3 kOhm. Common practice, no source."""
    drawn = network(source("B1", "plus - minus", 12.0), resistor("R1", "plus - minus", 3.1e3),
                    zero="minus")  # fmt: skip
    held = replace(PLAIN, test_amps=1e-3)

    assert ohms(drawn, "plus - minus", held).over_range
    assert not ohms(drawn.with_part_values("R1", ohms=2.9e3), "plus - minus", held).over_range


def test_a_diode_blocks_one_way_and_shows_its_volts_the_other() -> None:
    """0.6 V and 1 ohm under 1 mA: 601 ohm forward on the lowest range, OL backward."""
    drawn = network(
        source("B1", "plus - minus", 12.0),
        resistor("feed", "plus - minus", 1e3),
        Diode(name="D1", first="a", second="b", forward_volts=0.6, on_ohms=1.0),
        zero="minus",
    )
    held = replace(PLAIN, test_amps=1e-3)

    assert ohms(drawn, "a - b", held).value == pytest.approx(601.0, abs=0.5)
    assert ohms(drawn, "b - a", held).over_range


def test_a_cold_filament_reads_a_twelfth_of_its_hot_ohms() -> None:
    """55 W at 12 V: 2.62 ohm hot, 0.22 ohm on the ohmmeter (a twelfth: value from memory)."""
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("S1", "plus - a", closed=False),
        Lamp(name="L1", first="a", second="minus", rated_watts=55.0),
        zero="minus",
    )

    assert ohms(drawn, "a - minus").value == pytest.approx(12**2 / 55 / 12, rel=1e-3)


def test_a_row_of_faults_is_read_with_the_power_removed_and_shows_its_ol() -> None:
    """120 || 120 ohm; one of them open; the stub before them open: 60 ohm, 120 ohm, OL."""
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        resistor("term left", "hl - ll", 120.0),
        resistor("high", "hl - hr", 0.05),
        resistor("term right", "hr - ll", 120.0),
        resistor("stub", "pin - hl", 0.05),
        zero="minus",
    )
    opens = [
        Fault(suspect=find_suspect(drawn, f"resistance:{name}"), severity=math.inf)
        for name in ("term right", "stub")
    ]

    shown = sweep(drawn, [ohms_place("R", "pin - ll")], [None, *opens], meter=PLAIN)
    found = [shown.predictions(number)["as drawn", "R"] for number in range(3)]

    assert [each.over_range for each in found] == [False, False, True]
    assert found[0].value == pytest.approx(60.06, abs=0.01)
    assert found[1].value == pytest.approx(120.05, abs=0.01)


# ---------------------------------------------------------------------------- the leads


def test_the_leads_are_in_the_reading_until_they_are_subtracted() -> None:
    """[LEADS] 0.2 to 0.5 ohm: a joint of 45 mOhm reads 0.40 ohm, give or take 0.15."""
    drawn = network(battery("B1", "plus - minus", 12.6, 0.01), resistor("joint", "plus - a", 0.045),
                    resistor("load", "a - minus", 10.0), zero="minus")  # fmt: skip

    as_read = ohms(drawn, "plus - a", Meter())
    subtracted = ohms(drawn, "plus - a", Meter(lead_ohms=0.0, lead_tolerance_ohms=0.05))

    assert as_read.value == pytest.approx(0.395, abs=1e-6)
    assert as_read.high - as_read.value == pytest.approx(2.807 * 0.15 / math.sqrt(3), rel=0.02)
    assert subtracted.value == pytest.approx(0.045, abs=1e-6)


# --------------------------------------------------------------------- on live parts


def test_a_powered_wire_of_eight_milliohm_shows_156_ohm() -> None:
    """19.5 A through 8 mOhm is 156 mV, and 1 mA of test current makes 156 ohm of that."""
    drawn = network(resistor("W1", "plus - a", 0.008), current("load", "a - plus", 19.5), zero="a")

    shown = ohms_on_live_parts(drawn, [ohms_place("R", "plus - a")], meter=PLAIN)

    assert shown["as drawn", "R"].value == pytest.approx(156.0, abs=0.1)


def test_a_bus_that_is_awake_shows_360_ohm_or_less_than_nothing() -> None:
    """60 ohm with 0.30 V of traffic across it: (0.30 V + 60 mV) / 1 mA = 360 ohm.

    With the leads swapped (-0.30 V + 60 mV) / 1 mA = -240 ohm.
    """
    drawn = network(
        resistor("bus", "high - low", 60.0), current("traffic", "low - high", 0.005), zero="low"
    )
    asked = [ohms_place("one way", "high - low"), ohms_place("other way", "low - high")]

    shown = ohms_on_live_parts(drawn, asked, meter=PLAIN)

    assert shown["as drawn", "one way"].value == pytest.approx(360.0, abs=0.1)
    assert shown["as drawn", "other way"].value == pytest.approx(-240.0, abs=0.1)


# ------------------------------------------------------------------------------- judged


def logged(leads: str, value: float, step: float = 0.1, phase: str = "as drawn") -> Reading:
    return Reading(
        place=ohms_place("R", leads), phase=phase, value=value, step=step, rig=OFF, meter=Meter()
    )


def test_120_ohm_on_a_bus_of_two_terminators_names_the_one_that_is_open() -> None:
    verdict = judge(bus("left", "right"), [logged("hl - ll", 120.1)], claim="resistance:term right")

    assert verdict.outcome is Outcome.FITS
    assert not verdict.healthy.passes
    fitting = {finding.id for finding in verdict.fitting}
    assert {"resistance:term left", "resistance:high", "resistance:low"} <= fitting
    assert "60.3 Ohm" in claimed(verdict).because


def test_an_ol_speaks_for_an_open_and_against_a_leak() -> None:
    drawn = network(battery("B1", "plus - minus", 12.6, 0.01), resistor("fuse", "plus - a", 0.005),
                    resistor("load", "a - minus", 10.0), zero="minus")  # fmt: skip

    verdict = judge(drawn, [logged("plus - minus", math.inf)], claim="resistance:fuse")
    found = {finding.id: finding for finding in verdict.findings}

    assert verdict.outcome is Outcome.FITS
    assert claimed(verdict).severity_low > 1e6
    assert claimed(verdict).severity_high == math.inf
    assert found["resistance:load"].passes
    assert not found["ground-short:a"].passes
    assert "logged as OL" in claimed(verdict).because


def test_an_ol_is_said_only_in_ohms() -> None:
    with pytest.raises(BadPlace, match="over range"):
        Reading(place=Place(key="TP1", red="a", black="b"), phase="on", value=math.inf, step=0.1)


def test_a_battery_that_is_disconnected_is_no_suspect_of_an_ohms_reading() -> None:
    """Weak or strong, it is not in the circuit: such a reading neither supports nor excludes it."""
    verdict = judge(bus("left", "right"), [logged("hl - ll", 60.2)], claim="low-volts:B1")

    assert verdict.outcome is Outcome.CANNOT_SAY
    assert claimed(verdict).predicted[0] == pytest.approx(verdict.healthy.predicted[0])


def test_a_leak_that_joins_two_islands_is_found_by_its_ohms() -> None:
    """A module output that leaks 4.7 kOhm: 4.7 kOhm where a good one shows OL."""
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("S1", "plus - pin", closed=False),
        resistor("load", "pin - end", 10.0),
        zero="minus",
    )

    assert ohms(drawn, "end - minus").over_range
    verdict = judge(drawn, [logged("end - minus", 4.70e3, 10.0)], claim="ground-short:end")

    assert verdict.outcome is Outcome.FITS
    assert claimed(verdict).severity == pytest.approx(4.7e3, rel=0.02)
    assert not verdict.healthy.passes


def test_the_state_of_a_switch_is_that_of_the_phase_though_the_power_is_removed() -> None:
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("S1", "plus - a", closed=False, closed_ohms=0.02),
        resistor("load", "a - minus", 10.0),
        zero="minus",
        phases=phases(released=(), pressed=switch("S1", "plus - a", closed_ohms=0.02)),
    )

    read = predict(drawn, [ohms_place("R", "plus - a")], rig=OFF, meter=PLAIN)

    assert read["released", "R"].over_range
    assert read["pressed", "R"].value == pytest.approx(0.02, abs=1e-6)
