"""What did not come in of an older log, as a file that can be mended and brought in again."""

import csv
import io
import json
from collections.abc import Iterator, Sequence

from cases.models import LogForm, OlderLog, RefusedLine
from cases.services.older_logs.log_file import REASON_COLUMN

#: How a line that is no JSON at all goes out: whole, to be written anew.
AS_IT_WAS = "as_it_was"


def refused_file(log: OlderLog) -> str:
    """Return the refused lines as they were, each with its reasons, in the form of the log."""
    lines = log.refused_lines.all()
    if log.form == LogForm.LINES:
        return "".join(f"{_with_reason(line)}\n" for line in lines)
    out = io.StringIO()
    writer = csv.writer(out, delimiter=log.separator, lineterminator="\n")
    kept = [place for place, name in enumerate(log.heading) if name != REASON_COLUMN]
    writer.writerow([*(log.heading[place] for place in kept), REASON_COLUMN])
    for line in lines:
        cells = [line.cells[place] if place < len(line.cells) else "" for place in kept]
        further = line.cells[len(log.heading) :]
        writer.writerow([*cells, reasons_in_words(line), *further])
    return out.getvalue()


def refused_file_name(log: OlderLog) -> str:
    """Return what the file of refused lines is called."""
    return f"refused-{log.pk}.{'jsonl' if log.form == LogForm.LINES else 'csv'}"


def reasons_in_words(line: RefusedLine) -> str:
    """Return everything that is wrong with a line in one sentence or several."""
    return " ".join(_sentences(line.reasons)) or "Another line of the same case was refused."


def _sentences(reasons: Sequence[Sequence[str]]) -> Iterator[str]:
    for column, problem, mend in reasons:
        where = f"{column}: " if column else ""
        yield f"{where}{problem} {mend}".strip()


def _with_reason(line: RefusedLine) -> str:
    (text,) = line.cells
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict):
        data = {AS_IT_WAS: text}
    return json.dumps({**data, REASON_COLUMN: reasons_in_words(line)}, ensure_ascii=False)
