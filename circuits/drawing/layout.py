"""Everything in its place: where each cell stands, and where each wire runs."""

from collections.abc import Mapping
from dataclasses import dataclass

from circuits.drawing.cells import GRID, Cell, Plan
from circuits.drawing.channels import Point, Segment, route
from circuits.drawing.measures import Measures, measured
from circuits.drawing.ranks import Ranks, arrange, rank, spread

MARGIN = 2 * GRID
_MOST_TRIES, _LEAST_TRIES, _WORK = 12, 2, 900


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A cell and its upper left corner."""

    cell: Cell
    x: int
    y: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A circuit laid out, in units of which a letter is about eleven high."""

    placed: tuple[Placed, ...]
    segments: tuple[Segment, ...]
    joints: tuple[tuple[str, Point], ...]
    width: int
    height: int
    measures: Measures


#: Part -> steps to the right, rows down.
Nudges = Mapping[str, tuple[int, int]]


def lay_out(plan: Plan, nudges: Nudges) -> Layout:
    """Return the best of several tries; the same plan gives the same layout every time."""
    if not plan.cells:
        empty = measured((), (), 0, 0)
        return Layout(placed=(), segments=(), joints=(), width=0, height=0, measures=empty)
    down = {name: rows for name, (_, rows) in nudges.items() if rows}
    right = {
        number: GRID * sum(nudges[name][0] for name in cell.parts if name in nudges)
        for number, cell in enumerate(plan.cells)
        if any(name in nudges for name in cell.parts)
    }
    ranks = rank(plan, down)
    start = ranks.copy_rows()
    tries = max(_LEAST_TRIES, min(_MOST_TRIES, _WORK // len(ranks.widths)))
    best: Layout | None = None
    for seed in range(tries):
        ranks.rows = [list(row) for row in start]
        arrange(ranks, seed)
        found = _drawn(plan, ranks, spread(ranks, right))
        if best is None or found.measures.cost < best.measures.cost:
            best = found
    assert best is not None
    return best


def _drawn(plan: Plan, ranks: Ranks, lefts: list[int]) -> Layout:
    by_row: dict[int, list[tuple[str, list[int], list[int]]]] = {}
    for gap in ranks.gaps:
        upper = sorted(lefts[post] + x for post, x in gap.upper)
        lower = sorted(lefts[post] + x for post, x in gap.lower)
        by_row.setdefault(gap.row, []).append((gap.net, upper, lower))
    placed: list[Placed] = []
    segments: list[Segment] = []
    joints: list[tuple[str, Point]] = []
    top = 0
    for number, row in enumerate(ranks.rows):
        cells = [post for post in row if post < ranks.cell_count]
        tall = max((plan.cells[post].height for post in cells), default=GRID)
        for post in row:
            if post in ranks.passing:
                axis = lefts[post]
                segments.append(
                    Segment(net=ranks.passing[post], start=(axis, top), end=(axis, top + tall))
                )
                continue
            cell = plan.cells[post]
            placed.append(Placed(cell=cell, x=lefts[post], y=top))
            segments.extend(_down_to_row_end(cell, lefts[post], top, tall, ranks, post))
        channel = route(by_row.get(number, []))
        segments.extend(channel.segments(top + tall))
        joints.extend(channel.joints(top + tall))
        top += tall + channel.height
    width = max(
        [*(each.x + each.cell.width for each in placed), *(part.end[0] for part in segments)]
    )
    boxes = tuple(
        (each.x, each.y, each.x + each.cell.width, each.y + each.cell.height) for each in placed
    )
    return Layout(
        placed=tuple(placed),
        segments=tuple(segments),
        joints=tuple(joints),
        width=width,
        height=top,
        measures=measured(tuple(segments), boxes, width, top),
    )


def _down_to_row_end(
    cell: Cell, left: int, top: int, tall: int, ranks: Ranks, post: int
) -> list[Segment]:
    """Lead the lower pins of a cell that is shorter than its row to the row's end."""
    if cell.height == tall:
        return []
    wired = {(end, x) for gap in ranks.gaps for end, x in gap.upper if end == post}
    return [
        Segment(
            net=pin.net,
            start=(left + pin.x, top + cell.height),
            end=(left + pin.x, top + tall),
        )
        for pin in cell.pins
        if not pin.is_top and (post, pin.x) in wired
    ]
