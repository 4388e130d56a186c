"""The kinds of parts a sheet can hold: how each value is written, and what the engine makes of it.

A value is an optional word and a text: `2.5 mm2` has none, `joints 3 mOhm` and `pulls in 7.2 V`
have one. Word and unit together tell which value of the part is meant, so values may come in any
order.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from rapidfuzz import process

from circuits.engine import KINDS as ENGINE_KINDS
from circuits.engine import Part
from circuits.sheet.model import PartState, Value
from circuits.units import UNIT_WORDS, UnitError, has_unit, parse_quantity

#: Units of values that are no quantities.
PART = "part"
CONNECTIONS = "connections"
FLAG = "flag"

#: Nothing above this is drawn, explained or measured here (ELV limit of ISO 6469-3 is 60 V DC).
HIGHEST_VOLTS = 60.0
HIGH_VOLTAGE_MEND = (
    "Such circuits are not drawn here: follow the maker's procedure and leave them to a person "
    "licensed for high voltage."
)


class ValueRefused(ValueError):
    """A value that a kind of part cannot take."""

    def __init__(self, problem: str, mend: str) -> None:
        self.problem = problem
        self.mend = mend
        super().__init__(f"{problem} {mend}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One value that a kind of part has; `name` is the engine's, `example` how to write it."""

    name: str
    unit: str
    example: str
    word: str = ""
    needed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of part: its values, and the states a phase can put it in."""

    word: str
    fields: tuple[Field, ...]
    states: tuple[PartState, ...] = (PartState.ABSENT,)

    @property
    def example(self) -> str:
        return ", ".join(field.example for field in self.fields if field.needed)

    def field_named(self, name: str) -> Field:
        return next(field for field in self.fields if field.name == name)


def _value(name: str, unit: str, example: str, *, word: str = "", needed: bool = True) -> Field:
    return Field(name=name, unit=unit, example=example, word=word, needed=needed)


def _tolerance(name: str = "tolerance_fraction", unit: str = "%", example: str = "10 %") -> Field:
    return Field(name=name, unit=unit, example=f"within {example}", word="within")


_OHMS = _value("ohms", "ohm", "5 mOhm")
_CLOSED = _value("closed_ohms", "ohm", "15 mOhm")
_MADE = _value("made_ohms", "ohm", "made 6 mOhm", word="made")
_CELSIUS = _value("celsius", "C", "at 90 C", word="at", needed=False)
_OPEN_OR_ABSENT = (PartState.OPEN, PartState.ABSENT)

_ALL = (
    Kind(
        word="wire",
        fields=(
            _value("wire_mm2", "mm2", "2.5 mm2"),
            _value("metres", "m", "1.6 m"),
            _value("joint_ohms", "ohm", "joints 3 mOhm", word="joints", needed=False),
            _CELSIUS,
            _tolerance(),
        ),
    ),
    Kind(
        word="fuse",
        fields=(
            _value("rated_amps", "A", "15 A"),
            _value("cold_ohms", "ohm", "cold 4.8 mOhm", word="cold", needed=False),
            _tolerance(),
        ),
    ),
    Kind(word="connector", fields=(_OHMS, _tolerance())),
    Kind(word="splice", fields=(_OHMS, _tolerance())),
    Kind(word="ground", fields=(_OHMS, _tolerance())),
    Kind(word="resistor", fields=(_OHMS, _tolerance())),
    Kind(word="input", fields=(_OHMS, _tolerance())),
    Kind(word="switch", fields=(_CLOSED, _tolerance()), states=_OPEN_OR_ABSENT),
    Kind(word="driver", fields=(_CLOSED, _tolerance()), states=_OPEN_OR_ABSENT),
    Kind(word="coil", fields=(_value("ohms", "ohm", "88 Ohm"), _CELSIUS, _tolerance())),
    Kind(
        word="contact",
        fields=(
            _value("coil", PART, "by K1.coil", word="by"),
            _MADE,
            _value("pull_in_volts", "V", "pulls in 7.2 V", word="pulls in"),
            _value("drop_out_volts", "V", "lets go 2.0 V", word="lets go"),
            # A starter solenoid's second winding, from terminal 50 to the motor.
            Field(
                name="pull_winding",
                unit=PART,
                example="pull-in winding PULL",
                word="pull-in winding",
            ),
            Field(
                name="normally_closed",
                unit=FLAG,
                example="normally closed",
                word="normally closed",
            ),
            _tolerance(),
        ),
    ),
    Kind(
        word="rule",
        fields=(
            _value("sense", CONNECTIONS, "watching IN - MG", word="watching"),
            Field(name="closes_above", unit="V", example="closes above 2.0 V", word="closes above"),
            Field(name="closes_below", unit="V", example="closes below 1.5 V", word="closes below"),
            Field(name="opens_above", unit="V", example="opens above 2.0 V", word="opens above"),
            Field(name="opens_below", unit="V", example="opens below 1.5 V", word="opens below"),
            _MADE,
            Field(name="known", unit=FLAG, example="known", word="known"),
            Field(name="measured", unit=FLAG, example="measured", word="measured"),
            Field(name="assumed", unit=FLAG, example="assumed", word="assumed"),
            _tolerance(),
        ),
        states=(PartState.DISABLED, PartState.ABSENT),
    ),
    Kind(
        word="battery",
        fields=(
            _value("open_circuit_volts", "V", "12.60 V"),
            _value("internal_ohms", "ohm", "11 mOhm"),
            _value("charging_ohms", "ohm", "charging 30 mOhm", word="charging", needed=False),
            _tolerance("volts_tolerance", "V", "0.1 V"),
            _tolerance(),
        ),
    ),
    Kind(
        word="supply",
        fields=(
            _value("volts", "V", "12.40 V"),
            _value("internal_ohms", "ohm", "11 mOhm"),
            _tolerance("volts_tolerance", "V", "0.5 V"),
            _tolerance(),
        ),
    ),
    Kind(
        word="generator",
        fields=(
            _value("volts", "V", "14.20 V"),
            _value("internal_ohms", "ohm", "4 mOhm"),
            _value("max_amps", "A", "max 120 A", word="max"),
            _tolerance("volts_tolerance", "V", "0.1 V"),
            _tolerance(),
        ),
    ),
    Kind(word="current", fields=(_value("amps", "A", "6 A"), _tolerance())),
    Kind(
        word="motor",
        fields=(
            _value("base_amps", "A", "3.6 A"),
            _value("amps_per_volt", "A/V", "0.14 A/V"),
            _value("stalled_ohms", "ohm", "stalled 0.6 Ohm", word="stalled"),
            _tolerance(),
        ),
    ),
    Kind(
        word="lamp",
        fields=(
            _value("rated_watts", "W", "55 W"),
            _value("rated_volts", "V", "at 12 V", word="at", needed=False),
            _tolerance(),
        ),
    ),
    Kind(
        word="power",
        fields=(
            _value("watts", "W", "60 W"),
            _value("max_amps", "A", "max 72 A", word="max"),
            _tolerance(),
        ),
    ),
    Kind(
        word="fan",
        fields=(
            _value("winding_ohms", "ohm", "winding 55 mOhm", word="winding"),
            _value("back_volts", "V", "back 11.24 V", word="back"),
            _value("rated_amps", "A", "rated 32 A", word="rated"),
            _value("drive_fraction", "%", "drive 50 %", word="drive", needed=False),
            _tolerance(),
        ),
    ),
    Kind(
        word="diode",
        fields=(
            _value("forward_volts", "V", "0.7 V"),
            _value("on_ohms", "ohm", "20 Ohm"),
            _tolerance(),
        ),
    ),
)
KINDS: Mapping[str, Kind] = MappingProxyType({kind.word: kind for kind in _ALL})


def nearest(word: str, known: Sequence[str]) -> str:
    """Return `Did you mean 'wire'?` where a known word is near, else an empty text."""
    # Of a name of two or three letters one wrong letter leaves half of it.
    cutoff = 50 if len(word) <= 3 else 60
    found = process.extract(word, known, limit=3, score_cutoff=cutoff)
    best = [f"'{name}'" for name, score, _ in found if score == found[0][1]]
    return f"Did you mean {' or '.join(best)}?" if best else ""


# ---------------------------------------------------------------------------------- values


def split_value(kind: Kind, item: str) -> tuple[str, str]:
    """Return the word and the text of an item such as `joints 3 mOhm`."""
    lowered = item.lower()
    words = sorted({field.word for field in kind.fields if field.word}, key=len, reverse=True)
    for word in words:
        if lowered == word or lowered.startswith(f"{word} "):
            return word, item[len(word) :].strip()
    return "", item


def field_of(kind: Kind, value: Value) -> Field:
    """Return which value of the kind is meant.

    Raises
    ------
    ValueRefused
        The kind has no value of this word and unit.
    """
    candidates = [field for field in kind.fields if field.word == value.word]
    if not candidates:
        raise ValueRefused(
            f"a {kind.word} has no value '{value.word}'.", f"It is written: {_all_examples(kind)}."
        )
    for field in candidates:
        if field.unit in (PART, CONNECTIONS, FLAG) or has_unit(value.text, field.unit):
            return field
    if len(candidates) == 1:
        return candidates[0]
    raise ValueRefused(
        f"'{value.text}' is no value of a {kind.word}.",
        f"Give each value its unit, such as {_all_examples(kind)}, and put a space behind "
        "each comma.",
    )


def _all_examples(kind: Kind) -> str:
    return ", ".join(field.example for field in kind.fields)


def number_of(field: Field, text: str) -> float:
    """Return a quantity in base units.

    Raises
    ------
    ValueRefused
        It is no such quantity, or it is above what this program deals with.
    """
    try:
        quantity = parse_quantity(text, UNIT_WORDS.get(field.unit, field.unit), unit_needed=True)
    except UnitError as error:
        raise ValueRefused(error.problem, error.mend) from error
    number = quantity.number
    if field.unit == "V" and abs(number) > HIGHEST_VOLTS:
        raise ValueRefused(f"{quantity.text} is above {HIGHEST_VOLTS:g} V DC.", HIGH_VOLTAGE_MEND)
    return number


def connections_of(text: str) -> tuple[str, str]:
    """Return the two connections of `IN - MG`."""
    names = text.split()
    if len(names) != 3 or names[1] != "-":
        raise ValueRefused(f"'{text}' is not two connections.", "Write them like IN - MG.")
    return names[0], names[2]


# ------------------------------------------------------------------------------ engine part

Numbers = dict[str, float]
Texts = dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    name: str
    first: str
    second: str

    def as_arguments(self) -> dict[str, str]:
        return {"name": self.name, "first": self.first, "second": self.second}


def missing_fields(kind: Kind, names: set[str]) -> list[Field]:
    """Return the needed values that are not among the names."""
    missing = [field for field in kind.fields if field.needed and field.name not in names]
    if kind.word == "rule":
        for action in ("closes", "opens"):
            ways = {f"{action}_above", f"{action}_below"}
            if not ways & names:
                missing.append(kind.field_named(f"{action}_above"))
    return missing


def make_part(
    kind: Kind, ends: Ends, numbers: Numbers, texts: Texts, *, winding_ohms: Callable[[str], float]
) -> Part:
    """Return the engine's part; `winding_ohms` gives the ohms of a winding by name."""
    maker: Callable[..., Part] = ENGINE_KINDS[kind.word]
    if kind.word == "contact":
        pull_winding = texts.get("pull_winding", "")
        return maker(
            **ends.as_arguments(),
            **numbers,
            coil=texts["coil"],
            coil_ohms=winding_ohms(texts["coil"]),
            normally_closed="normally_closed" in texts,
            pull_winding=pull_winding,
            pull_winding_ohms=winding_ohms(pull_winding) if pull_winding else 0.0,
        )
    if kind.word == "rule":
        return maker(**ends.as_arguments(), **_rule_values(numbers, texts))
    return maker(**ends.as_arguments(), **numbers)


def _rule_values(numbers: Numbers, texts: Texts) -> dict[str, float | str]:
    closes = [name for name in ("closes_above", "closes_below") if name in numbers]
    opens = [name for name in ("opens_above", "opens_below") if name in numbers]
    rising = closes == ["closes_above"] and opens == ["opens_below"]
    falling = closes == ["closes_below"] and opens == ["opens_above"]
    if not (rising or falling):
        raise ValueRefused(
            "a rule closes above and opens below, or closes below and opens above.",
            "Write, for example: closes above 2.0 V, opens below 1.5 V.",
        )
    closes_volts, opens_volts = numbers[closes[0]], numbers[opens[0]]
    if rising != (closes_volts > opens_volts):
        raise ValueRefused(
            f"a rule that {closes[0].replace('_', ' ')} {closes_volts:g} V and "
            f"{opens[0].replace('_', ' ')} {opens_volts:g} V has no rest.",
            "There must be a gap between the two in which it stays as it is.",
        )
    red, black = connections_of(texts["sense"])
    bases = [base for base in ("known", "measured", "assumed") if base in texts]
    if len(bases) > 1:
        raise ValueRefused(
            f"a rule cannot be {' and '.join(bases)} at once.", "Keep the one that is true."
        )
    values: dict[str, float | str] = {
        "sense_red": red,
        "sense_black": black,
        "closes_volts": closes_volts,
        "opens_volts": opens_volts,
        "made_ohms": numbers["made_ohms"],
        "basis": bases[0] if bases else "assumed",
    }
    if "tolerance_fraction" in numbers:
        values["tolerance_fraction"] = numbers["tolerance_fraction"]
    return values
