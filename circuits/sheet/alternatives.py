"""Rules that are assumed and say what they may be instead: exchanged, or settled by a reading."""

from collections.abc import Callable, Iterator

from circuits.sheet.kinds import OR
from circuits.sheet.lines import Refused
from circuits.sheet.model import PartEntry, Setting, Sheet, Value

_BASES = frozenset({"known", "measured", "assumed"})


def open_rules(sheet: Sheet) -> tuple[PartEntry, ...]:
    """Return the rules of a sheet that have an alternative."""
    return tuple(part for part in sheet.parts if part.kind == "rule" and _alternative(part))


def exchanged(part: PartEntry) -> PartEntry:
    """Return a rule as its alternative has it, with the rule as it was as the alternative."""
    return _with_settings(part, _exchanged)


def without_alternative(part: PartEntry) -> PartEntry:
    """Return a rule without what it may be instead."""
    return _with_settings(part, lambda values: tuple(v for v in values if not _is_other(v)))


def measured(part: PartEntry, source: str) -> PartEntry:
    """Return a rule as a reading has proved it: measured, and without an alternative."""
    plain = _with_settings(
        without_alternative(part),
        lambda values: tuple(value for value in values if value.word not in _BASES),
    )
    settings = list(plain.settings)
    # What holds in every phase says it for all of them; else the first that has values does.
    index = next(
        (index for index, setting in enumerate(settings) if not setting.phases),
        next(index for index, setting in enumerate(settings) if setting.values),
    )
    found = Value(word="measured", source=source)
    settings[index] = settings[index].model_copy(
        update={"values": (*settings[index].values, found)}
    )
    return plain.model_copy(update={"settings": tuple(settings)})


def with_part(sheet: Sheet, part: PartEntry) -> Sheet:
    """Return the sheet with this part in the place of the one of its name."""
    parts = tuple(part if each.name == part.name else each for each in sheet.parts)
    return sheet.model_copy(update={"parts": parts})


def misplaced_alternatives(part: PartEntry) -> Iterator[Refused]:
    """Yield what is wrong where an alternative stands apart from what it is to replace."""
    for setting in part.settings:
        for value in setting.values:
            if _is_other(value) and not any(
                _replaces(value, other) for other in setting.values if not _is_other(other)
            ):
                written = f"{value.word} {value.text}".strip()
                yield Refused(
                    f"'{written}' stands for nothing that is said beside it.",
                    "Put it behind the values that it may replace, for the same phases.",
                    written,
                )


def _alternative(part: PartEntry) -> bool:
    return any(_is_other(value) for setting in part.settings for value in setting.values)


def _is_other(value: Value) -> bool:
    return value.word.startswith(OR)


def _replaces(other: Value, value: Value) -> bool:
    """Return whether `or closes below ...` takes the place of `closes above ...`, and so on."""
    return bool(value.word) and other.word.removeprefix(OR).split()[0] == value.word.split()[0]


def _exchanged(values: tuple[Value, ...]) -> tuple[Value, ...]:
    others = [value for value in values if _is_other(value)]
    swapped: list[Value] = []
    for value in values:
        takes = next((other for other in others if _replaces(other, value)), None)
        gives = next((each for each in values if _is_other(value) and _replaces(value, each)), None)
        if takes is not None and not _is_other(value):
            swapped.append(takes.model_copy(update={"word": takes.word.removeprefix(OR)}))
        elif gives is not None:
            swapped.append(gives.model_copy(update={"word": f"{OR}{gives.word}"}))
        else:
            swapped.append(value)
    return tuple(swapped)


def _with_settings(
    part: PartEntry, change: Callable[[tuple[Value, ...]], tuple[Value, ...]]
) -> PartEntry:
    settings: tuple[Setting, ...] = tuple(
        setting.model_copy(update={"values": change(setting.values)}) for setting in part.settings
    )
    return part.model_copy(update={"settings": settings})
