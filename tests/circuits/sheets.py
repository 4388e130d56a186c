"""Sheets drawn at random: valid circuits of every kind of part, with every kind of entry."""

import string
from itertools import pairwise

from hypothesis import strategies as st

from circuits.engine import KeyState
from circuits.sheet import (
    Cavity,
    CodeEntry,
    Comparison,
    CompoundEntry,
    CompoundMember,
    Condition,
    Connection,
    ConnectionKind,
    FaceEntry,
    FaceSide,
    HazardEntry,
    HazardKind,
    Move,
    MoveKind,
    PartEntry,
    PartState,
    PhaseEntry,
    PlaceEntry,
    Setting,
    Sheet,
    Value,
    Vehicle,
)

_LETTERS = string.ascii_letters + string.digits + " .,:;-+()/%&'\"|#éΩµ²[]"


def _marks_stand_alone(text):
    return any(word in ("|", "#") for word in text.split()) or text.startswith("#")


#: What people write on drawings, and what a careless reader would trip over.
_SAID = (
    "",
    "battery + post",
    "feed drop: battery + to pump +",
    "cyl. #3, left",
    "a|b  two  spaces",
    "éclairage 12 Ω µ ²",
    "[not a section]",
    "if x above 3",
    "off: open",
    "12,5 V; 3 A",
    "- dash first",
    "through reversed",
    "not testable: no",
    "x",
)
_anything = st.text(_LETTERS, max_size=12).map(str.strip)
lines = st.sampled_from(_SAID) | _anything.filter(lambda text: not _marks_stand_alone(text))
words = lines.map(lambda text: text or "words")
remarks = st.sampled_from((*_SAID, "# twice", "| bar")) | _anything
sources = st.sampled_from(("", "drawing 12, sheet 3", "bench: cold", "é | ü", "x#y")).filter(
    lambda text: not _marks_stand_alone(text)
)
notes = st.sampled_from(
    (
        "",
        "One line.",
        "Two lines,\n  the second set in.\n\n# no remark here\n| nor a bar",
        "W1 wire BP - BN 1 mm2",
    )
)


def number(least, most, unit):
    """Return a quantity as somebody might type it, to three digits, with point or comma."""
    steps = st.integers(min_value=round(least * 100), max_value=round(most * 100))

    def typed(step, mark):
        return f"{step // 100}{mark}{step % 100:02d} {unit}"

    return st.builds(typed, steps, st.sampled_from(".,"))


def value(text, word=""):
    return st.builds(Value, word=st.just(word), text=text, source=sources)


ohms = number(0.5, 900, "Ohm")
milliohms = number(0.5, 900, "mOhm")
within = value(number(1, 40, "%"), "within")
FIELDS = {
    "wire": (
        [value(number(0.5, 50, "mm2")), value(number(0.1, 9, "m"))],
        [value(milliohms, "joints"), value(number(1, 99, "C"), "at"), within],
    ),
    "fuse": ([value(number(1, 30, "A")), value(milliohms, "cold")], [within]),
    "connector": ([value(milliohms)], [within]),
    "splice": ([value(milliohms)], []),
    "ground": ([value(milliohms)], [within]),
    "resistor": ([value(ohms)], [within]),
    "input": ([value(number(1, 99, "kOhm"))], []),
    "switch": ([value(milliohms)], [within]),
    "driver": ([value(milliohms)], []),
    "current": ([value(number(0.01, 9, "A"))], [within]),
    "motor": (
        [
            value(number(1, 9, "A")),
            value(number(0.01, 0.5, "A/V")),
            value(number(0.2, 0.9, "Ohm"), "stalled"),
        ],
        [],
    ),
    "lamp": ([value(number(3, 60, "W"))], [value(st.just("12 V"), "at")]),
    "power": ([value(number(1, 90, "W")), value(number(5, 60, "A"), "max")], []),
    "fan": (
        [
            value(number(40, 90, "mOhm"), "winding"),
            value(number(9, 12, "V"), "back"),
            value(number(10, 30, "A"), "rated"),
        ],
        [value(number(0, 100, "%"), "drive")],
    ),
    "diode": ([value(number(0.3, 3, "V")), value(number(1, 30, "Ohm"))], []),
}
STATES = {"switch": [PartState.OPEN, PartState.ABSENT], "driver": [PartState.OPEN]}


@st.composite
def settings(draw, kind, phases):
    needed, extra = FIELDS[kind]
    values = [draw(field) for field in needed]
    values += [draw(field) for field in extra if draw(st.booleans())]
    rows = [Setting(values=tuple(draw(st.permutations(values))))]
    # A load is left out of some phases only, so that the circuit stays one piece.
    if kind not in ("wire", "ground", "splice", "connector", "fuse") and draw(st.booleans()):
        state = draw(st.sampled_from(STATES.get(kind, [PartState.ABSENT])))
        chosen = draw(st.lists(st.sampled_from(phases), min_size=1, unique=True))
        rows.append(Setting(phases=tuple(chosen), state=state))
    return tuple(rows)


def remarked(draw):
    return {
        "above": tuple(draw(st.lists(remarks, max_size=2))),
        "remark": draw(remarks),
    }


@st.composite
def sheets(draw):
    """Draw a battery, a chain of parts from plus to minus, and parts across the chain."""
    phases = draw(st.lists(st.sampled_from(["off", "on", "run-1", "x_2"]), min_size=1, unique=True))
    size = draw(st.integers(min_value=1, max_value=5))
    nodes = ["BP", *(f"N{number}.x" for number in range(size)), "BN"]
    battery = PartEntry(
        name="B1",
        kind="battery",
        first="BP",
        second="BN",
        settings=(Setting(values=(Value(text="12,60 V"), Value(text="11 mOhm"))),),
        source=draw(sources),
        **remarked(draw),
    )
    parts = [battery]
    ends = list(pairwise(nodes))
    ends += draw(st.lists(st.sampled_from([("BP", "BN"), *ends]), max_size=4))
    for order, (first, second) in enumerate(ends):
        kind = draw(st.sampled_from(sorted(FIELDS)))
        parts.append(
            PartEntry(
                name=f"P{order}/a+",
                kind=kind,
                first=first,
                second=second,
                settings=draw(settings(kind, phases)),
                source=draw(sources),
                **remarked(draw),
            )
        )
    return Sheet(
        vehicle=Vehicle(
            key=draw(st.sampled_from(["pump", "fuel-pump", "x_1"])),
            title=draw(words),
            system=draw(words),
            make=draw(lines),
            model=draw(lines),
            engine=draw(lines),
            supply_volts=draw(st.sampled_from([12, 24])),
            zero="BN",
            body=draw(st.sampled_from(["", "BN"])),
            plus=draw(st.sampled_from(["", "BP"])),
            drawing=draw(lines),
            drawn_by_us=draw(st.booleans()),
            outside=tuple(draw(st.lists(sources.map(lambda text: text or "why"), max_size=2))),
            **remarked(draw),
        ),
        connections=tuple(
            Connection(
                node=node,
                kind=draw(st.sampled_from(list(ConnectionKind))),
                label=draw(lines),
                **remarked(draw),
            )
            for node in nodes
        ),
        phases=tuple(
            PhaseEntry(
                key=key,
                key_state=draw(st.sampled_from(list(KeyState))),
                words=draw(words),
                temperature=draw(st.sampled_from(["", "20 C", "-10 °C"])),
                since=draw(st.sampled_from(["", "30 min", "2 s"])),
                **remarked(draw),
            )
            for key in phases
        ),
        parts=tuple(parts),
        places=(
            PlaceEntry(
                key="TP1",
                label=draw(words),
                unit=draw(st.sampled_from(["V", "mV"])),
                red="BP",
                black="BN",
                side=draw(sources),
                moves=(
                    Move(kind=MoveKind.VOLTS),
                    Move(kind=MoveKind.LAMP, watts="21 W"),
                    Move(kind=MoveKind.UNPLUG, names=("B1", "P0/a+")),
                    Move(kind=MoveKind.BRIDGE, names=("BP", "N0.x")),
                ),
                **remarked(draw),
            ),
            PlaceEntry(
                key="TP2",
                label=draw(words),
                unit=draw(st.sampled_from(["A", "mA"])),
                through="B1",
                against=draw(st.booleans()),
            ),
            PlaceEntry(
                key="TP3",
                label=draw(words),
                unit="C",
                not_computed=draw(sources.map(lambda text: text or "why")),
            ),
        ),
        faces=(
            FaceEntry(
                name="X12/A",
                side=draw(st.sampled_from(FaceSide)),
                rows=1,
                columns=3,
                words=draw(words),
                cavities=(Cavity(number="1", node="BP"), Cavity(number="2"), Cavity()),
                **remarked(draw),
            ),
        ),
        codes=(
            CodeEntry(
                code="SPN 168 FMI 18",
                words=draw(words),
                source=draw(sources),
                conditions=(
                    Condition(
                        test=Comparison(place="TP1", above=False, number="10.5 V"),
                        seconds=draw(st.sampled_from(["", "0,5 s"])),
                        enabling=(
                            Comparison(part="B1", above=True, number="30 mA"),
                            Comparison(red="BP", black="N0.x", above=False, number="2 V"),
                        ),
                        phases=tuple(phases[:1]),
                    ),
                ),
                **remarked(draw),
            ),
            CodeEntry(code="P0087", words=draw(words), not_testable=draw(words)),
        ),
        compounds=(
            CompoundEntry(
                key="old-battery",
                words=draw(words),
                faults=(
                    CompoundMember(suspect="low-volts:B1", severity="0,6 V"),
                    CompoundMember(suspect="resistance:B1", severity="open"),
                ),
                **remarked(draw),
            ),
        ),
        hazards=(HazardEntry(kind=HazardKind.FUEL, note=draw(words), **remarked(draw)),),
        notes=draw(notes),
        closing=tuple(draw(st.lists(remarks, max_size=2))),
    )
