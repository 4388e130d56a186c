"""The table of the editor and the text form: both ways, and the same errors by row and cell."""

import pytest
from hypothesis import given, settings

from circuits.editor.judging import judge_table
from circuits.editor.splitting import split_text
from circuits.editor.table import Row, Table
from circuits.editor.writing import write_table
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
    """Remarks above, behind and below, commas and brackets in words, phases in any order."""
    text = write_text(sheet)

    assert read_text(write_table(split_text(text)).text) == sheet
    assert write_table(split_text(text)).text.split() == text.split()
