"""A finished layout, and how several pieces come to stand on one sheet of paper."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from circuits.drawing.cells import GRID, Cell
from circuits.drawing.channels import Point, Segment
from circuits.drawing.measures import Box, Measures, measured

_STEP = 2 * GRID


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A cell and its upper left corner."""

    cell: Cell
    x: int
    y: int

    @property
    def box(self) -> Box:
        return self.x, self.y, self.x + self.cell.width, self.y + self.cell.height


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A circuit laid out, in units of which a letter is about eleven high."""

    placed: tuple[Placed, ...]
    segments: tuple[Segment, ...]
    joints: tuple[tuple[str, Point], ...]
    width: int
    height: int
    measures: Measures

    @classmethod
    def of(
        cls,
        placed: Iterable[Placed],
        segments: Iterable[Segment],
        joints: Iterable[tuple[str, Point]],
    ) -> "Layout":
        """Return the layout of these cells and wires, measured."""
        cells, wires = tuple(placed), tuple(segments)
        boxes = tuple(each.box for each in cells)
        reach = [*((box[2], box[3]) for box in boxes), *(wire.end for wire in wires)]
        width = max((x for x, _ in reach), default=0)
        height = max((y for _, y in reach), default=0)
        return cls(
            placed=cells,
            segments=wires,
            joints=tuple(joints),
            width=width,
            height=height,
            measures=measured(wires, boxes, width, height),
        )

    def moved(self, right: int, down: int) -> "Layout":
        """Return the same drawing elsewhere on the paper."""

        def shifted(point: Point) -> Point:
            return point[0] + right, point[1] + down

        return replace(
            self,
            placed=tuple(replace(each, x=each.x + right, y=each.y + down) for each in self.placed),
            segments=tuple(
                replace(wire, start=shifted(wire.start), end=shifted(wire.end))
                for wire in self.segments
            ),
            joints=tuple((net, shifted(point)) for net, point in self.joints),
        )


@dataclass(slots=True, kw_only=True)
class Packing:
    """Pieces put on paper one after the other, none on another."""

    pieces: list[Layout] = field(default_factory=list)
    taken: list[Box] = field(default_factory=list)
    width: int = 0
    height: int = 0

    def add(self, piece: Layout, wish: Point) -> None:
        """Put a piece down where there is room, near its usual place moved by the wish."""
        x, y = self._free_corner(piece, wish) if self.pieces else (0, 0)
        moved = piece.moved(x, y)
        self.pieces.append(moved)
        self.taken.extend(each.box for each in moved.placed)
        self.taken.extend((*wire.start, *wire.end) for wire in moved.segments)
        self.width = max(self.width, x + piece.width)
        self.height = max(self.height, y + piece.height)

    def _free_corner(self, piece: Layout, wish: Point) -> Point:
        """Return the free place nearest to the lower left corner, or right of everything."""
        lowest = max(0, self.height - piece.height)
        goal = max(0, wish[0]), max(0, lowest + wish[1])
        columns = range(0, self.width + _STEP + max(0, wish[0]), _STEP)
        places = sorted(
            ((x, y) for x in {*columns, goal[0]} for y in {*range(0, lowest + 1, _STEP), goal[1]}),
            key=lambda place: (
                self._growth(piece, place),
                2 * abs(place[1] - goal[1]) + abs(place[0] - goal[0]),
                place,
            ),
        )
        free = (place for place in places if self._is_free(piece, *place))
        return next(free, (self.width + _STEP, lowest))

    def _growth(self, piece: Layout, place: Point) -> bool:
        return place[0] + piece.width > self.width + 4 * _STEP

    def _is_free(self, piece: Layout, x: int, y: int) -> bool:
        left, top = x - _STEP, y - _STEP
        right, bottom = x + piece.width + _STEP, y + piece.height + _STEP
        return not any(
            left < box[2] and box[0] < right and top < box[3] and box[1] < bottom
            for box in self.taken
        )

    def layout(self) -> Layout:
        """Return everything that was put down as one layout."""
        return Layout.of(
            (each for piece in self.pieces for each in piece.placed),
            (wire for piece in self.pieces for wire in piece.segments),
            (joint for piece in self.pieces for joint in piece.joints),
        )
