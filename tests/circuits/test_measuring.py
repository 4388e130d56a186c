"""Assumed rules that a reading settles, and readings of healthy vehicles that narrow the bands.

Student's t: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, upper critical values.
Circuits and sentences are our own.
"""

import math
from functools import partial
from typing import Any

import pytest

from circuits.editor.splitting import split_text
from circuits.editor.writing import write_table
from circuits.engine import Prediction
from circuits.errors import (
    BadReference,
    NoOpenRule,
    NotMeasuredHere,
    RuleUnsettled,
    UnknownReference,
)
from circuits.on_vehicles.open_rules import rules_to_settle, settle_rule
from circuits.on_vehicles.references import (
    references_at,
    references_of,
    take_back_reference,
)
from circuits.on_vehicles.seen import SeenReading, narrowed_by, student_t
from circuits.services import import_text, latest_revision, sheet_of
from circuits.sheet import SheetErrors, exchanged, open_rules, read_text, write_text
from tests.cast import MONDAY
from tests.circuits.test_editor_table import typed_anew
from tests.measuring import OR_TAIL, QB, keep, with_alternative
from tests.redrawn import LATER, POOR_JOINTS, redrawn


@pytest.fixture
def converter(cast):
    return import_text(with_alternative(), note="Drawn.", by=cast.technician, at=MONDAY)


# ------------------------------------------------------------------------------ the text form


def test_an_alternative_is_written_and_read_and_exchanged_without_loss() -> None:
    sheet = read_text(with_alternative(f"{QB}, or closes below 3 V, or opens above 4 V"))
    (rule,) = open_rules(sheet)

    assert read_text(write_text(sheet)) == sheet
    assert exchanged(rule) != rule
    assert exchanged(exchanged(rule)) == rule


def test_the_table_of_the_editor_keeps_the_alternative_when_its_row_is_typed_anew() -> None:
    table = split_text(with_alternative())

    assert open_rules(read_text(write_table(typed_anew(table)).text)) == open_rules(
        read_text(with_alternative())
    )


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (f"{QB}, or closes above 6 V", "is the rule itself"),
        (f"{QB}, or closes above 1 V", "has no rest"),
        (f"{QB}, or closes above 9 V, opens below 5 V", "each value has its own 'or'"),
        (f"{QB}, or watching IX - MG", "no connection 'IX'"),
        (OR_TAIL.replace("assumed", "measured"), "a rule that is measured has no alternative"),
        (f"{QB}; brake: or closes above 9 V", "stands for nothing that is said beside it"),
    ],
)
def test_an_alternative_that_is_none_is_told_at_its_line(words, told) -> None:
    with pytest.raises(SheetErrors, match=told):
        read_text(with_alternative(words))


# ---------------------------------------------------------------------------------- settling


def test_both_are_solved_and_the_readings_that_part_them_are_named() -> None:
    """Lights on, no brake: the brake outlet is dead as drawn, and lit if it follows the tail."""
    (rule,) = rules_to_settle(read_text(with_alternative()))
    best = rule.partings[0]

    assert (best.place.key, best.phase.key, best.drawn.value) == ("TP4", "tail", "0.00 V")
    assert best.other.prediction.value == pytest.approx(11.9, abs=0.2)
    assert {parting.phase.key for parting in rule.partings} == {"tail"}


def test_thresholds_that_no_phase_passes_between_are_not_parted() -> None:
    sheet = read_text(with_alternative(f"{QB}, or closes above 7 V, or opens below 5 V"))

    assert [rule.partings for rule in rules_to_settle(sheet)] == [()]


@pytest.mark.parametrize(
    ("reading", "watched", "said"),
    [("0,02", "IB - MG", "is as drawn"), ("11.9 V", "IT - MG", "is as its alternative said")],
)
def test_a_reading_makes_the_rule_measured_either_way(
    cast, converter, reading, watched, said
) -> None:
    settled = settle_rule(
        circuit=converter.circuit,
        part="QB",
        place="TP4",
        phase="tail",
        reading=reading,
        by=cast.owner,
        at=LATER,
        base=1,
    )
    sheet = sheet_of(settled)
    (values,) = [setting.values for setting in sheet.part("QB").settings]
    words = {value.word: value for value in values}

    assert (settled.number, settled.author) == (2, cast.owner)
    assert settled.note.startswith(f"measured: TP4 {reading}")
    assert settled.note.endswith(said)
    assert words["watching"].text == watched
    assert words["measured"].source.startswith(f"TP4 {reading}")
    assert "assumed" not in words
    assert open_rules(sheet) == ()
    assert read_text(write_text(sheet)) == sheet


def test_a_flat_supply_is_taken_as_it_was_read(cast, converter) -> None:
    """10.5 V at the outlet is too little for 12.4 V (10.96 V at the least), not for 10.9 V."""
    asked: dict[str, Any] = {"part": "QB", "place": "TP4", "phase": "tail", "base": 1}
    asked["reading"] = "10.5 V"
    settle = partial(settle_rule, circuit=converter.circuit, by=cast.owner, at=LATER, **asked)
    with pytest.raises(RuleUnsettled, match="fits neither"):
        settle()

    assert settle(supply="10.9 V").note.endswith("is as its alternative said")


@pytest.mark.parametrize(
    ("asked", "error", "told"),
    [
        ({"reading": "6 V"}, RuleUnsettled, "fits neither"),
        ({"phase": "brake", "reading": "11.9"}, RuleUnsettled, "fits both.*Read TP4"),
        ({"reading": "-"}, RuleUnsettled, "as a number"),
        ({"part": "QL"}, NoOpenRule, "Open are: QB"),
        ({"base": 7}, RuleUnsettled, "Look at the rule again"),
    ],
)
def test_a_reading_that_settles_nothing_changes_nothing(
    cast, converter, asked, error, told
) -> None:
    usual = {"part": "QB", "place": "TP4", "phase": "tail", "reading": "0.0", "base": 1}
    with pytest.raises(error, match=told):
        settle_rule(circuit=converter.circuit, by=cast.owner, at=LATER, **{**usual, **asked})

    assert latest_revision(converter.circuit).number == 1


def test_no_reading_is_asked_for_at_airbags(cast) -> None:
    text = with_alternative().replace("[hazards]", "[hazards]\nairbag  curtain behind the trim")
    revision = import_text(text, note="Drawn.", by=cast.technician, at=MONDAY)
    with pytest.raises(NotMeasuredHere):
        settle_rule(
            circuit=revision.circuit,
            part="QB",
            place="TP4",
            phase="tail",
            reading="0",
            by=cast.owner,
            at=LATER,
        )
    with pytest.raises(NotMeasuredHere):
        keep(revision, "12.4", by=cast.owner)


# -------------------------------------------------------------------------------- references


@pytest.mark.parametrize(
    ("level", "degrees", "t"),
    [(0.95, 3, 3.182), (0.99, 4, 4.604), (0.98, 1, 31.821), (0.95, 10, 2.228), (0.99, 29, 2.756)],
)
def test_student_t_is_that_of_the_tables(level, degrees, t) -> None:
    assert student_t(level, degrees) == pytest.approx(t, abs=0.001)


def drawn(low: float = 11.0, high: float = 13.0) -> Prediction:
    middle = (low + high) / 2
    return Prediction(value=middle, low=low, high=high, floating=False, chatters=False)


def seen(*values: float, bound: float = 0.08):
    return [SeenReading(value=value, bound=bound, beyond_band=0.02) for value in values]


def test_the_band_is_the_interval_for_the_next_vehicle() -> None:
    """n = 5, mean 12.00, s = 0.0158: 12.00 +- 5.598 * 0.0158 * sqrt(6/5), t at 0.9975 and 4."""
    found = narrowed_by(drawn(), seen(11.98, 11.99, 12.00, 12.01, 12.02, bound=0.01)).narrowed
    reach = 5.598 * math.sqrt(0.00025) * math.sqrt(1.2)

    assert (found.low, found.high) == pytest.approx((12 - reach, 12 + reach), abs=0.0005)


def test_no_band_is_narrower_than_the_meter_or_made_of_two_vehicles() -> None:
    equal = narrowed_by(drawn(), seen(12.0, 12.0, 12.0))
    few = narrowed_by(drawn(), seen(12.0, 12.0))

    assert (equal.narrowed.low, equal.narrowed.high) == pytest.approx((11.92, 12.08))
    assert (few.narrowed, few.is_narrower) == (drawn(), False)


def test_vehicles_outside_the_drawing_are_a_doubt_and_move_no_band() -> None:
    found = narrowed_by(drawn(), seen(13.3, 13.3, 13.3, 12.9))

    assert (found.narrowed, found.outside, found.doubted) == (drawn(), 3, True)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"vehicle": "1G4AH59H45G118341"}, "vehicle"),
        ({"vehicle": " "}, "vehicle"),
        ({"reading": "OL"}, "reading"),
        ({"reading": "12 A"}, "reading"),
        ({"unplugged": ["NONE"]}, "rig"),
        ({"meter_fraction": 0.5}, "meter_fraction"),
    ],
)
def test_a_reference_that_cannot_be_kept_is_told_by_its_field(
    cast, fuel_pump, wrong, field
) -> None:
    with pytest.raises(BadReference) as told:
        keep(fuel_pump, **{"reading": "12.3", **wrong}, by=cast.owner)

    assert told.value.field == field
    assert references_of(fuel_pump, cast.owner) == []


def test_a_reference_counts_until_its_place_is_drawn_anew_and_not_with_a_rig(
    cast, fuel_pump
) -> None:
    keep(fuel_pump, "11.7", by=cast.owner, place="TP2")
    keep(fuel_pump, "12.4", by=cast.owner, place="TP2", unplugged=["PUMP"])
    same = redrawn(fuel_pump, POOR_JOINTS, by=cast.owner)
    assert len(references_at(same)["prime", "TP2"]) == 1
    doubts = {line.reference.typed: line.doubt for line in references_of(same, cast.owner)}

    assert "drawing allows" in doubts["11.7"]
    moved = redrawn(fuel_pump, ("TP2  V  PP - PN", "TP2  V  PP - BN"), by=cast.owner)
    assert references_at(moved) == {}
    assert [line.holds for line in references_of(moved, cast.owner)] == [False, False]


def test_only_whoever_kept_a_reference_takes_it_back(cast, fuel_pump) -> None:
    kept = keep(fuel_pump, "12.3", by=cast.technician)
    with pytest.raises(UnknownReference):
        take_back_reference(circuit=fuel_pump.circuit, number=kept.pk, by=cast.outsider)
    take_back_reference(circuit=fuel_pump.circuit, number=kept.pk, by=cast.technician)

    assert references_of(fuel_pump, cast.technician) == []
