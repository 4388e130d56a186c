"""The circuits that come with the program: they load, they solve, and they agree with the reference
set wherever their drawing is the same. Circuits of our own are worked by hand in
`test_library_by_hand`.

The reference figures are those of `tests/data/reference_circuits.json` (a nodal solver apart from
ours, confirmed with ngspice). The library differs from it where a practitioner would object: every
feed has a fuse of its own, some wires are thicker; so its figures are compared loosely, and only
the fault stories are asserted.
"""

from pathlib import Path

import pytest

from circuits.cautions import USUAL
from circuits.engine import Fault, Rig, find_suspect, predict, solve
from circuits.sheet import engine_places, read_json, read_text, to_json, to_network, write_text
from tests.circuits.reference_networks import reference_circuit

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
PATHS = sorted(LIBRARY.glob("*.txt"))


def sheet_named(stem):
    return read_text((LIBRARY / f"{stem}.txt").read_text(encoding="utf-8"))


#: File -> the reference circuit, and its phases in the order of the file's.
TWINS = {
    "starting_relay": "C01",
    "smart_charging": "C02",
    "split_charge": "C03",
    "cooling_fan": "C04",
    "fuel_pump": "C05",
    "headlamps": "C07",
    "sensor_supply": "C09",
    "coolant_sensor": "C10",
    "key_off_drain": "C12",
    "truck_starting": "C14",
    "power_steering": "C15",
}
#: What a mended drawing rightly reads otherwise: the generator of the starting circuit sits at the
#: battery, so its current no longer passes the starter cable, and the fan's wires are thicker.
MOVED = {("starting_relay", "run"), ("cooling_fan", "hot")}


def test_every_reference_circuit_has_its_file_and_there_are_nine_more():
    stems = {path.stem for path in PATHS}

    assert set(TWINS) < stems
    assert len(stems - set(TWINS)) >= 9


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_a_library_circuit_survives_both_forms(path):
    sheet = sheet_named(path.stem)

    assert read_text(write_text(sheet)) == sheet
    assert read_json(to_json(sheet)) == sheet


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_a_library_circuit_settles_in_every_phase_and_nothing_measured_floats(path):
    sheet = sheet_named(path.stem)
    network = to_network(sheet)
    solutions = solve(network)
    predictions = predict(network, engine_places(sheet))

    assert [solution.phase for solution in solutions] == list(sheet.phase_keys)
    assert not any(solution.chatters for solution in solutions)
    for solution in solutions:
        for node, volts in solution.volts.items():
            assert volts is None or abs(volts) < 30.5, node
    assert len(predictions) == len(sheet.phases) * len(engine_places(sheet))


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_every_library_circuit_names_its_dangers_in_words_we_have(path):
    sheet = sheet_named(path.stem)

    assert sheet.hazards
    assert all(hazard.kind in USUAL for hazard in sheet.hazards)


@pytest.mark.parametrize("stem", sorted(TWINS))
def test_the_healthy_library_reads_close_to_the_reference(stem):
    sheet = sheet_named(stem)
    twin = reference_circuit(TWINS[stem])
    predictions = predict(to_network(sheet), engine_places(sheet))
    keys = {row.key for row in twin.rows if not row.unplugs}
    compared = 0

    for phase, reference_phase in zip(sheet.phases, twin.network.phases, strict=True):
        assert phase.key_state == reference_phase.key_state
        if (stem, phase.key) in MOVED:
            continue
        expected = twin.predicted["healthy"][reference_phase.name]
        for place in engine_places(sheet):
            if place.key in keys:
                shown = predictions[phase.key, place.key]
                assert shown.value == pytest.approx(expected[place.key], rel=0.04, abs=0.02), (
                    phase.key,
                    place.key,
                )
                compared += 1
    assert compared >= len(sheet.phases) * 3


# ---------------------------------------------------------------------- the stories still hold


def read(stem, phase, place, fault=None, severity=None, rig=None):
    sheet = sheet_named(stem)
    network = to_network(sheet)
    applied = None
    if fault:
        applied = Fault(suspect=find_suspect(network, fault), severity=severity)
    places = [spot for spot in engine_places(sheet) if spot.key == place]
    return predict(network, places, fault=applied, rig=rig or Rig())[phase, place].value


def test_a_bad_pump_connector_and_a_bad_pump_ground_read_the_same_at_the_pump_alone():
    """1.10 ohm before or behind the pump: 6.79 V at it, some 5 V lost on one side or the other."""
    connector = ("resistance:C40", 1.1)
    ground = ("resistance:W4", 1.1)

    assert read("fuel_pump", "prime", "TP2", *connector) == pytest.approx(6.79, abs=0.01)
    assert read("fuel_pump", "prime", "TP2", *ground) == pytest.approx(6.79, abs=0.01)
    assert read("fuel_pump", "prime", "TP3", *connector) == pytest.approx(5.49, abs=0.01)
    assert read("fuel_pump", "prime", "TP4", *ground) == pytest.approx(5.07, abs=0.01)


def test_an_unplugged_pump_hides_a_bad_connector_and_a_test_lamp_shows_it():
    unplugged = Rig(unplugged=frozenset({"PUMP"}))
    lamp = Rig(unplugged=frozenset({"PUMP"}), lamp_watts=21)
    fault = ("resistance:C40", 1.1)

    assert read("fuel_pump", "prime", "TP2", *fault, unplugged) == pytest.approx(12.40, abs=0.005)
    assert read("fuel_pump", "prime", "TP2", *fault, lamp) == pytest.approx(10.40, abs=0.01)


def test_a_strap_that_brakes_the_starter_also_shows_with_the_engine_running():
    """28 milliohms in the engine strap: 3.96 V cranking; the charge comes back the other way."""
    strap = ("resistance:W3", 0.028)

    assert read("starting_relay", "crank", "TP5", *strap) == pytest.approx(3.96, abs=0.05)
    assert read("starting_relay", "run", "TP5", *strap) < -0.6


def test_a_lost_left_ground_feeds_back_through_the_main_beam_filaments():
    lost = ("resistance:WgL", float("inf"))

    assert read("headlamps", "dip", "TP1", *lost) == pytest.approx(4.41, abs=0.15)
    assert read("headlamps", "dip", "TP5", *lost) == pytest.approx(4.74, abs=0.15)


def test_a_shorted_sensor_pulls_the_shared_supply_down_until_it_is_unplugged():
    short = ("bypass:AC_ins", 3.0)
    out = Rig(unplugged=frozenset({"AC_top", "AC_bot", "AC_ins"}))

    assert read("sensor_supply", "on", "TP1", *short) == pytest.approx(0.466, abs=0.01)
    assert read("sensor_supply", "on", "TP9", *short) == pytest.approx(0.150, abs=0.001)
    assert read("sensor_supply", "on", "TP1", *short, out) == pytest.approx(5.00, abs=0.01)


def test_damp_across_a_sensor_shows_cold_and_hides_hot():
    damp = ("bypass:NTC", 6800.0)

    assert read("coolant_sensor", "cold", "TP1", *damp) == pytest.approx(3.09, abs=0.01)
    assert read("coolant_sensor", "hot", "TP1", *damp) == pytest.approx(0.429, abs=0.01)


def test_a_leaking_rectifier_passes_the_clamp_and_no_fuse():
    leak = ("bypass:RECT", 52.6)

    assert read("key_off_drain", "asleep", "TP2", *leak) == pytest.approx(0.257, abs=0.005)
    assert read("key_off_drain", "asleep", "TP3", *leak) == pytest.approx(0.00001, abs=0.00001)


def test_a_loose_fuse_bolt_shows_at_full_lock_only():
    """45 milliohms at the bolts of the steering's fuse: 12.45 V ignition on, 8.8 V at full lock."""
    bolt = ("resistance:F70", 0.045)

    assert read("power_steering", "on", "TP2", *bolt) == pytest.approx(12.45, abs=0.02)
    assert read("power_steering", "lock", "TP2", *bolt) == pytest.approx(8.80, abs=0.05)
    assert read("power_steering", "lock", "TP4", *bolt) == pytest.approx(3.3, abs=0.05)


def test_a_tap_at_the_middle_of_two_batteries_starves_one_and_not_the_other():
    tap = ("draws-more:TAP", 8.0)
    upper = read("truck_starting", "run", "TP2", *tap)
    lower = read("truck_starting", "run", "TP1", *tap)

    assert upper - lower > 0.1
