"""The instrument is a part: what a meter, a lamp or a clamp does to what it reads."""

import math

import pytest

from circuits.engine import (
    AS_IT_STANDS,
    FanMotor,
    Fault,
    Meter,
    Network,
    Rig,
    find_suspect,
    predict,
    with_fault,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, network, resistor, source, switch, volts_place
from tests.engine.solving import the_solution

# LIEC: Tony R. Kuphaldt, Lessons in Electric Circuits, volume I, DC metering circuits
# (dcmeter.sml). CP: OpenStax, College Physics, 21.4 DC voltmeters and ammeters (m42360).


def divider(volts: float, upper_ohms: float, lower_ohms: float) -> Network:
    """plus --upper-- tap --lower-- minus."""
    return network(
        source("B1", "plus - minus", volts),
        resistor("upper", "plus - tap", upper_ohms),
        resistor("lower", "tap - minus", lower_ohms),
        zero="minus",
    )


def shown(drawn: Network, leads: str, meter: Meter, rig: Rig = AS_IT_STANDS):
    place = volts_place("place", leads)
    return predict(drawn, [place], rig=rig, meter=meter)["as drawn", "place"]


# ----------------------------------------------------------------------- a voltmeter loads


@pytest.mark.parametrize(
    ("volts", "ohms", "reading"),
    [
        # LIEC: 24 V across 250 megohm twice; 12 V ideally
        (24.0, 250e6, 0.8889),
        # 12 V across 1 megohm twice: 12 x (1 || 10) / (1 + 1 || 10); sum by hand
        (12.0, 1e6, 5.714),
    ],
)
def test_a_ten_megohm_meter_pulls_down_a_divider_of_megohms(volts, ohms, reading) -> None:
    value = shown(divider(volts, ohms, ohms), "tap - minus", Meter(input_ohms=10e6)).value

    assert value == pytest.approx(reading, abs=0.0005)


def test_an_ideal_meter_loads_nothing() -> None:
    drawn = divider(24.0, 250e6, 250e6)

    assert shown(drawn, "tap - minus", Meter(input_ohms=math.inf)).value == pytest.approx(12.0)


def test_the_loading_error_is_source_ohms_over_source_and_meter_ohms() -> None:
    """Error in percent = 100 Rs / (Rs + Ri), as meter manuals give it; here Rs = 50 kOhm."""
    drawn = divider(10.0, 100e3, 100e3)
    meter = Meter(input_ohms=2e6)

    error = 1 - shown(drawn, "tap - minus", meter).value / 5.0

    assert error == pytest.approx(50e3 / (50e3 + 2e6))


def test_a_one_kilohm_meter_takes_a_little_from_a_cell() -> None:
    """CP 21.4: a 1.585 V cell of 0.100 ohm under a 1 kOhm meter: 1.58 mA, 1.5848 V."""
    cell = network(
        battery("cell", "plus - minus", 1.585, 0.100),
        resistor("meter", "plus - minus", 1000.0),
        zero="minus",
    )
    solution = the_solution(cell)
    read = shown(network(cell.parts[0], zero="minus"), "plus - minus", Meter(input_ohms=1000.0))

    assert solution.amps["meter"] == pytest.approx(1.58e-3, abs=0.005e-3)
    assert solution.volts["plus"] == pytest.approx(1.5848, abs=0.00005)
    assert read.value == pytest.approx(1.5848, abs=0.00005)
    assert read.value / 1.585 == pytest.approx(0.99990, abs=0.000005)


def test_a_fan_at_rest_keeps_fewer_millivolts_from_a_meter_than_it_is_sure_of() -> None:
    """11 V * sqrt(1.26 uA / 10 A) = 3.9 mV, by the fan's law; 0.5 % and 2 counts are 83 mV."""
    fan = FanMotor(
        name="M1", first="plus", second="open", winding_ohms=0.1, back_volts=11.0, rated_amps=10.0
    )
    cut_off = network(source("B1", "plus - minus", 12.6), fan, zero="minus")
    drawn_in = network(*cut_off.parts, resistor("meter", "open - minus", 10e6), zero="minus")
    meter = Meter()

    read = shown(cut_off, "open - minus", meter)
    true = shown(drawn_in, "open - minus", Meter(input_ohms=math.inf))

    assert 12.6 - true.value == pytest.approx(11.0 * math.sqrt(1.26e-6 / 10.0), rel=1e-3)
    assert abs(read.value - true.value) < 0.1 * (meter.reading_fraction * 12.6 + 2 * 0.01)


def test_a_hungry_meter_can_pull_a_sense_pin_low() -> None:
    """5 V behind 10 kOhm: a 10 MOhm meter shows 5.00 V, a 400 kOhm one 4.88 V."""
    pin = network(
        source("V5", "five - minus", 5.0), resistor("pull-up", "five - pin", 10e3), zero="minus"
    )

    assert shown(pin, "pin - minus", Meter(input_ohms=10e6)).value == pytest.approx(4.995, abs=5e-4)
    assert shown(pin, "pin - minus", Meter(input_ohms=400e3)).value == pytest.approx(5 * 400 / 410)


def test_a_meter_at_a_pin_of_high_ohms_sees_the_circuit_as_the_fault_leaves_it() -> None:
    """The coolant sensor's wire is open: 5 V behind 2490 ohm and a 1 MOhm leak, 4.986 V shown.

    5 V x (1 || 10 MOhm) / (2490 ohm + 1 || 10 MOhm) = 4.98634 V, warm or cold. The meter used to be
    bent by the source ohms of the healthy circuit, and showed 4.77 V when warm.
    """
    circuit = reference_circuit("C10")
    place = circuit.row("TP1").place
    wire_open = Fault(suspect=find_suspect(circuit.network, "resistance:W1"), severity=math.inf)

    fast = predict(circuit.network, [place], fault=wire_open)
    drawn = predict(with_fault(circuit.network, wire_open), [place])

    assert len(fast) == 3
    for phase in circuit.network.phases:
        assert fast[phase.name, "TP1"].value == pytest.approx(4.98634, abs=5e-6)
        assert drawn[phase.name, "TP1"].value == pytest.approx(4.98634, abs=5e-6)


def test_a_meter_behind_a_leaking_switch_sees_all_the_ohms_to_the_supply() -> None:
    """5 V --1 MOhm-- pin --[open switch, leaking 3 MOhm]-- wire: 5 V x 10 / (10 + 3 + 1) = 3.571 V.

    The wire hangs loose but for the leak; the pin's own megohm used to be left out.
    """
    drawn = network(
        source("V5", "five - minus", 5.0),
        resistor("pull-up", "five - pin", 1e6),
        switch("S1", "pin - wire", closed=False),
        switch("S2", "wire - minus", closed=False),
        zero="minus",
    )
    leak = Fault(suspect=find_suspect(drawn, "bypass:S1"), severity=3e6)
    place = volts_place("wire", "wire - minus")

    healthy = predict(drawn, [place])["as drawn", "wire"]
    leaking = predict(drawn, [place], fault=leak)["as drawn", "wire"]

    assert healthy.floating
    assert not leaking.floating
    assert leaking.value == pytest.approx(5 * 10 / 14, abs=1e-6)


# ------------------------------------------------------------------------------ a test lamp


def test_a_lamp_shows_a_resistance_that_a_meter_cannot() -> None:
    """12 V through 1 kOhm: 12.0 V on a meter; a 5 W lamp, cold at a twelfth of 28.8 ohm, 0.03 V.

    12 V x 2.4 / 1002.4 = 0.029 V. The lamp taken as hot would still see only 0.34 V.
    """
    feed = network(
        source("B1", "plus - minus", 12.0),
        resistor("bad joint", "plus - end", 1000.0),
        zero="minus",
    )

    on_meter = shown(feed, "end - minus", Meter())
    on_lamp = shown(feed, "end - minus", Meter(), Rig(lamp_watts=5.0))

    assert on_meter.value == pytest.approx(12.0, abs=0.002)
    assert on_lamp.value == pytest.approx(12 * 2.4 / 1002.4, abs=0.0005)
    assert on_lamp.value < 0.34


def test_a_lamp_for_24_volts_takes_its_rated_amps_there() -> None:
    """21 W at 24 V: 0.875 A, so 0.02 ohm of feed drops 17.5 mV (sum by hand)."""
    feed = network(
        source("B1", "plus - minus", 24.0), resistor("feed", "plus - end", 0.020), zero="minus"
    )

    on_lamp = shown(feed, "end - minus", Meter(), Rig(lamp_watts=21.0, lamp_volts=24.0))

    assert 24.0 - on_lamp.value == pytest.approx(0.0175, abs=0.0001)


def test_an_led_lamp_hides_what_a_filament_shows() -> None:
    """12 V through 220 ohm: 5 mA of LED lamp leave 11 V there, 21 W of filament next to nothing.

    The LED's 2 V and its resistor of 10 V / 5 mA = 2 kOhm: 10 V / 2220 ohm = 4.50 mA, and 0.99 V
    are lost. Common practice, no source.
    """
    feed = network(
        source("B1", "plus - minus", 12.0), resistor("joint", "plus - end", 220.0), zero="minus"
    )

    on_led = shown(feed, "end - minus", Meter(), Rig(led_amps=0.005))
    on_filament = shown(feed, "end - minus", Meter(), Rig(lamp_watts=21.0))

    assert on_led.value == pytest.approx(12.0 - 220 * 10 / 2220, abs=0.001)
    assert on_filament.value < 0.05


def test_an_led_lamp_held_the_wrong_way_round_stays_dark_and_draws_nothing() -> None:
    feed = network(
        source("B1", "plus - minus", 12.0), resistor("joint", "plus - end", 220.0), zero="minus"
    )

    assert shown(feed, "minus - end", Meter(), Rig(led_amps=0.005)).value == pytest.approx(
        -12.0, abs=0.001
    )


def test_a_lamp_on_a_sound_feed_takes_its_rated_amps() -> None:
    """21 W at 12 V: 1.75 A, so 0.01 ohm of feed drops 17.5 mV."""
    feed = network(
        source("B1", "plus - minus", 12.0), resistor("feed", "plus - end", 0.010), zero="minus"
    )

    on_lamp = shown(feed, "end - minus", Meter(), Rig(lamp_watts=21.0))

    assert 12.0 - on_lamp.value == pytest.approx(0.0175, abs=0.0001)


# ------------------------------------------------- what hangs loose, is unplugged or bridged


def test_a_lead_on_a_loose_end_shows_nothing_and_says_why() -> None:
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("S1", "plus - wire", closed=False),
        switch("S2", "wire - end", closed=False),
        resistor("load", "end - minus", 10.0),
        zero="minus",
    )

    loose = shown(drawn, "wire - minus", Meter())
    at_end = shown(drawn, "end - minus", Meter())

    assert loose.floating
    assert loose.value == 0.0
    assert not at_end.floating
    assert at_end.value == 0.0


def test_between_two_batteries_that_share_no_wire_there_is_nothing_to_read() -> None:
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        battery("B2", "a - b", 6.3, 0.01),
        zero="minus",
    )

    assert shown(drawn, "a - plus", Meter()).floating
    own = shown(drawn, "a - b", Meter())
    assert not own.floating
    assert own.value == pytest.approx(6.3, abs=1e-6)


def test_an_unplugged_load_leaves_the_feed_at_battery_volts() -> None:
    drawn = divider(12.6, 1.1, 2.0)

    loaded = shown(drawn, "tap - minus", Meter())
    unplugged = shown(drawn, "tap - minus", Meter(), Rig(unplugged=frozenset({"lower"})))

    assert loaded.value == pytest.approx(12.6 * 2.0 / 3.1, abs=1e-5)
    assert unplugged.value == pytest.approx(12.6, abs=1e-5)


def test_a_bridge_across_a_bad_joint_gives_the_load_its_volts_back() -> None:
    """A fused lead of 20 mOhm across 1.1 ohm: 12.6 V x 2 / (2 + 1.1 || 0.02) = 12.477 V."""
    drawn = divider(12.6, 1.1, 2.0)

    bridged = shown(drawn, "tap - minus", Meter(), Rig(bridged=(("plus", "tap"),)))

    across = 1 / (1 / 1.1 + 1 / 0.02)
    assert bridged.value == pytest.approx(12.6 * 2.0 / (2.0 + across), abs=1e-5)


def test_a_resistor_beside_a_relay_winding_lowers_what_its_pins_show() -> None:
    """85 ohm with a 680 ohm suppression resistor beside it is 75.6 ohm at the pins."""
    solution = the_solution(
        network(
            source("B1", "plus - minus", 12.0),
            resistor("winding", "plus - minus", 85.0),
            resistor("suppression", "plus - minus", 680.0),
            zero="minus",
        )
    )

    assert 12.0 / -solution.amps["B1"] == pytest.approx(75.6, abs=0.05)
