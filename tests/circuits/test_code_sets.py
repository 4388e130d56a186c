"""What several codes share, and what a failure type means.

One supply code with several 'signal low' codes is one fault on the shared wire: common practice,
no source. The failure types are those of SAE J2012-DA and ISO 15031-6 (read in two public lists
that quote them; 1F from memory).
"""

from pathlib import Path

import pytest

from circuits.codes.conditions import code_entry, monitor_of
from circuits.codes.failure_modes import failure_of
from circuits.codes.failure_types import FAILURE_TYPES, failure_type
from circuits.codes.sets import pins_of_code, shared_by
from circuits.engine import FaultKind
from circuits.sheet import Sheet, read_text

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
SENSORS = read_text((LIBRARY / "sensor_supply.txt").read_text(encoding="utf-8"))

TWO_MODULES = read_text("""
[vehicle]
key: two-modules
title: Two modules on one fuse and one bus
system: network
make: Tolvane
zero: BN
body: CH
plus: BP

[connections]
BP   post    battery + post
BN   post    battery - post
CH   ground  body
GA   ground  ground bolt left
GB   ground  ground bolt right
FS   splice  feed splice
LS   splice  bus splice
A/1  pin     door module, feed
A/2  pin     door module, ground
A/3  pin     door module, bus
B/1  pin     seat module, feed
B/2  pin     seat module, ground
B/3  pin     seat module, bus

[phases]
on  on  ignition on

[parts]
SUP  supply    BP - BN    12.60 V, 6 mOhm
Wg   wire      BN - CH    35 mm2, 0.4 m
WgA  wire      GA - CH    2.5 mm2, 1 m
WgB  wire      GB - CH    2.5 mm2, 1 m
F4   fuse      BP - FS    15 A
W1   wire      FS - A/1   1 mm2, 2 m
W2   wire      FS - B/1   1 mm2, 2 m
W3   wire      A/2 - GA   1 mm2, 1 m
W4   wire      B/2 - GB   1 mm2, 1 m
MA   resistor  A/1 - A/2  24 Ohm
MB   resistor  B/1 - B/2  24 Ohm
LA   lin       A/3 - A/2  30 kOhm
LB   lin       B/3 - B/2  1 kOhm
W5   wire      A/3 - LS   0.5 mm2, 2 m
W6   wire      B/3 - LS   0.5 mm2, 2 m

[codes]
B1000: door module, supply low
  if A/1 - A/2 below 9 V
B2000: seat module, supply low
  if B/1 - B/2 below 9 V
""")


def shared_names(sheet: Sheet, *codes: tuple[str, str]) -> dict[str, set[str]]:
    pins = {code: pins_of_code(sheet, code_entry(sheet, code), module) for code, module in codes}
    found: dict[str, set[str]] = {}
    for thing in shared_by(sheet, pins):
        found.setdefault(thing.kind, set()).add(thing.name)
    return found


def test_three_sensors_that_read_low_share_supply_splice_and_sensor_ground() -> None:
    found = shared_names(SENSORS, ("P0192", ""), ("P0532", ""), ("P0107", ""))

    assert found["supply"] == {"REF"}
    assert found["splice"] == {"S5", "SG"}
    assert {"W1", "G1"} <= found["wire"]
    assert not {"W2", "W3", "W4", "Ws_RP", "Ws_AC", "Ws_MAP"} & found["wire"]


def test_two_modules_share_the_fuse_and_not_each_others_ground_bolt() -> None:
    found = shared_names(TWO_MODULES, ("B1000", ""), ("B2000", ""))

    assert found["fuse"] == {"F4"}
    assert found["splice"] == {"FS"}
    assert "CH" in found["ground"]
    assert not {"GA", "GB"} & found["ground"]


def test_codes_without_a_condition_hang_on_the_module_that_gave_them() -> None:
    found = shared_names(TWO_MODULES, ("U0100", "Door module"), ("U0200", "B"))

    assert found["fuse"] == {"F4"}
    assert found["bus"] == {"LS"}


@pytest.mark.parametrize("codes", [(), (("B1000", ""),), (("B1000", ""), ("U9999", "roof"))])
def test_fewer_than_two_codes_that_name_a_place_share_nothing(codes) -> None:
    assert shared_names(TWO_MODULES, *codes) == {}


def test_a_code_is_found_however_it_is_spaced() -> None:
    sheet = read_text((LIBRARY / "truck_starting.txt").read_text(encoding="utf-8"))

    assert code_entry(sheet, "spn 168  fmi18") == sheet.codes[0]
    assert code_entry(sheet, "SPN 16 FMI 18") is None


def test_a_code_that_cannot_be_tested_has_no_monitor() -> None:
    sheet = read_text((LIBRARY / "coolant_sensor.txt").read_text(encoding="utf-8"))
    too_late, high = code_entry(sheet, "P0128"), code_entry(sheet, "P0118")

    assert too_late is not None
    assert monitor_of(sheet, too_late) is None
    assert high is not None
    watched = monitor_of(sheet, high)
    assert watched is not None
    assert watched.conditions[0].test.limit == pytest.approx(4.9)
    assert watched.conditions[0].test.above


@pytest.mark.parametrize(
    ("byte", "words"),
    [
        ("11", "short to ground"),
        ("12", "short to battery"),
        ("13", "open"),
        ("14", "short to ground or open"),
        ("15", "short to battery or open"),
        ("16", "voltage below threshold"),
        ("17", "voltage above threshold"),
        ("18", "current below threshold"),
        ("19", "current above threshold"),
        ("1A", "resistance below threshold"),
        ("1B", "resistance above threshold"),
        ("1C", "voltage out of range"),
        ("1D", "current out of range"),
        ("1E", "resistance out of range"),
        ("1F", "intermittent"),
    ],
)
def test_a_failure_type_says_what_the_standard_says(byte: str, words: str) -> None:
    found = failure_type(byte.lower())

    assert found is not None
    assert found.words == words


def test_an_open_is_no_short_and_either_is_left_where_the_byte_names_both() -> None:
    kinds = {byte: each.kinds for byte, each in FAILURE_TYPES.items()}

    assert kinds["13"] == {FaultKind.RESISTANCE}
    assert FaultKind.GROUND_SHORT in kinds["11"]
    assert not kinds["11"] & {FaultKind.RESISTANCE, FaultKind.SUPPLY_SHORT}
    assert not kinds["12"] & {FaultKind.RESISTANCE, FaultKind.GROUND_SHORT}
    assert kinds["14"] == kinds["11"] | kinds["13"]
    assert kinds["15"] == kinds["12"] | kinds["13"]
    # Fewer ohms are a path, more ohms a joint: neither is the other.
    assert not kinds["1A"] & kinds["1B"]


@pytest.mark.parametrize(
    ("code", "left", "not_left"),
    [
        ("SPN 168 FMI 3", FaultKind.SUPPLY_SHORT, FaultKind.GROUND_SHORT),
        ("SPN 168 FMI 4", FaultKind.GROUND_SHORT, FaultKind.SUPPLY_SHORT),
        ("spn 1213 fmi 05", FaultKind.RESISTANCE, FaultKind.GROUND_SHORT),
        ("SPN 1213 FMI 6", FaultKind.GROUND_SHORT, FaultKind.RESISTANCE),
    ],
)
def test_the_fmi_of_a_heavy_vehicle_leaves_its_kind_of_fault(code, left, not_left) -> None:
    """SAE J1939-73, appendix A: shorted high, shorted low, open, grounded (value from memory)."""
    found = failure_of(code, "")

    assert found is not None
    assert left in found.kinds
    assert not_left not in found.kinds


@pytest.mark.parametrize("code", ["SPN 168 FMI 18", "SPN 168 FMI 25", "P0168", "FMI 331"])
def test_an_fmi_about_what_was_measured_or_none_at_all_leaves_every_fault(code) -> None:
    found = failure_of(code, "")

    assert found is None or not found.kinds


def test_fmi_2_says_that_it_comes_and_goes_and_a_byte_goes_before_an_fmi() -> None:
    erratic, by_byte = failure_of("SPN 168 FMI 2", ""), failure_of("SPN 168 FMI 2", "13")

    assert erratic is not None
    assert erratic.comes_and_goes
    assert by_byte is not None
    assert by_byte.words == "open"


@pytest.mark.parametrize("byte", ["00", "45", "96", ""])
def test_a_byte_of_another_category_says_nothing_of_the_wiring(byte: str) -> None:
    assert failure_type(byte) is None
