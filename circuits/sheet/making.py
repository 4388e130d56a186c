"""From the values of a part's line to the engine's part."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from circuits.engine import KINDS as ENGINE_KINDS
from circuits.engine import (
    Battery,
    BetaCurve,
    CurveProblem,
    Part,
    PlatinumCurve,
    SteinhartHartCurve,
    TableCurve,
    ThermalCurve,
)
from circuits.sheet.kinds import (
    OR_NAME,
    Field,
    Kind,
    ValueRefused,
    connections_of,
    points_of,
    steps_of,
)

Numbers = dict[str, float]
Texts = dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    name: str
    first: str
    second: str
    #: Empty where a part has two ends.
    third: str = ""

    def as_arguments(self) -> dict[str, str]:
        ends = {"name": self.name, "first": self.first, "second": self.second}
        return {**ends, "third": self.third} if self.third else ends


def missing_fields(kind: Kind, names: set[str]) -> list[Field]:
    """Return the needed values that are not among the names."""
    missing = [field for field in kind.fields if field.needed and field.name not in names]
    if kind.word == "rule":
        for action in ("closes", "opens"):
            ways = {f"{action}_above", f"{action}_below"}
            if not ways & names:
                missing.append(kind.field_named(f"{action}_above"))
    if kind.word == "battery" and not {"open_circuit_volts", "charge_fraction"} & names:
        missing.insert(0, kind.field_named("open_circuit_volts"))
    return missing


def make_part(
    kind: Kind, ends: Ends, numbers: Numbers, texts: Texts, *, winding_ohms: Callable[[str], float]
) -> Part:
    """Return the engine's part; `winding_ohms` gives the ohms of a winding by name."""
    maker: Callable[..., Part] = ENGINE_KINDS[kind.word]
    values: dict[str, Any] = {**numbers, **texts}
    match kind.word:
        case "contact":
            pull_winding = texts.get("pull_winding", "")
            values |= {
                "coil_ohms": winding_ohms(texts["coil"]),
                "normally_closed": "normally_closed" in texts,
                "pull_winding_ohms": winding_ohms(pull_winding) if pull_winding else 0.0,
            }
        case "rule":
            values = {**_rule_values(numbers, texts)}
        case "battery":
            maker = Battery.at_charge
            values["is_agm"] = "is_agm" in texts
        case "thermistor":
            values = _thermistor_values(numbers, texts)
        case "selector":
            values["position"] = _whole(numbers["position"])
            values["step_ohms"] = steps_of(texts["step_ohms"])
        case "current":
            values.pop("asleep_amps", None)
    return maker(**ends.as_arguments(), **values)


def make_asleep(kind: Kind, ends: Ends, numbers: Numbers) -> Part:
    """Return a part that sleeps, with the values that it then has."""
    maker: Callable[..., Part] = ENGINE_KINDS[kind.word]
    values = dict(numbers)
    if kind.word == "can":
        values["bias_volts"] = 0.0
    elif "asleep_amps" in values:
        values["amps"] = values.pop("asleep_amps")
    else:
        raise ValueRefused(
            "what it draws asleep is not given.",
            "Write it first, such as '1.2 A, asleep 12 mA; off: asleep'.",
        )
    return maker(**ends.as_arguments(), **values)


#: The values that make each way of giving a thermistor's curve, and those it may have besides.
_CURVES: Mapping[frozenset[str], frozenset[str]] = MappingProxyType(
    {
        frozenset({"table"}): frozenset(),
        frozenset({"three_points"}): frozenset(),
        frozenset({"nominal_ohms", "beta_kelvin"}): frozenset({"nominal_celsius"}),
        frozenset({"zero_ohms"}): frozenset(),
    }
)
_CURVE_NAMES = frozenset[str]().union(*_CURVES, *_CURVES.values())


def _thermistor_values(numbers: Numbers, texts: Texts) -> dict[str, Any]:
    given = frozenset({*numbers, *texts}) & _CURVE_NAMES
    if not any(need <= given <= need | more for need, more in _CURVES.items()):
        raise ValueRefused(
            "its curve is given in no way, or in two.",
            "Give one: 'table 0 C 27.9 kOhm / 25 C 10 kOhm', or 'through' and three such points, "
            "or 'nominal 10 kOhm, beta 3435', or 'platinum 100 Ohm'.",
        )
    others = {name: number for name, number in numbers.items() if name not in given}
    try:
        curve = _curve({name: numbers[name] for name in given if name in numbers}, texts)
    except CurveProblem as problem:
        raise ValueRefused(f"{problem}.", "Check its curve.") from problem
    return {**others, "curve": curve}


def _curve(numbers: Numbers, texts: Texts) -> ThermalCurve:
    if "table" in texts:
        return TableCurve(points_of(texts["table"]))
    if "three_points" in texts:
        return SteinhartHartCurve(points_of(texts["three_points"]))
    return PlatinumCurve(**numbers) if "zero_ohms" in numbers else BetaCurve(**numbers)


def _whole(position: float) -> int:
    if position != int(position):
        raise ValueRefused(f"there is no position {position:g}.", "Positions are 1, 2, 3 ...")
    return int(position)


def _rule_values(numbers: Numbers, texts: Texts) -> dict[str, float | str]:
    bases = [base for base in ("known", "measured", "assumed") if base in texts]
    if len(bases) > 1:
        raise ValueRefused(
            f"a rule cannot be {' and '.join(bases)} at once.", "Keep the one that is true."
        )
    rule = _rule_as_drawn(numbers, texts)
    basis = bases[0] if bases else "assumed"
    if any(name.startswith(OR_NAME) for name in (*numbers, *texts)):
        _check_alternative(rule, basis, numbers, texts)
    values: dict[str, float | str] = {**rule, "made_ohms": numbers["made_ohms"], "basis": basis}
    if "tolerance_fraction" in numbers:
        values["tolerance_fraction"] = numbers["tolerance_fraction"]
    return values


def _rule_as_drawn(numbers: Numbers, texts: Texts) -> dict[str, float | str]:
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
    return {
        "sense_red": red,
        "sense_black": black,
        "closes_volts": closes_volts,
        "opens_volts": opens_volts,
    }


def _check_alternative(
    rule: dict[str, float | str], basis: str, numbers: Numbers, texts: Texts
) -> None:
    """Refuse an alternative that is none, or that could not be solved."""
    if basis != "assumed":
        raise ValueRefused(
            f"a rule that is {basis} has no alternative.",
            f"Take out '{basis}', or the values that begin with 'or'.",
        )
    instead = {**numbers}
    for name in [name for name in numbers if name.startswith(OR_NAME)]:
        value = instead.pop(name)
        action = name.removeprefix(OR_NAME).partition("_")[0]
        for way in ("above", "below"):
            instead.pop(f"{action}_{way}", None)
        instead[name.removeprefix(OR_NAME)] = value
    try:
        other = _rule_as_drawn(instead, {"sense": texts.get(f"{OR_NAME}sense", texts["sense"])})
    except ValueRefused as refused:
        raise ValueRefused(f"its alternative: {refused.problem}", refused.mend) from refused
    if other == rule:
        raise ValueRefused(
            "its alternative is the rule itself.", "Write what it may be instead, or take it out."
        )
