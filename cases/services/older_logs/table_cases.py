"""A case of an older log from the lines of a table: one for the case, one more for each reading."""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import TextChoices
from pydantic import ValidationError

from cases.documents.older_logs import OlderCase
from cases.documents.readings import ReadingDocument
from cases.errors import BadRows, RowProblem
from cases.models import Outcome, Symptom
from cases.services import tables
from cases.services.lines import WrittenLine
from cases.services.older_logs.log_file import CASE_COLUMNS, Entry, LogLine, ToldCase, digest_of

_VEHICLE = ("make", "model", "year", "engine", "plate", "vin")
_PLAIN = (
    "case",
    "author",
    "system",
    "complaint",
    "conditions",
    "complaint_phase",
    "tries_before",
    "hits_before",
)
_REPAIR = ("part_replaced", "what_misled", "what_decided", "clean_tries_after")
_MOMENTS = ("opened_at", "repaired_at", "closed_at")
_CLAIM = {"suspect": "claim", "severity": "claimed_severity", "by": "claimed_by"}
#: Where a field of the document is called otherwise than its column.
_COLUMN_OF = {"suspect": "claim", "severity": "claimed_severity"}
READINGS_KEPT = 20_000
_BETWEEN = re.compile(r"[,;\n]")
_BETWEEN_PARTS = re.compile(r"[;\n]")
_CODE = re.compile(r"[PCBU][0-9A-F]{4}(?:-[0-9A-F]{2})?", re.IGNORECASE)
_HOURS = re.compile(r"(.+?),\s*([0-9]+(?:[.,][0-9]+)?)\s*h")
_DAY = "Write it as 2016-03-21 or 2016-03-21 14:30."


class Table:
    """A log that is a table, by the names of its columns."""

    def __init__(self, names: Sequence[str]) -> None:
        self.names = names
        self._of_readings = [name for name in tables.COLUMNS if name in names]
        #: Readings by their cells: in a long log the same are written again and again.
        self._known: dict[tuple[str, ...], ReadingDocument] = {}

    def told(self, entry: Entry) -> ToldCase:
        """Return what the lines of a case tell of it.

        Raises
        ------
        BadRows
            All that is wrong with them.
        """
        problems: list[RowProblem] = []
        rows = [(line.line, _cells(self.names, line, problems)) for line in entry]
        written = self._readings(rows, problems)
        cells, line_of = _case_cells(rows, problems)
        document = _document(cells, line_of, entry[0].line, problems)
        if problems or document is None:
            raise BadRows(problems)
        digest = digest_of([{**cells, "case": ""} for _, cells in rows])
        return ToldCase(
            line=entry[0].line,
            document=document,
            written=written,
            key=document.case or digest,
            digest=digest,
        )

    def _readings(
        self, rows: Iterable[tuple[int, Mapping[str, str]]], problems: list[RowProblem]
    ) -> list[WrittenLine]:
        written: list[WrittenLine] = []
        for line, cells in rows:
            own = tuple([cells.get(name, "") for name in self._of_readings])
            if not any(own):
                continue
            number = len(written) + 1
            reading = self._known.get(own)
            if reading is None:
                told = tables.written_line(line, number, {"reading": "", **cells}, problems)
                if told is None:
                    continue
                reading = told.reading
                self._keep(own, reading)
            number = reading.number if "number" in cells else number
            written.append(WrittenLine(reading, line, reading.place, counted_as=number))
        return written

    def _keep(self, cells: tuple[str, ...], reading: ReadingDocument) -> None:
        if len(self._known) >= READINGS_KEPT:
            self._known.clear()
        self._known[cells] = reading


def _cells(names: Sequence[str], line: LogLine, problems: list[RowProblem]) -> dict[str, str]:
    """Return what stands in the cells of a line, by column; empty ones are left out."""
    if len(line.cells) > len(names):
        problem = f"has {len(line.cells)} cells under {len(names)} headings."
        mend = "Put text that holds the separator between double quotes."
        problems.append(RowProblem(line.line, "", problem, mend))
    found = zip(names, map(str.strip, line.cells), strict=False)
    return {name: cell for name, cell in found if name and cell}


def _case_cells(
    rows: Iterable[tuple[int, Mapping[str, str]]], problems: list[RowProblem]
) -> tuple[dict[str, str], dict[str, int]]:
    """Return what all lines say of the case itself, and the line that says it first."""
    found: dict[str, str] = {}
    line_of: dict[str, int] = {}
    for line, cells in rows:
        for name, cell in cells.items():
            if name not in CASE_COLUMNS:
                continue
            if found.setdefault(name, cell) != cell:
                problem = f"line {line_of[name]} of the same case says something else."
                mend = "Write it in the first line of the case alone."
                problems.append(RowProblem(line, name, problem, mend))
            line_of.setdefault(name, line)
    return found, line_of


def _document(
    cells: Mapping[str, str],
    line_of: Mapping[str, int],
    first: int,
    problems: list[RowProblem],
) -> OlderCase | None:
    def word(name: str, choices: type[TextChoices]) -> str | None:
        return _word(choices, cells.get(name, ""), line_of.get(name, first), name, problems)

    def moment(name: str) -> datetime | None:
        return _moment(cells.get(name, ""), line_of.get(name, first), name, problems)

    values: dict[str, Any] = {name: cells[name] for name in _PLAIN if name in cells}
    values["vehicle"] = {name: cells[name] for name in _VEHICLE if name in cells}
    values["symptom"] = word("symptom", Symptom) or ""
    values["codes"] = [_code(text) for text in _codes(cells.get("codes", ""))]
    values["monitors_passed"] = _codes(cells.get("monitors_passed", ""))
    values["parts_in_vain"] = [
        _part(text) for text in _listed(_BETWEEN_PARTS, cells.get("parts_in_vain", ""))
    ]
    if "circuit" in cells:
        values["circuit"] = {"circuit": cells["circuit"], "revision": cells.get("revision")}
    if any(column in cells for column in _CLAIM.values()):
        claim = {field: cells[column] for field, column in _CLAIM.items() if column in cells}
        if "severity" in claim:
            claim["severity"] = claim["severity"].replace(",", ".")
        values["claim"] = {**claim, "at": moment("claimed_at")}
    repair = {name: cells[name] for name in _REPAIR if name in cells}
    values["repair"] = {**repair, "outcome": word("outcome", Outcome) or Outcome.OPEN}
    values |= {name: moment(name) for name in _MOMENTS}
    try:
        return OlderCase.model_validate(values)
    except ValidationError as error:
        problems.extend(_problem(details, line_of, first) for details in error.errors())
        return None


def _problem(details: Mapping[str, Any], line_of: Mapping[str, int], first: int) -> RowProblem:
    path = [str(step) for step in details["loc"] if isinstance(step, str)]
    names = [_COLUMN_OF.get(step, step) for step in path]
    column = next((name for name in reversed(names) if name in CASE_COLUMNS), names[0])
    if details["type"] == "missing":
        return RowProblem(first, column, "is empty.", "Fill this cell in.")
    message = details["msg"].removeprefix("Value error, ")
    problem = f"{message[:1].lower()}{message[1:]}."
    return RowProblem(line_of.get(column, first), column, problem, "Mend this cell.")


def _word(
    choices: type[TextChoices], text: str, line: int, column: str, problems: list[RowProblem]
) -> str | None:
    """Return a choice by its value or its label."""
    if not text:
        return None
    for value, label in choices.choices:
        if text.casefold() in (value.casefold(), str(label).casefold()):
            return str(value)
    mend = f"Write one of: {', '.join(choices.values)}."
    problems.append(RowProblem(line, column, f"'{text}' is none that we know.", mend))
    return None


def _moment(text: str, line: int, column: str, problems: list[RowProblem]) -> datetime | None:
    if not text:
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        problems.append(RowProblem(line, column, f"'{text}' is no date that is sure.", _DAY))
        return None


def _listed(between: re.Pattern[str], text: str) -> list[str]:
    return [part.strip() for part in between.split(text) if part.strip()]


def _codes(text: str) -> list[str]:
    """Return codes with commas or spaces between; one with spaces of its own needs the commas."""
    found: list[str] = []
    for part in _listed(_BETWEEN, text):
        words = part.split()
        found.extend(words if all(map(_CODE.fullmatch, words)) else [" ".join(words)])
    return list(dict.fromkeys(found))


def _code(text: str) -> dict[str, str]:
    """Return a code with its failure type where that is written behind it: P0190-11."""
    if not _CODE.fullmatch(text):
        return {"code": text}
    code, _, failure_type = text.partition("-")
    return {"code": code, "failure_type": failure_type}


def _part(text: str) -> dict[str, object]:
    """Return a part fitted in vain; hours may stand behind it: fuel filter, 1.5 h."""
    found = _HOURS.fullmatch(text)
    if found is None:
        return {"part": text}
    return {"part": found[1].strip(), "hours": Decimal(found[2].replace(",", "."))}
