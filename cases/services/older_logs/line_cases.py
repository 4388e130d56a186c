"""A case of an older log from a line of JSON."""

import json
from dataclasses import replace

from pydantic import ValidationError

from cases.documents.older_logs import OlderCase
from cases.errors import BadRows, RowProblem
from cases.services.exchange import document_problem
from cases.services.lines import WrittenLine
from cases.services.older_logs.log_file import REASON_COLUMN, Entry, ToldCase, digest_of


def told_in_line(entry: Entry) -> ToldCase:
    """Return what a line tells of its case.

    Raises
    ------
    BadRows
        All that is wrong with it.
    """
    (line,) = entry
    data = _read(line.line, line.cells[0])
    data.pop(REASON_COLUMN, None)
    try:
        document = OlderCase.model_validate(data)
    except ValidationError as error:
        problems = [document_problem(details) for details in error.errors()]
        raise BadRows([replace(problem, line=line.line) for problem in problems]) from None
    if any(reading.photos for reading in document.readings):
        problem = "photos of readings come in with one case at a time."
        raise BadRows([RowProblem(line.line, "readings", problem, "Bring in this one as a file.")])
    data.pop("case", None)
    digest = digest_of(data)
    return ToldCase(
        line=line.line,
        document=document,
        written=[
            WrittenLine(reading, line=line.line, column=f"readings {place}")
            for place, reading in enumerate(document.readings, start=1)
        ],
        key=document.case or digest,
        digest=digest,
    )


def _read(line: int, text: str) -> dict[str, object]:
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        problem = f"this is no JSON: {error.msg.lower()} at column {error.colno}."
        raise BadRows([RowProblem(line, "", problem, "A case is one line.")]) from None
    except (ValueError, RecursionError):
        raise BadRows([RowProblem(line, "", "this JSON is nested too deeply.")]) from None
    if not isinstance(data, dict):
        mend = "Write names and values in curly brackets."
        raise BadRows([RowProblem(line, "", "this is no case.", mend)])
    return data
