"""What each part is in each phase, in numbers.

A part's line gives values for all phases, for some, or for the phases it does not name
(`otherwise`). Values of a phase add to those for all phases and take their place where both give
the same one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from circuits.sheet.kinds import (
    CONNECTIONS,
    COUNT,
    FLAG,
    OR,
    PART,
    POINTS,
    STEPS,
    TEXTS,
    Field,
    Kind,
    ValueRefused,
    connections_of,
    count_of,
    field_of,
    number_of,
    points_of,
    steps_of,
)
from circuits.sheet.lines import Refused
from circuits.sheet.making import missing_fields
from circuits.sheet.model import OTHERWISE, PartEntry, PartState, Setting, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """A part in one phase: a state, or its values in base units."""

    state: PartState | None
    numbers: dict[str, float] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)


def read_variants(
    part: PartEntry, kind: Kind, phases: Sequence[str]
) -> tuple[dict[str, Variant], list[Refused]]:
    """Return the part in each phase, and everything on its line that cannot be taken."""
    reading = _PartReading(part, kind, phases)
    return reading.variants(), reading.refused


class _PartReading:
    """Reads one part's line, going on after each mistake."""

    def __init__(self, part: PartEntry, kind: Kind, phases: Sequence[str]) -> None:
        self.kind = kind
        self.phases = phases
        self.refused: list[Refused] = []
        self.common = Variant(state=None)
        self.by_phase: dict[str, Variant] = {}
        for setting in part.settings:
            self._take(setting)

    def variants(self) -> dict[str, Variant]:
        silent = [phase for phase in self.phases if not self._is_told(phase)]
        if silent and not self.refused:
            self._refuse(
                f"nothing is said of phase {' and '.join(silent)}.",
                f"Add '; {', '.join(silent)}: ...' or '; otherwise: {self.kind.states[-1]}'.",
            )
        variants = {phase: self._variant(phase) for phase in self.phases}
        if not self.refused:
            self._check_complete(variants)
        return variants

    def _refuse(self, problem: str, mend: str, at: str = "") -> None:
        self.refused.append(Refused(problem, mend, at))

    def _take(self, setting: Setting) -> None:
        variant = self._taken(setting)
        if setting.state is not None and setting.state not in self.kind.states:
            self._refuse(
                f"a {self.kind.word} cannot be '{setting.state}'.",
                f"It can be {' or '.join(self.kind.states)}.",
                setting.state,
            )
        if not setting.phases:
            if setting.state is not None:
                self._refuse(
                    f"'{setting.state}' in every phase leaves the part without a use.",
                    f"Say in which phases, such as '{self.phases[0]}: {setting.state}'.",
                    setting.state,
                )
            self._refuse_twice({*self.common.numbers, *self.common.texts}, variant)
            self.common = _overlaid(self.common, variant)
        for phase in setting.phases:
            if phase in self.by_phase:
                self._refuse(f"phase '{phase}' is given twice.", "Keep one of the two.", phase)
            self.by_phase[phase] = variant

    def _taken(self, setting: Setting) -> Variant:
        variant = Variant(state=setting.state)
        for value in setting.values:
            written = f"{value.word} {value.text}".strip()
            try:
                meant = field_of(self.kind, value)
            except ValueRefused as refused:
                self._refuse(refused.problem, refused.mend, written)
                continue
            if meant.name in variant.numbers or meant.name in variant.texts:
                self._refuse_second(written)
                continue
            self._put(variant, meant, value)
        return variant

    def _put(self, variant: Variant, meant: Field, value: Value) -> None:
        try:
            if meant.unit == COUNT:
                variant.numbers[meant.name] = count_of(value.text)
            elif meant.unit in TEXTS:
                variant.texts[meant.name] = _checked_text(meant, value.text)
            else:
                variant.numbers[meant.name] = number_of(meant, value.text)
        except ValueRefused as refused:
            self._refuse(refused.problem, refused.mend, value.text or value.word)

    def _refuse_twice(self, known: set[str], variant: Variant) -> None:
        for name in sorted(known & {*variant.numbers, *variant.texts}):
            self._refuse_second(self.kind.field_named(name).example)

    def _refuse_second(self, written: str) -> None:
        mend = "Keep one of them."
        if self.kind.word == "rule":
            mend += f" In an alternative each value has its own 'or': '{OR}{written}'."
        self._refuse(f"'{written}' is a second value of the same thing.", mend, written)

    def _is_told(self, phase: str) -> bool:
        told = phase in self.by_phase or OTHERWISE in self.by_phase
        return told or bool(self.common.numbers or self.common.texts) or not self.by_phase

    def _variant(self, phase: str) -> Variant:
        own = self.by_phase.get(phase, self.by_phase.get(OTHERWISE))
        return _overlaid(self.common, own) if own is not None else self.common

    def _check_complete(self, variants: dict[str, Variant]) -> None:
        for variant in variants.values():
            if variant.state is not None:
                continue
            missing = missing_fields(self.kind, {*variant.numbers, *variant.texts})
            if missing:
                wanted = " and ".join(f"'{what.example}'" for what in missing)
                self._refuse(
                    f"a {self.kind.word} needs {wanted}, with the figures of your part.",
                    f"It is written like: {self.kind.example}.",
                )
                return


def _overlaid(under: Variant, over: Variant) -> Variant:
    return Variant(
        state=over.state,
        numbers={**under.numbers, **over.numbers},
        texts={**under.texts, **over.texts},
    )


def _checked_text(meant: Field, text: str) -> str:
    if meant.unit == FLAG and text:
        raise ValueRefused(
            f"'{meant.word}' takes nothing behind it.", f"Write just '{meant.word}'."
        )
    if meant.unit == CONNECTIONS:
        connections_of(text)
    if meant.unit == STEPS:
        steps_of(text)
    if meant.unit == POINTS:
        points_of(text)
    if meant.unit == PART and (not text or " " in text):
        raise ValueRefused(
            f"'{meant.word} {text}' names no part.", f"Write it like '{meant.example}'."
        )
    return text
