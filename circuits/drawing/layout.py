"""Everything in its place: where each cell stands, and where each wire runs."""

from collections.abc import Mapping

from circuits.drawing.cells import GRID, Cell, Plan
from circuits.drawing.channels import Point, Segment, route
from circuits.drawing.packing import Layout, Packing, Placed
from circuits.drawing.ranks import Ranks, arrange, rank, spread

MARGIN = 2 * GRID
#: A row, for a piece that is moved as a whole.
ROW_STEP = 8 * GRID
_MOST_TRIES, _LEAST_TRIES, _WORK = 12, 2, 900


#: Part -> steps to the right, rows down.
Nudges = Mapping[str, tuple[int, int]]


def lay_out(plan: Plan, nudges: Nudges) -> Layout:
    """Return the drawing of a plan; the same plan gives the same drawing every time.

    Pieces that no wire joins are laid out one by one; the largest takes its place first, the
    others go where it leaves room, as far down as they can.
    """
    pieces = [_laid_out(piece, nudges) for piece in _pieces(plan)]
    pieces.sort(key=lambda piece: -piece.width * piece.height)
    packing = Packing()
    for number, piece in enumerate(pieces):
        packing.add(piece, _wish(piece, nudges) if number else (0, 0))
    return packing.layout()


def _pieces(plan: Plan) -> list[Plan]:
    leader = list(range(len(plan.cells)))

    def led(cell: int) -> int:
        while leader[cell] != cell:
            cell = leader[cell]
        return cell

    for feeding, fed in plan.nets().values():
        first, *others = (cell for cell, _ in (*feeding, *fed))
        for other in others:
            leader[led(other)] = led(first)
    pieces: dict[int, list[Cell]] = {}
    for number, cell in enumerate(plan.cells):
        pieces.setdefault(led(number), []).append(cell)
    return [Plan(cells=tuple(cells)) for cells in pieces.values()]


def _wish(piece: Layout, nudges: Nudges) -> tuple[int, int]:
    """Return where a piece was moved to as a whole: as far as its farthest nudged part."""
    moved = [nudges[name] for each in piece.placed for name in each.cell.parts if name in nudges]
    right, down = max(moved, key=lambda step: abs(step[0]) + abs(step[1]), default=(0, 0))
    return right * GRID, down * ROW_STEP


def _laid_out(plan: Plan, nudges: Nudges) -> Layout:
    """Return the best of several tries at one piece."""
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
    return Layout.of(placed, segments, joints)


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
