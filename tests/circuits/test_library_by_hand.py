"""The circuits of the trade's daily round, two places of each by hand, and what was inspected.

Ohms per metre at 20 C as in ISO 6722-1 (milliohms): 0.5 mm2 37.1, 0.75 24.7, 1 18.5, 1.5 12.7,
2.5 7.60, 4 4.71, 6 3.14, 35 0.527 (values from memory of the standard's table). A filament draws
I0 (V / V0) ** 0.55, a motor its base amps and so many more for each volt; both as drawn.
"""

import tomllib
from pathlib import Path

import pytest

from circuits.engine import predict
from circuits.inspection import inspect
from circuits.sheet import engine_places, read_text, to_network

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
PATHS = sorted(LIBRARY.glob("*.txt"))
ACCEPTED = tomllib.loads((LIBRARY / "accepted.toml").read_text(encoding="utf-8"))
# The battery's minus lead, 0.4 m of 35 mm2 with its joints.
MINUS = 0.527e-3 * 0.4 + 0.3e-3


def shown(stem):
    sheet = read_text((LIBRARY / f"{stem}.txt").read_text(encoding="utf-8"))
    predictions = predict(to_network(sheet), engine_places(sheet))
    return {at: prediction.value for at, prediction in predictions.items()}


def wire(milliohms_per_metre, metres, joint_milliohms):
    return (milliohms_per_metre * metres + joint_milliohms) / 1000


def motor_volts(source_volts, ohms, base_amps, amps_per_volt):
    """V = E - R (base + k V), so V = (E - R base) / (1 + R k)."""
    return (source_volts - ohms * base_amps) / (1 + ohms * amps_per_volt)


def filament_amps(watts, volts):
    return watts / 12 * (volts / 12) ** 0.55


def test_two_horns_in_parallel_behind_a_relay():
    low = 2.5 + wire(12.7, 0.3, 4) + wire(12.7, 0.3, 3)
    high = 2.4 + wire(12.7, 0.5, 4) + wire(12.7, 0.3, 3)
    both = low * high / (low + high)
    amps = 12.6 / (both + 0.011 + MINUS + 0.0048 + wire(7.6, 0.6, 2) + 0.006 + wire(7.6, 1.8, 3))
    reads = shown("horn")

    assert reads["blow", "TP8"] == pytest.approx(amps, abs=0.01)  # 9.86 A
    assert reads["blow", "TP2"] == pytest.approx(amps * both * 2.5 / low, abs=0.01)  # 12.08 V
    assert reads["rest", "TP6"] == pytest.approx(12.6, abs=0.01)


def test_a_wiper_takes_its_park_path_through_the_motor_and_back():
    shared = 0.011 + MINUS + 0.0034 + wire(12.7, 0.6, 2)
    low = shared + wire(7.6, 1.5, 5) + 0.020 + wire(12.7, 1.6, 5)
    back = wire(12.7, 1.4, 5) + 0.015 + wire(12.7, 1.6, 5) + 0.020 + wire(12.7, 1.6, 5)
    reads = shown("wiper_park")

    at_low = motor_volts(12.3, low, 2.6, 0.10)
    assert reads["low", "TP2"] == pytest.approx(at_low, abs=0.002)  # 11.97 V
    assert reads["low", "TP8"] == pytest.approx(2.6 + 0.10 * at_low, abs=0.002)  # 3.80 A
    parking = motor_volts(12.3, shared + back, 2.6, 0.10)
    assert reads["parking", "TP2"] == pytest.approx(parking, abs=0.002)  # 11.80 V
    fast = motor_volts(12.3, low, 3.6, 0.13)
    assert reads["high", "TP3"] == pytest.approx(fast, abs=0.002)  # 11.86 V
    assert reads["parked", "TP5"] == pytest.approx(0, abs=0.001)


def test_a_window_runs_one_way_and_the_other_through_the_same_metal():
    metal = 0.011 + MINUS + 0.0025 + wire(7.6, 2, 4) + 2 * 0.015 + 2 * wire(7.6, 1, 2)
    metal += 0.020 + wire(7.6, 0.8, 2)
    reads = shown("window_lift")

    rising = motor_volts(12.4, metal, 6.5, 0.14)
    amps = 6.5 + 0.14 * rising
    assert reads["up", "TP7"] == pytest.approx(amps, abs=0.002)  # 8.11 A
    assert reads["up", "TP2"] == pytest.approx(rising + 0.020 * amps, abs=0.002)  # 11.67 V
    falling = motor_volts(12.4, metal, 4.2, 0.14)
    amps = 4.2 + 0.14 * falling
    assert reads["down", "TP2"] == pytest.approx(-(falling + 0.020 * amps), abs=0.002)  # -11.87 V
    assert reads["rest", "TP2"] == pytest.approx(0, abs=0.001)


def test_a_heated_window_has_half_its_volts_in_the_middle_of_a_line():
    grid = 1.25 * 15 / (1.25 + 15)
    ohms = 0.006 + MINUS + 0.0025 + wire(3.14, 0.6, 2) + 0.004 + wire(3.14, 3.4, 4)
    ohms += wire(4.71, 0.6, 2) + 0.002
    amps = 14 / (grid + ohms)
    reads = shown("rear_window_heater")

    assert reads["heat", "TP8"] == pytest.approx(amps, abs=0.01)  # 11.74 A
    assert reads["heat", "TP2"] == pytest.approx(amps * grid, abs=0.01)  # 13.55 V
    assert reads["heat", "TP5"] == pytest.approx(amps * grid / 2, abs=0.005)  # 6.77 V


def test_three_lock_actuators_share_one_pulse_each_way():
    doors = [3.8 + 2 * wire(18.5, 1, 5), 3.8 + 2 * wire(18.5, 1.2, 5), 3.8 + 2 * wire(12.7, 2.2, 4)]
    together = 1 / sum(1 / door for door in doors)
    ohms = 0.011 + MINUS + 0.0048 + wire(7.6, 1.2, 3) + 2 * 0.030 + 2 * wire(7.6, 0.9, 2)
    ohms += wire(7.6, 0.8, 2)
    amps = 12.6 / (together + ohms)
    reads = shown("central_locking")

    assert reads["unlock", "TP7"] == pytest.approx(amps, abs=0.005)  # 9.01 A
    at_rear = amps * together * 3.8 / doors[2]
    assert reads["lock", "TP2"] == pytest.approx(at_rear, abs=0.005)  # 11.38 V
    assert reads["unlock", "TP2"] == pytest.approx(-at_rear, abs=0.005)


def test_brake_lamps_and_trailer_check_out_by_a_trial_value():
    """Trial: 11.43 V at the trailer's brake lamps, 11.98 V at its tail lamps, 11.80 V at the
    vehicle's brake lamps, 12.2 V at its tail lamps; the amps that follow give the drops back."""
    brake, tail = 2 * filament_amps(21, 11.43), 2 * filament_amps(5, 11.98)
    vehicle = 2 * filament_amps(21, 11.80) + 2 * filament_amps(5, 12.2) + 0.25
    trailer_ground = wire(4.71, 4, 2) + 0.008 + wire(7.6, 0.8, 2)
    ground = (brake + tail) * trailer_ground + (brake + tail + vehicle) * (0.001 + MINUS)
    reads = shown("brake_lamps_trailer")

    assert reads["brake", "TP9"] == pytest.approx(brake, abs=0.005)  # 3.41 A
    assert reads["brake", "TP7"] == pytest.approx(ground, abs=0.002)  # 0.170 V
    assert reads["brake", "TP8"] == pytest.approx(11.43, abs=0.01)


def test_a_trailer_converter_feeds_what_it_sees_from_its_own_fuse():
    """Trial: 11.91 V at the brake lamps, 12.02 V at the tail lamps; the feed drop checks it."""
    amps = filament_amps(42, 11.91) + filament_amps(10, 12.02) + 0.008
    reads = shown("trailer_converter")

    assert reads["brake", "TP9"] == pytest.approx(amps, abs=0.005)  # 4.33 A
    drop = amps * (0.0048 + wire(7.6, 4.2, 4))
    assert reads["brake", "TP7"] == pytest.approx(drop, abs=0.001)  # 0.176 V
    assert reads["left", "TP4"] == pytest.approx(0, abs=0.001)
    assert reads["left", "TP5"] > 12


def test_a_sunroof_is_slow_behind_its_resistor_and_quick_without():
    """The coil's own 0.1 A takes another 4 mV off, which is left out here."""
    metal = 0.011 + MINUS + 0.0034 + wire(7.6, 2.4, 4) + 0.008 + 0.020 + 0.008 + wire(7.6, 1.2, 2)
    reads = shown("sunroof")

    shutting = motor_volts(12.4, metal + 0.6, 5.2, 0.15)
    amps = 5.2 + 0.15 * shutting
    assert reads["close", "TP3"] == pytest.approx(0.6 * amps, abs=0.01)  # 3.84 V
    assert reads["close", "TP2"] == pytest.approx(-(shutting + 0.02 * amps), abs=0.01)  # -8.15 V
    sliding = motor_volts(12.4, metal + 0.6 * 0.015 / 0.615, 4.8, 0.15)
    amps = 4.8 + 0.15 * sliding
    assert reads["open", "TP2"] == pytest.approx(sliding + 0.02 * amps, abs=0.01)  # 11.88 V


def test_a_blower_has_its_speeds_from_the_pack_and_the_last_one_past_it():
    shared = 0.006 + MINUS + 0.002 + wire(4.71, 1, 4) + wire(4.71, 0.6, 2)
    reads = shown("blower")

    first = motor_volts(14, shared + 0.010 + 0.35 + 0.45 + 0.9 + 0.015, 1.0, 1.25)
    assert reads["one", "TP2"] == pytest.approx(first, abs=0.002)  # 3.85 V
    third = motor_volts(14, shared + 0.010 + 0.35 + 0.015, 1.0, 1.25)
    assert reads["three", "TP2"] == pytest.approx(third, abs=0.002)  # 9.09 V
    fourth = motor_volts(14, shared + wire(4.71, 0.8, 1) + 0.008, 1.0, 1.25)
    assert reads["four", "TP2"] == pytest.approx(fourth, abs=0.002)  # 13.38 V
    assert reads["four", "TP8"] == pytest.approx(1.0 + 1.25 * fourth, abs=0.003)  # 17.73 A


def test_four_glow_plugs_share_the_engine_strap_with_the_starter():
    """10 mm2 has 1.82 and 50 mm2 0.368 milliohms per metre (ISO 6722-1, from memory)."""
    plugs = 0.95 / 4
    feed = 0.0009 + wire(1.82, 0.7, 1) + 0.002 + wire(1.82, 0.9, 1)
    body, strap = wire(0.368, 0.4, 0.3), wire(0.527, 0.5, 0.3)
    reads = shown("glow_plugs")

    # 7 A of consumers pass battery and body lead, the plugs the strap as well.
    others = 7 + 12 / 80
    amps = (12.6 - others * (0.008 + body)) / (0.008 + body + feed + plugs + strap)
    assert reads["preheat", "TP7"] == pytest.approx(amps, abs=0.05)  # 49.3 A
    assert reads["preheat", "TP2"] == pytest.approx(amps * plugs, abs=0.01)  # 11.71 V
    assert reads["preheat", "TP8"] == pytest.approx(amps / 4, abs=0.02)  # 12.3 A
    # Cranking: 140 A and 6 A for each volt of the starter, and the plugs, over the same strap.
    lead, back = wire(0.368, 1.2, 0.5), body + strap

    def left(starter_volts):
        starts = 140 + 6 * starter_volts
        glows = (starter_volts + starts * lead) / (plugs + feed)
        battery = 12.6 - 0.008 * (starts + glows + 9)
        return battery - (starts + glows) * back - 9 * body - starts * lead

    # What is left for the starter falls in a straight line; it is where both are the same.
    starter_volts = left(0) / (1 + left(0) - left(1))
    glows = (starter_volts + (140 + 6 * starter_volts) * lead) / (plugs + feed)
    assert reads["crank", "TP2"] == pytest.approx(glows * plugs, abs=0.02)  # 10.00 V


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_every_finding_of_the_library_is_mended_or_accepted_with_its_reason(path):
    sheet = read_text(path.read_text(encoding="utf-8"))
    found = {finding.id for finding in inspect(sheet, to_network(sheet))}
    accepted = ACCEPTED.get(sheet.vehicle.key, {})

    assert found == set(accepted)
    assert all(len(reason) > 10 and reason.endswith(".") for reason in accepted.values())
