"""Connector faces of a sheet: read from their cells, and held against the connections."""

import re
from collections.abc import Iterator

from circuits.sheet.errors import Flaw
from circuits.sheet.kinds import nearest
from circuits.sheet.lines import Line, Refused
from circuits.sheet.model import Cavity, FaceEntry, FaceSide, Sheet
from circuits.sheet.plain_words import built

MOST_ROWS, MOST_COLUMNS = 12, 40
EMPTY = "-"
_SIZE = re.compile(r"(\d{1,2})x(\d{1,2})")
_EXAMPLE = "Write 'X12  wire  2x3  plug at the relay  | 1 K85, 2 -, 3 K87, 4 K30, -, 5 K86'."


def face_values(line: Line) -> dict[str, object]:
    """Return what a line of the text form says of a connector's face.

    Raises
    ------
    Refused
        It cannot be read.
    """
    words = line.words
    if len(words) < 3 or not line.details:
        raise Refused(
            "a face is written: connector, side, rows x columns, words, and its cavities behind a"
            " bar.",
            _EXAMPLE,
            words[0],
        )
    sides = [side.value for side in FaceSide]
    if words[1] not in sides:
        raise Refused(
            f"'{words[1]}' is no side of a connector.",
            "Write wire (seen from where the wires go in) or mating (from the other half).",
            words[1],
        )
    size = _SIZE.fullmatch(words[2])
    if size is None:
        raise Refused(
            f"'{words[2]}' is no size.", "Write rows x columns without a space: 2x3.", words[2]
        )
    return {
        "name": words[0],
        "side": words[1],
        "rows": int(size[1]),
        "columns": int(size[2]),
        "words": line.after(3),
        "cavities": tuple(_cavity(item.strip()) for item in line.details.split(",")),
    }


def _cavity(text: str) -> Cavity:
    if text == EMPTY:
        return Cavity()
    number, *rest = text.split()[:3] or [""]
    if len(rest) != 1:
        raise Refused(
            f"'{text}' is no cavity." if text else "there is nothing between two commas.",
            "Write its number and connection, '4 K30'; '4 -' where no wire goes in, '-' where there"
            " is no cavity.",
            text,
        )
    return built(Cavity, number=number, node="" if rest[0] == EMPTY else rest[0])


def face_words(face: FaceEntry) -> tuple[tuple[str, str, str], str, str]:
    """Return a face as the text form has it: its cells, its words and its cavities."""
    cavities = ", ".join(
        f"{cavity.number} {cavity.node or EMPTY}" if cavity.number else EMPTY
        for cavity in face.cavities
    )
    return (face.name, face.side, f"{face.rows}x{face.columns}"), face.words, cavities


def face_flaws(sheet: Sheet) -> Iterator[Flaw]:
    """Yield what a face says that its own size or the sheet's connections contradict."""
    nodes = [connection.node for connection in sheet.connections]
    for index, face in enumerate(sheet.faces):
        for problem, mend, at in _problems(face, nodes):
            yield Flaw(subject=face.name, problem=problem, mend=mend, entry=("faces", index), at=at)


def _problems(face: FaceEntry, nodes: list[str]) -> Iterator[tuple[str, str, str]]:
    size = f"{face.rows}x{face.columns}"
    if not (1 <= face.rows <= MOST_ROWS and 1 <= face.columns <= MOST_COLUMNS):
        yield (
            f"a face of {size} is none that we can draw.",
            f"It has 1 to {MOST_ROWS} rows and 1 to {MOST_COLUMNS} columns.",
            size,
        )
    elif len(face.cavities) != face.rows * face.columns:
        yield (
            f"{len(face.cavities)} cavities are named, and {size} has"
            f" {face.rows * face.columns} spots.",
            "Name them row by row from the left; '-' stands where there is no cavity.",
            size,
        )
    numbers = [cavity.number for cavity in face.cavities if cavity.number]
    for number in sorted({each for each in numbers if numbers.count(each) > 1}):
        yield f"cavity {number} is named twice.", "Keep one of the two.", number
    for cavity in face.cavities:
        if cavity.node and cavity.node not in nodes:
            yield (
                f"there is no connection '{cavity.node}'.",
                nearest(cavity.node, nodes) or "Add it to [connections], or write '-'.",
                cavity.node,
            )
