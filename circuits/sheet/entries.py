"""One entry of each section: from a line to a model."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from types import MappingProxyType

from circuits.engine import HIGHEST_VOLTS
from circuits.sheet.faces import face_values
from circuits.sheet.kinds import (
    HIGH_VOLTAGE_MEND,
    KINDS,
    TEXTS,
    Kind,
    nearest,
    split_value,
)
from circuits.sheet.lines import Line, Refused
from circuits.sheet.model import (
    SHOWN_UNITS,
    CompoundEntry,
    CompoundMember,
    Connection,
    ConnectionKind,
    Continuation,
    Entry,
    FaceEntry,
    HazardEntry,
    HazardKind,
    Move,
    MoveKind,
    PartEntry,
    PartState,
    PhaseEntry,
    PlaceEntry,
    Setting,
    Value,
)
from circuits.sheet.plain_words import built
from circuits.units import UnitError, has_unit, parse_quantity

Values = dict[str, object]
Reader = Callable[[Line], Values]

_SEGMENT = re.compile(r"(?:\[[^\]]*\]|[^;\[]|\[)+")
_ITEM = re.compile(r"(?:\[[^\]]*\]|,(?=\S)|[^,\[]|\[)+")
_PHASES = re.compile(r"([a-z0-9_\-]+(?:\s*,\s*[a-z0-9_\-]+)*)\s*:(?:\s+|$)")
_SOURCED = re.compile(r"(.*?)\s*\[([^\]]*)\]")


def _connection(line: Line) -> Values:
    kinds = [kind.value for kind in ConnectionKind]
    if len(line.words) < 2 or line.words[1] not in kinds:
        kind = line.words[1] if len(line.words) > 1 else ""
        raise Refused(
            f"'{kind}' is no kind of connection." if kind else "the kind is missing.",
            nearest(kind, kinds) or f"Write the name, then {', '.join(kinds)}, then words.",
            kind,
        )
    _no_details(line)
    return {"node": line.words[0], "kind": line.words[1], "label": line.after(2)}


def _phase(line: Line) -> Values:
    states = ["off", "on", "crank", "run", "bench"]
    if len(line.words) < 3 or line.words[1] not in states:
        raise Refused(
            "a phase is written: short name, key state, words.",
            f"The key state is {', '.join(states)}; write 'run  run  engine running, warm'.",
            line.words[1] if len(line.words) > 1 else "",
        )
    details: dict[str, str] = {}
    for item in filter(None, re.split(r",\s+", line.details)):
        word, _, text = item.partition(" ")
        if word not in ("at", "after") or not text.strip() or word in details:
            raise Refused(
                f"'{item}' is nothing that is said of a phase.",
                "Details are a temperature and a time: '| at 20 C, after 30 min'.",
                item,
            )
        details[word] = text.strip()
    return {
        "key": line.words[0],
        "key_state": line.words[1],
        "words": line.after(2),
        "temperature": details.get("at", ""),
        "since": details.get("after", ""),
    }


def _part(line: Line) -> Values:
    words = line.words
    if len(words) < 5 or words[3] != "-":
        raise Refused(
            "a part is written: name, kind, end - end, values.",
            "Put spaces round the dash, such as 'W5 wire K87 - S50 2.5 mm2, 1.6 m'.",
            words[0],
        )
    kind = KINDS.get(words[1])
    behind = behind_ends(words)
    return {
        "name": words[0],
        "kind": words[1],
        "first": words[2],
        "second": words[4],
        "third": words[6] if behind == 7 else "",
        "settings": tuple(_setting(kind, *said) for said in settings_in(line.after(behind))),
        "source": line.details,
    }


def behind_ends(words: Sequence[str]) -> int:
    """Return how many words of a part's line come before its settings: two ends, or three."""
    return 7 if len(words) > 6 and words[5] == "-" else 5


def settings_in(text: str) -> Iterator[tuple[str, tuple[str, ...], str]]:
    """Yield each setting of a part's line: as it stands, its phases, and what is said of them."""
    for segment in filter(None, (found.strip() for found in _SEGMENT.findall(text))):
        phases = _PHASES.match(segment)
        keys = tuple(re.split(r"\s*,\s*", phases[1])) if phases else ()
        yield segment, keys, segment[phases.end() :].strip() if phases else segment


def _setting(kind: Kind | None, segment: str, phases: tuple[str, ...], what: str) -> Setting:
    if not what:
        raise Refused(
            f"nothing is said of '{segment}'.",
            "Write values, 'open' or 'absent' behind it.",
            segment,
        )
    if what in [state.value for state in PartState]:
        return built(Setting, phases=phases, state=what)
    items = filter(None, (item.strip() for item in _ITEM.findall(what)))
    values = tuple(_value(kind, value) for item in items for value in _values_of(kind, item))
    return built(Setting, phases=phases, values=values)


def _values_of(kind: Kind | None, item: str) -> list[str]:
    """Return the values of an item, apart where they were typed without a comma: `2.5 mm2 1.6 m`.

    It is taken apart only where every piece is a quantity that the kind has.
    """
    if kind is None:
        return [item]
    values, here = [], ""
    for word in item.split():
        if here and _is_quantity(kind, here):
            values.append(here)
            here = word
        else:
            here = f"{here} {word}".lstrip()
    whole = len(values) > 0 and _is_quantity(kind, here)
    return [*values, here] if whole else [item]


def _is_quantity(kind: Kind, said: str) -> bool:
    word, text = split_value(kind, said)
    return any(
        field.word == word and field.unit not in TEXTS and has_unit(text, field.unit)
        for field in kind.fields
    )


def _value(kind: Kind | None, item: str) -> Value:
    sourced = _SOURCED.fullmatch(item)
    said, source = (sourced[1], sourced[2].strip()) if sourced else (item, "")
    word, text = split_value(kind, said) if kind else ("", said)
    return built(Value, word=word, text=text, source=source)


def _place(line: Line) -> Values:
    words = line.words
    values: Values = {}
    if len(words) > 4 and words[3] == "-" and words[2] != "-":
        values = {"red": words[2], "black": words[4], "label": line.after(5)}
    elif len(words) > 3 and words[2] in ("through", "against"):
        against = words[2] == "against"
        values = {"through": words[3], "against": against, "label": line.after(4)}
    elif len(words) > 3 and words[2] == "-":
        values = {"label": line.after(3)}
    if not values:
        raise Refused(
            "a place is written: name, unit, where, words.",
            "Write 'TP1 V BP - BN battery posts', red lead first, or 'TP2 A through W1 clamp'.",
            words[0],
        )
    if words[1] not in SHOWN_UNITS:
        raise Refused(
            f"'{words[1]}' is no unit of a reading.",
            nearest(words[1], SHOWN_UNITS) or f"Known are: {', '.join(SHOWN_UNITS)}.",
            words[1],
        )
    return {"key": words[0], "unit": words[1], **values, **_place_details(line)}


def _place_details(line: Line) -> Values:
    names = {"side": "side", "moves": "moves", "not computed": "not_computed"}
    details: Values = {}
    for item in filter(None, (item.strip() for item in line.details.split(";"))):
        word, colon, text = (piece.strip() for piece in item.partition(":"))
        name = names.get(word, "")
        if not colon or not text or not name or name in details:
            raise Refused(
                f"'{item}' is nothing that is said of a place.",
                "Details are '| side: back-probed; moves: volts, unplug PUMP; not computed: why'.",
                item,
            )
        details[name] = tuple(map(_move, re.split(r",\s+", text))) if name == "moves" else text
    return details


def _move(text: str) -> Move:
    kind, *rest = text.split()
    kinds = [kind.value for kind in MoveKind]
    if kind not in kinds:
        raise Refused(
            f"'{kind}' is no move.",
            nearest(kind, kinds) or "Moves are: volts, lamp 21 W, unplug PUMP, bridge K30 - K87.",
            kind,
        )
    if kind == MoveKind.LAMP:
        return built(Move, kind=kind, watts=" ".join(rest))
    if kind == MoveKind.BRIDGE:
        return built(Move, kind=kind, names=tuple(name for name in rest if name != "-"))
    return built(Move, kind=kind, names=tuple(rest))


def _compound(line: Line) -> Values:
    if len(line.words) < 2 or not line.details:
        raise Refused(
            "a compound fault is written: short name, words, and its faults behind a bar.",
            _COMPOUND_EXAMPLE,
            line.words[0],
        )
    faults = tuple(_member(item) for item in map(str.strip, line.details.split(";")) if item)
    return {"key": line.words[0], "words": line.after(1), "faults": faults}


def _member(text: str) -> CompoundMember:
    suspect, severity = (*text.split(maxsplit=1), "")[:2]
    if not severity or ":" not in suspect.strip(":"):
        raise Refused(
            f"'{text}' is no fault with its severity.",
            f"{_COMPOUND_EXAMPLE} An end is written open or short.",
            text,
        )
    return built(CompoundMember, suspect=suspect, severity=severity)


_COMPOUND_EXAMPLE = (
    "Write 'old-battery  worn-out battery  | low-volts:B1 0.6 V; resistance:B1 40 mOhm'."
)


def _hazard(line: Line) -> Values:
    kinds = [kind.value for kind in HazardKind]
    if line.words[0] not in kinds:
        raise Refused(
            f"'{line.words[0]}' is no hazard that we know.",
            nearest(line.words[0], kinds) or f"Known are: {', '.join(kinds)}.",
            line.words[0],
        )
    _no_details(line)
    return {"kind": line.words[0], "note": line.after(1)}


def _no_details(line: Line) -> None:
    if line.details:
        raise Refused("there are no details behind a bar here.", "Take out the bar.", "|")


#: Section -> the model of its entries and what reads a line of it.
ENTRY_READERS: Mapping[str, tuple[type[Entry], Reader]] = MappingProxyType(
    {
        "connections": (Connection, _connection),
        "phases": (PhaseEntry, _phase),
        "parts": (PartEntry, _part),
        "places": (PlaceEntry, _place),
        "faces": (FaceEntry, face_values),
        "compounds": (CompoundEntry, _compound),
        "hazards": (HazardEntry, _hazard),
    }
)

#: Word of a vehicle's line -> name of the value.
VEHICLE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "key": "key",
        "title": "title",
        "system": "system",
        "make": "make",
        "model": "model",
        "engine": "engine",
        "volts": "supply_volts",
        "zero": "zero",
        "body": "body",
        "plus": "plus",
        "drawing": "drawing",
        "drawn by": "drawn_by_us",
        "outside": "outside",
        "shared": "shared",
        "goes on": "goes_on",
    }
)


def vehicle_value(name: str, text: str) -> object:
    """Return one value of the vehicle from what stands behind its colon."""
    if name == "supply_volts":
        return _supply_volts(text)
    if name == "drawn_by_us":
        if text not in ("us", "maker"):
            raise Refused(
                f"'{text}' drew nothing.", "Write 'drawn by: us' or 'drawn by: maker'.", text
            )
        return text == "us"
    if name == "shared":
        return _listed(text)
    if name == "goes_on":
        return tuple(map(_continuation, _listed(text)))
    if name == "outside":
        return _listed(text)
    return text


def _listed(text: str) -> tuple[str, ...]:
    return tuple(item for item in (item.strip() for item in text.split(";")) if item)


def _continuation(text: str) -> Continuation:
    words = text.split()
    if len(words) != 3 or words[1] != "in":
        raise Refused(
            f"'{text}' does not say where the sheet goes on.",
            "Write the connection and the key of the other circuit, such as 'X12 in window-lift'.",
            text,
        )
    return built(Continuation, node=words[0], circuit=words[2])


def _supply_volts(text: str) -> int:
    try:
        volts = parse_quantity(text, "V").number
    except UnitError as error:
        raise Refused(error.problem, error.mend, text) from error
    if volts > HIGHEST_VOLTS:
        raise Refused(f"{text} is above {HIGHEST_VOLTS:g} V DC.", HIGH_VOLTAGE_MEND, text)
    if volts not in (12, 24):
        raise Refused(f"{text} is no supply that is known here.", "Write 12 V or 24 V.", text)
    return int(volts)
