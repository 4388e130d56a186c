"""Quantities as people type them on a bench, and back into the form the trade reads.

A quantity is a number with a unit: `12.60 V`, `85 mA`, `4k7`, `4,7 kOhm`, `2.5 mm2`, `14 AWG`.
The caller says which unit is expected, because a number alone says nothing. The text is kept as
typed; the value is worked out in decimals, so `0.42 mV` is exactly 0.00042 V.

UnitError
├── NotAQuantity      no number and unit that we can read
├── AmbiguousNumber   1,500 is either one and a half or fifteen hundred
└── WrongUnit         amps where volts are wanted, megavolts, or no unit where one is needed
"""

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from circuits.engine import mm2_from_awg

LONGEST_TEXT = 40


class UnitError(ValueError):
    """A quantity that we cannot take as it is typed; says what is wrong and how to mend it."""

    def __init__(self, text: str, problem: str, mend: str) -> None:
        self.text = text
        self.problem = problem
        self.mend = mend
        super().__init__(f"{problem} {mend}")


class NotAQuantity(UnitError):
    """There is no number and unit in the text."""


class AmbiguousNumber(UnitError):
    """The comma may be a decimal mark or a thousands mark."""


class WrongUnit(UnitError):
    """The unit is not of the kind that is wanted here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A number as typed, and what it comes to.

    `value` is in `unit`, a base unit; it is None where the meter was over its range. `step` is
    the worth of the last digit typed, in the same unit.
    """

    text: str
    value: float | None
    unit: str
    step: float | None
    over_range: bool = False
    #: What was understood, to be shown beside the input: "4.7 kOhm = 4700 Ohm".
    echo: str = ""

    @property
    def number(self) -> float:
        """Return the value where over-range has been ruled out."""
        if self.value is None:
            raise NotAQuantity(self.text, f"{self.text} is over range.", "A number is needed.")
        return self.value


# ------------------------------------------------------------------------------ unit tables

_PREFIXES = {
    "p": Decimal("1e-12"),
    "n": Decimal("1e-9"),
    "u": Decimal("1e-6"),
    "μ": Decimal("1e-6"),
    "m": Decimal("1e-3"),
    "": Decimal(1),
    "k": Decimal(1000),
    "K": Decimal(1000),
    "M": Decimal("1e6"),
}
#: Base unit -> the words for it (lower case) and the prefixes that make sense with it. A mega in
#: front of volts or amps is a slip of the shift key on a vehicle, never a value.
_PREFIXED_UNITS: Mapping[str, tuple[tuple[str, ...], str]] = {
    "V": (("v", "volt", "volts"), "nuμmkK"),
    "A": (("a", "amp", "amps", "ampere", "amperes"), "pnuμmk"),
    "ohm": (("ohm", "ohms", "ω", "r"), "uμmkKM"),
    "W": (("w", "watt", "watts"), "uμmk"),
    "Hz": (("hz",), "kM"),
}
_PLAIN_UNITS: Mapping[str, tuple[str, Decimal]] = {
    "k": ("ohm", Decimal(1000)),
    "K": ("ohm", Decimal(1000)),
    "M": ("ohm", Decimal("1e6")),
    "m": ("m", Decimal(1)),
    "cm": ("m", Decimal("0.01")),
    "mm": ("m", Decimal("0.001")),
    "ft": ("m", Decimal("0.3048")),
    "mm2": ("mm2", Decimal(1)),
    "mm^2": ("mm2", Decimal(1)),
    "sqmm": ("mm2", Decimal(1)),
    "s": ("s", Decimal(1)),
    "ms": ("s", Decimal("0.001")),
    "min": ("s", Decimal(60)),
    "h": ("s", Decimal(3600)),
    "c": ("C", Decimal(1)),
    "C": ("C", Decimal(1)),
    "°c": ("C", Decimal(1)),
    "°C": ("C", Decimal(1)),
    "%": ("%", Decimal("0.01")),
    "A/V": ("A/V", Decimal(1)),
    "a/v": ("A/V", Decimal(1)),
    "mA/V": ("A/V", Decimal("0.001")),
}
#: How a base unit is written.
UNIT_WORDS = {"ohm": "Ohm"}

_SIGN = {"-": "-", "−": "-", "–": "-", "+": ""}
_NUMBER = re.compile(r"([+\-−–]?)\s*([0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE]([+-]?[0-9]{1,3}))?")
_COUNTED = re.compile(r"([+\-−–]?)([0-9]*)([RkKM])([0-9]+)(?:\s*(?:[oO]hms?|Ω))?")
_GAUGE = re.compile(r"(?:AWG\s*([0-9]{1,2}|[1-4]/0)|([0-9]{1,2}|[1-4]/0)\s*AWG)", re.IGNORECASE)
_OVER_RANGE = re.compile(r"[+\-−–]?\s*[O0]\.?L\.?", re.IGNORECASE)
_NOT_MEASURED = {"", "-", "–", "—"}


def _unit_of(token: str) -> tuple[str, Decimal] | None:
    """Return the base unit a token stands for and how many of it one is."""
    if token in _PLAIN_UNITS:
        return _PLAIN_UNITS[token]
    for unit, (names, prefixes) in _PREFIXED_UNITS.items():
        lowered = token.lower()
        for name in names:
            if not lowered.endswith(name):
                continue
            prefix = token[: len(token) - len(name)].strip()
            if prefix == "" or (len(prefix) == 1 and prefix in prefixes):
                return unit, _PREFIXES[prefix]
    return None


def base_unit(shown_unit: str) -> str:
    """Return the unit in which values of a shown unit are kept: `mV` -> `V`.

    Raises
    ------
    WrongUnit
        We know no such unit.
    """
    return _known_unit(shown_unit)[0]


def base_units_in(shown_unit: str) -> float:
    """Return how many base units one shown unit is: 0.001 for `mV`."""
    return float(_known_unit(shown_unit)[1])


def _known_unit(shown_unit: str) -> tuple[str, Decimal]:
    found = _unit_of(shown_unit)
    if found is None:
        raise WrongUnit(
            shown_unit,
            f"'{shown_unit}' is no unit that we know.",
            "Use V, A, Ohm, W, m, mm2, AWG, s, C or %, with m, k or M in front where needed.",
        )
    return found


# --------------------------------------------------------------------------------- reading


@lru_cache(maxsize=4096)  # the same digits come again and again in a log
def parse_reading(text: str, shown_unit: str) -> Quantity | None:
    """Return what a meter showed, or None where nothing was measured (empty, or a dash).

    A number without a unit is in `shown_unit`, the unit of the place. `OL` is over range.

    >>> from circuits.units import parse_reading
    >>> parse_reading("12.40", "V").step
    0.01
    >>> parse_reading("OL", "Ohm").over_range
    True
    """
    plain = _plain(text)
    if plain in _NOT_MEASURED:
        return None
    if _OVER_RANGE.fullmatch(plain):
        return Quantity(
            text=text.strip(),
            value=None,
            unit=base_unit(shown_unit),
            step=None,
            over_range=True,
            echo="over range",
        )
    return parse_quantity(text, shown_unit)


def parse_quantity(text: str, shown_unit: str, *, unit_needed: bool = False) -> Quantity:
    """Return a quantity in the base unit of `shown_unit`.

    Raises
    ------
    NotAQuantity, AmbiguousNumber, WrongUnit
        Each says what is wrong and how to write it.

    Examples
    --------
    >>> from circuits.units import parse_quantity
    >>> parse_quantity("4,7 kOhm", "Ohm").value
    4700.0
    >>> parse_quantity("0.9 mOhm", "Ohm").echo
    '0.9 mOhm = 0.0009 Ohm'
    """
    unit = base_unit(shown_unit)
    plain = _plain(text)
    if len(plain) > LONGEST_TEXT:
        raise NotAQuantity(
            text[:LONGEST_TEXT],
            f"A quantity of {len(plain)} characters is too long.",
            f"Write a number and a unit, such as {_example(unit)}.",
        )
    if unit == "ohm" and (counted := _COUNTED.fullmatch(plain)):
        return _from_counted(text, counted)
    if gauge := _GAUGE.fullmatch(plain):
        return _from_gauge(text, gauge, unit)
    sign, digits, exponent, token = _split(text, plain, unit)
    factor = _factor(text, token, unit, shown_unit, unit_needed=unit_needed)
    number = Decimal(f"{_SIGN.get(sign, '')}{digits}").scaleb(exponent)
    decimals = len(digits.partition(".")[2])
    step = Decimal(1).scaleb(exponent - decimals)
    typed = text.strip() if token else f"{text.strip()} {shown_unit}"
    as_typed = factor == 1 and exponent == 0
    return _quantity(text, typed, number * factor, step * factor, unit, as_typed=as_typed)


def has_unit(text: str, unit: str) -> bool:
    """Return whether a text ends in a unit of this base unit, whatever its number."""
    plain = _plain(text)
    if _GAUGE.fullmatch(plain):
        return unit == "mm2"
    if _COUNTED.fullmatch(plain):
        return unit == "ohm"
    number = _NUMBER.match(plain)
    if number is None:
        return False
    found = _unit_of(_token(plain[number.end() :]))
    return found is not None and found[0] == unit


def _plain(text: str) -> str:
    """Return the text with look-alikes made one: ² is 2, the ohm sign a Greek omega."""
    return " ".join(unicodedata.normalize("NFKC", text).split())


def _token(rest: str) -> str:
    return rest.replace(" ", "").removeprefix("deg")


def _split(text: str, plain: str, unit: str) -> tuple[str, str, int, str]:
    number = _NUMBER.match(plain)
    if number is None:
        raise NotAQuantity(
            text,
            f"'{text.strip()}' is no number with a unit.",
            f"Write it like {_example(unit)}.",
        )
    sign, digits, exponent = number.groups()
    rest = plain[number.end() :]
    if re.match(r"\s?[0-9.,]", rest):
        raise NotAQuantity(
            text,
            f"'{text.strip()}' has more than one decimal mark, or a gap between its digits.",
            "Write the number without thousands marks, such as 1500 or 1.5.",
        )
    whole, comma, fraction = digits.partition(",")
    if comma and len(fraction) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0"):
        raise AmbiguousNumber(
            text,
            f"{text.strip()}: is the comma a decimal mark or a thousands mark?",
            f"Write {whole}.{fraction.rstrip('0') or '0'} or {whole}{fraction}.",
        )
    return sign, digits.replace(",", "."), int(exponent or 0), _token(rest)


def _factor(text: str, token: str, unit: str, shown_unit: str, *, unit_needed: bool) -> Decimal:
    if not token:
        if unit_needed:
            raise WrongUnit(
                text,
                f"'{text.strip()}' has no unit.",
                f"Add it, such as {_example(unit)}.",
            )
        token = shown_unit
    found = _unit_of(token)
    wanted = UNIT_WORDS.get(unit, unit)
    if found is None:
        mega = token.startswith("M") and _unit_of("m" + token[1:]) is not None
        raise WrongUnit(
            text,
            f"'{token}' in '{text.strip()}' is no unit that we know.",
            f"M is mega and m is milli: did you mean m{token[1:]}?"
            if mega
            else f"This value is in {wanted}; write it like {_example(unit)}.",
        )
    if found[0] != unit:
        raise WrongUnit(
            text,
            f"'{text.strip()}' is in {UNIT_WORDS.get(found[0], found[0])}, "
            f"but {wanted} is wanted here.",
            f"Check that it belongs here, and write it like {_example(unit)}.",
        )
    return found[1]


def _from_counted(text: str, counted: re.Match[str]) -> Quantity:
    """Read 4k7, 1M5, 0R15 and R47, as resistors are marked (IEC 60062)."""
    sign, whole, letter, fraction = counted.groups()
    factor = {"R": Decimal(1), "k": Decimal(1000), "K": Decimal(1000), "M": Decimal("1e6")}[letter]
    number = Decimal(f"{_SIGN.get(sign, '')}{whole or '0'}.{fraction}")
    step = Decimal(1).scaleb(-len(fraction))
    return _quantity(text, text.strip(), number * factor, step * factor, "ohm")


def _from_gauge(text: str, gauge: re.Match[str], unit: str) -> Quantity:
    if unit != "mm2":
        raise WrongUnit(
            text,
            f"'{text.strip()}' is a wire gauge, but {UNIT_WORDS.get(unit, unit)} is wanted here.",
            f"Write it like {_example(unit)}.",
        )
    size = gauge[1] or gauge[2]
    number = 1 - int(size[0]) if size.endswith("/0") else int(size)
    area = round(mm2_from_awg(number), 3)
    return Quantity(
        text=text.strip(),
        value=area,
        unit="mm2",
        step=None,
        echo=f"{text.strip()} = {area:g} mm2",
    )


def _quantity(
    text: str, typed: str, value: Decimal, step: Decimal, unit: str, *, as_typed: bool = False
) -> Quantity:
    number = float(value)
    if not math.isfinite(number):
        raise NotAQuantity(
            text, f"'{text.strip()}' is too large to be a value.", "Check the number."
        )
    plain = f"{value.normalize():f}"
    comes_to = plain if unit == "%" else f"{plain} {UNIT_WORDS.get(unit, unit)}"
    return Quantity(
        text=text.strip(),
        value=number,
        unit=unit,
        step=float(step),
        echo=typed if as_typed else f"{typed} = {comes_to}",
    )


_EXAMPLES = {
    "V": "12.6 V",
    "A": "4.5 A or 85 mA",
    "ohm": "1.1 Ohm, 4.7 kOhm or 3 mOhm",
    "W": "21 W",
    "Hz": "100 Hz",
    "m": "1.6 m",
    "mm2": "2.5 mm2 or 14 AWG",
    "s": "0.5 s or 30 min",
    "C": "90 C",
    "%": "10 %",
    "A/V": "0.14 A/V",
}


def _example(unit: str) -> str:
    return _EXAMPLES[unit]


# --------------------------------------------------------------------------------- writing

#: Base unit -> (least size in the base unit, shown unit, factor), largest first.
_SHOWN: Mapping[str, tuple[tuple[float, str, float], ...]] = {
    "V": ((0.1, "V", 1.0), (0.0, "mV", 1e3)),
    "A": ((1.0, "A", 1.0), (0.0, "mA", 1e3)),
    "ohm": ((1e6, "MOhm", 1e-6), (1e3, "kOhm", 1e-3), (1.0, "Ohm", 1.0), (0.0, "mOhm", 1e3)),
    "W": ((1.0, "W", 1.0), (0.0, "mW", 1e3)),
    "%": ((0.0, "%", 100.0),),
}
#: Below this a reading is nothing, and is shown in the unit itself rather than as 0.00 mV.
_NOTHING = {"V": 5e-6, "A": 5e-6, "ohm": 5e-7, "W": 5e-6}
#: Shown unit -> decimals by size, as a common meter shows them: (below this, so many).
_DECIMALS: Mapping[str, tuple[tuple[float, int], ...]] = {
    "V": ((0.9995, 3), (99.995, 2), (999.5, 1)),
    "mV": ((9.995, 2), (999.5, 1)),
    "A": ((0.9995, 3), (9.995, 2), (999.5, 1)),
    "Ohm": ((99.995, 2), (999.5, 1)),
}
# All else is a value rather than a reading: its trailing zeros say nothing and are left out.
_VALUE_DECIMALS = ((9.9995, 3), (99.95, 1))


def format_quantity(value: float, shown_unit: str) -> str:
    """Return a value, given in its base unit, in the form the trade reads.

    A base unit (`V`, `A`, `ohm`) leaves the choice of prefix to us; a shown unit such as `mV`
    is kept. Infinite ohms are an open.

    >>> from circuits.units import format_quantity
    >>> [format_quantity(*pair) for pair in
    ...  ((12.6, "V"), (0.00042, "V"), (0.085, "A"), (1.1, "ohm"), (4700, "ohm"), (0.0525, "mV"))]
    ['12.60 V', '0.42 mV', '85 mA', '1.10 Ohm', '4.7 kOhm', '52.5 mV']
    """
    unit = base_unit(shown_unit)
    if math.isinf(value):
        return "open" if unit == "ohm" and value > 0 else f"beyond all {unit}"
    if shown_unit.lower() != unit.lower():
        return format_in(value, shown_unit)
    word, factor = _choose_prefix(value, unit)
    return _written(value * factor, word)


def format_in(value: float, shown_unit: str) -> str:
    """Return a value, given in its base unit, in the unit that a place shows.

    >>> from circuits.units import format_in
    >>> format_in(0.0781, "V"), format_in(0.00042, "mV"), format_in(0.0175, "mA")
    ('0.078 V', '0.42 mV', '17.5 mA')
    """
    return _written(value / base_units_in(shown_unit), shown_unit)


def _choose_prefix(value: float, unit: str) -> tuple[str, float]:
    ladder = _SHOWN.get(unit, ((0.0, unit, 1.0),))
    size = abs(value)
    if size < _NOTHING.get(unit, 0.0):
        return next((word, factor) for _, word, factor in ladder if factor == 1.0)
    # 0.9999 mV rounds up to the next prefix; half a unit in the third digit decides.
    for least, word, factor in ladder:
        if size >= least * 0.9995:
            return word, factor
    raise AssertionError(f"no prefix for {value} {unit}")


def _written(number: float, word: str) -> str:
    by_size = _DECIMALS.get(word, _VALUE_DECIMALS)
    size = abs(number)
    decimals = next((decimals for limit, decimals in by_size if size < limit), 0)
    if word == "V" and size < _NOTHING["V"]:
        decimals = 2
    text = f"{number:.{decimals}f}"
    if word not in _DECIMALS and "." in text:
        text = text.rstrip("0").rstrip(".")
    if float(text) == 0:
        text = text.removeprefix("-")
    return f"{text} {word}"
