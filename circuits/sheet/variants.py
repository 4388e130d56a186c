"""What each part is in each phase, in numbers.

A part's line gives values for all phases, for some, or for the phases it does not name
(`otherwise`). Values of a phase add to those for all phases and take their place where both give
the same one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from circuits.sheet.kinds import (
    CONNECTIONS,
    FLAG,
    PART,
    Field,
    Kind,
    ValueRefused,
    connections_of,
    field_of,
    missing_fields,
    number_of,
)
from circuits.sheet.model import OTHERWISE, PartEntry, PartState, Setting, Value


class LineRefused(ValueRefused):
    """A part's line cannot be taken; `at` is the word of the line that is meant."""

    def __init__(self, problem: str, mend: str, at: str = "") -> None:
        self.at = at
        super().__init__(problem, mend)


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """A part in one phase: a state, or its values in base units."""

    state: PartState | None
    numbers: dict[str, float] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)


def variants_of(part: PartEntry, kind: Kind, phases: Sequence[str]) -> dict[str, Variant]:
    """Return the part in each phase.

    Raises
    ------
    LineRefused
        A value or a phase of the line cannot be taken.
    """
    common, by_phase = _settings(part, kind, phases)
    variants: dict[str, Variant] = {}
    for phase in phases:
        setting = by_phase.get(phase, by_phase.get(OTHERWISE))
        if setting is None and not common and by_phase:
            raise LineRefused(
                f"nothing is said of phase '{phase}'.",
                f"Add '; {phase}: ...' or '; otherwise: {kind.states[-1]}'.",
            )
        variants[phase] = _variant(kind, common, setting)
    return variants


def _settings(
    part: PartEntry, kind: Kind, phases: Sequence[str]
) -> tuple[dict[str, Value], dict[str, Setting]]:
    common: dict[str, Value] = {}
    by_phase: dict[str, Setting] = {}
    for setting in part.settings:
        if setting.state is not None and setting.state not in kind.states:
            raise LineRefused(
                f"a {kind.word} cannot be '{setting.state}'.",
                f"It can be {' or '.join(kind.states)}.",
                setting.state,
            )
        if not setting.phases:
            common.update(_by_field(kind, setting.values))
            if setting.state is not None:
                raise LineRefused(
                    f"'{setting.state}' in every phase leaves the part without a use.",
                    f"Say in which phases, such as '{phases[0]}: {setting.state}'.",
                    setting.state,
                )
        for phase in setting.phases:
            if phase in by_phase:
                raise LineRefused(f"phase '{phase}' is given twice.", "Keep one of the two.", phase)
            by_phase[phase] = setting
    return common, by_phase


def _variant(kind: Kind, common: dict[str, Value], setting: Setting | None) -> Variant:
    values = dict(common)
    state = None
    if setting is not None:
        state = setting.state
        values.update(_by_field(kind, setting.values))
    numbers: dict[str, float] = {}
    texts: dict[str, str] = {}
    for name, value in values.items():
        meant = kind.field_named(name)
        if meant.unit in (PART, CONNECTIONS, FLAG):
            texts[name] = _checked_text(meant, value.text)
        else:
            numbers[name] = _number(meant, value.text)
    if state is None:
        missing = missing_fields(kind, {*numbers, *texts})
        if missing:
            raise LineRefused(
                f"a {kind.word} needs {' and '.join(what.example for what in missing)} "
                "(values of your part).",
                f"It is written like: {kind.example}.",
            )
    return Variant(state=state, numbers=numbers, texts=texts)


def _by_field(kind: Kind, values: Sequence[Value]) -> dict[str, Value]:
    by_field: dict[str, Value] = {}
    for value in values:
        written = f"{value.word} {value.text}".strip()
        try:
            name = field_of(kind, value).name
        except ValueRefused as refused:
            raise LineRefused(refused.problem, refused.mend, written) from refused
        if name in by_field:
            raise LineRefused(
                f"'{written}' is a second value of the same thing.", "Keep one of them.", written
            )
        by_field[name] = value
    return by_field


def _number(meant: Field, text: str) -> float:
    try:
        return number_of(meant, text)
    except ValueRefused as refused:
        raise LineRefused(refused.problem, refused.mend, text) from refused


def _checked_text(meant: Field, text: str) -> str:
    if meant.unit == FLAG and text:
        raise LineRefused(
            f"'{meant.word}' takes nothing behind it.", f"Write just '{meant.word}'.", text
        )
    if meant.unit == CONNECTIONS:
        try:
            connections_of(text)
        except ValueRefused as refused:
            raise LineRefused(refused.problem, refused.mend, meant.word) from refused
    if meant.unit == PART and (not text or " " in text):
        raise LineRefused(
            f"'{meant.word} {text}' names no part.", f"Write it like '{meant.example}'.", meant.word
        )
    return text
