"""How good a drawing is, measured on the lines that are drawn."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from circuits.drawing.channels import Segment

Box = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What is counted: the first three must be 0, the others are better when small."""

    false_joins: int
    through_parts: int
    overlaps: int
    crossings: int
    bends: int
    length: int
    area: int

    @property
    def cost(self) -> float:
        """Return one figure to compare tries with; a crossing weighs as much as three bends."""
        return self.crossings * 60 + self.bends * 20 + self.length * 0.15 + self.area * 2e-4


def measured(
    segments: Sequence[Segment], boxes: Sequence[Box], width: int, height: int
) -> Measures:
    """Return the measures of wires and the rectangles of parts."""
    levels = [part for part in segments if part.is_level]
    uprights = [part for part in segments if not part.is_level]
    touching, crossings = _meetings(levels, uprights)
    return Measures(
        false_joins=touching + _on_one_line(levels, axis=1) + _on_one_line(uprights, axis=0),
        through_parts=_through(segments, boxes),
        overlaps=_overlaps(boxes),
        crossings=crossings,
        bends=_bends(segments),
        length=sum(part.end[0] - part.start[0] + part.end[1] - part.start[1] for part in segments),
        area=width * height,
    )


def _meetings(levels: Sequence[Segment], uprights: Sequence[Segment]) -> tuple[int, int]:
    """Count where wires of different nets touch (an end on the other), and where they cross."""
    touching = crossings = 0
    for level in levels:
        y, low, high = level.start[1], level.start[0], level.end[0]
        for upright in uprights:
            x, top, bottom = upright.start[0], upright.start[1], upright.end[1]
            if level.net == upright.net or not (low <= x <= high and top <= y <= bottom):
                continue
            if low < x < high and top < y < bottom:
                crossings += 1
            else:
                touching += 1
    return touching, crossings


def _on_one_line(segments: Sequence[Segment], *, axis: int) -> int:
    """Count wires of different nets that lie on one line and touch there."""
    count = 0
    along = 1 - axis
    ordered = sorted(segments, key=lambda part: (part.start[axis], part.start[along]))
    for number, one in enumerate(ordered):
        for other in ordered[number + 1 :]:
            if other.start[axis] != one.start[axis] or other.start[along] > one.end[along]:
                break
            count += one.net != other.net
    return count


def _through(segments: Sequence[Segment], boxes: Sequence[Box]) -> int:
    """Count wires that run inside a part's rectangle."""
    return sum(
        1
        for part in segments
        for left, top, right, bottom in boxes
        if left < part.end[0]
        and part.start[0] < right
        and top < part.end[1]
        and part.start[1] < bottom
    )


def _overlaps(boxes: Sequence[Box]) -> int:
    return sum(
        1
        for number, one in enumerate(boxes)
        for other in boxes[number + 1 :]
        if one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
    )


def _bends(segments: Sequence[Segment]) -> int:
    """Count the corners: points at which just one level and one upright wire of a net end."""
    levels, uprights = Counter[tuple[str, int, int]](), Counter[tuple[str, int, int]]()
    for part in segments:
        ends = levels if part.is_level else uprights
        for x, y in {part.start, part.end}:
            ends[part.net, x, y] += 1
    return sum(1 for point, count in levels.items() if count == 1 and uprights[point] == 1)
