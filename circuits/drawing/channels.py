"""Wires between two rows, without false joins.

Every net gets one level line per gap, on a track of its own wherever lines would overlap. Two
wires could otherwise only touch where one comes down and another goes down on the same axis: then
the first must turn off above the second. Where such demands run in a circle, one net is led down
beside the others on a free axis and turns twice.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from circuits.drawing.cells import GRID

Point = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A straight piece of wire, from left to right or from top to bottom."""

    net: str
    start: Point
    end: Point

    @property
    def is_level(self) -> bool:
        return self.start[1] == self.end[1]


@dataclass(slots=True, kw_only=True)
class Trunk:
    """The level line of a net in a gap, with the axes it is reached from and leaves by."""

    net: str
    from_above: list[int]
    from_below: list[int]
    #: Axes on which a net's two level lines are joined to each other.
    led: list[int] = field(default_factory=list)
    track: int = 0

    @property
    def low(self) -> int:
        return min((*self.from_above, *self.from_below, *self.led))

    @property
    def high(self) -> int:
        return max((*self.from_above, *self.from_below, *self.led))


@dataclass(slots=True, kw_only=True)
class Channel:
    """The wires of one gap: trunks on tracks, and nets that just run straight through."""

    trunks: list[Trunk]
    straight: list[tuple[str, int]]
    #: Pairs (upper trunk, lower trunk, axis) of a net that is led down beside the others.
    doglegs: list[tuple[Trunk, Trunk, int]]

    @property
    def height(self) -> int:
        if not self.trunks:
            return GRID
        return (max(trunk.track for trunk in self.trunks) + 2) * GRID

    def segments(self, top: int) -> list[Segment]:
        """Return the wires of the gap that begins at height `top`."""
        bottom = top + self.height
        found = [
            Segment(net=net, start=(axis, top), end=(axis, bottom)) for net, axis in self.straight
        ]
        for trunk in self.trunks:
            y = _level(trunk, top)
            found.append(Segment(net=trunk.net, start=(trunk.low, y), end=(trunk.high, y)))
            found.extend(
                Segment(net=trunk.net, start=(axis, top), end=(axis, y))
                for axis in trunk.from_above
            )
            found.extend(
                Segment(net=trunk.net, start=(axis, y), end=(axis, bottom))
                for axis in trunk.from_below
            )
        for upper, lower, axis in self.doglegs:
            start, end = (axis, _level(upper, top)), (axis, _level(lower, top))
            found.append(Segment(net=upper.net, start=start, end=end))
        return found

    def joints(self, top: int) -> list[tuple[str, Point]]:
        """Return where three or four wires of a net meet, for a dot."""
        found = []
        for trunk in self.trunks:
            ends = [*trunk.from_above, *trunk.from_below, *trunk.led]
            for axis in sorted(set(ends)):
                arms = ends.count(axis) + (axis > trunk.low) + (axis < trunk.high)
                if arms > 2:
                    found.append((trunk.net, (axis, _level(trunk, top))))
        return found


def _level(trunk: Trunk, top: int) -> int:
    return top + (trunk.track + 1) * GRID


def route(nets: Sequence[tuple[str, list[int], list[int]]]) -> Channel:
    """Lay the nets of a gap, each given with its axes at the upper and at the lower row."""
    straight = [
        (net, upper[0])
        for net, upper, lower in nets
        if len(upper) == 1 and len(lower) == 1 and upper == lower
    ]
    trunks = [
        Trunk(net=net, from_above=list(upper), from_below=list(lower))
        for net, upper, lower in nets
        if not (len(upper) == 1 and len(lower) == 1 and upper == lower)
    ]
    doglegs: list[tuple[Trunk, Trunk, int]] = []
    taken = {axis for _, upper, lower in nets for axis in (*upper, *lower)}
    while True:
        after = _demands(trunks)
        circle = _circle(after)
        if not circle:
            break
        number = min(circle, key=lambda each: (trunks[each].high - trunks[each].low, each))
        upper, lower, axis = _led_beside(trunks[number], taken)
        taken.add(axis)
        doglegs.append((upper, lower, axis))
        trunks[number] = upper
        trunks.append(lower)
    for upper, lower, _ in doglegs:
        after[trunks.index(upper)].add(trunks.index(lower))
    _add_preferences(trunks, after)
    _put_on_tracks(trunks, after)
    return Channel(trunks=trunks, straight=straight, doglegs=doglegs)


def _led_beside(trunk: Trunk, taken: set[int]) -> tuple[Trunk, Trunk, int]:
    """Split a net into an upper and a lower level line, joined on the nearest free axis."""
    middle = (trunk.low + trunk.high) // 2 // GRID * GRID
    reach = 0
    while True:
        free = [axis for axis in (middle - reach, middle + reach) if axis not in taken]
        if free:
            break
        reach += GRID
    axis = free[0]
    upper = Trunk(net=trunk.net, from_above=trunk.from_above, from_below=[], led=[axis])
    lower = Trunk(net=trunk.net, from_above=[], from_below=trunk.from_below, led=[axis])
    return upper, lower, axis


def _demands(trunks: Sequence[Trunk]) -> list[set[int]]:
    """Return for each trunk those that must lie below it: they leave down where it comes down."""
    leaving: dict[int, int] = {}
    for number, trunk in enumerate(trunks):
        for axis in trunk.from_below:
            leaving[axis] = number
    after: list[set[int]] = [set() for _ in trunks]
    for number, trunk in enumerate(trunks):
        for axis in trunk.from_above:
            other = leaving.get(axis)
            if other is not None and other != number:
                after[number].add(other)
    return after


def _circle(after: Sequence[set[int]]) -> list[int]:
    """Return trunks that demand each other in a circle."""
    colour = [0] * len(after)
    trail: list[int] = []

    def visit(number: int) -> list[int]:
        colour[number] = 1
        trail.append(number)
        for other in sorted(after[number]):
            if colour[other] == 1:
                return trail[trail.index(other) :]
            if colour[other] == 0:
                found = visit(other)
                if found:
                    return found
        trail.pop()
        colour[number] = 2
        return []

    for number in range(len(after)):
        if colour[number] == 0:
            found = visit(number)
            if found:
                return found
    return []


def _overlap(one: Trunk, other: Trunk) -> bool:
    return one.low <= other.high and other.low <= one.high


def _crossings_if_above(upper: Trunk, lower: Trunk) -> int:
    """Count the crossings of two nets if the first one's level line lies above the other's."""
    down = (*upper.from_below, *upper.led)
    up = (*lower.from_above, *lower.led)
    crossed = sum(1 for axis in down if lower.low < axis < lower.high)
    return crossed + sum(1 for axis in up if upper.low < axis < upper.high)


def _add_preferences(trunks: Sequence[Trunk], after: list[set[int]]) -> None:
    """Decide for all overlapping pairs which lies above: the way with fewer crossings, if free."""
    pairs = []
    for one in range(len(trunks)):
        for other in range(one + 1, len(trunks)):
            if _overlap(trunks[one], trunks[other]):
                first = _crossings_if_above(trunks[one], trunks[other])
                second = _crossings_if_above(trunks[other], trunks[one])
                pair = (one, other) if first <= second else (other, one)
                pairs.append((-abs(first - second), *pair))
    for _, upper, lower in sorted(pairs):
        if upper in after[lower] or lower in after[upper]:
            continue
        if _reaches(after, lower, upper):
            upper, lower = lower, upper
        after[upper].add(lower)


def _reaches(after: Sequence[set[int]], start: int, goal: int) -> bool:
    seen = {start}
    stack = [start]
    while stack:
        number = stack.pop()
        if number == goal:
            return True
        fresh = after[number] - seen
        seen |= fresh
        stack.extend(fresh)
    return False


def _put_on_tracks(trunks: Sequence[Trunk], after: Sequence[set[int]]) -> None:
    """Give each trunk the highest track that lies below all that must be above it."""
    waiting = [0] * len(trunks)
    for others in after:
        for other in others:
            waiting[other] += 1
    ready = [number for number, count in enumerate(waiting) if not count]
    for number in ready:
        for other in sorted(after[number]):
            trunks[other].track = max(trunks[other].track, trunks[number].track + 1)
            waiting[other] -= 1
            if not waiting[other]:
                ready.append(other)
