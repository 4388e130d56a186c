"""What the engine refuses, and that it says which part or place and how to mend it."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from circuits.engine import (
    BadPart,
    BadPhase,
    BadPlace,
    Battery,
    Coil,
    Contact,
    ContradictoryNetwork,
    CurrentLoad,
    Diode,
    EngineError,
    FanMotor,
    Fuse,
    Generator,
    KeyState,
    Lamp,
    Meter,
    Motor,
    Network,
    Part,
    Phase,
    Place,
    PowerLoad,
    Reading,
    Resistor,
    Rig,
    RuleContact,
    SenseInput,
    Supply,
    Switch,
    UnknownSuspect,
    Wire,
    find_suspect,
    judge,
    predict,
    solve,
)
from tests.engine.drawing import (
    battery,
    current,
    network,
    phases,
    resistor,
    source,
    switch,
    volts_place,
)

ENDS: dict[str, Any] = {"first": "a", "second": "b"}


def wire(**values: Any) -> Wire:
    return Wire(name="W1", **ENDS, **{"wire_mm2": 1.5, "metres": 2.0, **values})


def fuse(**values: Any) -> Fuse:
    return Fuse(name="F1", **ENDS, **{"rated_amps": 15.0, **values})


def relay_contact(**values: Any) -> Contact:
    sound = {"coil_ohms": 85.0, "pull_in_volts": 8.0, "drop_out_volts": 2.0, "made_ohms": 0.005}
    return Contact(name="K1.con", **ENDS, coil="K1.coil", **{**sound, **values})


def rule(**values: Any) -> RuleContact:
    sound = {"closes_volts": 3.0, "opens_volts": 2.0, "made_ohms": 0.1}
    return RuleContact(
        name="fan driver", **ENDS, sense_red="a", sense_black="b", **{**sound, **values}
    )


def rest_battery(**values: Any) -> Battery:
    return Battery(
        name="B1", **ENDS, **{"open_circuit_volts": 12.6, "internal_ohms": 0.01, **values}
    )


def supply(**values: Any) -> Supply:
    return Supply(name="SUP", **ENDS, **{"volts": 12.4, "internal_ohms": 0.01, **values})


def alternating(**values: Any) -> Generator:
    sound = {"volts": 14.2, "internal_ohms": 0.004, "max_amps": 120.0}
    return Generator(name="G1", **ENDS, **{**sound, **values})


def pump(**values: Any) -> Motor:
    sound = {"base_amps": 3.6, "amps_per_volt": 0.14, "stalled_ohms": 0.6}
    return Motor(name="PUMP", **ENDS, **{**sound, **values})


def fan(**values: Any) -> FanMotor:
    sound = {"winding_ohms": 0.1, "back_volts": 9.0, "rated_amps": 30.0}
    return FanMotor(name="FAN", **ENDS, **{**sound, **values})


BAD_VALUES: tuple[tuple[Callable[..., Part], dict[str, Any], str], ...] = (
    (wire, {"wire_mm2": 0.0}, "W1: wire_mm2 must be above zero, not 0"),
    (wire, {"wire_mm2": -1.5}, "W1: wire_mm2 must be above zero, not -1.5"),
    (wire, {"wire_mm2": math.nan}, "W1: wire_mm2 must be above zero, not nan"),
    (wire, {"metres": 0.0}, "W1: metres must be above zero, not 0"),
    (wire, {"metres": math.inf}, "W1: metres must be above zero, not inf"),
    (wire, {"joint_ohms": -0.001}, "W1: joint_ohms cannot be below zero (-0.001)"),
    (wire, {"celsius": -300.0}, "W1: -300 °C is no temperature of copper in a vehicle"),
    (wire, {"celsius": math.nan}, "W1: nan °C is no temperature of copper in a vehicle"),
    (fuse, {"rated_amps": 0.0}, "F1: rated_amps must be above zero, not 0"),
    (fuse, {"cold_ohms": 0.0}, "F1: cold_ohms must be above zero, not 0"),
    (
        fuse,
        {"rated_amps": 12.0},
        "F1: no typical ohms are known for a 12 A fuse; add its cold ohms",
    ),
    (relay_contact, {"made_ohms": 0.0}, "K1.con: made_ohms must be above zero, not 0"),
    (relay_contact, {"coil_ohms": -85.0}, "K1.con: coil_ohms must be above zero, not -85"),
    (relay_contact, {"drop_out_volts": 0.0}, "K1.con: drop_out_volts must be above zero, not 0"),
    (
        relay_contact,
        {"pull_in_volts": 1.5},
        "K1.con: pull-in (1.5 V) must lie above drop-out (2 V)",
    ),
    (
        relay_contact,
        {"pull_winding": "PULL", "pull_winding_ohms": 0.0},
        "K1.con: pull_winding_ohms must be above zero, not 0",
    ),
    (rule, {"opens_volts": 3.0}, "fan driver: closing and opening volts must differ"),
    (rule, {"closes_volts": math.nan}, "fan driver: closes_volts must be a number, not nan"),
    (rule, {"made_ohms": 0.0}, "fan driver: made_ohms must be above zero, not 0"),
    (rule, {"basis": "guessed"}, "fan driver: a rule is known, measured, assumed; not 'guessed'"),
    (rest_battery, {"internal_ohms": 0.0}, "B1: internal_ohms must be above zero, not 0"),
    (rest_battery, {"charging_ohms": 0.0}, "B1: charging_ohms must be above zero, not 0"),
    (
        rest_battery,
        {"open_circuit_volts": -1.0},
        "B1: open_circuit_volts cannot be below zero",
    ),
    (supply, {"internal_ohms": -0.01}, "SUP: internal_ohms must be above zero, not -0.01"),
    (supply, {"volts": math.nan}, "SUP: volts must be a number, not nan"),
    (alternating, {"internal_ohms": 0.0}, "G1: internal_ohms must be above zero, not 0"),
    (alternating, {"max_amps": -1.0}, "G1: max_amps cannot be below zero (-1)"),
    (alternating, {"volts": math.inf}, "G1: volts cannot be below zero (inf)"),
    (pump, {"stalled_ohms": 0.0}, "PUMP: stalled_ohms must be above zero, not 0"),
    (pump, {"base_amps": -3.6}, "PUMP: base_amps cannot be below zero (-3.6)"),
    (pump, {"amps_per_volt": 2.0}, "PUMP: draws more turning than stalled"),
    (fan, {"drive_fraction": 1.2}, "FAN: drive must lie between 0 and 100 %, not 120%"),
    (fan, {"winding_ohms": 0.0}, "FAN: winding_ohms must be above zero, not 0"),
    (
        lambda **v: Resistor(name="R1", **ENDS, **v),
        {"ohms": 0.0},
        "R1: ohms must be above zero, not 0",
    ),
    (
        lambda **v: SenseInput(name="pin", **ENDS, **v),
        {"ohms": math.inf},
        "pin: ohms must be above zero, not inf",
    ),
    (
        lambda **v: Coil(name="K1.coil", **ENDS, **{"ohms": 85.0, **v}),
        {"ohms": 0.0},
        "K1.coil: ohms must be above zero, not 0",
    ),
    (
        lambda **v: Coil(name="K1.coil", **ENDS, **{"ohms": 85.0, **v}),
        {"celsius": -273.15},
        "K1.coil: -273.15 °C is no temperature of copper",
    ),
    (
        lambda **v: Switch(name="S1", **ENDS, **v),
        {"closed_ohms": 0.0},
        "S1: closed_ohms must be above zero, not 0",
    ),
    (
        lambda **v: CurrentLoad(name="radio", **ENDS, **v),
        {"amps": -1.0},
        "radio: amps cannot be below zero (-1)",
    ),
    (
        lambda **v: Diode(name="D1", **ENDS, **{"forward_volts": 0.7, "on_ohms": 0.01, **v}),
        {"on_ohms": 0.0},
        "D1: on_ohms must be above zero, not 0",
    ),
    (
        lambda **v: Lamp(name="lamp", **ENDS, **v),
        {"rated_watts": 0.0},
        "lamp: rated_watts must be above zero, not 0",
    ),
    (
        lambda **v: PowerLoad(name="module", **ENDS, **{"watts": 100.0, "max_amps": 30.0, **v}),
        {"max_amps": 0.0},
        "module: max_amps must be above zero, not 0",
    ),
)


@pytest.mark.parametrize(("make", "values", "message"), BAD_VALUES)
def test_a_value_that_no_such_part_can_have_is_refused_by_name(make, values, message) -> None:
    with pytest.raises(BadPart) as refused:
        make(**values)

    assert str(refused.value).startswith(message)
    assert refused.value.part == message.split(":")[0]


@pytest.mark.parametrize("name", ["tolerance_fraction", "volts_tolerance"])
@pytest.mark.parametrize("tolerance", [-0.1, math.nan, math.inf])
def test_a_tolerance_is_zero_or_more(name, tolerance) -> None:
    with pytest.raises(BadPart, match=f"B1: {name} must be zero or more"):
        Network(parts=(rest_battery(**{name: tolerance}),), zero="b")


# ------------------------------------------------------------------------------ the drawing


def test_two_parts_may_not_share_a_name() -> None:
    with pytest.raises(BadPart, match="R1: two parts have this name; give each its own"):
        network(resistor("R1", "a - b", 1), resistor("R1", "b - c", 1), zero="a")


def test_a_part_joins_two_places() -> None:
    with pytest.raises(BadPart, match="R1: both ends are at a; a part joins two places"):
        network(resistor("R1", "a - a", 1), zero="a")


def test_places_that_no_part_touches_are_named_all_at_once() -> None:
    with pytest.raises(ContradictoryNetwork) as refused:
        Network(parts=(resistor("R1", "a - b", 1),), zero="minus", body="body", supply="plus")

    assert refused.value.reasons == (
        "0 V is said to be at minus, but no part is connected there",
        "body is said to be at body, but no part is connected there",
        "supply is said to be at plus, but no part is connected there",
    )


def test_a_contact_needs_its_winding_and_a_rule_its_pins() -> None:
    with pytest.raises(ContradictoryNetwork) as refused:
        network(
            battery("B1", "a - b", 12, 0.01),
            replace(relay_contact(), pull_winding="PULL", pull_winding_ohms=0.5),
            replace(rule(), sense_red="pin"),
            zero="b",
        )

    assert refused.value.reasons == (
        "K1.con is moved by K1.coil, but there is no such winding",
        "K1.con is moved by PULL, but there is no such winding",
        "fan driver watches pin, but no part is connected there",
    )


def test_two_batteries_without_ohms_across_each_other_are_named() -> None:
    drawn = network(
        source("B1", "plus - minus", 12), source("B2", "plus - minus", 11), zero="minus"
    )

    with pytest.raises(ContradictoryNetwork) as refused:
        solve(drawn)

    assert refused.value.reasons == (
        "B1 and B2 form a loop without resistance; give one of them its real ohms",
    )


def test_a_loop_of_three_sources_without_ohms_is_named_in_full() -> None:
    drawn = network(
        source("B1", "plus - middle", 6),
        source("B2", "middle - minus", 6),
        source("B3", "plus - minus", 12),
        resistor("R1", "plus - minus", 10),
        zero="minus",
    )

    with pytest.raises(ContradictoryNetwork, match="B1, B2 and B3 form a loop without resistance"):
        solve(drawn)


def test_a_current_source_that_leads_nowhere_is_named() -> None:
    drawn = network(current("I1", "minus - a", 1), resistor("R1", "minus - b", 1), zero="minus")

    with pytest.raises(ContradictoryNetwork, match="I1 forces a current that has no way back"):
        solve(drawn)


def test_two_currents_forced_through_one_wire_are_both_named() -> None:
    drawn = network(
        current("I1", "minus - a", 1),
        current("I2", "a - minus", 2),
        resistor("R1", "minus - b", 1),
        zero="minus",
    )

    with pytest.raises(ContradictoryNetwork) as refused:
        solve(drawn)

    assert [reason.split()[0] for reason in refused.value.reasons] == ["I1", "I2"]


# ------------------------------------------------------------------------------------ phases


def two_phases() -> Network:
    return network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("S1", "plus - load"),
        resistor("R1", "load - minus", 10),
        zero="minus",
        phases=phases(off=switch("S1", "plus - load", closed=False), on=()),
    )


def test_a_phase_that_changes_an_unknown_part_is_refused() -> None:
    with pytest.raises(BadPart, match="S9: there is no such part in this circuit"):
        replace(two_phases(), phases=phases(on=switch("S9", "plus - load")))


def test_a_phase_that_moves_a_part_is_refused() -> None:
    with pytest.raises(BadPhase, match="phase 'on': moves or renames S1; a phase only changes"):
        replace(two_phases(), phases=phases(on=switch("S1", "plus - minus")))


def test_two_phases_may_not_share_a_name() -> None:
    twice = (Phase(name="on", key_state=KeyState.ON), Phase(name="on", key_state=KeyState.RUN))

    with pytest.raises(BadPhase, match="phase 'on': two phases have this name; give each its own"):
        replace(two_phases(), phases=twice)


def test_a_circuit_without_a_phase_can_be_read_in_none() -> None:
    with pytest.raises(ContradictoryNetwork, match="no phase in which to read it; add one"):
        replace(two_phases(), phases=())


def test_an_unknown_phase_names_those_there_are() -> None:
    reading = Reading(
        place=volts_place("battery", "plus - minus"), phase="cranking", value=10.0, step=0.01
    )

    with pytest.raises(BadPhase, match=r"'cranking'.*it has 'off', 'on'"):
        judge(two_phases(), [reading])


# ----------------------------------------------------------------- places, rigs, instruments


def test_a_place_is_volts_or_amps_and_its_leads_lie_apart() -> None:
    with pytest.raises(BadPlace, match=r"TP1: a place has either two leads"):
        Place(key="TP1")
    with pytest.raises(BadPlace, match=r"TP1: a place has either two leads"):
        Place(key="TP1", red="a", black="b", through="R1")
    with pytest.raises(BadPlace, match="TP1: both leads are on a; that reads nothing"):
        Place(key="TP1", red="a", black="a")


@pytest.mark.parametrize(
    ("place", "message"),
    [
        (volts_place("TP1", "pluss - minus"), "TP1: the red lead is on pluss, but no part"),
        (volts_place("TP1", "plus - ground"), "TP1: the black lead is on ground, but no part"),
        (Place(key="TP2", through="R9"), "TP2: there is no part R9 to clamp"),
    ],
)
def test_a_lead_on_nothing_is_named(place, message) -> None:
    with pytest.raises(BadPlace, match=message):
        predict(two_phases(), [place])


@pytest.mark.parametrize(
    ("rig", "message"),
    [
        (
            Rig(unplugged=frozenset({"R9"})),
            "R9: is said to be unplugged, but there",
        ),
        (Rig(bridged=(("plus", "lode"),)), "lode: is said to be bridged, but no part is connected"),
        (Rig(lamp_watts=0.0), "test lamp: rated_watts must be above zero, not 0"),
    ],
)
def test_what_cannot_be_unplugged_bridged_or_loaded_is_named(rig, message) -> None:
    with pytest.raises(EngineError) as refused:
        predict(two_phases(), [volts_place("TP1", "plus - minus")], rig=rig)

    assert str(refused.value).startswith(message)


@pytest.mark.parametrize("input_ohms", [0.0, -1.0, math.nan])
def test_a_meter_has_an_input_resistance(input_ohms) -> None:
    with pytest.raises(BadPlace, match="meter: input ohms must be above zero"):
        Meter(input_ohms=input_ohms)


@pytest.mark.parametrize("accuracy", [{"reading_fraction": -0.01}, {"counts": math.nan}])
def test_a_meters_accuracy_is_a_bound(accuracy) -> None:
    with pytest.raises(BadPlace, match=r"meter: its (share|counts) of accuracy cannot be"):
        Meter(**accuracy)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_over_range_is_not_judged_as_a_number(value) -> None:
    with pytest.raises(BadPlace, match=r"TP1: a reading .*over range"):
        Reading(place=volts_place("TP1", "a - b"), phase="on", value=value, step=0.01)


@pytest.mark.parametrize("step", [0.0, -0.01, math.nan])
def test_a_display_has_a_last_digit(step) -> None:
    with pytest.raises(BadPlace, match="TP1: the last digit of a display is above zero"):
        Reading(place=volts_place("TP1", "a - b"), phase="on", value=1.0, step=step)


# ----------------------------------------------------------------------------------- suspects


def test_an_unknown_fault_names_the_nearest_ones() -> None:
    with pytest.raises(UnknownSuspect) as refused:
        find_suspect(two_phases(), "resistence:S1")

    assert "resistance:S1" in refused.value.nearest
    assert "did you mean resistance:S1" in str(refused.value)


def test_a_fault_like_none_of_them_is_refused_without_a_guess() -> None:
    with pytest.raises(UnknownSuspect) as refused:
        find_suspect(two_phases(), "???")

    assert refused.value.nearest == ()
    assert str(refused.value) == "'???' is not a fault this circuit can have"


def test_every_refusal_is_an_engine_error() -> None:
    for error in (BadPart, BadPhase, BadPlace, ContradictoryNetwork, UnknownSuspect):
        assert issubclass(error, EngineError)
