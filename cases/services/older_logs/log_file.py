"""The file of an older log, taken apart into the lines of each case."""

import csv
import hashlib
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NoReturn

from rapidfuzz import process

from cases.documents.cases import CaseDocument
from cases.errors import BadRows, RowProblem
from cases.models import LogForm
from cases.services import tables
from cases.services.lines import WrittenLine

LARGEST_BYTES = 64_000_000
#: The column that says why a line was refused; brought in again, it says nothing.
REASON_COLUMN = "refused_because"
#: A column whose name begins so is left out on purpose.
LEFT_OUT = "-"
CASE_COLUMNS = (
    "case",
    "opened_at",
    "author",
    "make",
    "model",
    "year",
    "engine",
    "plate",
    "vin",
    "system",
    "circuit",
    "revision",
    "complaint",
    "symptom",
    "conditions",
    "complaint_phase",
    "tries_before",
    "hits_before",
    "codes",
    "monitors_passed",
    "parts_in_vain",
    "claim",
    "claimed_severity",
    "claimed_by",
    "claimed_at",
    "part_replaced",
    "outcome",
    "what_misled",
    "what_decided",
    "clean_tries_after",
    "repaired_at",
    "closed_at",
)
COLUMNS = (*CASE_COLUMNS, *tables.COLUMNS)
NEEDED = ("make", "complaint")


@dataclass(frozen=True, slots=True)
class LogLine:
    """A line of the file as it stands there; a line of JSON is one cell."""

    line: int
    cells: tuple[str, ...]


#: The lines of one case.
Entry = tuple[LogLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFile:
    """A log taken apart; heading and separator are those of a table."""

    form: LogForm
    entries: Sequence[Entry]
    heading: tuple[str, ...] = ()
    separator: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldCase:
    """What a log tells of one case, and the line it begins in.

    `key` is what the log calls it or, where it gives no name, the digest of all that it says.
    """

    line: int
    document: CaseDocument
    written: Sequence[WrittenLine]
    key: str
    digest: str


def read_log(content: bytes) -> LogFile:
    """Return a log taken apart.

    Raises
    ------
    BadRows
        The file as a whole cannot be read, or its heading.
    """
    text = _text(content)
    start = text.lstrip()[:1]
    if start == "{":
        entries = [
            (LogLine(number, (line,)),)
            for number, line in enumerate(text.split("\n"), start=1)
            if line.strip()
        ]
        return LogFile(form=LogForm.LINES, entries=entries)
    if start == "[":
        _refuse("this is one JSON list.", "Write each case on a line of its own, without brackets.")
    if not start:
        _refuse("the file is empty.", "Is it the right one?")
    return _read_table(text)


def empty_table() -> str:
    """Return a table with every column and nothing below."""
    return f"{','.join(COLUMNS)}\n"


def names_in(heading: Iterable[str]) -> list[str]:
    """Return the names of columns as we call them; what is left out has none."""
    names = ("_".join(name.lower().split()) for name in heading)
    return ["" if name.startswith(LEFT_OUT) or name == REASON_COLUMN else name for name in names]


def digest_of(told: object) -> str:
    """Return a digest of what a log tells, whatever the order of its columns."""
    text = json.dumps(told, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _text(content: bytes) -> str:
    if len(content) > LARGEST_BYTES:
        _refuse(
            f"the file has {len(content):,} bytes; at most {LARGEST_BYTES:,} are taken at once.",
            "Bring it in as several files.",
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        _refuse(
            f"this is no text in UTF-8: the byte in place {error.start + 1} is no character.",
            "Save it as UTF-8; a spreadsheet calls that 'CSV UTF-8'.",
            line=content.count(b"\n", 0, error.start) + 1,
        )
    if "\x00" in text:
        _refuse("the file holds zero bytes.", "Save it as CSV, not as a workbook.")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _read_table(text: str) -> LogFile:
    first = text.partition("\n")[0]
    separator = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text), delimiter=separator, strict=True)
    began = 1
    try:
        heading = tuple(name.strip() for name in next(reader))
        _check_heading(heading)
        lines = []
        began = reader.line_num + 1
        for row in reader:
            if any(cell.strip() for cell in row):
                lines.append(LogLine(began, tuple(row)))
            began = reader.line_num + 1
    except csv.Error as error:
        _refuse(
            f"from here on it cannot be read as a table: {error}.",
            "Check the double quotes; a quote inside a cell is written twice.",
            line=began,
        )
    if not lines:
        _refuse("there is a heading and no line below it.", "Is it the right file?")
    entries = list(_entries(names_in(heading), lines))
    return LogFile(form=LogForm.TABLE, entries=entries, heading=heading, separator=separator)


def _entries(names: Sequence[str], lines: Iterable[LogLine]) -> Iterator[Entry]:
    """Yield the lines of each case.

    A line belongs to the case above if it has its number, or tells nothing but a reading.
    """
    of_case = [place for place, name in enumerate(names) if name in CASE_COLUMNS]
    place = names.index("case") if "case" in names else None
    current: list[LogLine] = []
    key = ""
    for line in lines:
        cells = line.cells
        own = cells[place].strip() if place is not None and place < len(cells) else ""
        tells = any(at < len(cells) and cells[at].strip() for at in of_case)
        goes_on = own == key if own else not tells
        if current and goes_on:
            current.append(line)
            continue
        if current:
            yield tuple(current)
        current, key = [line], own
    if current:
        yield tuple(current)


def _check_heading(heading: Sequence[str]) -> None:
    names = names_in(heading)
    problems = [
        RowProblem(1, name, "is missing.", "The first line names the columns; this one is needed.")
        for name in NEEDED
        if name not in names
    ]
    for name, shown in zip(names, heading, strict=True):
        if name and name not in COLUMNS:
            near = process.extractOne(name, COLUMNS, score_cutoff=70)
            hint = f"Did you mean {near[0]}? " if near else ""
            mend = f"{hint}To leave the column out, put a minus before its name: -{shown}."
            problems.append(RowProblem(1, shown, "is no column that we know.", mend))
        elif name and names.count(name) > 1:
            problems.append(RowProblem(1, shown, "stands in the heading twice.", "Keep one."))
    if "" in heading:
        mend = f"Name each column, or write {LEFT_OUT} above one that is to be left out."
        problems.append(RowProblem(1, "", "a column has no name.", mend))
    if problems:
        raise BadRows(list(dict.fromkeys(problems)))


def _refuse(problem: str, mend: str, line: int = 0) -> NoReturn:
    raise BadRows([RowProblem(line, "", problem, mend)])
