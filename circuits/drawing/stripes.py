"""Broad stripes along the ways of a pin, without a gap: through its parts and the wires between.

The wires of a connection form a tree. A stripe takes that part of it which joins the ends of the
marked parts: whatever hangs on it otherwise is cut back, branch by branch. A part of three ends is
striped between the two that a way leads through: from its wiper up, or down, or both. A pin that
lies off its ways, as where both leave it by the same part, is joined to them, and so is 0 V.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

Point = tuple[float, float]
Line = tuple[Point, Point]
#: Looks of the two ways: to the supply, and back to 0 V.
LOOKS = {"supply": ("#b8652c", ""), "back": ("#1f4f7d", ' stroke-dasharray="9 4"')}


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A part that lies on a way, `supply` or `back`, with the connections where that enters it.

    A source, where a way ends, has no such connections: all of it is striped.
    """

    part: str
    way: str
    ends: tuple[str, ...] = ()

    def touches(self, net: str) -> bool:
        return not self.ends or net in self.ends


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The parts on the ways of a pin, and the connections whose dots they join: where ways end."""

    legs: tuple[Leg, ...]
    joined: frozenset[str]


class Stripes:
    """Collects where marked parts begin and end, and draws the stripes of parts and wires."""

    def __init__(self, marks: Marks | None) -> None:
        self.legs: dict[str, list[Leg]] = defaultdict(list)
        for leg in marks.legs if marks is not None else ():
            self.legs[leg.part].append(leg)
        self._ends: dict[str, dict[Point, str]] = defaultdict(dict)
        self._joined = marks.joined if marks is not None else frozenset()
        self._dots: dict[str, list[Point]] = defaultdict(list)

    def dot(self, net: str, at: Point) -> None:
        """Note that a connection has its dot here."""
        if net in self._joined:
            self._dots[net].append(at)

    def end(self, part: str, net: str, at: Point) -> None:
        """Note that a part touches the wires of a connection here, or leaves the drawing here."""
        for leg in self.legs.get(part, ()):
            if leg.touches(net):
                self._ends[net][at] = leg.way

    def along_part(self, part: str, ends: Mapping[str, Point], third: str = "") -> str:
        """Return the stripes of a part, or nothing where it lies on no way.

        `ends` are the points where its connections touch its symbol; the `third` of them lies
        beside it, and is led to its middle.
        """
        return "".join(
            _stripe(leg.way, _reach([net for net in ends if leg.touches(net)], ends, third))
            for leg in self.legs.get(part, ())
        )

    def along_wires(self, wires: Mapping[str, Sequence[Line]]) -> Iterator[str]:
        """Yield the stripes of the wires between marked parts, given all lines by connection."""
        for net, ends in self._ends.items():
            # What the pin's own connection and 0 V belong to is both; it is shown once.
            way = "back" if "back" in ends.values() else "supply"
            joined = ends | dict.fromkeys(self._dots[net], way)
            reach = "".join(_polylines(_tree(wires.get(net, ()), joined), joined))
            if reach:
                yield _stripe(way, reach)


def _reach(nets: Sequence[str], ends: Mapping[str, Point], third: str) -> str:
    (from_x, from_y), (to_x, to_y) = (ends[net] for net in sorted(nets, key=lambda n: n != third))
    if third not in nets:
        return f"M{from_x:g} {from_y:g}V{to_y:g}"
    return f"M{from_x:g} {from_y:g}L{to_x:g} {from_y:g}V{to_y:g}"


def _stripe(way: str, reach: str) -> str:
    colour, dashes = LOOKS[way]
    return (
        f'<path class="d-way-{way}" d="{reach}" fill="none" stroke="{colour}" stroke-width="13" '
        f'stroke-opacity="0.4" stroke-linejoin="round"{dashes}/>'
    )


def _tree(lines: Sequence[Line], ends: Mapping[Point, str]) -> dict[Point, set[Point]]:
    """Return the neighbours of each point of a tree of lines, cut back to what joins the ends."""
    points = {point for line in lines for point in line} | set(ends)
    tree: dict[Point, set[Point]] = defaultdict(set)
    for start, end in lines:
        on_it = sorted(point for point in points if _is_on(point, start, end))
        for one, other in pairwise(on_it):
            tree[one].add(other)
            tree[other].add(one)
    loose = [point for point, others in tree.items() if len(others) == 1 and point not in ends]
    while loose:
        point = loose.pop()
        for other in tree.pop(point):
            tree[other].discard(point)
            if len(tree[other]) == 1 and other not in ends:
                loose.append(other)
    return {point: others for point, others in tree.items() if others}


def _is_on(point: Point, start: Point, end: Point) -> bool:
    (left, right), (top, bottom) = sorted((start[0], end[0])), sorted((start[1], end[1]))
    return left <= point[0] <= right and top <= point[1] <= bottom


def _polylines(tree: dict[Point, set[Point]], ends: Mapping[Point, str]) -> Iterator[str]:
    """Yield each line of the tree once, in rows as long as they come, for corners to be round."""
    for start in sorted(tree, key=lambda point: (point not in ends, point)):
        while tree[start]:
            here, row = start, f"M{start[0]:g} {start[1]:g}"
            while tree[here]:
                there = min(tree[here])
                tree[here].discard(there)
                tree[there].discard(here)
                here, row = there, f"{row}L{there[0]:g} {there[1]:g}"
            yield row
