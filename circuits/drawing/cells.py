"""What a drawing is made of: cells with pins, before anything has a place on the paper.

A cell is a part with its words, or several parts in one frame (a relay, a module). It owns a
rectangle that no wire and no other cell enters, so whatever is written inside cannot be crossed.
All sizes are multiples of the grid; pins then meet exactly or stand a whole step apart.
"""

from dataclasses import dataclass, field

GRID = 10
#: What lies left of a pin's axis within its column: half of the widest symbol.
HALF = 20
NAME_SIZE, SMALL_SIZE, PIN_SIZE = 11.0, 9.5, 9.0
#: Room for a letter, as a share of the type size; wide enough for the usual sans-serif types.
_WIDE, _CAPITAL, _NARROW, _LETTER = 0.95, 0.75, 0.4, 0.64
_BOLD = 1.1


def on_grid(length: float) -> int:
    """Return the length, rounded up to the grid."""
    return int(-(-length // GRID)) * GRID


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return about how wide a text comes out, rather too wide than too narrow."""
    letters = sum(map(_letter_width, text))
    return letters * size * (_BOLD if bold else 1)


def _letter_width(letter: str) -> float:
    if letter in "MWmw@%–Ω":
        return _WIDE
    if letter in "ijlI.,:;'|()/ ":
        return _NARROW
    return _CAPITAL if letter.isupper() else _LETTER


@dataclass(frozen=True, slots=True, kw_only=True)
class NetLabel:
    """What is written beside a connection: its name, its volts in a phase, who measures there."""

    net: str
    tags: str = ""
    has_figure: bool = False

    @property
    def width(self) -> float:
        # A mark, the name, the number of the band in its box, and a figure such as -12.34 V.
        name = 10 + text_width(self.net, NAME_SIZE, bold=True) + 22
        figure = text_width("-12.34 V", SMALL_SIZE) if self.has_figure else 0
        return max(name + figure, 10 + text_width(self.tags, SMALL_SIZE) if self.tags else 0)

    @property
    def height(self) -> int:
        return 3 * GRID if self.tags else 2 * GRID


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A part drawn upright: one end above, one below; an end at ground has its own sign there."""

    part: str
    kind: str
    words: tuple[str, ...]
    top: str
    bottom: str
    #: The part's second end is the upper one.
    flipped: bool = False
    head: bool = False
    foot: bool = False
    top_label: NetLabel | None = None
    bottom_label: NetLabel | None = None
    #: The wiper or signal of a part with three ends; it leaves left of the axis.
    third: str = ""
    third_is_top: bool = False
    third_label: NetLabel | None = None
    has_amps: bool = False
    pin_words: tuple[str, str] = ("", "")

    @property
    def lead(self) -> int:
        """Room left of the symbol for a third end and its words."""
        if not self.third:
            return 0
        return 2 * HALF + (on_grid(self.third_label.width) if self.third_label else 0)

    @property
    def width(self) -> int:
        """Room for the symbol and, right of it, for everything that is written."""
        texts = [text_width(words, NAME_SIZE) for words in self.words]
        if self.has_amps:
            texts.append(text_width("-123.4 A", SMALL_SIZE))
        labels = [label.width for label in (self.top_label, self.bottom_label) if label]
        written = max([18 + max(texts, default=0), *labels])
        return self.lead + HALF + max(HALF, on_grid(written))

    @property
    def symbol_height(self) -> int:
        return SYMBOL_HEIGHT.get(self.kind, 50)

    @property
    def above(self) -> int:
        third = self.third_label.height if self.third_label and self.third_is_top else 0
        own = self.top_label.height + (GRID if self.head else 0) if self.top_label else 0
        return max(own, third)

    @property
    def below(self) -> int:
        third = self.third_label.height if self.third_label and not self.third_is_top else 0
        own = self.bottom_label.height if self.bottom_label else 0
        return max(3 * GRID if self.foot else own, third)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """Where a wire meets a cell: at its upper or lower edge, `x` from its left."""

    net: str
    x: int
    is_top: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A rectangle of the drawing: parts side by side, or a terminal where a rail begins."""

    key: str
    columns: tuple[Column, ...] = ()
    #: Title of the frame round the columns; None draws no frame.
    frame: str | None = None
    #: A terminal: the connection, and whether its wire leaves below.
    terminal: NetLabel | None = None
    terminal_words: str = ""
    leads_down: bool = True
    #: Neighbouring columns with one connection share a pin.
    shares: bool = False
    pins: tuple[Pin, ...] = field(init=False)
    width: int = field(init=False)
    height: int = field(init=False)

    def __post_init__(self) -> None:
        put = object.__setattr__  # the only way to complete a frozen value
        put(self, "pins", tuple(self._pins()))
        put(self, "width", self._width())
        put(self, "height", self._height())

    @property
    def is_framed(self) -> bool:
        return self.frame is not None

    @property
    def parts(self) -> tuple[str, ...]:
        return tuple(column.part for column in self.columns)

    def axes(self) -> list[int]:
        """Return where each column's axis runs, from the cell's left edge."""
        axes, left = [], GRID if self.is_framed else 0
        for column in self.columns:
            axes.append(left + column.lead + HALF)
            left += column.width
        return axes

    @property
    def above(self) -> int:
        return max((column.above for column in self.columns), default=0)

    @property
    def body(self) -> int:
        return max((column.symbol_height for column in self.columns), default=0)

    @property
    def frame_room(self) -> int:
        """Room between a frame's upper edge and the symbols, for its title and the pin numbers."""
        return 4 * GRID if self.is_framed else 0

    @property
    def frame_foot(self) -> int:
        return 2 * GRID if self.is_framed else 0

    def _pins(self) -> list[Pin]:
        if self.terminal is not None:
            return [Pin(net=self.terminal.net, x=HALF, is_top=not self.leads_down)]
        pins: list[Pin] = []
        for is_top in (True, False):
            before = ""
            for axis, column in zip(self.axes(), self.columns, strict=True):
                net = column.top if is_top else column.bottom
                at_ground = column.head if is_top else column.foot
                if not at_ground and not (self.shares and net == before):
                    pins.append(Pin(net=net, x=axis, is_top=is_top))
                if column.third and column.third_is_top == is_top:
                    pins.append(Pin(net=column.third, x=axis - column.lead, is_top=is_top))
                before = net
        return pins

    def _width(self) -> int:
        if self.terminal is not None:
            words = 14 + text_width(self.terminal_words, SMALL_SIZE)
            return HALF + on_grid(max(self.terminal.width, words))
        inner = sum(column.width for column in self.columns)
        if self.frame is None:
            return inner
        # The title stands right of the last axis, where no pin leaves the frame.
        titled = self.axes()[-1] + GRID + text_width(self.frame, NAME_SIZE)
        return max(inner + GRID, on_grid(titled)) + GRID

    def _height(self) -> int:
        if self.terminal is not None:
            return self.terminal.height + (GRID if self.terminal_words else 0) + GRID
        below = max((column.below for column in self.columns), default=0)
        return self.above + self.frame_room + self.body + self.frame_foot + below


#: How tall each kind's symbol stands, with the ends of its wires; others are as tall as a lamp. A
#: regulator is a module's source.
SYMBOL_HEIGHT = {
    "wire": 30,
    "fuse": 40,
    "connector": 30,
    "splice": 20,
    "ground": 30,
    "resistor": 40,
    "input": 40,
    "switch": 40,
    "driver": 40,
    "coil": 40,
    "contact": 40,
    "rule": 40,
    "battery": 40,
    "supply": 40,
    "diode": 40,
    "clamp": 40,
    "leak": 40,
    "thermistor": 40,
    "potentiometer": 40,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The cells of a circuit; pins with one net are to be joined by wires."""

    cells: tuple[Cell, ...]

    def nets(self) -> dict[str, tuple[list[tuple[int, int]], list[tuple[int, int]]]]:
        """Return per net the pins that feed it from above, and those below it: (cell, x)."""
        nets: dict[str, tuple[list[tuple[int, int]], list[tuple[int, int]]]] = {}
        for number, cell in enumerate(self.cells):
            for pin in cell.pins:
                feeding, fed = nets.setdefault(pin.net, ([], []))
                (fed if pin.is_top else feeding).append((number, pin.x))
        return nets
