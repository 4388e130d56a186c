"""Faults of several values at once that a sheet names: a worn-out battery, a plug full of water.

The figures follow from Ohm's law on a battery, a wire and a lamp; worked by hand, no source.
"""

import pytest

from circuits.engine import Fault, find_suspect, solve
from circuits.models import CompoundRow
from circuits.services import network_of, sheet_of
from circuits.sheet import (
    SheetErrors,
    differences,
    merge,
    read_json,
    read_text,
    to_json,
    to_network,
    write_text,
)
from tests.cast import Cast, publish

LAMP = """\
[vehicle]
key: lamp
title: Lamp
system: lighting
zero: BN
body: BN

[connections]
BP   post  battery +
BN   post  battery -
LP   pin   lamp +

[phases]
on   on   switched on

[parts]
B1   battery   BP - BN   12.60 V, 10 mOhm
W1   connector BP - LP   110 mOhm
H1   resistor  LP - BN   6 Ohm

[compounds]
"""
OLD = "old-battery  battery at the end of its days  | low-volts:B1 0,6 V; resistance:B1 40 mOhm"
WET = "wet-plug  plug full of water  | resistance:W1 open; ground-short:LP 5 Ohm"


def lamp(*compounds: str) -> str:
    return LAMP + "\n".join(compounds) + "\n"


def test_a_named_fault_comes_back_from_text_and_json_as_typed() -> None:
    sheet = read_text(lamp(OLD + "  # from experience", WET))

    assert read_text(write_text(sheet)) == sheet
    assert read_json(to_json(sheet)) == sheet
    assert "low-volts:B1 0,6 V; resistance:B1 40 mOhm  # from experience" in write_text(sheet)


def test_a_worn_out_battery_is_low_volts_and_resistance_together() -> None:
    """12.0 V behind 50 mOhm, 0.11 Ohm and 6 Ohm: 1.948 A, so 11.903 V at the posts."""
    network = to_network(read_text(lamp(OLD)))
    worn = find_suspect(network, "named:old-battery")

    (found,) = solve(network, Fault(suspect=worn, severity=1.0))

    assert found.amps["H1"] == pytest.approx(12.0 / 6.16)
    assert found.volts["BP"] == pytest.approx(12.0 - 0.05 * 12.0 / 6.16)


@pytest.mark.parametrize(
    ("line", "said", "at"),
    [
        ("x  x  | low-volts:B2 1 V; resistance:W1 1 Ohm", "Did you mean 'low-volts:B1'", "low"),
        ("x  x  | low-volts:B1 1 Ohm; resistance:W1 1 Ohm", "V is wanted here", "1 Ohm"),
        ("x  x  | low-volts:B1 13 V; resistance:W1 1 Ohm", "runs from 0 to 12.60 V", "13"),
        ("x  x  | low-volts:B1 1 V; resistance:W1 1", "'1' has no unit", "1"),
        ("x  x  | low-volts:B1 short; resistance:W1 1 Ohm", "cannot be that", "short"),
        ("x  x  | low-volts:B1 1 V; resistance:W1 healthy", "no fault at all", "healthy"),
        ("x  x  | reversed:B1 100 %; resistance:W1 1 Ohm", "comes in degrees", "reversed"),
        ("x  x  | low-volts:B1 1 V", "no compound", "x"),
        ("x  x  | low-volts:B1 1 V; low-volts:B1 2 V", "names low-volts:B1 twice", "low"),
        ("x  x  | low-volts:B1; resistance:W1 1 Ohm", "no fault with its severity", "low"),
        ("x  x", "its faults behind a bar", "x"),
        (f"{OLD}\n{OLD}", "another compound fault has this name (line 22)", "old"),
    ],
)
def test_what_makes_no_compound_is_said_where_it_stands(line: str, said: str, at: str) -> None:
    with pytest.raises(SheetErrors) as told:
        read_text(lamp(line))

    (flaw,) = told.value.flaws
    assert said in f"{flaw.problem} {flaw.mend}"
    last = lamp(line).splitlines()
    assert flaw.line == len(last)
    assert last[flaw.line - 1][flaw.column - 1 :].startswith(at)


def test_named_faults_of_two_people_are_put_together() -> None:
    base, mine = read_text(lamp(OLD)), read_text(lamp(OLD, WET))
    theirs = read_text(lamp(OLD.replace("40 mOhm", "60 mOhm")))

    merged = merge(base=base, theirs=theirs, mine=mine)

    assert not merged.clashes
    assert [each.words for each in differences(mine, merged.sheet)] == [
        "old-battery: battery at the end of its days  | low-volts:B1 0,6 V; resistance:B1 40 mOhm"
        " became battery at the end of its days  | low-volts:B1 0,6 V; resistance:B1 60 mOhm"
    ]


def test_a_published_circuit_keeps_its_named_faults_in_rows(cast: Cast) -> None:
    revision = publish("starting_relay.txt", by=cast.technician)

    row = CompoundRow.objects.get(revision=revision)
    assert [each["severity"] for each in row.faults] == ["0.6 V", "40 mOhm"]
    assert [each.key for each in sheet_of(revision).compounds] == ["old-battery"]
    assert find_suspect(network_of(revision), "named:old-battery").graded


@pytest.mark.parametrize(
    ("file", "suspect", "phase", "place", "healthy"),
    [
        ("starting_relay.txt", "named:old-battery", "crank", ("BP", "BN"), 9.5),
        ("brake_lamps_trailer.txt", "named:wet-plug", "brake", ("TB", "TG"), 11.0),
    ],
)
def test_the_library_names_faults_that_pull_their_readings_down(
    cast: Cast, file, suspect, phase, place, healthy
) -> None:
    network = network_of(publish(file, by=cast.technician))

    def volts(fault: Fault | None) -> float:
        found = next(each for each in solve(network, fault) if each.phase == phase)
        return found.drop_volts(*place)

    assert (
        volts(None) > healthy > volts(Fault(suspect=find_suspect(network, suspect), severity=1.0))
    )
