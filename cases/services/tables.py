"""Readings as a table, out and in: one line each, every column, digits as typed."""

import csv
import io
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from pydantic import ValidationError
from rapidfuzz import process

from cases.documents.readings import ReadingDocument
from cases.errors import BadRows, RowProblem
from cases.models import Case, LoggedReading
from cases.services.lines import WrittenLine, keep_lines
from cases.services.record import locked_for, settle_record

LARGEST_CHARACTERS = 2_000_000
MOST_LINES = 5_000
COLUMNS = (
    "number",
    "place",
    "phase",
    "reading",
    "unit",
    "unplugged",
    "bridged",
    "lamp_watts",
    "power_removed",
    "ammeter_in",
    "burden_ohms",
    "by_drop",
    "statistic",
    "symptom_present",
    "stage",
    "supply_volts",
    "celsius",
    "input_ohms",
    "reading_fraction",
    "counts",
    "floor_amps",
    "lead_ohms",
    "instrument",
    "note",
    "by",
    "at",
    "corrects",
    "correction_reason",
)
NEEDED = ("place", "phase", "reading")
_METER = ("input_ohms", "reading_fraction", "counts", "floor_amps", "lead_ohms")
_NUMBERS = ("lamp_watts", "burden_ohms", "supply_volts", "celsius", *_METER)
#: Columns that say yes or nothing.
_MARKS = ("power_removed", "by_drop")
_PLAIN = (
    "place",
    "phase",
    "unit",
    "statistic",
    "symptom_present",
    "stage",
    "note",
    "by",
    "correction_reason",
)


# ------------------------------------------------------------------------------------- out


def readings_csv(readings: Sequence[ReadingDocument]) -> str:
    """Return readings as a table with a heading, separated by commas."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(_cells(reading) for reading in readings)
    return out.getvalue()


def _cells(reading: ReadingDocument) -> list[str]:
    meter = reading.instrument
    values: dict[str, object] = {
        "number": reading.number,
        "reading": reading.text,
        "unplugged": " ".join(reading.rig.unplugged),
        "bridged": " ".join(f"{one}={other}" for one, other in reading.rig.bridged),
        "lamp_watts": reading.rig.lamp_watts,
        "supply_volts": reading.supply_volts,
        "celsius": reading.celsius,
        "ammeter_in": reading.rig.ammeter_in,
        "burden_ohms": reading.rig.burden_ohms,
        **{name: "yes" if getattr(reading.rig, name) else "" for name in _MARKS},
        **{name: getattr(meter, name) for name in _METER},
        "instrument": meter.name,
        "at": reading.at.isoformat() if reading.at is not None else "",
        "corrects": reading.corrects,
        **{name: getattr(reading, name) for name in _PLAIN},
    }
    return ["" if values[name] is None else _cell(values[name]) for name in COLUMNS]


def _cell(value: object) -> str:
    return repr(value) if isinstance(value, float) else str(value)


# -------------------------------------------------------------------------------------- in


def read_readings_csv(content: str | bytes) -> list[WrittenLine]:
    """Return the readings of a table separated by commas, semicolons or tabs.

    The columns may stand in any order; place, phase and reading must be there, the others may be
    left out.

    Raises
    ------
    BadRows
        Every line and column that cannot be read.
    """
    rows = _rows(content)
    heading = [name.strip().lower() for name in rows[0][1]] if rows else []
    problems = _heading_problems(heading)
    if problems:
        raise BadRows(problems)
    found, lines = [], 0
    for number, row in rows[1:]:
        if not any(cell.strip() for cell in row):
            continue
        lines += 1
        if len(row) > len(heading):
            problem = f"has {len(row)} cells under {len(heading)} headings."
            mend = "Put text that holds the separator between double quotes."
            problems.append(RowProblem(number, "", problem, mend))
            continue
        cells = dict(zip(heading, (cell.strip() for cell in row), strict=False))
        written = written_line(number, lines, cells, problems)
        if written is not None:
            found.append(written)
    if problems:
        raise BadRows(problems)
    return found


@transaction.atomic
def import_readings_csv(
    *, case: Case, content: str | bytes, by: User, at: datetime
) -> list[LoggedReading]:
    """Log the readings of a table, all or none.

    Raises
    ------
    BadRows
        Every line that cannot be logged.
    """
    written = read_readings_csv(content)
    case = locked_for(case, by, "add readings")
    rows = keep_lines(case, written, by=by, at=at)
    settle_record(case, at=at)
    return rows


def _rows(content: str | bytes) -> list[tuple[int, list[str]]]:
    """Return the rows of a table, each with the line it ends in."""
    if len(content) > LARGEST_CHARACTERS:
        problem = f"the table has more than {LARGEST_CHARACTERS:,} characters."
        raise BadRows([RowProblem(0, "", problem, "Split it, or check that it is the right file.")])
    try:
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content
    except UnicodeDecodeError:
        problem = "the table is no text in UTF-8."
        raise BadRows([RowProblem(0, "", problem, "Save it as CSV in UTF-8.")]) from None
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    heading = text.partition("\n")[0]
    separator = max(",;\t", key=heading.count)
    try:
        reader = csv.reader(io.StringIO(text), delimiter=separator, strict=True)
        rows = [(reader.line_num, row) for row in reader]
    except csv.Error as error:
        problem = f"cannot be read as a table: {error}."
        mend = "Check its double quotes; a quote inside a cell is written twice."
        raise BadRows([RowProblem(0, "", problem, mend)]) from None
    if len(rows) > MOST_LINES:
        problem = f"the table has {len(rows):,} lines; more than {MOST_LINES:,} are no case."
        raise BadRows([RowProblem(0, "", problem, "Split it, or check that it is the right file.")])
    return rows


def _heading_problems(heading: Sequence[str]) -> list[RowProblem]:
    problems = [
        RowProblem(
            1, name, "is missing.", f"The first line names the columns: {', '.join(NEEDED)}."
        )
        for name in NEEDED
        if name not in heading
    ]
    for name in dict.fromkeys(heading):
        if name not in COLUMNS:
            near = process.extractOne(name, COLUMNS, score_cutoff=60)
            hint = f"Did you mean {near[0]}?" if near else f"Known are {', '.join(COLUMNS)}."
            problems.append(RowProblem(1, name or "a column", "is no column that we know.", hint))
        elif heading.count(name) > 1:
            problems.append(RowProblem(1, name, "stands in the heading twice.", "Keep one."))
    return problems


def written_line(
    line: int, count: int, cells: Mapping[str, str], problems: list[RowProblem]
) -> WrittenLine | None:
    """Return one line of a table by its columns, or note everything that is wrong with it.

    It is the reading numbered `count` of its case, unless it tells its number.
    """
    found: list[RowProblem] = []
    values: dict[str, Any] = {name: cells[name] for name in _PLAIN if cells.get(name)}
    values["text"] = cells["reading"]
    values["number"] = _whole(line, "number", cells, found) or count
    values["corrects"] = _whole(line, "corrects", cells, found)
    values["at"] = cells.get("at") or None
    numbers = {name: _number(line, name, cells, found) for name in _NUMBERS}
    values["supply_volts"] = numbers["supply_volts"]
    values["celsius"] = numbers["celsius"]
    values["rig"] = {
        "unplugged": cells.get("unplugged", "").split(),
        "bridged": _bridges(line, cells, found),
        "lamp_watts": numbers["lamp_watts"],
        "ammeter_in": cells.get("ammeter_in", ""),
        "burden_ohms": numbers["burden_ohms"],
        **{name: _mark(line, name, cells, found) for name in _MARKS},
    }
    values["instrument"] = {name: numbers[name] for name in _METER}
    values["instrument"]["name"] = cells.get("instrument", "")
    try:
        reading = ReadingDocument.model_validate(values)
    except ValidationError as error:
        found.extend(_cell_problem(line, details) for details in error.errors())
        reading = None
    problems.extend(found)
    if reading is None or found:
        return None
    return WrittenLine(reading, line=line, column=reading.place)


def _cell_problem(line: int, details: Mapping[str, Any]) -> RowProblem:
    path = [str(step) for step in details["loc"]]
    column = "reading" if path[:1] == ["text"] else path[-1] if path else ""
    message = details["msg"].removeprefix("Value error, ")
    return RowProblem(line, column, f"{message[:1].lower()}{message[1:]}.", "Mend this cell.")


def _number(
    line: int, name: str, cells: Mapping[str, str], problems: list[RowProblem]
) -> float | None:
    text = cells.get(name, "")
    if not text:
        return None
    try:
        # A comma is a decimal mark here too; a table made with one has a semicolon between cells.
        number = float(text.replace(",", "."))
    except ValueError:
        problems.append(
            RowProblem(line, name, f"'{text}' is no number.", "Write digits only, such as 12.4.")
        )
        return None
    return number


def _mark(line: int, name: str, cells: Mapping[str, str], problems: list[RowProblem]) -> bool:
    text = cells.get(name, "").lower()
    if text not in ("", "yes", "no"):
        problems.append(RowProblem(line, name, f"'{text}' is neither yes nor no.", "Write yes."))
    return text == "yes"


def _whole(
    line: int, name: str, cells: Mapping[str, str], problems: list[RowProblem]
) -> int | None:
    text = cells.get(name, "")
    if not text:
        return None
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        problems.append(
            RowProblem(
                line, name, f"'{text}' is no line number.", "Write a whole number, such as 3."
            )
        )
        return None
    return int(text)


def _bridges(
    line: int, cells: Mapping[str, str], problems: list[RowProblem]
) -> list[tuple[str, str]]:
    found = []
    for pair in cells.get("bridged", "").split():
        one, equals, other = pair.partition("=")
        if not equals or not one or not other:
            problem = f"'{pair}' is no bridge."
            mend = "Write the two connections as K30=K87."
            problems.append(RowProblem(line, "bridged", problem, mend))
        else:
            found.append((one, other))
    return found
