"""Drawings that say what the circuit is: every join, no other, and nothing on top of anything."""

from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from circuits.drawing.channels import Segment
from circuits.drawing.layout import lay_out
from circuits.drawing.measures import measured
from circuits.drawing.plan import plan_of
from circuits.engine import KeyState
from circuits.sheet import (
    Connection,
    ConnectionKind,
    PartEntry,
    PhaseEntry,
    Setting,
    Sheet,
    Value,
    Vehicle,
    read_text,
)
from tests.circuits.wires import joined_pins, wanted_pins

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
PATHS = sorted(LIBRARY.glob("*.txt"))
#: Most crossings a drawing of the library may have; a fan-out of lamps to two grounds has some.
MOST_CROSSINGS = 4


def laid_out(sheet, nudges=None):
    return lay_out(plan_of(sheet), nudges or {})


@lru_cache
def from_library(path):
    sheet = read_text(path.read_text(encoding="utf-8"))
    return sheet, laid_out(sheet)


def is_true_to(layout):
    """Say whether the lines of a drawing join what the circuit joins, and nothing else."""
    return sorted(map(sorted, joined_pins(layout))) == sorted(map(sorted, wanted_pins(layout)))


def is_clean(layout):
    measures = layout.measures
    return (measures.false_joins, measures.through_parts, measures.overlaps) == (0, 0, 0)


@pytest.fixture(params=PATHS, ids=lambda path: path.stem)
def drawn(request):
    return from_library(request.param)


def test_a_drawing_of_the_library_joins_what_the_circuit_joins(drawn):
    _, layout = drawn

    assert is_true_to(layout)
    assert is_clean(layout)
    assert layout.measures.crossings <= MOST_CROSSINGS


def test_every_part_is_drawn_once(drawn):
    sheet, layout = drawn
    parts = [column.part for each in layout.placed for column in each.cell.columns]

    assert sorted(parts) == sorted(part.name for part in sheet.parts)


def test_what_feeds_stands_above_what_it_feeds(drawn):
    """Common practice: power at the top, ground at the bottom."""
    _, layout = drawn
    lowest: dict[str, list[int]] = {}
    highest: dict[str, list[int]] = {}
    for each in layout.placed:
        for pin in each.cell.pins:
            side = highest if pin.is_top else lowest
            side.setdefault(pin.net, []).append(each.y + (0 if pin.is_top else each.cell.height))

    for net, feeding in lowest.items():
        assert max(feeding) <= min(highest.get(net, [layout.height]))


def test_a_generator_hangs_from_the_battery_rail_even_beyond_a_shunt():
    """A resistor of a tenth of a milliohm in the battery's ground is no load."""
    _, layout = from_library(LIBRARY / "smart_charging.txt")
    top_of = {name: each.y for each in layout.placed for name in each.cell.parts}

    assert top_of["B1"] < top_of["G1"]
    assert top_of["W2"] < top_of["FL1"] < top_of["W1"] < top_of["G1"]


# ------------------------------------------------------------------------- random circuits

KINDS = ("wire", "fuse", "switch", "lamp", "motor", "resistor", "connector", "driver", "input")


@st.composite
def circuits(draw):
    """A battery, and 4 to 30 parts strung anyhow between some nodes, relays among them."""
    count = draw(st.integers(4, 30))
    nodes = ["BP", "BN", "CH", *(f"N{number}" for number in range(max(2, count * 2 // 3)))]
    parts = [PartEntry(name="B1", kind="battery", first="BP", second="BN")]
    coils = []
    for number in range(count):
        first, second, third = draw(
            st.lists(st.sampled_from(nodes), min_size=3, max_size=3, unique=True)
        )
        kind = draw(st.sampled_from((*KINDS, "coil", "contact", "potentiometer")))
        stem = f"P{number}"
        settings_: tuple[Setting, ...] = ()
        if kind == "coil":
            coils.append(f"{stem}.coil")
            stem = coils[-1]
        elif kind == "contact":
            if not coils:
                continue
            winding = draw(st.sampled_from(coils))
            settings_ = (Setting(values=(Value(word="by", text=winding),)),)
        parts.append(
            PartEntry(
                name=stem,
                kind=kind,
                first=first,
                second=second,
                third=third if kind == "potentiometer" else "",
                settings=settings_,
            )
        )
    used = dict.fromkeys(node for part in parts for node in part.ends)
    kinds = {"CH": ConnectionKind.GROUND}
    return Sheet(
        vehicle=Vehicle(key="r", title="r", system="r", zero="BN", body="CH", plus="BP"),
        connections=tuple(
            Connection(node=node, kind=kinds.get(node, ConnectionKind.PIN)) for node in used
        ),
        phases=(PhaseEntry(key="on", key_state=KeyState.ON, words="on"),),
        parts=tuple(parts),
    )


@settings(max_examples=12, deadline=None)
@given(sheet=circuits())
def test_a_random_circuit_is_drawn_without_false_joins_and_through_no_part(sheet):
    layout = laid_out(sheet)

    assert is_clean(layout)
    assert is_true_to(layout)


@settings(max_examples=6, deadline=None)
@given(
    moves=st.dictionaries(
        st.sampled_from(("F15", "K3.coil", "PUMP", "W7", "SUP", "body")),
        st.tuples(st.integers(-40, 40), st.integers(-6, 6)),
        min_size=1,
    )
)
def test_parts_moved_anywhere_leave_the_drawing_true(moves):
    sheet = read_text((LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8"))
    layout = laid_out(sheet, moves)

    assert is_clean(layout)
    assert is_true_to(layout)


def test_a_part_moved_to_the_right_goes_there():
    sheet = read_text((LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8"))
    places = [
        next(each.x for each in laid_out(sheet, nudges).placed if "PUMP" in each.cell.parts)
        for nudges in ({}, {"PUMP": (12, 0)})
    ]

    assert places[1] - places[0] == 120


def test_a_part_moved_down_takes_along_what_hangs_below():
    sheet = read_text((LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8"))
    heights = []
    for nudges in ({}, {"W3": (0, 2)}):
        placed = {each.cell.key: each.y for each in laid_out(sheet, nudges).placed}
        heights.append((placed["W3"], placed["PUMP"]))

    assert heights[1][0] > heights[0][0]
    assert heights[1][1] > heights[1][0]


# -------------------------------------------------------------------- the measures themselves


def wire(net, start, end):
    return Segment(net=net, start=start, end=end)


@pytest.mark.parametrize(
    ("other", "joins", "crossings"),
    [
        (wire("b", (5, 0), (5, 10)), 1, 0),  # its end lies on the level wire
        (wire("b", (5, 0), (5, 20)), 0, 1),  # passes over it
        (wire("b", (8, 10), (30, 10)), 1, 0),  # lies on it
        (wire("b", (10, 10), (30, 10)), 1, 0),  # goes on where it ends
        (wire("b", (11, 10), (30, 10)), 0, 0),
        (wire("a", (5, 0), (5, 10)), 0, 0),
    ],
)
def test_a_false_join_is_told_from_a_crossing(other, joins, crossings):
    found = measured([wire("a", (0, 10), (10, 10)), other], (), 30, 30)

    assert (found.false_joins, found.crossings) == (joins, crossings)


def test_a_wire_through_a_part_and_two_parts_on_each_other_are_seen():
    box, other = (0, 0, 10, 10), (8, 8, 20, 20)
    through = wire("a", (5, -5), (5, 5))
    beside = wire("a", (10, -5), (10, 5))

    assert measured([through], [box], 20, 20).through_parts == 1
    assert measured([beside], [box], 20, 20).through_parts == 0
    assert measured((), [box, other], 20, 20).overlaps == 1
