"""Rows filled from left to right: cells, and the wires that pass through a row.

A net that reaches across several rows passes each of them at one post, so it stays one wire and
is never split into parallel ones.
"""

import random
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from circuits.drawing.cells import GRID, Plan
from circuits.drawing.rows import find_loop, stand_in_rows

_SWEEPS = 4
_CHAIN_ROUNDS = 8
End = tuple[int, int]


@dataclass(slots=True, kw_only=True)
class Gap:
    """A net between two rows: its ends at the row above and at the row below, as (post, x)."""

    net: str
    row: int
    upper: list[End]
    lower: list[End]


@dataclass(slots=True, kw_only=True)
class Ranks:
    """Posts in rows. The first ones are the cells, in their order; the others pass wires."""

    rows: list[list[int]]
    row_of: list[int]
    widths: list[int]
    gaps: list[Gap]
    #: Net of each passing post, by its number.
    passing: dict[int, str]
    cell_count: int
    links: list[tuple[list[tuple[int, float]], list[tuple[int, float]]]] = field(init=False)

    def __post_init__(self) -> None:
        self.links = [([], []) for _ in self.widths]
        for gap in self.gaps:
            for post, x in gap.upper:
                for other, other_x in gap.lower:
                    self.links[post][1].append((other, self._share(other, other_x)))
                    self.links[other][0].append((post, self._share(post, x)))

    def _share(self, post: int, x: int) -> float:
        return x / self.widths[post] if self.widths[post] else 0.5

    def copy_rows(self) -> list[list[int]]:
        return [list(row) for row in self.rows]


def rank(plan: Plan, nudged_down: Mapping[str, int]) -> Ranks:
    """Put the cells of a plan into rows, and posts where wires pass."""
    nets = {net: ends for net, ends in plan.nets().items() if len(ends[0]) + len(ends[1]) > 1}
    sides = [
        ([cell for cell, _ in feeding], [cell for cell, _ in fed]) for feeding, fed in nets.values()
    ]
    wishes = {
        number: sum(nudged_down.get(name, 0) for name in cell.parts)
        for number, cell in enumerate(plan.cells)
        if any(name in nudged_down for name in cell.parts)
    }
    row_of = stand_in_rows(len(plan.cells), sides, wishes)
    widths = [cell.width for cell in plan.cells]
    gaps: list[Gap] = []
    passing: dict[int, str] = {}
    for net, (feeding, fed) in nets.items():
        upper_of, lower_of = _by_row(feeding, row_of), _by_row(fed, row_of)
        top = min([*upper_of, *(row - 1 for row in lower_of)])
        bottom = max([*lower_of, *(row + 1 for row in upper_of if not lower_of)])
        carried: list[End] = []
        for row in range(top, bottom):
            upper = [*upper_of.get(row, []), *carried]
            lower = list(lower_of.get(row + 1, []))
            carried = []
            if row + 1 < bottom:
                post = len(widths)
                widths.append(0)
                row_of.append(row + 1)
                passing[post] = net
                carried = [(post, 0)]
                lower.append((post, 0))
            gaps.append(Gap(net=net, row=row, upper=upper, lower=lower))
    rows: list[list[int]] = [[] for _ in range(max(row_of, default=-1) + 1)]
    for post, row in enumerate(row_of):
        rows[row].append(post)
    return Ranks(
        rows=rows,
        row_of=row_of,
        widths=widths,
        gaps=gaps,
        passing=passing,
        cell_count=len(plan.cells),
    )


def has_loop(plan: Plan) -> list[int]:
    """Return the cells of a loop in which each stands above the next, or an empty list."""
    sides = [
        ([cell for cell, _ in feeding], [cell for cell, _ in fed])
        for feeding, fed in plan.nets().values()
    ]
    return find_loop(len(plan.cells), sides)


def _by_row(ends: Sequence[End], row_of: Sequence[int]) -> dict[int, list[End]]:
    by_row: dict[int, list[End]] = defaultdict(list)
    for cell, x in ends:
        by_row[row_of[cell]].append((cell, x))
    return by_row


# ------------------------------------------------------------------------- order in the rows


def arrange(ranks: Ranks, seed: int) -> None:
    """Order the posts of each row so that few wires cross; seed 0 begins as the sheet has it."""
    if seed:
        shuffle = random.Random(seed).shuffle
        for row in ranks.rows:
            shuffle(row)
    best = (_crossings(ranks), ranks.copy_rows())
    for sweep in range(_SWEEPS):
        is_down = sweep % 2 == 0
        count = len(ranks.rows)
        for number in range(1, count) if is_down else range(count - 2, -1, -1):
            _sort_by_neighbours(ranks, number, side=0 if is_down else 1)
        _swap_neighbours(ranks)
        crossings = _crossings(ranks)
        if crossings < best[0]:
            best = (crossings, ranks.copy_rows())
    ranks.rows = best[1]


def _seats(ranks: Ranks) -> list[int]:
    seats = [0] * len(ranks.widths)
    for row in ranks.rows:
        for seat, post in enumerate(row):
            seats[post] = seat
    return seats


def _sort_by_neighbours(ranks: Ranks, number: int, *, side: int) -> None:
    seats = _seats(ranks)

    def middle(post: int) -> float:
        linked = [seats[other] + share for other, share in ranks.links[post][side]]
        return sum(linked) / len(linked) if linked else seats[post] + 0.5

    ranks.rows[number].sort(key=middle)


def _swap_neighbours(ranks: Ranks) -> None:
    seats = _seats(ranks)
    better = True
    turns = 0
    while better and turns < len(ranks.widths):
        better = False
        turns += 1
        for row in ranks.rows:
            for seat in range(len(row) - 1):
                left, right = row[seat], row[seat + 1]
                if _crossed(ranks, left, right, seats) > _crossed(ranks, right, left, seats):
                    row[seat], row[seat + 1] = right, left
                    seats[left], seats[right] = seat + 1, seat
                    better = True


def _crossed(ranks: Ranks, left: int, right: int, seats: Sequence[int]) -> int:
    """Count the crossings between two posts' wires if `left` stands left of `right`."""
    total = 0
    for side in (0, 1):
        of_right = [seats[other] + share for other, share in ranks.links[right][side]]
        if of_right:
            for other, share in ranks.links[left][side]:
                at = seats[other] + share
                total += sum(1 for place in of_right if place < at)
    return total


def _crossings(ranks: Ranks) -> int:
    seats = _seats(ranks)
    total = 0
    for row in ranks.rows:
        # Wires from one row to the next: count the pairs that change sides.
        ends = [
            (seats[other] + share)
            for post in row
            for other, share in sorted(ranks.links[post][1], key=lambda link: seats[link[0]])
        ]
        total += _inversions(ends)
    return total


def _inversions(values: list[float]) -> int:
    """Count pairs that stand the wrong way round, by merging sorted halves."""
    if len(values) < 2:
        return 0
    half = len(values) // 2
    left, right = values[:half], values[half:]
    total = _inversions(left) + _inversions(right)
    merged: list[float] = []
    while left and right:
        if right[0] < left[0]:
            total += len(left)
            merged.append(right.pop(0))
        else:
            merged.append(left.pop(0))
    values[:] = [*merged, *left, *right]
    return total


# ------------------------------------------------------------------------------- left edges


def spread(ranks: Ranks, wishes: Mapping[int, int]) -> list[int]:
    """Return each post's left edge: wires run straight where they can, nothing overlaps.

    `wishes` moves cells that many units right of where they would stand.
    """
    lefts = [0] * len(ranks.widths)
    for row in ranks.rows:
        left = 0
        for post in row:
            lefts[post] = left
            left += ranks.widths[post] + GRID
    pulls = _pulls(ranks)
    count = len(ranks.rows)
    for turn in range(24):
        numbers = range(count) if turn % 2 == 0 else range(count - 1, -1, -1)
        for number in numbers:
            wanted = []
            for post in ranks.rows[number]:
                linked = pulls[post]
                sided = [pull for pull in linked if turn > 15 or pull[3] == turn % 2] or linked
                wanted.append([(lefts[other] + shift, weight) for other, shift, weight, _ in sided])
            _settle_row(ranks, ranks.rows[number], wanted, lefts)
    for _ in range(_CHAIN_ROUNDS):
        if not _shift_chains(ranks, pulls, lefts):
            break
    if any(wishes.values()):
        _move_wished(ranks, wishes, lefts)
    least = min(lefts, default=0)
    return [left - least for left in lefts]


def _pulls(ranks: Ranks) -> list[list[tuple[int, int, int, int]]]:
    """Return per post what pulls at it: (other post, shift, weight, from above 0 or below 1)."""
    pulls: list[list[tuple[int, int, int, int]]] = [[] for _ in ranks.widths]
    for gap in ranks.gaps:
        for post, x in gap.upper:
            for other, other_x in gap.lower:
                ends = (post >= ranks.cell_count) + (other >= ranks.cell_count)
                weight = (
                    (8, 4, 8)[ends] if len(gap.upper) + len(gap.lower) == 2 else (1, 2, 8)[ends]
                )
                pulls[post].append((other, other_x - x, weight, 1))
                pulls[other].append((post, x - other_x, weight, 0))
    return pulls


def _settle_row(
    ranks: Ranks,
    row: Sequence[int],
    wanted: Sequence[Sequence[tuple[int, int]]],
    lefts: list[int],
) -> None:
    """Put a row's posts as near to where they are wanted as their order and widths allow.

    Least sum of weighted distances, by pooling neighbours that want past each other: the place of a
    pool is a weighted median, so at least one of its wires is exactly straight.
    """
    pools: list[tuple[list[tuple[int, int]], int, int]] = []  # wishes, place, posts
    offsets = [0]
    for post in row[:-1]:
        offsets.append(offsets[-1] + ranks.widths[post] + GRID)
    for post, offset, wishes in zip(row, offsets, wanted, strict=True):
        own = [(place - offset, weight) for place, weight in wishes]
        # Without any wish it stays beside its neighbours, and gives way to all.
        own = own or [(lefts[post] - offset, 0)]
        pools.append((own, _median(own), 1))
        while len(pools) > 1 and pools[-2][1] > pools[-1][1]:
            later, _, later_count = pools.pop()
            earlier, _, earlier_count = pools.pop()
            together = [*earlier, *later]
            pools.append((together, _median(together), earlier_count + later_count))
    number = 0
    for _, place, members in pools:
        for _ in range(members):
            lefts[row[number]] = place + offsets[number]
            number += 1


Pulls = Sequence[Sequence[tuple[int, int, int, int]]]


def _shift_chains(ranks: Ranks, pulls: Pulls, lefts: list[int]) -> bool:
    """Move straight chains of posts as one, where no post would move alone; say if any moved."""
    has_moved = False
    for chain in _straight_chains(ranks, lefts):
        members = set(chain)
        wishes = [
            (lefts[other] + shift - lefts[post], weight)
            for post in chain
            for other, shift, weight, _ in pulls[post]
            if other not in members
        ]
        if not wishes:
            continue
        delta = _median(wishes)
        room_left, room_right = _room(ranks, chain, lefts)
        delta = max(-room_left, min(room_right, delta))
        if _cost(wishes, delta) < _cost(wishes, 0):
            has_moved = True
            for post in chain:
                lefts[post] += delta
    return has_moved


def _cost(wishes: Sequence[tuple[int, int]], delta: int) -> int:
    return sum(abs(place - delta) * weight for place, weight in wishes)


def _straight_chains(ranks: Ranks, lefts: Sequence[int]) -> list[list[int]]:
    """Return the groups of posts that are joined by single wires without a bend."""
    leader = list(range(len(lefts)))

    def led(post: int) -> int:
        while leader[post] != post:
            post = leader[post]
        return post

    for gap in ranks.gaps:
        if len(gap.upper) == len(gap.lower) == 1:
            (post, x), (other, other_x) = gap.upper[0], gap.lower[0]
            if lefts[post] + x == lefts[other] + other_x:
                leader[led(other)] = led(post)
    chains: dict[int, list[int]] = defaultdict(list)
    for post in range(len(lefts)):
        chains[led(post)].append(post)
    return list(chains.values())


def _room(ranks: Ranks, chain: Sequence[int], lefts: Sequence[int]) -> tuple[int, int]:
    """Return how far a chain can move left and right before it meets a neighbour."""
    members = set(chain)
    room_left = room_right = 10**6
    for row in {ranks.row_of[post] for post in chain}:
        for left, right in pairwise(ranks.rows[row]):
            free = lefts[right] - lefts[left] - ranks.widths[left] - GRID
            if right in members and left not in members:
                room_left = min(room_left, free)
            if left in members and right not in members:
                room_right = min(room_right, free)
    return room_left, room_right


def _median(wishes: list[tuple[int, int]]) -> int:
    ordered = sorted(wishes)
    half = sum(weight for _, weight in ordered) / 2
    reached = 0
    for place, weight in ordered:
        reached += weight
        if reached >= half:
            return place
    return ordered[-1][0]


def _move_wished(ranks: Ranks, wishes: Mapping[int, int], lefts: list[int]) -> None:
    """Move single cells, past their neighbours where that is asked for; the others make room."""
    for row in ranks.rows:
        if not any(wishes.get(post) for post in row):
            continue
        for post in row:
            lefts[post] += wishes.get(post, 0)
        row.sort(key=lambda post: lefts[post] + ranks.widths[post] / 2)
        wanted = [[(lefts[post], 1000 if wishes.get(post) else 1)] for post in row]
        _settle_row(ranks, row, wanted, lefts)
