"""A connector's face as SVG, seen from the wires or from the mating half.

Turning a connector over mirrors its rows left to right; up stays up. Colours stand in attributes,
as in the schematic, and the numbers of the cavities are the names that both sides share.
"""

from dataclasses import dataclass
from html import escape

from circuits.drawing.cells import NAME_SIZE, SMALL_SIZE, text_width
from circuits.drawing.svg import PAPER, SOFT, TYPE
from circuits.drawing.symbols import INK
from circuits.sheet import Cavity, FaceEntry, FaceSide, Sheet

_HEIGHT, _LEAST_WIDTH, _PAD, _HEAD = 46, 46, 12, 26


@dataclass(frozen=True, slots=True, kw_only=True)
class FacePicture:
    """A connector drawn from both sides, the one it was written from first."""

    face: FaceEntry
    sides: tuple[tuple[str, str], ...]


def face_pictures(sheet: Sheet) -> list[FacePicture]:
    """Return every connector face of a sheet with the words and the SVG of each side."""
    return [
        FacePicture(
            face=face,
            sides=tuple(
                (side_words(side), draw_face(face, side))
                for side in sorted(FaceSide, key=lambda side: side is not face.side)
            ),
        )
        for face in sheet.faces
    ]


def side_words(side: FaceSide) -> str:
    """Return from where a face is seen."""
    return "wire side" if side is FaceSide.WIRE else "mating side"


def rows_of(face: FaceEntry, side: FaceSide) -> list[tuple[Cavity, ...]]:
    """Return the cavities row by row, left to right, as they are seen from a side."""
    rows = [
        face.cavities[start : start + face.columns]
        for start in range(0, len(face.cavities), face.columns)
    ]
    return rows if side is face.side else [row[::-1] for row in rows]


def draw_face(face: FaceEntry, side: FaceSide) -> str:
    """Return the SVG of a connector's face as it is seen from a side."""
    rows = rows_of(face, side)
    width = max(
        _LEAST_WIDTH,
        *(round(text_width(cavity.node, SMALL_SIZE)) + 10 for cavity in face.cavities),
    )
    title = f"{face.name}, seen from the {side_words(side)}"
    across = max(
        face.columns * width + 2 * _PAD, round(text_width(title, NAME_SIZE)) + 2 * _PAD + 8
    )
    left = (across - face.columns * width) / 2
    down = face.rows * _HEIGHT + _HEAD + 2 * _PAD
    drawn = "".join(
        _cavity(cavity, left + at * width, _HEAD + _PAD + row * _HEIGHT, width)
        for row, cavities in enumerate(rows)
        for at, cavity in enumerate(cavities)
        if cavity.number
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="schematic face" width="{across}"'
        f' height="{down}" viewBox="0 0 {across} {down}" font-family="{TYPE}" role="img"'
        f' aria-label="{escape(title)}">'
        f'<rect class="d-paper" width="{across}" height="{down}" fill="{PAPER}"/>'
        f'<text class="d-name" x="{_PAD}" y="18" font-size="{NAME_SIZE}" font-weight="700"'
        f' fill="{INK}">{escape(title)}</text>'
        f'<rect class="d-ink" x="{left - 4}" y="{_HEAD + _PAD - 4}"'
        f' width="{face.columns * width + 8}" height="{face.rows * _HEIGHT + 8}" rx="7"'
        f' fill="none" stroke="{INK}" stroke-width="1.5"/>{drawn}</svg>'
    )


def _cavity(cavity: Cavity, x: float, y: float, width: float) -> str:
    middle = x + width / 2
    dashes = "" if cavity.node else ' stroke-dasharray="4 3"'
    words = (
        f'<text class="d-words" x="{middle}" y="{y + 36}" font-size="{SMALL_SIZE}"'
        f' text-anchor="middle" fill="{INK}">{escape(cavity.node)}</text>'
        if cavity.node
        else ""
    )
    return (
        f'<rect class="d-frame" x="{x + 3}" y="{y + 3}" width="{width - 6}"'
        f' height="{_HEIGHT - 6}" rx="4" fill="none" stroke="{SOFT}"{dashes}/>'
        f'<text class="d-name" x="{middle}" y="{y + 20}" font-size="{NAME_SIZE}"'
        f' font-weight="700" text-anchor="middle" fill="{INK}">{escape(cavity.number)}</text>'
        f"{words}"
    )
