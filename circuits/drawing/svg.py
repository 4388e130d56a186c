"""A layout as SVG: the same text for the page, for paper and for programs.

Colours stand in attributes, so the picture is whole wherever it goes; a page may give the classes
colours of its own, for the dark. Every part and connection carries its name (`data-part`,
`data-net`).
"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from html import escape

from circuits.drawing.cells import (
    HALF,
    NAME_SIZE,
    PIN_SIZE,
    SMALL_SIZE,
    Cell,
    Column,
    NetLabel,
    text_width,
)
from circuits.drawing.layout import MARGIN
from circuits.drawing.packing import Layout, Placed
from circuits.drawing.state import LOOSE_BAND, Band, PhaseState
from circuits.drawing.stripes import Line, Marks, Stripes
from circuits.drawing.symbols import CONTACTS, INK, ground_sign, symbol_of

SOFT, PAPER, COPPER, FAULT = "#5b5146", "#fffdf8", "#94461a", "#96231d"
TYPE = "DejaVu Sans, Verdana, Segoe UI, sans-serif"
_PLAIN = Band(number=0, words="", least_share=0, colour=INK, width=1.5, dashes="")
_LINE_STEP = 12
#: From the axis of a narrow symbol to its words; 18 from that of any other.
_WORDS_FROM_AXIS = {"wire": 8, "splice": 8, "ground": 8, "diode": 14, "connector": 13}


def write_svg(
    layout: Layout,
    *,
    title: str,
    resting: dict[str, bool],
    breaks: frozenset[str],
    state: PhaseState | None,
    marked: Marks | None,
) -> str:
    """Return the drawing; `resting` says which contacts are made where no phase is asked for."""
    return _Writer(layout, resting, breaks, state, marked).text(title)


class _Writer:
    """Writes one drawing."""

    def __init__(
        self,
        layout: Layout,
        resting: dict[str, bool],
        breaks: frozenset[str],
        state: PhaseState | None,
        marked: Marks | None,
    ) -> None:
        self.layout = layout
        self.stripes = Stripes(marked)
        self.made = state.made if state is not None else resting
        self.breaks = breaks
        self.state = state
        self.pins = Counter(pin.net for placed in layout.placed for pin in placed.cell.pins)
        self.wires: dict[str, list[Line]] = defaultdict(list)
        self.arrows: list[str] = []

    def text(self, title: str) -> str:
        width, height = self.layout.width + 2 * MARGIN, self.layout.height + 2 * MARGIN
        for part in self.layout.segments:
            self._wire(part.net, part.start, part.end)
        cells = [self._cell(placed) for placed in self.layout.placed]
        words = f"{title}, phase {self.state.phase}" if self.state else title
        return "".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
                f'width="{width}" height="{height}" role="img" class="schematic" '
                f'font-family="{TYPE}">',
                f"<title>{escape(words)}</title>",
                f'<rect class="d-paper" width="{width}" height="{height}" fill="{PAPER}"/>',
                f'<g transform="translate({MARGIN} {MARGIN})">',
                *self._wire_paths(),
                *self.stripes.along_wires(self.wires),
                *self._joints(),
                *cells,
                *self.arrows,
                "</g></svg>",
            ]
        )

    # ------------------------------------------------------------------------------- wires

    def _band(self, net: str) -> Band:
        return self.state.band(net) if self.state is not None else _PLAIN

    def _wire(self, net: str, start: tuple[float, float], end: tuple[float, float]) -> None:
        if start != end:
            self.wires[net].append((start, end))

    def _wire_paths(self) -> Iterator[str]:
        # The cells put their stubs here as well, so this runs after them.
        for net, lines in self.wires.items():
            reach = "".join(f"M{x:g} {y:g}L{right:g} {low:g}" for (x, y), (right, low) in lines)
            band = self._band(net)
            dashes = f' stroke-dasharray="{band.dashes}"' if band.dashes else ""
            yield (
                f'<path class="d-wire {self._band_class(net)}" data-net="{escape(net)}" '
                f'd="{reach}" fill="none" stroke="{band.colour}" '
                f'stroke-width="{band.width:g}"{dashes}/>'
            )

    def _band_class(self, net: str) -> str:
        if self.state is None:
            return "d-plain"
        band = self._band(net)
        return "d-loose" if band is LOOSE_BAND else f"d-band-{band.number}"

    def _joints(self) -> Iterator[str]:
        for net, (x, y) in self.layout.joints:
            yield (
                f'<circle class="d-joint {self._band_class(net)}" cx="{x}" cy="{y}" r="3.2" '
                f'fill="{self._band(net).colour}"/>'
            )

    # ------------------------------------------------------------------------------- cells

    def _cell(self, placed: Placed) -> str:
        cell = placed.cell
        if cell.terminal is not None:
            return self._terminal(placed, cell.terminal)
        pieces = []
        if cell.frame is not None:
            pieces.append(self._frame(placed, cell.frame))
        before_top = before_bottom = None
        for axis, column in zip(cell.axes(), cell.columns, strict=True):
            top_shared = cell.shares and before_top is not None and before_top[1] == column.top
            bottom_shared = (
                cell.shares and before_bottom is not None and before_bottom[1] == column.bottom
            )
            pieces.append(
                self._column(
                    placed,
                    axis,
                    column,
                    top_from=before_top[0] if top_shared and before_top else None,
                    bottom_from=before_bottom[0] if bottom_shared and before_bottom else None,
                )
            )
            before_top, before_bottom = (axis, column.top), (axis, column.bottom)
        return "".join(pieces)

    def _terminal(self, placed: Placed, label: NetLabel) -> str:
        cell = placed.cell
        axis = placed.x + HALF
        if cell.leads_down:
            mark = placed.y + 10
            self._wire(label.net, (axis, mark), (axis, placed.y + cell.height))
        else:
            mark = placed.y + cell.height - label.height - (10 if cell.terminal_words else 0)
            self._wire(label.net, (axis, placed.y), (axis, mark))
        words = [self._label(label, axis, mark)]
        if cell.terminal_words:
            below = mark + 4 + (2 if label.tags else 1) * _LINE_STEP
            words.append(_text(axis + 10, below, cell.terminal_words, SMALL_SIZE, "soft", SOFT))
        return "".join(words)

    def _frame(self, placed: Placed, title: str) -> str:
        cell = placed.cell
        top = placed.y + cell.above
        height = cell.frame_room + cell.body + cell.frame_foot
        right = placed.x + cell.width
        return (
            f'<rect class="d-frame" x="{placed.x + 2}" y="{top}" width="{cell.width - 4}" '
            f'height="{height}" rx="3" fill="none" stroke="{SOFT}" stroke-width="1" '
            f'stroke-dasharray="{"" if cell.shares else "5 3"}"/>'
            + _text(right - 8, top + 14, title, NAME_SIZE, "name", INK, anchor="end")
            + self._link(placed)
        )

    def _link(self, placed: Placed) -> str:
        """Draw the dashed line from a winding to the contacts that it moves."""
        cell = placed.cell
        if cell.columns[0].kind != "coil":
            return ""
        y = placed.y + cell.above + cell.frame_room + cell.body / 2 + 2
        axes = cell.axes()
        last = cell.columns[-1].part
        reach = -1 if self.made.get(last) else -6
        dashed = f"M{placed.x + axes[0] + 14} {y:g}H{placed.x + axes[-1] + reach}"
        return (
            f'<path class="d-link" d="{dashed}" fill="none" stroke="{SOFT}" stroke-width="1" '
            f'stroke-dasharray="4 3"/>'
        )

    def _column(
        self,
        placed: Placed,
        axis: int,
        column: Column,
        *,
        top_from: int | None,
        bottom_from: int | None,
    ) -> str:
        cell = placed.cell
        x = placed.x + axis
        symbol = symbol_of(
            column.kind,
            column.symbol_height,
            is_made=self.made.get(column.part, False),
            breaks=column.part in self.breaks,
        )
        own = column.symbol_height
        body_top = placed.y + cell.above + cell.frame_room
        if not cell.is_framed:
            body_top = placed.y + cell.above + (cell.body - own) // 2
        upper, lower = body_top + symbol.upper_end, body_top + symbol.lower_start
        self.stripes.end(column.part, column.top, (x, upper))
        self.stripes.end(column.part, column.bottom, (x, lower))
        self._upper_stub(placed, x, column, upper, top_from, body_top)
        foot = self._lower_stub(placed, x, column, lower, bottom_from, body_top + own)
        turned = f' transform="rotate(180 0 {own / 2:g})"' if self._is_turned(column) else ""
        absent = self.state is not None and column.part in self.state.absent
        faded = ' opacity="0.4"' if absent else ""
        inner = [
            self._stripe(column, x, upper, lower, body_top + own / 2),
            f'<g class="d-part" data-part="{escape(column.part)}"{faded}>',
            f'<g transform="translate({x} {body_top})"><g{turned}>{symbol.body}</g></g>',
            self._words(
                column, x, body_top, own, absent=absent, on_link=_lies_on_link(cell, column)
            ),
            self._pin_words(cell, column, x, placed.y),
            self._fault_mark(placed, column, x, body_top, own),
            "</g>",
            foot,
        ]
        if column.third:
            inner.append(self._third(placed, column, x, body_top + own / 2))
        self._arrow(column, x, body_top + own - 3 if column.kind != "wire" else body_top + own / 2)
        return "".join(inner)

    def _stripe(self, column: Column, x: int, upper: float, lower: float, middle: float) -> str:
        ends = {column.top: (float(x), upper), column.bottom: (float(x), lower)}
        if column.third:
            ends[column.third] = self._signal(column, x, middle)
        return self.stripes.along_part(column.part, ends, column.third)

    def _signal(self, column: Column, x: int, middle: float) -> tuple[float, float]:
        """Return where the wire of a third end meets the symbol: at a wiper's tip, or its side."""
        return x - (8 if column.kind == "potentiometer" else 13), middle

    def _is_turned(self, column: Column) -> bool:
        return column.flipped and column.kind in ("battery", "supply", "diode")

    def _upper_stub(
        self,
        placed: Placed,
        x: int,
        column: Column,
        end: float,
        shared_from: int | None,
        body_top: float,
    ) -> None:
        if shared_from is not None:
            bar = body_top - 6
            self._wire(column.top, (placed.x + shared_from, bar), (x, bar))
            self._wire(column.top, (x, bar), (x, end))
            return
        begins_here = column.head or self.pins[column.top] == 1
        start = placed.y + (10 if begins_here else 0)
        self._wire(column.top, (x, start), (x, end))
        if begins_here:
            self.stripes.end(column.part, column.top, (x, start))

    def _lower_stub(
        self,
        placed: Placed,
        x: int,
        column: Column,
        start: float,
        shared_from: int | None,
        body_bottom: float,
    ) -> str:
        cell = placed.cell
        labels = []
        below = placed.y + cell.above + cell.frame_room + cell.body + cell.frame_foot
        if column.top_label is not None:
            labels.append(self._label(column.top_label, x, placed.y + 10))
        if shared_from is not None:
            bar = body_bottom + 6
            self._wire(column.bottom, (placed.x + shared_from, bar), (x, bar))
            self._wire(column.bottom, (x, start), (x, bar))
            return "".join(labels)
        if column.foot:
            self._wire(column.bottom, (x, start), (x, below + 6))
            self.stripes.end(column.part, column.bottom, (x, below + 6))
            labels.append(self._ground(column.bottom, x, below + 6))
            return "".join(labels)
        ends_here = self.pins[column.bottom] == 1
        end = below + 10 if ends_here else placed.y + cell.height
        self._wire(column.bottom, (x, start), (x, end))
        if ends_here:
            self.stripes.end(column.part, column.bottom, (x, end))
        if column.bottom_label is not None:
            labels.append(self._label(column.bottom_label, x, below + 10))
        return "".join(labels)

    def _third(self, placed: Placed, column: Column, x: int, middle: float) -> str:
        """Lead the wiper or signal out to the left, and up or down to its pin."""
        cell = placed.cell
        at = x - column.lead
        ends_here = self.pins[column.third] == 1
        if column.third_is_top:
            mark, end = placed.y + 10, placed.y
        else:
            mark = placed.y + cell.above + cell.frame_room + cell.body + cell.frame_foot + 10
            end = placed.y + cell.height
        signal = self._signal(column, x, middle)
        self.stripes.end(column.part, column.third, signal)
        if ends_here:
            self.stripes.end(column.part, column.third, (at, mark))
        self._wire(column.third, (at, middle), signal)
        self._wire(column.third, (at, middle), (at, mark if ends_here else end))
        tip = f"M{x - 7:g} {middle:g}l-7 -3.5v7z"
        is_wiper = column.kind == "potentiometer"
        arrow = f'<path class="d-ink-fill" d="{tip}" fill="{INK}"/>' if is_wiper else ""
        if column.third_label is None:
            return arrow
        return arrow + self._label(column.third_label, at, mark)

    # ------------------------------------------------------------------------------- words

    def _words(
        self, column: Column, x: int, top: float, own: int, *, absent: bool, on_link: bool
    ) -> str:
        lines = [
            (words, NAME_SIZE if number == 0 else SMALL_SIZE)
            for number, words in enumerate(column.words)
        ]
        if absent:
            lines.append(("(absent)", SMALL_SIZE))
        elif self.state is not None and column.has_amps:
            amps = self.state.flow(column.part)
            if amps:
                lines.append((_amps_words(abs(amps)), SMALL_SIZE))
        left = x + _WORDS_FROM_AXIS.get(column.kind, 18)
        step = _LINE_STEP
        if on_link and len(lines) <= 2:
            # Above and below the dashed line that leads on to the contacts.
            step, middle = 20, 4 if len(lines) == 2 else -6
        else:
            middle = 4
        y = top + own / 2 - (len(lines) - 1) * step / 2 + middle
        return "".join(
            _text(
                left,
                y + number * step,
                words,
                size,
                *(("name", INK) if number == 0 else ("soft", SOFT)),
            )
            for number, (words, size) in enumerate(lines)
        )

    def _pin_words(self, cell: Cell, column: Column, x: int, top: int) -> str:
        upper, lower = column.pin_words
        y = top + cell.above
        bottom = y + cell.frame_room + cell.body + cell.frame_foot
        return (_text(x + 4, y + 32, upper, PIN_SIZE, "soft", SOFT) if upper else "") + (
            _text(x + 4, bottom - 6, lower, PIN_SIZE, "soft", SOFT) if lower else ""
        )

    def _label(self, label: NetLabel, x: float, y: float) -> str:
        net = label.net
        band = self._band(net)
        self.stripes.dot(net, (x, y))
        at = x + 10
        pieces = [
            f'<g class="d-net" data-net="{escape(net)}">',
            f'<circle class="d-mark {self._band_class(net)}" cx="{x:g}" cy="{y:g}" r="3.4" '
            f'fill="{PAPER}" stroke="{band.colour}" stroke-width="1.6"/>',
            _text(at, y + 4, net, NAME_SIZE, "net-name", INK, bold=True),
        ]
        at += text_width(net, NAME_SIZE, bold=True) + 3
        if self.state is not None:
            pieces.append(self._badge(band, self._band_class(net), at, y))
            at += 17
            if label.has_figure:
                pieces.append(_text(at, y + 4, self._figure(net), SMALL_SIZE, "figure", INK))
        if self.state is not None and self.state.fault_at == net:
            pieces.append(_bang(x - 13, y))
        if label.tags:
            pieces.append(_text(x + 10, y + 4 + _LINE_STEP, label.tags, SMALL_SIZE, "tag", COPPER))
        return "".join([*pieces, "</g>"])

    def _badge(self, band: Band, band_class: str, x: float, y: float) -> str:
        word = "–" if band is LOOSE_BAND else str(band.number)
        return (
            f'<rect class="d-badge {band_class}" x="{x:g}" y="{y - 6.5:g}" width="13" height="13" '
            f'rx="2" fill="none" stroke="{band.colour}" stroke-width="1.4"/>'
            + _text(x + 6.5, y + 3.6, word, SMALL_SIZE, "name", INK, anchor="middle")
        )

    def _figure(self, net: str) -> str:
        assert self.state is not None
        volts = self.state.volts.get(net)
        return "floats" if volts is None else f"{volts:z.2f} V".replace("-", "−")

    def _ground(self, net: str, x: float, y: float) -> str:
        shown = _text(x + 14, y + 6, net, NAME_SIZE, "net-name", INK, bold=True)
        if self.state is not None:
            shown += self._badge(
                self._band(net),
                self._band_class(net),
                x + 17 + text_width(net, NAME_SIZE, bold=True),
                y + 2,
            )
        return (
            f'<g class="d-net" data-net="{escape(net)}">'
            f'<g transform="translate({x:g} {y:g})">{ground_sign()}</g>{shown}</g>'
        )

    # ------------------------------------------------------------------------------- marks

    def _arrow(self, column: Column, x: float, y: float) -> None:
        amps = self.state.flow(column.part) if self.state is not None else 0.0
        if not amps or (column.kind in CONTACTS and not self.made.get(column.part, False)):
            return
        down = (amps > 0) != column.flipped
        tip = f"M{x - 4.5:g} {y - 4:g}h9l-4.5 8z" if down else f"M{x - 4.5:g} {y + 4:g}h9l-4.5 -8z"
        self.arrows.append(
            f'<path class="d-arrow" d="{tip}" fill="{INK}" stroke="{PAPER}" stroke-width="0.8"/>'
        )

    def _fault_mark(self, placed: Placed, column: Column, x: int, top: float, own: int) -> str:
        if self.state is None or self.state.fault_at != column.part:
            return ""
        return (
            f'<rect class="d-fault" x="{x - HALF + 1}" y="{top + 1:g}" width="{column.width - 2}" '
            f'height="{own - 2}" rx="4" fill="none" stroke="{FAULT}" stroke-width="2" '
            f'stroke-dasharray="6 3"/>' + _bang(x - 12, top + 8)
        )


def _lies_on_link(cell: Cell, column: Column) -> bool:
    """Tell whether the dashed line from a winding to its contacts goes by this column's words."""
    return cell.columns[0].kind == "coil" and column is not cell.columns[-1]


def _bang(x: float, y: float) -> str:
    return f'<circle class="d-fault-mark" cx="{x:g}" cy="{y:g}" r="6.5" fill="{FAULT}"/>' + _text(
        x, y + 3.8, "!", 10.5, "fault-word", "#ffffff", anchor="middle", bold=True
    )


def _text(
    x: float,
    y: float,
    words: str,
    size: float,
    look: str,
    colour: str,
    *,
    anchor: str = "",
    bold: bool = False,
) -> str:
    more = (f' text-anchor="{anchor}"' if anchor else "") + (' font-weight="600"' if bold else "")
    return (
        f'<text class="d-{look}" x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" '
        f'fill="{colour}"{more}>{escape(words)}</text>'
    )


def _amps_words(amps: float) -> str:
    return f"{amps:.3g} A" if amps >= 1 else f"{amps * 1e3:.3g} mA"
