"""The kinds of parts a sheet can hold, and how each value is written.

A value is an optional word and a text: `2.5 mm2` has none, `joints 3 mOhm` and `pulls in 7.2 V`
have one. Word and unit together tell which value of the part is meant, so values may come in any
order. Three kinds have a third end: `TPS potentiometer 5V - SG - SIG 4.7 kOhm, position 12 %`.

A starter with its solenoid has no kind of its own; it is four parts, which share their faults with
other circuits: the hold-in winding (a coil from 50 to the case), the pull-in winding (a coil from
50 to the motor's terminal), the contact (30 to the motor's terminal, `by` the one, `pull-in
winding` the other) and the motor:

    M1.hold     coil     S50 - EB   1.2 Ohm
    M1.pull     coil     S50 - M45  0.35 Ohm
    M1.contact  contact  S30 - M45  by M1.hold, pull-in winding M1.pull, made 0.5 mOhm, pulls in ...
    M1.motor    motor    M45 - EB   100 A, 8 A/V, stalled 22 mOhm

A rule that is assumed can say what it may be instead, each value with its own `or`:

    Q1  rule  MP - X1  watching IN - MG, closes above 6.0 V, opens below 4.0 V, made 40 mOhm,
                       assumed, or closes above 3.0 V, or opens below 2.5 V
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from rapidfuzz import process

from circuits.engine import HIGHEST_VOLTS
from circuits.sheet.model import PartState, Value
from circuits.units import UNIT_WORDS, UnitError, has_unit, parse_quantity

#: Units of values that are no quantities.
PART = "part"
CONNECTIONS = "connections"
FLAG = "flag"
#: A plain number; ohms by position; ohms by temperature.
COUNT = "count"
STEPS = "steps"
POINTS = "points"
TEXTS = frozenset({PART, CONNECTIONS, FLAG, COUNT, STEPS, POINTS})

#: Before the word of each value of an alternative, and before its name.
OR = "or "
OR_NAME = "or_"

HIGH_VOLTAGE_MEND = (
    "Such circuits are not drawn here: follow the maker's procedure and leave them to a person "
    "licensed for high voltage."
)


_POINT = re.compile(r"(.+?[Cc])\s+(.+)")
_COUNT = re.compile(r"[0-9]+(?:[.,][0-9]+)?")


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
    #: What its third end is, of a part that has one.
    third_end: str = ""

    @property
    def example(self) -> str:
        return ", ".join(field.example for field in self.fields if field.needed)

    def field_named(self, name: str) -> Field:
        return next(field for field in self.fields if field.name == name)


def _value(name: str, unit: str, example: str, *, word: str = "", needed: bool = True) -> Field:
    return Field(name=name, unit=unit, example=example, word=word, needed=needed)


def _tolerance(name: str = "tolerance_fraction", unit: str = "%", example: str = "10 %") -> Field:
    return Field(name=name, unit=unit, example=f"within {example}", word="within")


def _alternative(name: str, unit: str, example: str) -> Field:
    """Return the value that stands for the one of this name in a rule's alternative."""
    word = f"{OR}{name.replace('sense', 'watching').replace('_', ' ')}"
    return Field(name=f"{OR_NAME}{name}", unit=unit, example=f"{OR}{example}", word=word)


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
    Kind(
        word="connector",
        fields=(
            _OHMS,
            # The pin next to it, which a bent pin or a stray strand may touch.
            _value("beside", PART, "beside X1.4", word="beside", needed=False),
            _tolerance(),
        ),
    ),
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
            # What an assumed rule may be instead; what is not said stays as it is.
            _alternative("sense", CONNECTIONS, "watching IN2 - MG"),
            _alternative("closes_above", "V", "closes above 3.0 V"),
            _alternative("closes_below", "V", "closes below 1.0 V"),
            _alternative("opens_above", "V", "opens above 3.0 V"),
            _alternative("opens_below", "V", "opens below 2.5 V"),
            _tolerance(),
        ),
        states=(PartState.DISABLED, PartState.ABSENT),
    ),
    Kind(
        word="battery",
        fields=(
            # Volts as measured at rest, or by state of charge (12 V), temperature and sort.
            _value("open_circuit_volts", "V", "12.60 V", needed=False),
            _value("internal_ohms", "ohm", "11 mOhm"),
            _value("charge_fraction", "%", "charge 60 %", word="charge", needed=False),
            _value("celsius", "C", "at -18 C", word="at", needed=False),
            _value("is_agm", FLAG, "agm", word="agm", needed=False),
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
            _value("fallback_volts", "V", "fallback 13.6 V", word="fallback", needed=False),
            _tolerance("volts_tolerance", "V", "0.1 V"),
            _tolerance(),
        ),
    ),
    # A module that sleeps has two figures; a phase says `asleep`, or gives amps of its own.
    Kind(
        word="current",
        fields=(
            _value("amps", "A", "6 A"),
            _value("asleep_amps", "A", "asleep 12 mA", word="asleep", needed=False),
            _tolerance(),
        ),
        states=(PartState.ASLEEP, PartState.ABSENT),
    ),
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
    Kind(
        word="clamp",
        fields=(
            _value("clamp_volts", "V", "26 V"),
            _value("on_ohms", "ohm", "0.5 Ohm"),
            _value("forward_volts", "V", "forward 0.7 V", word="forward", needed=False),
            _tolerance(),
        ),
    ),
    Kind(
        word="thermistor",
        fields=(
            _value("celsius", "C", "at 20 C", word="at"),
            # Its curve, in one of four ways.
            _value(
                "table",
                POINTS,
                "table 0 C 27.9 kOhm / 25 C 10 kOhm / 100 C 947 Ohm",
                word="table",
                needed=False,
            ),
            _value(
                "three_points",
                POINTS,
                "through 0 C 27.9 kOhm / 25 C 10 kOhm / 100 C 947 Ohm",
                word="through",
                needed=False,
            ),
            _value("nominal_ohms", "ohm", "nominal 10 kOhm", word="nominal", needed=False),
            _value("nominal_celsius", "C", "nominal at 25 C", word="nominal at", needed=False),
            _value("beta_kelvin", COUNT, "beta 3435", word="beta", needed=False),
            _value("zero_ohms", "ohm", "platinum 100 Ohm", word="platinum", needed=False),
            _tolerance(),
        ),
    ),
    Kind(
        word="potentiometer",
        third_end="wiper",
        fields=(
            _value("track_ohms", "ohm", "4.7 kOhm"),
            _value("position_fraction", "%", "position 30 %", word="position"),
            _value("wiper_ohms", "ohm", "wiper 50 Ohm", word="wiper", needed=False),
            _tolerance(),
        ),
    ),
    Kind(
        word="sensor",
        third_end="signal",
        fields=(
            _value("track_ohms", "ohm", "1.5 kOhm"),
            _value("position_fraction", "%", "signal 28 %", word="signal"),
            _value("supply_amps", "A", "draws 5 mA", word="draws", needed=False),
            _value("wiper_ohms", "ohm", "output 100 Ohm", word="output", needed=False),
            _tolerance(),
        ),
    ),
    Kind(
        word="selector",
        fields=(
            _value("step_ohms", STEPS, "steps open / 2.2 Ohm / 20 mOhm", word="steps"),
            _value("position", COUNT, "position 2", word="position"),
            _tolerance(),
        ),
    ),
    Kind(
        word="duty",
        fields=(
            _value("closed_ohms", "ohm", "400 mOhm"),
            _value("duty_fraction", "%", "duty 50 %", word="duty"),
            _value("against_ohms", "ohm", "against 1 kOhm", word="against"),
            _tolerance(),
        ),
    ),
    Kind(
        word="can",
        third_end="ground",
        fields=(
            _value("input_ohms", "ohm", "25 kOhm"),
            _value("bias_volts", "V", "bias 2.5 V", word="bias", needed=False),
            _tolerance(),
        ),
        states=(PartState.ASLEEP, PartState.ABSENT),
    ),
    Kind(
        word="lin",
        fields=(
            _value("ohms", "ohm", "1 kOhm"),
            _value("forward_volts", "V", "diode 0.7 V", word="diode", needed=False),
            _tolerance(),
        ),
    ),
    Kind(word="leak", fields=(_value("ohms", "ohm", "12 kOhm"), _tolerance())),
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
        if field.unit in TEXTS or has_unit(value.text, field.unit):
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


def steps_of(text: str) -> tuple[float, ...]:
    """Return the ohms of `open / 2.2 Ohm / 20 mOhm`; an open is infinite."""
    ohms = Field(name="step", unit="ohm", example="2.2 Ohm")
    return tuple(
        math.inf if step.lower() == "open" else number_of(ohms, step) for step in _parted(text)
    )


def points_of(text: str) -> tuple[tuple[float, float], ...]:
    """Return (degrees, ohms) of each point of `0 C 27.9 kOhm / 25 C 10 kOhm`."""
    degrees = Field(name="point", unit="C", example="25 C")
    ohms = Field(name="point", unit="ohm", example="10 kOhm")
    points = []
    for point in _parted(text):
        found = _POINT.fullmatch(point)
        if found is None:
            raise ValueRefused(
                f"'{point}' is no temperature with its ohms.",
                "Write each point like '25 C 10 kOhm', and ' / ' between them.",
            )
        points.append((number_of(degrees, found[1]), number_of(ohms, found[2])))
    return tuple(points)


def _parted(text: str) -> list[str]:
    parts = [part.strip() for part in text.split("/")]
    if not all(parts):
        raise ValueRefused(f"'{text}' has an empty place.", "Put one value between two strokes.")
    return parts


def count_of(text: str) -> float:
    """Return a number without a unit."""
    if not _COUNT.fullmatch(text):
        raise ValueRefused(f"'{text}' is no plain number.", "Write it without a unit, such as 2.")
    return float(text.replace(",", "."))
