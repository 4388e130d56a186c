"""What to say before somebody puts a lead on a circuit: the usual cautions for its hazards.

Common practice in the trade, in our own words; the figures of high voltage are those of UN
Regulation No. 100 (60 V DC, 30 V AC). The circuit's own note follows the usual lines. None of it
replaces the maker's procedure, and every place that shows a caution says so.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from circuits.engine import KeyState
from circuits.sheet import HazardEntry, HazardKind, Sheet
from circuits.units import format_quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One danger in words; a grave one means: stop, and hand over to somebody trained for it."""

    kind: HazardKind
    title: str
    lines: tuple[str, ...]
    grave: bool = False

    @property
    def icon(self) -> str:
        shared = {
            HazardKind.NEAR_AIRBAG: HazardKind.AIRBAG,
            HazardKind.DISCHARGE_LAMP: HazardKind.HIGH_VOLTAGE,
        }
        return str(shared.get(self.kind, self.kind))


USUAL: Mapping[HazardKind, Caution] = {
    caution.kind: caution
    for caution in (
        Caution(
            kind=HazardKind.HIGH_VOLTAGE,
            title="high voltage",
            lines=(
                "Orange cables, or anything above 60 V DC or 30 V AC: stop. That work belongs to "
                "a licensed person, and nothing here is meant for it.",
                "Ignition, gas-discharge lamps and boosted injectors stand above 60 V inside a "
                "12 V car.",
            ),
            grave=True,
        ),
        Caution(
            kind=HazardKind.AIRBAG,
            title="airbags and belt tensioners",
            lines=(
                "Do not probe their circuits and never put an ohms range on them; yellow plugs "
                "are typical.",
                "Battery off, then wait as long as the maker says. Refer it to somebody trained "
                "for it.",
            ),
            grave=True,
        ),
        Caution(
            kind=HazardKind.NEAR_AIRBAG,
            title="an airbag is near",
            lines=(
                "Nothing at it is unplugged, probed or taken off. Where it has to be, follow the "
                "maker's procedure and leave it to a person trained and licensed for it.",
            ),
        ),
        # What they burn at: UN Regulation No. 99 (values from memory). How they are struck: common
        # practice, no source.
        Caution(
            kind=HazardKind.DISCHARGE_LAMP,
            title="gas-discharge lamps",
            lines=(
                "Where one is fitted, its unit strikes it with some twenty thousand volts and "
                "burns it at 42 V or 85 V: stop at its plug. Nothing there is unplugged, probed, "
                "bridged or fed; that work belongs to a person trained for it.",
            ),
        ),
        Caution(
            kind=HazardKind.FUEL,
            title="fuel and vapour",
            lines=(
                "Look and smell for leaks first. No sparks, no open flame.",
                "No test lamp near fuel or vapour. Clip leads on and off with the key off.",
            ),
        ),
        Caution(
            kind=HazardKind.CRANKING,
            title="cranking and a running engine",
            lines=(
                "Neutral or park, brake on, wheels chocked.",
                "Hands, leads and loose clothing clear of belts and fans.",
                "Injection off as the maker says; a few seconds at a time, with rests.",
            ),
        ),
        Caution(
            kind=HazardKind.BATTERY,
            title="battery",
            lines=(
                "Rings and watches off: a short across the posts is hundreds of amperes.",
                "Minus off first and on last. Where there are two batteries, isolate both and "
                "prove the circuit dead.",
                "Charging gives off hydrogen: air, no sparks, eyes covered. No charge or load test "
                "on a frozen, swollen or lithium battery.",
            ),
        ),
        Caution(
            kind=HazardKind.HIGH_CURRENT,
            title="high current",
            lines=(
                "Ammeter in series: look at its fuse first, and never crank through it.",
                "Never fit a bigger fuse. Find out why the right one blew.",
            ),
        ),
        Caution(
            kind=HazardKind.MOVING_PARTS,
            title="moving parts",
            lines=("Fans and belts start unasked, some of them with the key off.",),
        ),
        Caution(
            kind=HazardKind.HOT_PARTS,
            title="hot parts",
            lines=("Bad joints, bulbs, exhaust and coolant burn. Let them cool.",),
        ),
        Caution(
            kind=HazardKind.CRUSH,
            title="crushing",
            lines=("Windows, roofs, wipers and locks move with force. Keep fingers out.",),
        ),
        Caution(
            kind=HazardKind.ROAD_SAFETY,
            title="on the road",
            lines=(
                "No road test with steering or brake lamps out of order.",
                "Reading a meter in a moving car needs a second person.",
            ),
        ),
    )
}

BRIDGES = "A bridge left in is the next accident: take it out before the key leaves the bench."


def cautions_for(hazards: Iterable[HazardEntry]) -> list[Caution]:
    """Return the cautions for a circuit's hazards, the gravest first, its own notes last."""
    notes: dict[HazardKind, list[str]] = {}
    for hazard in hazards:
        notes.setdefault(hazard.kind, []).append(hazard.note)
    return [
        replace(caution, lines=(*caution.lines, *notes[kind]))
        for kind, caution in USUAL.items()
        if kind in notes
    ]


def off_limits(sheet: Sheet) -> frozenset[str]:
    """Return the connections and parts beside an airbag, which no check may touch.

    They stand before the colon of its note: `near-airbag  HB, CC, BTN: the button sits beside it`.
    """
    return frozenset(
        name
        for hazard in sheet.hazards
        if hazard.kind is HazardKind.NEAR_AIRBAG
        for name in _named(sheet, hazard)
    )


def _named(sheet: Sheet, hazard: HazardEntry) -> frozenset[str]:
    """Return the connections and parts that stand before the colon of a hazard's note."""
    known = {entry.node for entry in sheet.connections} | {part.name for part in sheet.parts}
    words = hazard.note.partition(":")[0].split(",")
    return frozenset(word.strip() for word in words) & known


def _is_at_lamp(sheet: Sheet, hazard: HazardEntry, touched: frozenset[str]) -> bool:
    """Whether a lamp that the note names is touched, or an end of it; always if it names none."""
    named = _named(sheet, hazard)
    ends = {end for part in sheet.parts if part.name in named for end in part.ends}
    return not named or bool(touched & (named | ends))


def notes_at_step(
    sheet: Sheet,
    key_state: KeyState,
    *,
    touched: Iterable[str],
    at_source: bool,
    at_work: bool,
    by_clamp: bool,
) -> Iterator[str]:
    """Yield the circuit's own words on what can hurt while one reading is taken.

    `touched` are the connections that leads go to, and the part that is clamped or taken out.
    """
    at = frozenset(touched)
    applies = {
        HazardKind.BATTERY: at_source,
        HazardKind.HIGH_CURRENT: at_source or by_clamp,
        HazardKind.CRANKING: key_state is KeyState.CRANK
        or (at_source and key_state is KeyState.RUN),
        HazardKind.FUEL: True,
        HazardKind.MOVING_PARTS: at_work,
        HazardKind.CRUSH: at_work,
        HazardKind.HOT_PARTS: at_work,
        HazardKind.ROAD_SAFETY: False,
    }
    for hazard in sheet.hazards:
        if hazard.kind is HazardKind.DISCHARGE_LAMP:
            if _is_at_lamp(sheet, hazard, at):
                yield hazard.note
        elif applies.get(hazard.kind, True):
            yield hazard.note


def notes_on_bench(sheet: Sheet, touched: Iterable[str], *, is_fed: bool) -> Iterator[str]:
    """Yield the circuit's own words on a part taken out, without those on the vehicle around it."""
    at_work = (HazardKind.MOVING_PARTS, HazardKind.HOT_PARTS, HazardKind.CRUSH)
    at = frozenset(touched)
    for hazard in sheet.hazards:
        if hazard.kind is HazardKind.DISCHARGE_LAMP:
            if _is_at_lamp(sheet, hazard, at):
                yield hazard.note
        elif is_fed and hazard.kind in at_work:
            yield hazard.note


# Watts that a part can shed for long without browning. Common practice, no source: a blade
# contact of a few square centimetres is warm at one watt and burns its housing at five.
LASTING_WATTS: Mapping[str, float] = {
    "connector": 5.0,
    "splice": 5.0,
    "ground": 10.0,
    "contact": 5.0,
    "switch": 5.0,
    "fuse": 5.0,
    "wire": 20.0,
}


def heat_warning(part_kind: str, watts: float | None) -> str:
    """Return the heat in a fault in words; it warns but never excludes a fault."""
    limit = LASTING_WATTS.get(part_kind)
    if watts is None or limit is None or watts < 0.1:
        return ""
    heat = format_quantity(watts, "W")
    if watts <= limit:
        return f"{heat} of heat in it."
    return (
        f"{heat} of heat in it: more than such a joint stands for long. Look for browning, "
        "and mind your fingers."
    )
