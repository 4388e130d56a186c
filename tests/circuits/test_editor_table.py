"""The table of the editor and the text form: both ways, and the same errors by row and cell."""

import pytest
from hypothesis import given, settings

from circuits.editor.judging import judge_table
from circuits.editor.pins import Device, rows_of
from circuits.editor.splitting import split_text
from circuits.editor.starts import EMPTY_SHEET
from circuits.editor.table import Row, Section, Table
from circuits.editor.writing import composed, write_table
from circuits.sheet import read_text, write_text
from tests.cast import LIBRARY
from tests.circuits.sheets import sheets

FAN = (LIBRARY / "cooling_fan.txt").read_text(encoding="utf-8")


def typed_anew(table: Table) -> Table:
    """Return a table whose cells were all typed, so that no line can be taken over."""
    return Table(
        sections=tuple(
            section.model_copy(update={"rows": tuple(map(_typed_row, section.rows))})
            for section in table.sections
        )
    )


def _typed_row(row: Row) -> Row:
    return row if row.whole else row.model_copy(update={"line": ""})


def row_of(table: Table, section: str, key: str) -> Row:
    rows = next(found for found in table.sections if found.name == section).rows
    return next(row for row in rows if key in row.cells.values())


def changed(table: Table, section: str, key: str, **cells: str) -> Table:
    """Return the table with cells of one row typed over."""
    old = row_of(table, section, key)
    new = Row(cells={**old.cells, **cells}, states=old.states)
    return Table(
        sections=tuple(
            found.model_copy(
                update={"rows": tuple(new if row is old else row for row in found.rows)}
            )
            for found in table.sections
        )
    )


def told(table: Table) -> list[tuple[str, str, str]]:
    """Return each finding as section, cell and words."""
    return [
        (
            table.sections[finding.spot.section].name if finding.spot else "",
            finding.spot.cell if finding.spot else "",
            f"{finding.flaw.problem} {finding.flaw.mend}",
        )
        for finding in judge_table(table).findings
    ]


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("*.txt")), ids=lambda path: path.stem)
def test_a_circuit_comes_back_from_the_table_letter_for_letter(path) -> None:
    text = path.read_text(encoding="utf-8")
    table = split_text(text)

    assert write_table(table).text == text
    assert not [row.line for section in table.sections for row in section.rows if row.whole]
    assert read_text(write_table(typed_anew(table)).text) == read_text(text)


@settings(max_examples=40, deadline=None)
@given(sheets())
def test_every_circuit_says_the_same_after_it_was_a_table(sheet) -> None:
    """Remarks above, behind and below, commas and brackets in words, phases in any order; as it
    stood, and with every cell typed anew."""
    text = write_text(sheet)
    table = split_text(text)

    assert write_table(table).text.split() == text.split()
    assert read_text(write_table(typed_anew(table)).text) == sheet


@pytest.mark.parametrize(
    ("section", "key", "cells", "told_at", "words"),
    [
        ("parts", "W2", {"kind": "wyre"}, "kind", "'wyre' is no kind of part. Did you mean"),
        ("parts", "W2", {"second": "FQ"}, "second", "there is no connection 'FQ'."),
        ("parts", "W2", {"values": "10 mm2, 1.3 V"}, "values", "'1.3 V' is no value of a wire."),
        ("parts", "W2", {"first": ""}, "first", "'from' is still empty."),
        ("parts", "W2", {"name": "W 2"}, "name", "'W 2' is 2 words, where one belongs."),
        ("parts", "W2", {"source": "page | 2"}, "source", "a | or # that stands by itself"),
        ("phases", "warm", {"temperature": "hot"}, "temperature", "hot"),
        ("connections", "FP", {"kind": "plug"}, "kind", "'plug' is no kind of connection."),
        ("places", "TP2", {"red": "FX"}, "red", "there is no connection 'FX'."),
        ("places", "TP1", {"moves": "volt"}, "moves", "'volt' is no move."),
        ("hazards", "high-current", {"kind": "fire"}, "kind", "'fire' is no hazard"),
        ("vehicle", "zero", {"text": "XX"}, "text", "there is no connection 'XX'."),
    ],
)
def test_a_slip_is_told_at_its_cell_in_the_words_of_the_text_form(
    section, key, cells, told_at, words
) -> None:
    found = told(changed(split_text(FAN), section, key, **cells))

    assert any(
        (where, cell) == (section, told_at) and words in said for where, cell, said in found
    ), found


def test_a_slip_in_a_phase_is_told_in_the_column_of_the_phase() -> None:
    """FAN's drive in the warm phase is typed without its unit."""
    table = split_text(FAN)
    fan = row_of(table, "parts", "FAN")
    states = tuple((key, "drive 50" if key == "warm" else text) for key, text in fan.states)
    slipped = Row(cells=fan.cells, states=states)
    rows = [
        tuple(slipped if row is fan else row for row in section.rows) for section in table.sections
    ]
    found = told(
        Table(
            sections=tuple(
                Section(name=section.name, rows=new, text=section.text)
                for section, new in zip(table.sections, rows, strict=True)
            )
        )
    )

    assert [(section, cell) for section, cell, _ in found] == [("parts", "states.warm")]


def test_phases_that_say_the_same_are_written_together_and_the_others_last() -> None:
    row = Row(
        cells={"name": "M", "kind": "fan", "first": "A", "second": "B", "values": "1 Ohm"},
        states=(("otherwise", "absent"), ("cold", "open"), ("warm", "2 A"), ("hot", "open")),
    )

    assert composed("parts", row) == (
        "M  fan  A - B  1 Ohm; cold, hot: open; warm: 2 A; otherwise: absent"
    )


def test_a_line_that_finds_no_cells_stays_as_it_is() -> None:
    text = "[parts]\n# a remark | with a bar\n[hazards\n\n[elsewhere]\nW1 wire BP - BN\n"

    assert write_table(split_text(text)).text.split() == text.split()


# ------------------------------------------------------------------------------ by its pins


def test_a_change_over_relay_has_a_winding_and_two_contacts_from_30() -> None:
    """DIN 72552: 30 is common, 87 makes, 87a breaks, the winding lies between 86 and 85."""
    pins = [{"number": number} for number in ("30", "85", "86", "87", "87a")]
    pins[0]["connection"] = "F1b"
    device = Device.model_validate({"kind": "change-over relay", "name": "K2", "pins": pins})
    rows = rows_of(device)
    lines = [composed("parts", row).split() for row in rows["parts"]]

    assert [row.cells["node"] for row in rows["connections"]] == [
        *("K2/85", "K2/86", "K2/87", "K2/87a"),
    ]
    assert [line[:5] for line in lines] == [
        ["K2.coil", "coil", "K2/86", "-", "K2/85"],
        ["K2.con", "contact", "F1b", "-", "K2/87"],
        ["K2.rest", "contact", "F1b", "-", "K2/87a"],
    ]
    assert "normally closed" in rows["parts"][2].cells["values"]


def test_a_module_told_by_its_pins_makes_a_circuit_that_can_be_solved() -> None:
    pins = [
        {"number": "1", "role": "plus", "value": "0.1 A", "connection": "BP"},
        {"number": "2", "role": "ground", "connection": "CH"},
        {"number": "3", "role": "to ground", "value": "400 mOhm"},
        {"number": "4", "role": "senses, pulled up", "value": "1 kOhm"},
        {"number": "5", "role": "gives 5 V", "value": "5.00 V, 300 mOhm, max 0.15 A"},
        {"number": "6", "role": "to plus", "value": "30 mOhm"},
        {"number": "7", "role": "senses", "value": "100 kOhm"},
    ]
    rows = rows_of(Device.model_validate({"kind": "module", "name": "M1", "pins": pins}))
    loads = [
        Row(cells={"name": f"R{pin}", "kind": "resistor", "first": first, "second": second})
        for pin, first, second in (
            ("3", "BP", "M1/3"),
            ("4", "M1/4", "CH"),
            ("5", "M1/5", "M1/7"),
            ("6", "M1/6", "CH"),
        )
    ]
    loads = [row.model_copy(update={"cells": {**row.cells, "values": "1 kOhm"}}) for row in loads]
    frame = split_text(
        EMPTY_SHEET.replace("key:", "key: m").replace("title:", "title: m").replace("m:", "m: m")
        + "\n[phases]\non on on\n[parts]\nBAT battery BP - BN 12.6 V, 10 mOhm\n"
        "WG wire BN - CH 16 mm2, 0.5 m\n"
    )
    more = {**rows, "parts": (*rows["parts"], *loads)}
    table = Table(
        sections=tuple(
            section.model_copy(update={"rows": (*section.rows, *more.get(section.name, ()))})
            for section in frame.sections
        )
    )

    assert told(table) == []


def test_when_a_code_sets_stands_in_cells_of_its_own() -> None:
    line = "  if TP2 below 10.5 V for 0.2 s while EPS above 30 A in run, crank"
    table = split_text(f"[codes]\nC1512: supply low\n{line}\n")
    code, condition = table.sections[0].rows

    assert (code.cells["code"], code.cells["words"]) == ("C1512", "supply low")
    assert {key: text for key, text in condition.cells.items() if text} == {
        "watched": "TP2",
        "side": "below",
        "number": "10.5 V",
        "lasting": "0.2 s",
        "enabled": "EPS above 30 A",
        "phases": "run, crank",
    }
    assert write_table(typed_anew(table)).text == f"[codes]\nC1512: supply low\n{line}\n"


def test_a_code_without_words_and_a_condition_half_typed_are_told_in_the_codes() -> None:
    table = split_text(FAN)
    rows = (Row(cells={"code": "P0480"}), Row(cells={"watched": "TP2", "side": "below"}))
    kept = (section for section in table.sections if section.name != "codes")
    found = told(Table(sections=(*kept, Section(name="codes", rows=rows))))

    assert ("codes", "words", "'in words' is still empty.") in [
        (section, cell, words.split(" Beside")[0]) for section, cell, words in found
    ]


def test_a_condition_without_its_number_is_told_in_the_codes() -> None:
    table = split_text(FAN)
    rows = (
        Row(cells={"code": "P0480", "words": "fan relay"}),
        Row(cells={"watched": "TP2", "side": "below"}),
    )
    kept = (section for section in table.sections if section.name != "codes")
    found = told(Table(sections=(*kept, Section(name="codes", rows=rows))))

    assert found
    assert {section for section, _, _ in found} == {"codes"}
