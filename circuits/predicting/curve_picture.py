"""Draw severity curves as SVG: a panel for each place, a line for each phase.

The same picture stands in a page and in a file; in a file it brings its style along. Text is text,
title and description say for ears what the lines say for eyes, and no line is told from another by
its colour alone.
"""

import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from xml.etree import ElementTree

import numpy as np

import circuits
from circuits.engine import Fault, Prediction
from circuits.predicting.curves import Curve
from circuits.predicting.severities import SeverityScale
from circuits.predicting.tables import PlaceLine, Shown
from circuits.sheet import PhaseEntry, PlaceEntry
from circuits.units import base_units_in, format_quantity

STYLE: Final = Path(circuits.__file__).parent / "static" / "circuits" / "curve.css"
WIDTH = 360
PLOT_HEIGHT = 190.0
#: Above the plot: a row of the heading, then the badges and the severity looked at.
HEAD_ROW, OVER_PLOT = 19.0, 46.0
LEFT, RIGHT = 50.0, 352.0
ROW = 19.0
#: Where *healthy* and the end stand beside the logarithmic axis.
HEALTHY_X, SCALE_FROM, SCALE_TO, END_X = 64.0, 88.0, 318.0, 338.0
LAST_NUMBER_X = 330.0
SETS_OF_LINES = 5
LEAST_BAND = 1.6
LETTERS_IN_A_ROW, LETTERS_IN_A_HEAD = 39, 36
MOST_TURNS = 9
MOST_TICKS = 6
BADGE_ROOM = 16.0
#: The axis leaves out the decades in which nothing moves by more than this share of all it moves.
STILL = 0.01
LEAST_DECADES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Here:
    """The severity that is looked at, and what the place reads there in each phase."""

    severity: float
    readings: Mapping[str, Prediction]

    @classmethod
    def of(cls, line: PlaceLine, fault: Fault) -> "Here":
        """Return what a line of a table says of its fault."""
        readings = {cell.phase: cell.faulty.prediction for cell in line.cells if cell.faulty}
        return cls(severity=fault.severity, readings=readings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One place: its curves by phase, and the severity looked at if there is one."""

    place: PlaceEntry
    phases: tuple[PhaseEntry, ...]
    curves: tuple[Curve, ...]
    here: Here | None = None


def draw_curves(
    scale: SeverityScale, panels: Sequence[Panel], *, name: str = "curve", in_page: bool = False
) -> str:
    """Return the curves as SVG; `name` makes its ids, `in_page` leaves out style and ground."""
    pens = []
    top = 0.0
    window = _window(scale, panels)
    for panel in panels:
        pen = _Pen(scale, panel, window, top)
        pen.draw()
        pens.append(pen)
        top = pen.bottom
    svg = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "class": "curve",
            "viewBox": f"0 0 {WIDTH} {_number(top)}",
            "role": "img",
            "aria-labelledby": f"{name}-title {name}-words",
        },
    )
    if not in_page:
        svg.set("width", str(2 * WIDTH))
        svg.set("height", _number(2 * top))
    title = ElementTree.SubElement(svg, "title", {"id": f"{name}-title"})
    title.text = f"What a meter shows as it gets worse: {scale.suspect.describe()}"
    words = ElementTree.SubElement(svg, "desc", {"id": f"{name}-words"})
    words.text = " ".join(sentence for pen in pens for sentence in pen.sentences())
    if not in_page:
        ElementTree.SubElement(svg, "style").text = STYLE.read_text(encoding="utf-8")
        whole = {"width": str(WIDTH), "height": _number(top), "class": "ground"}
        ElementTree.SubElement(svg, "rect", whole)
    for pen in pens:
        svg.append(pen.group)
    return ElementTree.tostring(svg, encoding="unicode")


@dataclass(frozen=True, slots=True)
class _ToldTurn:
    severity: float
    words: str


class _Pen:
    """Draws one panel; `bottom` is where the next may begin."""

    def __init__(
        self, scale: SeverityScale, panel: Panel, window: tuple[int, int], top: float
    ) -> None:
        self.scale = scale
        self.window = window
        self.panel = panel
        self.unit = panel.place.unit
        self.group = ElementTree.Element("g", {"transform": f"translate(0 {_number(top)})"})
        self.top = top
        self.bottom = top
        head = f"{panel.place.key}  {panel.place.label}"
        self.heads = textwrap.wrap(head, LETTERS_IN_A_HEAD) or [panel.place.key]
        self.plot_top = HEAD_ROW * len(self.heads) + OVER_PLOT
        self.plot_bottom = self.plot_top + PLOT_HEIGHT
        self.words = {phase.key: phase.words for phase in panel.phases}
        self.ticks = _ticks(*_span(panel))
        self.turns = _told(scale, panel)

    def draw(self) -> None:
        self._heads()
        self._grid()
        for number, curve in enumerate(self.panel.curves):
            self._healthy_band(curve, number)
        self._turns()
        for number, curve in enumerate(self.panel.curves):
            self._line(curve, number)
        self._here()
        self.bottom = self.top + self._legend(self.plot_bottom + 62)

    # ------------------------------------------------------------------------------ places

    def x(self, severity: float) -> float:
        if severity == self.scale.healthy:
            return HEALTHY_X
        if severity == self.scale.end and self.scale.has_end:
            return END_X
        mild, bad = self.window
        # What the axis leaves out lies in its gaps.
        way = (np.log10(max(severity, 1e-30)) - mild) / (bad - mild)
        return SCALE_FROM + min(max(float(way), -0.04), 1.04) * (self._scale_to - SCALE_FROM)

    @property
    def _scale_to(self) -> float:
        return SCALE_TO if self.scale.has_end else LAST_NUMBER_X

    def y(self, value: float) -> float:
        low, high = self.ticks[0], self.ticks[-1]
        shown = value / base_units_in(self.unit)
        return self.plot_top + PLOT_HEIGHT * (high - shown) / (high - low)

    # ------------------------------------------------------------------------------- parts

    def _put(self, tag: str, text: str = "", **attributes: str | float) -> ElementTree.Element:
        named = {
            key.rstrip("_").replace("_", "-"): value if isinstance(value, str) else _number(value)
            for key, value in attributes.items()
        }
        element = ElementTree.SubElement(self.group, tag, named)
        element.text = text or None
        return element

    def _heads(self) -> None:
        for row, head in enumerate(self.heads, start=1):
            self._put("text", head, x=8, y=3 + HEAD_ROW * row, class_="head")
        self._put("text", self.unit, x=LEFT - 6, y=self.plot_top - 12, text_anchor="end")

    def _grid(self) -> None:
        bottom = self.plot_bottom
        for tick in self.ticks:
            y = self.y(tick * base_units_in(self.unit))
            self._put("line", x1=LEFT, x2=RIGHT, y1=y, y2=y, class_="grid")
            self._put("text", _tick_words(tick), x=LEFT - 6, y=y + 5, text_anchor="end")
        # The axis is broken where healthy and the end stand beside the numbers.
        self._put(
            "path",
            d=f"M{LEFT} {bottom}H{HEALTHY_X + 7}M{SCALE_FROM - 7} {bottom}H{self._scale_to + 7}"
            + (f"M{END_X - 7} {bottom}H{RIGHT}" if self.scale.has_end else ""),
            class_="axis",
        )
        self._put("text", "healthy", x=HEALTHY_X, y=bottom + 37, text_anchor="middle")
        if self.scale.has_end:
            end = "dead short" if self.scale.suspect.is_path else self.scale.end_word
            self._put("text", end, x=RIGHT, y=bottom + 37, text_anchor="end")
        for severity, words in self._decades():
            x = self.x(severity)
            self._put("line", x1=x, x2=x, y1=bottom, y2=bottom + (6 if words else 3), class_="axis")
            if words:
                self._put("text", words, x=x, y=bottom + 19, text_anchor="middle")
        for x in (HEALTHY_X, *((END_X,) if self.scale.has_end else ())):
            self._put("line", x1=x, x2=x, y1=bottom, y2=bottom + 6, class_="axis")

    def _decades(self) -> Iterator[tuple[float, str]]:
        low, high = sorted(self.window)
        decades = high - low
        each = 1 if decades <= 3 else 2 if decades <= 7 else 3
        for exponent in range(low, high + 1):
            severity = 10.0**exponent
            words = _round_words(severity, self.scale.suspect.unit)
            yield severity, words if exponent % each == 0 else ""

    def _healthy_band(self, curve: Curve, number: int) -> None:
        high, low = self.y(curve.healthy.high), self.y(curve.healthy.low)
        high, low = max(high, self.plot_top), min(low, self.plot_bottom)
        self._put(
            "rect",
            x=LEFT,
            width=RIGHT - LEFT,
            y=high,
            height=max(low - high, LEAST_BAND),
            class_=f"band f{_set(number)}",
        )

    def _turns(self) -> None:
        """Draw a dotted line for each change of state, and its badge, moved aside if need be."""
        shown = self.turns[:MOST_TURNS]
        places = [self.x(turn.severity) for turn in shown]
        y, seats = self.plot_top - 11, _spread(places, BADGE_ROOM, RIGHT)
        for number, (x, seat) in enumerate(zip(places, seats, strict=True), start=1):
            way = f"M{_number(seat)} {_number(y)}L{_number(x)} {_number(self.plot_top)}"
            self._put("path", d=f"{way}V{_number(self.plot_bottom)}", class_="turn")
            self._badge(seat, y, number)

    def _badge(self, x: float, y: float, number: int) -> None:
        self._put("circle", cx=x, cy=y, r=7.5, class_="badge")
        self._put("text", str(number), x=x, y=y + 4, text_anchor="middle", class_="badge-number")

    def _line(self, curve: Curve, number: int) -> None:
        """Draw the curve in runs: solid knowledge, a loose end, or a band where it chatters."""
        healthy = curve.healthy
        x = [HEALTHY_X, *map(self.x, curve.severities.tolist())]
        kinds = [
            "chatter" if chatters else "loose" if floating else "held"
            for chatters, floating in zip(
                [healthy.chatters, *curve.chatters.tolist()],
                [healthy.floating, *curve.floating.tolist()],
                strict=True,
            )
        ]
        middle = [self.y(value) for value in (healthy.value, *curve.values.tolist())]
        low = [self.y(value) for value in (healthy.low, *curve.low.tolist())]
        high = [self.y(value) for value in (healthy.high, *curve.high.tolist())]
        pen = _set(number)
        for kind, begin, end in _runs(kinds):
            here = slice(begin, end)
            if kind == "chatter":
                edge = [*zip(x[here], high[here], strict=True)]
                edge += reversed([*zip(x[here], low[here], strict=True)])
                self._put("polygon", points=_points(edge), class_=f"chatter f{pen}")
                continue
            # A run goes on to where the next begins, unless that is a band.
            reach = end + 1 if end < len(kinds) and kinds[end] != "chatter" else end
            points = [*zip(x[begin:reach], middle[begin:reach], strict=True)]
            loose = " loose" if kind == "loose" else ""
            if len(points) > 1:
                self._put("polyline", points=_points(points), class_=f"line s{pen}{loose}")
            if kind == "loose":
                for at in {begin, end - 1}:
                    self._put("circle", cx=x[at], cy=middle[at], r=3.2, class_=f"hollow s{pen}")

    def _here(self) -> None:
        here = self.panel.here
        if here is None:
            return
        x = self.x(here.severity)
        self._put("line", x1=x, x2=x, y1=self.plot_top, y2=self.plot_bottom, class_="here")
        anchor = "start" if x < 120 else "end" if x > 290 else "middle"
        words = self.scale.words(here.severity)
        self._put("text", words, x=x, y=self.plot_top - 25, text_anchor=anchor, class_="figure")
        for number, curve in enumerate(self.panel.curves):
            shown = here.readings[curve.phase]
            y = self.y(shown.value)
            self._put("circle", cx=x, cy=y, r=4.5, class_=f"dot f{_set(number)}")

    # ------------------------------------------------------------------------------ legend

    def _legend(self, y: float) -> float:
        for number, curve in enumerate(self.panel.curves):
            pen = _set(number)
            self._put("rect", x=8, width=34, y=y - 11, height=13, class_=f"band f{pen}")
            self._put("line", x1=8, x2=42, y1=y - 4.5, y2=y - 4.5, class_=f"line s{pen}")
            y = self._rows(self._phase_words(curve), y, "figure")
        for number, turn in enumerate(self.turns[:MOST_TURNS], start=1):
            self._badge(25, y - 4.5, number)
            y = self._rows(turn.words, y, "")
        if len(self.turns) > MOST_TURNS:
            y = self._rows(f"and {len(self.turns) - MOST_TURNS} further changes of state", y, "")
        shaded = "Shaded: healthy, with tolerances."
        if any(curve.chatters.any() for curve in self.panel.curves):
            shaded += " Dense: chatters."
        if any(curve.floating.any() or curve.healthy.floating for curve in self.panel.curves):
            shaded += " Hollow: floats."
        return self._rows(shaded, y, "")

    def _rows(self, words: str, y: float, class_: str) -> float:
        for row in textwrap.wrap(words, LETTERS_IN_A_ROW):
            element = self._put("text", row, x=50, y=y)
            if class_:
                element.set("class", class_)
            y += ROW
        return y

    def _phase_words(self, curve: Curve) -> str:
        healthy = _reading_words(curve.healthy, self.unit)
        words = f"{self.words[curve.phase]}: "
        if self.panel.here is None:
            return f"{words}healthy {healthy}"
        return f"{words}{_reading_words(self.panel.here.readings[curve.phase], self.unit)}" + (
            f", healthy {healthy}"
        )

    # --------------------------------------------------------------------------- for ears

    def sentences(self) -> Iterator[str]:
        """Yield the panel in words: each phase from healthy to the end, and what changes."""
        place = self.panel.place
        yield f"{place.key}, {place.label}."
        if self.panel.here is not None:
            yield f"At {self.scale.words(self.panel.here.severity)}:"
        for curve in self.panel.curves:
            last = _reading_words(_prediction(curve, -1), self.unit)
            worst = self.scale.words(self.scale.end)
            yield f"{self._phase_words(curve)}, {worst} {last}."
        for turn in self.turns:
            yield f"{turn.words}."


# ----------------------------------------------------------------------------------- helpers


def _set(number: int) -> int:
    return number % SETS_OF_LINES + 1


def _prediction(curve: Curve, at: int) -> Prediction:
    return Prediction(
        value=float(curve.values[at]),
        low=float(curve.low[at]),
        high=float(curve.high[at]),
        floating=bool(curve.floating[at]),
        chatters=bool(curve.chatters[at]),
    )


def _reading_words(prediction: Prediction, unit: str) -> str:
    return Shown(prediction=prediction, unit=unit).words


def _told(scale: SeverityScale, panel: Panel) -> list[_ToldTurn]:
    """Return the changes of state, mild to bad; what turns in one go is one of them."""
    phases: dict[tuple[float, str], list[str]] = {}
    for curve in panel.curves:
        for turn in curve.turns:
            phases.setdefault((turn.severity, turn.words), []).append(curve.phase)
    together: dict[float, dict[tuple[str, ...], list[str]]] = {}
    for (severity, words), keys in phases.items():
        together.setdefault(severity, {}).setdefault(tuple(keys), []).append(words)
    by_phase = {phase.key: _short(phase.words) for phase in panel.phases}
    told = []
    for severity, groups in together.items():
        parts = []
        for in_phases, turns in groups.items():
            everywhere = len(in_phases) == len(panel.curves) > 1
            where = "all phases" if everywhere else ", ".join(by_phase[key] for key in in_phases)
            parts.append(f"{', '.join(turns)} ({where})")
        told.append(_ToldTurn(severity, f"{scale.words(severity)}: {'; '.join(parts)}"))
    return sorted(told, key=lambda turn: turn.severity, reverse=scale.suspect.is_path)


def _short(words: str) -> str:
    """Return the words of a phase without what they say in brackets."""
    return re.sub(r" *\(.*", "", words) or words


def _window(scale: SeverityScale, panels: Sequence[Panel]) -> tuple[int, int]:
    """Return the decades in which something moves, as powers of ten of the mild and bad bound."""
    told: list[float] = []
    for panel in panels:
        low, high = _span(panel)
        least = STILL * (high - low) * base_units_in(panel.place.unit)
        for curve in panel.curves:
            numbers = slice(None, -1) if scale.has_end else slice(None)
            severities, values = curve.severities[numbers], curve.values[numbers]
            moved = np.abs(values - values[0]) > least
            moving = np.abs(values - values[-1]) > least
            told += [*severities[moved][:1].tolist(), *severities[moving][-1:].tolist()]
            told += [turn.severity for turn in curve.turns if turn.severity in severities]
    ends = sorted((scale.mildest, scale.worst))
    told = told or ends
    low_exponent = int(np.floor(np.log10(min(told)) + 1e-9))
    high_exponent = int(np.ceil(np.log10(max(told)) - 1e-9))
    lowest, highest = int(np.floor(np.log10(ends[0]))), int(np.ceil(np.log10(ends[1])))
    wanted = min(LEAST_DECADES, highest - lowest)
    low_exponent = max(min(low_exponent, high_exponent - wanted), lowest)
    high_exponent = max(high_exponent, low_exponent + wanted)
    window = low_exponent, high_exponent
    return window[::-1] if scale.suspect.is_path else window


def _spread(places: Sequence[float], room: float, last: float) -> list[float]:
    """Return places moved apart until each has room, none beyond the last."""
    seats: list[float] = []
    for place in places:
        seats.append(max(place, seats[-1] + room) if seats else place)
    for number in range(len(seats) - 1, -1, -1):
        most = seats[number + 1] - room if number + 1 < len(seats) else last
        seats[number] = min(seats[number], most)
    return seats


def _span(panel: Panel) -> tuple[float, float]:
    """Return the least and the largest value that the panel has to show, in its unit."""
    values: list[float] = []
    for curve in panel.curves:
        healthy = curve.healthy
        values += (healthy.value, healthy.low, healthy.high, *curve.values.tolist())
        values += (*curve.low[curve.chatters].tolist(), *curve.high[curve.chatters].tolist())
    if panel.here is not None:
        values += (reading.value for reading in panel.here.readings.values())
    per_unit = base_units_in(panel.place.unit)
    return min(values, default=0.0) / per_unit, max(values, default=0.0) / per_unit


def _ticks(low: float, high: float) -> list[float]:
    """Return round numbers that enclose a span, at most a handful; the first and last bound it.

    >>> from circuits.predicting.curve_picture import _ticks
    >>> _ticks(0.0, 12.4), _ticks(0.0, 0.0)
    ([0.0, 5.0, 10.0, 15.0], [0.0, 0.2, 0.4, 0.6, 0.8, 1.0])
    """
    if high - low < 1e-9:
        low, high = min(low, 0.0), max(high, low + 1.0)
    rough = (high - low) / (MOST_TICKS - 1)
    magnitude = 10.0 ** np.floor(np.log10(rough))
    step = next(factor * magnitude for factor in (1, 2, 5, 10) if factor * magnitude >= rough)
    first, last = np.floor(low / step + 0.1), np.ceil(high / step - 0.05)
    return [float(round(count * step, 12)) for count in np.arange(first, last + 1)]


def _tick_words(tick: float) -> str:
    return f"{tick:g}".replace("-", "−")


def _round_words(value: float, unit: str) -> str:
    """Return a power of ten without the zeros that a reading would carry: `1 kOhm`."""
    return re.sub(r"\.0+(?= )", "", format_quantity(value, unit))


def _runs(kinds: Sequence[str]) -> Iterator[tuple[str, int, int]]:
    """Yield stretches of the same kind, with where they begin and end."""
    begin = 0
    for number in range(1, len(kinds) + 1):
        if number == len(kinds) or kinds[number] != kinds[begin]:
            yield kinds[begin], begin, number
            begin = number


def _points(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{_number(x)},{_number(y)}" for x, y in points)


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
