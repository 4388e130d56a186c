"""What a circuit can begin from: an empty sheet, a shape of circuit, or a circuit that is there."""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from circuits.editor.splitting import split_text
from circuits.editor.table import Row, Section, Table
from circuits.editor.writing import write_table
from circuits.sheet import Sheet, read_text

FOLDER = Path(__file__).parent / "starts"

#: What an empty sheet has: the words of the vehicle, and the sections in their order.
EMPTY_SHEET = """[vehicle]
key:
title:
system:
volts:    12 V
zero:     BN
body:     CH
plus:     BP
drawn by: us

[connections]
BP  post    battery + post
BN  post    battery - post
CH  ground  body
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A shape of circuit to begin from: the name of its file, its words, its text."""

    name: str
    title: str
    system: str
    parts: int
    text: str


@cache
def all_starts() -> tuple[Start, ...]:
    """Return every shape of circuit that comes along, by title."""
    starts = (_start(path) for path in FOLDER.glob("*.txt"))
    return tuple(sorted(starts, key=lambda start: start.title))


def start_named(name: str) -> Start | None:
    """Return the shape with this name, if there is one."""
    return next((start for start in all_starts() if start.name == name), None)


def _start(path: Path) -> Start:
    text = path.read_text(encoding="utf-8")
    sheet = read_text(text)
    return Start(
        name=path.stem,
        title=sheet.vehicle.title,
        system=sheet.vehicle.system,
        parts=len(sheet.parts),
        text=text,
    )


def renamed(text: str, key: str) -> str:
    """Return a text under another key, and otherwise as it stands."""
    return _with_words(text, {"key": key})


def copied_from(text: str, sheet: Sheet, *, key: str, source: str) -> str:
    """Return a circuit's text for another vehicle: its own vehicle taken out, its source named."""
    origin = " ".join(
        filter(None, [source, sheet.vehicle.make, sheet.vehicle.model, sheet.vehicle.engine])
    )
    # What the sheet's words may not hold is left out of them.
    origin = re.sub(r"[|#]", "", origin)
    drawing = f"copied from {origin}; not yet checked on this vehicle"
    return _with_words(
        text, {"key": key, "make": "", "model": "", "engine": "", "drawing": drawing[:300]}
    )


def title_of(text: str) -> str:
    """Return the title that a text gives itself, or an empty one."""
    found = re.search(r"^[ \t]*title[ \t]*:[ \t]*(.*)$", text, re.MULTILINE | re.IGNORECASE)
    return found[1].strip() if found else ""


def _with_words(text: str, words: dict[str, str]) -> str:
    table = split_text(text)
    sections = [
        _with_rows(section, words) if section.name == "vehicle" else section
        for section in table.sections
    ]
    return write_table(Table(sections=tuple(sections))).text


def _with_rows(section: Section, words: dict[str, str]) -> Section:
    rows = [_with_word(row, words) for row in section.rows]
    missing = set(words) - {row.cells.get("word", "") for row in rows}
    rows += [Row(cells={"word": word, "text": words[word]}) for word in words if word in missing]
    return section.model_copy(update={"rows": tuple(rows)})


def _with_word(row: Row, words: dict[str, str]) -> Row:
    word = row.cells.get("word", "")
    if row.whole or word not in words:
        return row
    return row.model_copy(update={"cells": {**row.cells, "text": words[word]}, "line": ""})
