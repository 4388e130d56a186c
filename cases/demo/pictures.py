"""Pictures of parts for the demo, drawn by our own hand: no photo of a real vehicle travels along.

Each is drawn twice as large as it is kept, so that its edges come out smooth. Spots are where a
lead goes, in fractions of width and height from the upper left.
"""

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from PIL import Image, ImageDraw, ImageFont

PictureName = Literal["pump-plug", "relay-base"]
Point = tuple[float, float]

WIDTH, HEIGHT = 1200, 800
_LARGER = 2
_PANEL, _SHADE = (112, 106, 98), (74, 69, 63)
_HOUSING, _EDGE, _SEAL, _HOLE = "#2b2a29", "#4a4846", "#8a3a24", "#141312"
_METAL, _TYPE = "#b9b4aa", "#e9e4da"


@dataclass(frozen=True, slots=True)
class Picture:
    """A PNG file and the spots on it by what is there."""

    content: bytes
    spots: Mapping[str, Point]


def picture_of(name: PictureName) -> Picture:
    """Return a picture; the same name gives the same bytes."""
    canvas = Image.new("RGB", (WIDTH * _LARGER, HEIGHT * _LARGER), _PANEL)
    pen = ImageDraw.Draw(canvas)
    for row in range(canvas.height):  # light from above
        share = row / canvas.height
        colour = tuple(
            round(top + share * (foot - top)) for top, foot in zip(_PANEL, _SHADE, strict=True)
        )
        pen.line((0, row, canvas.width, row), fill=colour)
    spots = _DRAWN[name](pen)
    written = io.BytesIO()
    canvas.resize((WIDTH, HEIGHT), Image.Resampling.LANCZOS).save(written, "PNG")
    return Picture(
        written.getvalue(), {spot: (x / WIDTH, y / HEIGHT) for spot, (x, y) in spots.items()}
    )


def _pump_plug(pen: ImageDraw.ImageDraw) -> dict[str, Point]:
    """A plug of two ways on the cover of a tank, seen from the side where the wires go in."""
    _disc(pen, (600, 400), 470, "#8d8678")
    _disc(pen, (600, 400), 440, "#7d7669")
    for x, y in ((250, 170), (950, 170), (250, 630), (950, 630)):
        _disc(pen, (x, y), 34, _METAL)
        _disc(pen, (x, y), 16, _EDGE)
    _block(pen, (500, 175, 700, 260), _EDGE)  # the latch
    _block(pen, (300, 240, 900, 560), _HOUSING)
    spots = {"pump +": (430.0, 400.0), "pump -": (770.0, 400.0)}
    for at, wire in zip(spots.values(), ("#a3312a", "#6b4a2b"), strict=True):
        across, down = at
        _wire(pen, (at, (across, down + 190), (1.5 * across - 300, 800)), wire)
        _disc(pen, at, 74, _SEAL)
        _disc(pen, at, 46, wire)
    _words(pen, (430, 285), "+")
    _words(pen, (770, 285), "-")
    return spots | {"between them": (600.0, 400.0)}


def _relay_base(pen: ImageDraw.ImageDraw) -> dict[str, Point]:
    """A relay's base turned over: four cavities with their numbers, wires going in."""
    _block(pen, (290, 90, 910, 710), _HOUSING)
    _block(pen, (330, 130, 870, 670), _EDGE)
    spots = {
        "30": (600.0, 570.0),
        "85": (430.0, 390.0),
        "86": (770.0, 390.0),
        "87": (600.0, 220.0),
    }
    ends = {"30": (760, 800), "85": (0, 430), "86": (1200, 430), "87": (1200, 120)}
    wires = {"30": "#a3312a", "85": "#5b6e4a", "86": "#3f5f86", "87": "#b58a2d"}
    for number, (x, y) in spots.items():
        _wire(pen, ((x, y), ends[number]), wires[number])
        _block(pen, (x - 62, y - 62, x + 62, y + 62), _HOLE)
        _disc(pen, (x, y), 40, wires[number])
        _words(pen, (x, y - 86), number)
    return spots


_DRAWN: Mapping[PictureName, Callable[[ImageDraw.ImageDraw], dict[str, Point]]] = {
    "pump-plug": _pump_plug,
    "relay-base": _relay_base,
}


def _scaled(*numbers: float) -> list[float]:
    return [number * _LARGER for number in numbers]


def _disc(pen: ImageDraw.ImageDraw, at: Point, radius: float, colour: str) -> None:
    x, y = at
    pen.ellipse(_scaled(x - radius, y - radius, x + radius, y + radius), fill=colour)


def _block(
    pen: ImageDraw.ImageDraw, corners: tuple[float, float, float, float], colour: str
) -> None:
    pen.rounded_rectangle(_scaled(*corners), radius=24 * _LARGER, fill=colour)


def _wire(pen: ImageDraw.ImageDraw, points: tuple[Point, ...], colour: str) -> None:
    """A wire, edged so that it stands out on dark ground."""
    bent = [(x * _LARGER, y * _LARGER) for x, y in points]
    for width, shade in ((60, _HOLE), (52, colour)):
        pen.line(bent, fill=shade, width=width * _LARGER, joint="curve")


def _words(pen: ImageDraw.ImageDraw, at: Point, words: str) -> None:
    font = ImageFont.load_default(size=44 * _LARGER)
    x, y = at
    pen.text((x * _LARGER, y * _LARGER), words, font=font, fill=_TYPE, anchor="mm")
