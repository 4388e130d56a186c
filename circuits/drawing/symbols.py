"""The shapes of IEC 60617, drawn upright on an axis at x = 0 from y = 0 downwards.

Each symbol gives its body and how far the two wires reach to it; the wires are drawn apart, in
the colour of their connection. Numbers in brackets are those of the symbol in the standard, from
memory.
"""

from collections.abc import Callable
from dataclasses import dataclass
from html import escape

INK = "#211b15"


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """A body, and the heights at which the upper wire ends and the lower one begins."""

    body: str
    upper_end: float
    lower_start: float


def line(points: str, *, width: float = 1.5) -> str:
    return f'<path class="d-ink" d="{points}" fill="none" stroke="{INK}" stroke-width="{width:g}"/>'


def solid(points: str) -> str:
    return f'<path class="d-ink-fill" d="{points}" fill="{INK}"/>'


def _box(half: float, top: float, height: float) -> str:
    return line(f"M{-half:g} {top:g}h{2 * half:g}v{height:g}h{-2 * half:g}z")


def _circle(middle: float, radius: float) -> str:
    r = f"{radius:g}"
    return line(
        f"M{-radius:g} {middle:g}a{r} {r} 0 1 0 {2 * radius:g} 0a{r} {r} 0 1 0 {-2 * radius:g} 0z"
    )


def _letter(text: str, middle: float, size: float = 12) -> str:
    return (
        f'<text class="d-words" x="0" y="{middle + size * 0.36:.1f}" font-size="{size:g}" '
        f'text-anchor="middle" fill="{INK}">{escape(text)}</text>'
    )


def _fuse(height: int) -> Symbol:
    """Return a rectangle with the wire through it [07-21-01]."""
    body = _box(5, 8, height - 16) + line(f"M0 8V{height - 8}")
    return Symbol(body=body, upper_end=8, lower_start=height - 8)


def _resistor(height: int) -> Symbol:
    """Return a plain rectangle [04-01-01]."""
    return Symbol(body=_box(6, 7, height - 14), upper_end=7, lower_start=height - 7)


def _coil(height: int) -> Symbol:
    """Return a relay winding: a rectangle that lies [07-15-01]."""
    middle = height / 2
    return Symbol(body=_box(14, middle - 8, 16), upper_end=middle - 8, lower_start=middle + 8)


def _lamp(height: int) -> Symbol:
    """Return a circle with a cross [08-10-01]."""
    middle, r = height / 2, 13.0
    reach = r * 0.7071
    cross = line(
        f"M{-reach:.1f} {middle - reach:.1f}l{2 * reach:.1f} {2 * reach:.1f}"
        f"m0 {-2 * reach:.1f}l{-2 * reach:.1f} {2 * reach:.1f}"
    )
    return Symbol(body=_circle(middle, r) + cross, upper_end=middle - r, lower_start=middle + r)


def _machine(letter: str, *, direct: bool = False) -> Callable[[int], Symbol]:
    def shape(height: int) -> Symbol:
        """Return a circle with the machine's letter [06-04-01]."""
        middle, r = height / 2, 14.0
        body = _circle(middle, r)
        if direct:
            body += _letter(letter, middle - 2, 12)
            body += line(
                f"M-5 {middle + 6:g}h10M-5 {middle + 8.6:g}h2.4m1.4 0h2.4m1.4 0h2.4", width=1
            )
        else:
            body += _letter(letter, middle, 13)
        return Symbol(body=body, upper_end=middle - r, lower_start=middle + r)

    return shape


def _block(letter: str, *, size: float = 12) -> Callable[[int], Symbol]:
    def shape(height: int) -> Symbol:
        """Return a square for equipment of which only the consumption is known [general block]."""
        middle = height / 2
        body = _box(13, middle - 13, 26) + _letter(letter, middle, size)
        return Symbol(body=body, upper_end=middle - 13, lower_start=middle + 13)

    return shape


def _battery(height: int) -> Symbol:
    """Return two cells: long line plus, short line minus [06-15-01]."""
    middle = height / 2
    body = (
        line(f"M-14 {middle - 8:g}h28M-14 {middle + 3:g}h28", width=1.4)
        + line(f"M-7 {middle - 3:g}h14M-7 {middle + 8:g}h14", width=3.2)
        + line(f"M-18 {middle - 13:g}h6m-3 -3v6", width=1.2)
    )
    return Symbol(body=body, upper_end=middle - 8, lower_start=middle + 8)


def _diode(height: int) -> Symbol:
    """Return a triangle that points with the current, and a bar [05-03-01]."""
    middle = height / 2
    body = solid(f"M-8 {middle - 7:g}h16l-8 14z") + line(f"M-8 {middle + 7:g}h16", width=2)
    return Symbol(body=body, upper_end=middle - 7, lower_start=middle + 7)


def _connector(height: int) -> Symbol:
    """Return a pin in a socket [03-03-05]."""
    middle = height / 2
    body = line(f"M-6 {middle - 5:g}a6 6 0 0 0 12 0", width=1.6) + solid(
        f"M-2.5 {middle - 1:g}h5v11h-5z"
    )
    return Symbol(body=body, upper_end=middle + 1, lower_start=middle + 10)


def _splice(height: int) -> Symbol:
    middle = height / 2
    body = solid(f"M-4 {middle:g}a4 4 0 1 0 8 0a4 4 0 1 0 -8 0z")
    return Symbol(body=body, upper_end=middle, lower_start=middle)


def _strap(height: int) -> Symbol:
    """Return a braid: two lines side by side between its lugs."""
    body = line(f"M-3 6h6v{height - 12}h-6z", width=1.2) + line(
        f"M-3 {height / 2 - 4:g}l6 -4m-6 8l6 -4m-6 8l6 -4", width=1
    )
    return Symbol(body=body, upper_end=6, lower_start=height - 6)


def _clamp(height: int) -> Symbol:
    """Return a diode with a bent bar: it breaks down backwards [05-03-06]."""
    middle = height / 2
    bar = line(f"M-8 {middle + 11:g}v-4h16v-4", width=2)
    return Symbol(
        body=solid(f"M-8 {middle - 7:g}h16l-8 14z") + bar,
        upper_end=middle - 7,
        lower_start=middle + 7,
    )


def _thermistor(height: int) -> Symbol:
    """Return a resistor crossed by a line with a foot, and the sign of temperature [04-01-12]."""
    plain = _resistor(height)
    slash = line(f"M-15 {height - 8}h5l20 {16 - height}", width=1.2)
    return Symbol(
        body=plain.body + slash + f'<text class="d-words" x="-19" y="{height / 2:g}" '
        f'font-size="9" fill="{INK}">ϑ</text>',
        upper_end=plain.upper_end,
        lower_start=plain.lower_start,
    )


def _leak(height: int) -> Symbol:
    """Return a resistor in broken lines: nobody built it in."""
    body = _box(6, 7, height - 14).replace("/>", ' stroke-dasharray="3 2"/>')
    return Symbol(body=body, upper_end=7, lower_start=height - 7)


def _pulses(height: int) -> Symbol:
    """Return a square with pulses: an output that is switched fast."""
    middle = height / 2
    body = _box(13, middle - 13, 26) + line(f"M-9 {middle + 5:g}v-10h6v10h6v-10h6v10", width=1.3)
    return Symbol(body=body, upper_end=middle - 13, lower_start=middle + 13)


def _wire(height: int) -> Symbol:
    return Symbol(body="", upper_end=height / 2, lower_start=height / 2)


_SHAPES: dict[str, Callable[[int], Symbol]] = {
    "wire": _wire,
    "fuse": _fuse,
    "connector": _connector,
    "splice": _splice,
    "ground": _strap,
    "resistor": _resistor,
    "input": _resistor,
    "coil": _coil,
    "battery": _battery,
    "supply": _battery,
    "generator": _machine("G", direct=True),
    "current": _block("A"),
    "motor": _machine("M"),
    "lamp": _lamp,
    "power": _block("W"),
    "fan": _machine("M"),
    "diode": _diode,
    "regulator": _block("V"),
    "clamp": _clamp,
    "thermistor": _thermistor,
    "potentiometer": _resistor,
    "leak": _leak,
    "duty": _pulses,
    "selector": _block("1…n", size=10),
    "sensor": _block("S"),
    "can": _block("CAN", size=9),
    "lin": _block("LIN", size=9),
}
#: What moves a contact, drawn left of its blade: hand, electronics.
_ACTUATORS = {
    "switch": "M-16 {0:g}m0 -4v8m0 -4h8",
    "driver": "M-17 {0:g}m0 -4l7 4l-7 4z",
    "rule": "M-17 {0:g}l4 -4l4 4l-4 4z",
}
CONTACTS = frozenset({"contact", "switch", "driver", "rule"})


def symbol_of(kind: str, height: int, *, is_made: bool = False, breaks: bool = False) -> Symbol:
    """Return a part's symbol; a contact as it stands, `breaks` for one that rests closed."""
    if kind not in CONTACTS:
        shape = _SHAPES.get(kind, _block(kind[:3].upper(), size=9))
        return shape(height)
    upper, lower = 9.0, height - 9.0
    # A make contact closes to the left of its blade, a break contact has a bar to lean on.
    tip = "0 9" if is_made else ("11 8" if breaks else f"{-11} 10")
    body = line(f"M0 {lower:g}L{tip}", width=1.9)
    if breaks:
        body += line("M0 9h9", width=1.5)
    dots = f"M-2 {upper:g}a2 2 0 1 0 4 0a2 2 0 1 0 -4 0zM-2 {lower:g}a2 2 0 1 0 4 0a2 2 0 1 0 -4 0z"
    body += solid(dots)
    actuator = _ACTUATORS.get(kind)
    if actuator:
        middle = height / 2 + 2
        body += line(actuator.format(middle), width=1.2)
        if kind == "switch":
            reach = -1 if is_made else -6
            body += line(f"M-8 {middle:g}H{reach}", width=1.0)
    return Symbol(body=body, upper_end=upper, lower_start=lower)


def ground_sign() -> str:
    """Return the three lines of a ground, below a wire that ends at (0, 0) [02-15-01]."""
    return line("M-10 0h20M-6.5 4h13M-3 8h6", width=1.6)
