"""Which cell stands in which row: current flows down, wires stay short."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

#: Per net: the cells that feed it from above, and the cells below.
Nets = Sequence[tuple[Sequence[int], Sequence[int]]]
_ROUNDS = 8


def find_loop(count: int, nets: Nets) -> list[int]:
    """Return cells that stand both above and below each other, or an empty list."""
    below = _below(count, nets)
    colour = [0] * count
    for start in range(count):
        if colour[start]:
            continue
        trail = [start]
        rest = [iter(sorted(below[start]))]
        colour[start] = 1
        while trail:
            following = next(rest[-1], None)
            if following is None:
                colour[trail.pop()] = 2
                rest.pop()
            elif colour[following] == 1:
                return trail[trail.index(following) :]
            elif colour[following] == 0:
                colour[following] = 1
                trail.append(following)
                rest.append(iter(sorted(below[following])))
    return []


def stand_in_rows(count: int, nets: Nets, moved_down: Mapping[int, int]) -> list[int]:
    """Return the row of each cell; `moved_down` asks for cells some rows lower or higher.

    Every cell of a net's upper side stands above every cell of its lower side. A wish is kept as
    far as that allows, and pushes what hangs below it down.
    """
    below = _below(count, nets)
    above = _turned(below, count)
    order = _sorted_down(count, below, above)
    rows = [0] * count
    for cell in order:
        rows[cell] = max((rows[other] + 1 for other in above[cell]), default=0)
    _shorten(rows, order, nets, above, below)
    if any(moved_down.values()):
        wishes = {cell: rows[cell] + moved_down[cell] for cell in moved_down}
        for cell in order:
            lowest = max((rows[other] + 1 for other in above[cell]), default=0)
            rows[cell] = max(lowest, wishes.get(cell, rows[cell]))
    return _without_gaps(rows)


def _below(count: int, nets: Nets) -> list[set[int]]:
    below: list[set[int]] = [set() for _ in range(count)]
    for feeding, fed in nets:
        for cell in feeding:
            below[cell].update(fed)
    return below


def _turned(below: Sequence[set[int]], count: int) -> list[set[int]]:
    above: list[set[int]] = [set() for _ in range(count)]
    for cell, others in enumerate(below):
        for other in others:
            above[other].add(cell)
    return above


def _sorted_down(count: int, below: Sequence[set[int]], above: Sequence[set[int]]) -> list[int]:
    waiting = [len(above[cell]) for cell in range(count)]
    ready = [cell for cell in range(count) if not waiting[cell]]
    order = []
    for cell in ready:
        order.append(cell)
        for other in sorted(below[cell]):
            waiting[other] -= 1
            if not waiting[other]:
                ready.append(other)
    return order


def _shorten(
    rows: list[int],
    order: Sequence[int],
    nets: Nets,
    above: Sequence[set[int]],
    below: Sequence[set[int]],
) -> None:
    """Move each cell to the row in which its nets reach across the fewest rows."""
    of_cell: dict[int, list[int]] = defaultdict(list)
    for number, (feeding, fed) in enumerate(nets):
        for cell in {*feeding, *fed}:
            of_cell[cell].append(number)

    def reach(cell: int) -> int:
        total = 0
        for number in of_cell[cell]:
            feeding, fed = nets[number]
            total += max(rows[other] for other in (*feeding, *fed))
            total -= min(rows[other] for other in (*feeding, *fed))
        return total

    deepest = max(rows, default=0)
    for turn in range(_ROUNDS):
        before = list(rows)
        for cell in order if turn % 2 else reversed(order):
            lowest = max((rows[other] + 1 for other in above[cell]), default=0)
            highest = min((rows[other] - 1 for other in below[cell]), default=deepest)
            best = (reach(cell), rows[cell])
            for row in range(lowest, highest + 1):
                rows[cell] = row
                best = min(best, (reach(cell), row))
            rows[cell] = best[1]
        if rows == before:
            return


def _without_gaps(rows: Sequence[int]) -> list[int]:
    rank = {row: number for number, row in enumerate(sorted(set(rows)))}
    return [rank[row] for row in rows]
