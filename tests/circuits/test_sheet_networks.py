"""From a sheet to the network that the engine solves: parts by phase, values, rules, places."""

from pathlib import Path
from typing import Any

import pytest

from circuits.engine import Absent, BadPlace, Contact, RuleContact, Switch
from circuits.sheet import (
    engine_place,
    read_text,
    to_network,
)
from tests.circuits.small import SMALL, flaws_of

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"


def part_by_phase(text, name) -> dict[str, Any]:
    network = to_network(read_text(text))
    return {
        phase.name: next(part for part in network.parts_in(phase) if part.name == name)
        for phase in network.phases
    }


def library_text(stem):
    return (LIBRARY / f"{stem}.txt").read_text(encoding="utf-8")


def test_a_part_is_what_its_line_says_in_each_phase():
    switch = part_by_phase(SMALL, "S1")

    assert isinstance(switch["off"], Switch)
    assert (switch["off"].closed, switch["on"].closed) == (False, True)
    assert switch["off"].closed_ohms == 0.02


@pytest.mark.parametrize(
    ("kind", "typed", "with_commas"),
    [
        ("wire", "2.5 mm2 1.6 m", "2.5 mm2, 1.6 m"),
        ("wire", "2.5 mm2 1.6 m joints 3 mOhm", "2.5 mm2, 1.6 m, joints 3 mOhm"),
        ("battery", "12.6 V 11 mOhm", "12.6 V, 11 mOhm"),
        ("battery", "12,6 V 11 mOhm, within 0.2 V", "12,6 V, 11 mOhm, within 0.2 V"),
        ("fuse", "7.5 A cold 11 mOhm", "7.5 A, cold 11 mOhm"),
        ("motor", "3.6 A 0.14 A/V stalled 0.6 Ohm", "3.6 A, 0.14 A/V, stalled 0.6 Ohm"),
    ],
)
def test_values_may_follow_one_another_without_a_comma_as_they_are_said_at_the_bench(
    kind, typed, with_commas
):
    part = read_text(f"{SMALL}X1 {kind} BP - BN {typed}\n").parts[-1]

    assert part == read_text(f"{SMALL}X1 {kind} BP - BN {with_commas}\n").parts[-1]
    assert len(part.settings[0].values) == with_commas.count(", ") + 1


@pytest.mark.parametrize("typed", ["2.5 mm2 1.6", "2.5 mm2 1.6 s", "2.5 mm2 wide 1.6 m"])
def test_values_of_which_one_is_none_are_told_as_they_were_typed(typed):
    (flaw,) = flaws_of(f"{SMALL}W5 wire L - BN {typed}\n")

    assert f"'{typed}' is no value of a wire." in flaw.problem


def test_values_for_all_phases_and_for_one_add_up():
    text = library_text("power_steering")
    load = part_by_phase(text, "EPS")
    generator = part_by_phase(text, "G1")

    assert {phase: part.watts for phase, part in load.items()} == {
        "off": 0.05,
        "on": 14.0,
        "straight": 60.0,
        "lock": 720.0,
    }
    assert isinstance(generator["off"], Absent)
    assert (generator["lock"].volts, generator["lock"].max_amps) == (14.2, 85.0)


def test_a_contact_knows_the_ohms_of_its_windings():
    network = to_network(read_text(library_text("starting_relay")))
    solenoid = network.part("SOL.con")

    assert isinstance(solenoid, Contact)
    assert (solenoid.coil, solenoid.coil_ohms) == ("SOL.coil", 1.3)
    assert (solenoid.pull_winding, solenoid.pull_winding_ohms) == ("PULL", 0.45)


@pytest.mark.parametrize(
    ("rule", "closes", "opens"),
    [
        ("closes above 2.0 V, opens below 1.5 V", 2.0, 1.5),
        ("closes below 1.5 V, opens above 2.0 V", 1.5, 2.0),
    ],
)
def test_a_rule_closes_and_opens_by_the_volts_it_watches(rule, closes, opens):
    text = SMALL.replace(
        "S1  switch   BP - L   20 mOhm; off: open",
        f"S1  rule  BP - L  watching BP - BN, {rule}, made 20 mOhm, measured; off: disabled",
    )
    rows = list(part_by_phase(text, "S1").values())

    assert all(isinstance(row, RuleContact) for row in rows)
    assert [row.enabled for row in rows] == [False, True]
    assert (rows[1].closes_volts, rows[1].opens_volts) == (closes, opens)
    assert rows[1].basis == "measured"


@pytest.mark.parametrize(
    ("rule", "says"),
    [
        ("closes above 2.0 V, opens above 2.5 V", "closes above and opens below"),
        ("closes above 2.0 V, opens below 2.5 V", "has no rest"),
        ("closes above 2.0 V, opens below 1.5 V, known, assumed", "at once"),
        ("closes above 2.0 V", "needs 'opens above 2.0 V'"),
    ],
)
def test_a_rule_that_says_nothing_sensible_is_refused(rule, says):
    text = SMALL.replace(
        "S1  switch   BP - L   20 mOhm; off: open",
        f"S1  rule  BP - L  watching BP - BN, {rule}, made 20 mOhm",
    )

    assert any(says in str(flaw) and flaw.line == 18 for flaw in flaws_of(text))


def test_a_place_round_a_part_is_a_clamp_with_a_direction():
    sheet = read_text(library_text("key_off_drain"))
    clamp = engine_place(sheet.place("TP2"))

    assert (clamp.through, clamp.reversed_clamp) == ("Wg", True)


def test_a_place_without_leads_is_not_for_the_engine():
    sheet = read_text(library_text("coolant_sensor"))

    with pytest.raises(BadPlace):
        engine_place(sheet.place("TP4"))
