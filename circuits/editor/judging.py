"""What is wrong with a table or a text, by row and cell, and what the circuit does if nothing is.

The reader of the text form judges both: a table is written as text first. Only what the text
could not show is found here: a needed cell left empty, a name of two words.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from circuits.editor.columns import COLUMNS, Column
from circuits.editor.table import Row, Table
from circuits.editor.writing import Spot, write_table
from circuits.engine import Network
from circuits.sheet import Flaw, Sheet, SheetErrors, read_text, to_network

_MARK = re.compile(r"(?:^|\s)[|#](?:\s|$)|^#")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A flaw with the row and cell that it is about, where it is about one."""

    flaw: Flaw
    spot: Spot | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """A text with everything that must be mended, or with the circuit that it makes."""

    text: str
    findings: tuple[Finding, ...]
    sheet: Sheet | None = None
    network: Network | None = None

    @property
    def flaws(self) -> tuple[Flaw, ...]:
        return tuple(finding.flaw for finding in self.findings)


def judge_text(text: str) -> Judgement:
    """Return what the reader says of a text."""
    try:
        sheet = read_text(text)
    except SheetErrors as error:
        return Judgement(text=text, findings=tuple(Finding(flaw=flaw) for flaw in error.flaws))
    return Judgement(text=text, findings=(), sheet=sheet, network=to_network(sheet))


def judge_table(table: Table) -> Judgement:
    """Return what the reader says of a table's text, told by row and cell."""
    written = write_table(table)
    lines = {spot: line for line, spot in written.rows.items()}
    gaps = list(_gaps(table, lines))
    said = judge_text(written.text)
    placed = [Finding(flaw=flaw, spot=written.spot(flaw.line, flaw.column)) for flaw in said.flaws]
    # A line with a gap is refused as a whole, which the gap has told in better words.
    gapped = {finding.flaw.line for finding in gaps}
    findings = [*gaps, *(finding for finding in placed if finding.flaw.line not in gapped)]
    findings.sort(key=lambda finding: (finding.flaw.line, finding.flaw.column))
    if gaps:
        return Judgement(text=written.text, findings=tuple(findings))
    return Judgement(
        text=written.text, findings=tuple(findings), sheet=said.sheet, network=said.network
    )


def _gaps(table: Table, lines: dict[tuple[int, int], int]) -> Iterator[Finding]:
    for at, section in enumerate(table.sections):
        for index, row in enumerate(section.rows):
            # A row that still stands as it stood in the text is the reader's to judge.
            if row.whole or row.line or (at, index) not in lines:
                continue
            for column in COLUMNS.get(section.name, ()):
                for problem, mend in _cell_problems(section.name, column, row):
                    flaw = Flaw(
                        subject=_name_of(section.name, row),
                        problem=problem,
                        mend=mend,
                        line=lines[at, index],
                    )
                    yield Finding(flaw=flaw, spot=Spot(section=at, row=index, cell=column.key))


def _cell_problems(section: str, column: Column, row: Row) -> Iterator[tuple[str, str]]:
    text = row.cells.get(column.key, "").strip()
    said = f"'{column.label.lower()}'"
    if not text:
        if column.needed or _is_words_of_a_code(section, column, row):
            yield f"{said} is still empty.", column.hint or "Write it in."
    elif column.single and len(text.split()) > 1:
        yield (
            f"'{text}' is {len(text.split())} words, where one belongs.",
            f"Join them, such as {'_'.join(text.split())}.",
        )
    if column.key != "remark" and _MARK.search(text):
        yield (
            "a | or # that stands by itself begins something else.",
            "Write it without, or put what is behind it into the remark.",
        )


def _is_words_of_a_code(section: str, column: Column, row: Row) -> bool:
    """Whether it is the cell that only the rows below a code may leave empty."""
    return section == "codes" and column.key == "words" and bool(row.cells.get("code", "").strip())


def _name_of(section: str, row: Row) -> str:
    first = COLUMNS[section][0].key
    return row.cells.get(first, "").strip() or section
