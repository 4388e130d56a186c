"""Rules that are assumed and may be otherwise: the readings that part the two, and settling them.

A module's rule that nobody has measured can say what it may be instead. Both are solved; where
their bands do not meet, one reading tells which of the two the vehicle follows.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User

from circuits.engine import Meter, Place, Reading
from circuits.engine.judging.supply import shift_supply
from circuits.errors import NoOpenRule, NotMeasuredHere, RuleUnsettled, UnknownPlace
from circuits.models import Circuit, Revision
from circuits.part_sheets.allowed import NoTestSheet, refuse_dangerous
from circuits.predicting.tables import Cell, PlaceLine, Shown, predicted_table
from circuits.services import latest_revision, publish_revision, sheet_of
from circuits.sheet import (
    PartEntry,
    PhaseEntry,
    PlaceEntry,
    Sheet,
    exchanged,
    measured,
    open_rules,
    to_network,
    with_part,
    without_alternative,
)
from circuits.sheet.model import LONGEST_WORDS
from circuits.sheet.writer import value_words
from circuits.units import parse_reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """A place in a phase, and what it reads with the rule as drawn and with its alternative."""

    place: PlaceEntry
    phase: PhaseEntry
    cell: Cell

    @property
    def drawn(self) -> Shown:
        return self.cell.healthy

    @property
    def other(self) -> Shown:
        assert self.cell.faulty is not None
        return self.cell.faulty

    @property
    def parts_them(self) -> bool:
        """Whether one reading tells which of the two it is."""
        cell = self.cell
        is_clear = not any(
            shown.prediction.floating or shown.prediction.chatters
            for shown in (self.drawn, self.other)
        )
        return is_clear and cell.tells_apart

    @property
    def distance(self) -> float:
        """How far the two bands lie apart, against how broad they are."""
        one, other = self.drawn.prediction, self.other.prediction
        broad = one.high - one.low + other.high - other.low + self.drawn.step
        return abs(one.value - other.value) / broad

    @property
    def words(self) -> str:
        return (
            f"{self.place.key} ({self.place.label}), {self.phase.words}: {_ranged(self.drawn)} as "
            f"drawn, {_ranged(self.other)} with the alternative"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenRule:
    """An assumed rule with its alternative; the readings that part them, the best first."""

    part: PartEntry
    drawn_words: str
    other_words: str
    partings: tuple[Parting, ...]

    @property
    def name(self) -> str:
        return self.part.name

    @property
    def words(self) -> str:
        return f"{self.name} is assumed: it {self.drawn_words}; or it {self.other_words}"


def rules_to_settle(sheet: Sheet) -> tuple[OpenRule, ...]:
    """Return the assumed rules that have an alternative; both are solved."""
    return tuple(
        OpenRule(
            part=part,
            drawn_words=_rule_words(without_alternative(part)),
            other_words=_rule_words(without_alternative(exchanged(part))),
            partings=tuple(
                sorted(
                    (each for each in _compared(sheet, part) if each.parts_them),
                    key=lambda parting: -parting.distance,
                )
            ),
        )
        for part in open_rules(sheet)
    )


def may_be_measured(sheet: Sheet) -> bool:
    """Return whether readings may be asked for at all: not at airbags, nor at high volts."""
    try:
        require_measurable(sheet)
    except NotMeasuredHere:
        return False
    return True


def require_measurable(sheet: Sheet) -> None:
    """Refuse a circuit on which no reading is asked for.

    Raises
    ------
    NotMeasuredHere
        It has airbags, orange cables or high volts.
    """
    try:
        refuse_dangerous(sheet, to_network(sheet))
    except NoTestSheet as error:
        raise NotMeasuredHere(str(error)) from error


def settle_rule(
    *,
    circuit: Circuit,
    part: str,
    place: str,
    phase: str,
    reading: str,
    by: User,
    at: datetime,
    supply: str = "",
    base: int | None = None,
) -> Revision:
    """Publish what a reading on a vehicle says of an assumed rule: as drawn, or its alternative.

    `supply` is what was read across the supply in that phase, where it was noted; `base` the
    number of the revision that the reader had before them.

    Raises
    ------
    NoOpenRule, UnknownPlace
        The circuit has no such rule with an alternative; no such place or phase.
    RuleUnsettled
        The reading fits both, or neither; or the rule changed since `base`.
    NotMeasuredHere
        No reading is asked for on such a circuit.
    UnitError
        The reading cannot be understood.
    """
    newest = latest_revision(circuit)
    sheet = sheet_of(newest)
    require_measurable(sheet)
    rule = next((each for each in open_rules(sheet) if each.name == part), None)
    if rule is None:
        raise NoOpenRule(part, [each.name for each in open_rules(sheet)])
    if base is not None and base != newest.number:
        raise RuleUnsettled(
            f"Revision {newest.number} has come out since revision {base}. Look at the rule again, "
            "then enter the reading."
        )
    compared = _compared(sheet, rule, supply=supply, phase=phase)
    found = next((c for c in compared if (c.place.key, c.phase.key) == (place, phase)), None)
    if found is None:
        raise UnknownPlace(place, phase)
    typed = parse_reading(reading, found.place.unit)
    if typed is None or typed.value is None or typed.step is None:
        raise RuleUnsettled("Enter what the meter showed, as a number.")
    is_drawn, is_other = (
        _fits(shown, typed.value, typed.step) for shown in (found.drawn, found.other)
    )
    said = f"{found.place.key} {typed.text} in {found.phase.words}"
    if not any(char.isalpha() for char in typed.text):
        said = f"{found.place.key} {typed.text} {found.place.unit} in {found.phase.words}"
    if is_drawn == is_other:
        raise RuleUnsettled(_unsettled(said, found, rules_to_settle(sheet), part, fits=is_drawn))
    kept = rule if is_drawn else exchanged(rule)
    note = f"measured: {said}"
    settled = measured(kept, source=_as_source(said))
    what = "is as drawn" if is_drawn else "is as its alternative said"
    return publish_revision(
        circuit=circuit,
        sheet=with_part(sheet, settled),
        note=f"{note}; {part} {what}",
        by=by,
        at=at,
        base=newest.number,
    )


def _compared(
    sheet: Sheet, part: PartEntry, *, supply: str = "", phase: str = ""
) -> Iterator[Parting]:
    """Yield every reading of the two, the alternative standing where a fault stands elsewhere."""
    drawn, other = (
        _table_lines(each, supply=supply, phase=phase)
        for each in (sheet, with_part(sheet, exchanged(part)))
    )
    for line, other_line in zip(drawn, other, strict=True):
        for cell, other_cell in zip(line.cells, other_line.cells, strict=True):
            yield Parting(
                place=line.place,
                phase=next(each for each in sheet.phases if each.key == cell.phase),
                cell=Cell(phase=cell.phase, healthy=cell.healthy, faulty=other_cell.healthy),
            )


def _table_lines(sheet: Sheet, *, supply: str, phase: str) -> tuple[PlaceLine, ...]:
    network = to_network(sheet)
    if supply and phase in sheet.phase_keys:
        typed = parse_reading(supply, "V")
        if typed is None or typed.value is None or typed.step is None or not network.supply:
            raise RuleUnsettled("The supply is given in volts, for a circuit that names its plus.")
        place = Place(key="supply", red=network.supply, black=network.zero)
        seen = Reading(place=place, phase=phase, value=typed.value, step=typed.step)
        network, _ = shift_supply(network, [seen], ["supply"])
    return predicted_table(sheet, network).lines


def _fits(shown: Shown, value: float, step: float) -> bool:
    """Return whether a reading lies in a band; the band knows nothing of the last digit."""
    reach = Meter().counts * step
    prediction = shown.prediction
    return prediction.low - reach <= value <= prediction.high + reach


def _unsettled(
    said: str, found: Parting, rules: tuple[OpenRule, ...], part: str, *, fits: bool
) -> str:
    both = f"{_ranged(found.drawn)} as drawn, {_ranged(found.other)} with the alternative"
    if not fits:
        return (
            f"{said} fits neither: {both}. Look at the supply and for a fault first, or draw the "
            "rule anew; nothing was changed."
        )
    best = next((rule.partings[:1] for rule in rules if rule.name == part), ())
    mend = f"Read {best[0].words}." if best else "No listed place parts them; add one that does."
    return f"{said} fits both: {both}. {mend}"


def _ranged(shown: Shown) -> str:
    if shown.low == shown.high:
        return shown.words
    return f"{shown.words} ({shown.low} to {shown.high})"


def _rule_words(part: PartEntry) -> str:
    """Return what a rule does, as `closes above 6.0 V, opens below 4.0 V, watching IB - MG`."""
    said = [
        value_words(value.model_copy(update={"source": ""}))
        for setting in part.settings
        for value in setting.values
        if value.word.startswith(("closes", "opens", "watching"))
    ]
    return ", ".join(sorted(dict.fromkeys(said), key=lambda words: words.startswith("watching")))


def _as_source(said: str) -> str:
    """Return words as a source can hold them."""
    return re.sub(r"[\[\];|#]", ",", said)[:LONGEST_WORDS].strip()
