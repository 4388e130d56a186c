"""What suspects move in a wiring: rows of its equations along a line, or a path between two nodes.

Most suspects move one row or join two nodes. Some move several at the same share: a wiper shifts
the track on both of its sides, a return fitted elsewhere opens one way and makes another.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from circuits.engine.equations.wiring import (
    MOST_PIECES,
    ZERO_NODE,
    IntArray,
    Situation,
    Wiring,
    law_array,
)
from circuits.engine.faults import HALFWAY_OHMS, Suspect, path_ends, worst_branches
from circuits.engine.instruments import AMMETER_NODE
from circuits.engine.laws import Branch, Curve, FloatArray, Law
from circuits.engine.network import Network
from circuits.engine.parts import Contact, FaultKind, Part, RuleContact, Switch

BoolArray = NDArray[np.bool_]

#: The number of the move that does nothing: what the healthy circuit does, and what fills a row.
NO_MOVE = 0


@dataclass(frozen=True, slots=True)
class Moves:
    """How F suspects move a wiring, by M moves: one row each along a line, or a path."""

    of_suspect: IntArray  # (F, m) the moves of each suspect, filled up with NO_MOVE
    branch: IntArray  # (M,) the moved branch, or -1
    worst_laws: FloatArray  # (M, pieces, 3)
    opens: BoolArray  # (M,) whether it adds resistance, which leaves a share of the branch's law
    control: IntArray  # (M,) the row of the control whose thresholds move along, or -1
    worst_rising: FloatArray  # (M, 2)
    worst_falling: FloatArray  # (M, 2)
    ends: IntArray  # (M, 2) the nodes that a path joins
    is_path: BoolArray  # (M,)
    #: (M,) the contact that a path lies across, or -1: made, it leaves the path nothing to do
    contact: IntArray
    #: By move: the curved branch that it moves, and the curve at its worst
    curves: dict[int, tuple[int, Curve]]
    #: (M,) for the members of a compound fault, the odds (share / rest) or the share at its worst;
    #: else NaN: the move stands where its suspect does
    worst_odds: FloatArray
    worst_share: FloatArray
    #: By move: the tolerances of its branch (w, pieces, 3) as they are at its worst, where they
    #: move too: a wrong lamp is as well made as the right one, by its own watts
    worst_widths: dict[int, FloatArray]
    #: (R,) the path between the leads of each place, for a meter that is drawn in there
    between_leads: IntArray

    def single(self, move: IntArray) -> BoolArray:
        """Return which rows of moves (E, k) are one at most that stands where its suspect does."""
        compound = np.isfinite(self.worst_share) | ~np.isnan(self.worst_odds)
        single: BoolArray = ((move != NO_MOVE).sum(axis=1) <= 1) & ~compound[move].any(axis=1)
        return single

    def along_the_line(self, move: IntArray) -> tuple[FloatArray, FloatArray]:
        """Return how far moves (E, k) have gone at share u of their suspect, as share over whole.

        Both are polynomials in u (E, k, 2). What is beyond the moves of suspects, a hold that is
        let go, has gone all the way; so has the open that is a member of a compound.
        """
        own = np.where(move < len(self.branch), move, NO_MOVE)
        odds, part = self.worst_odds[own], self.worst_share[own]
        share, whole = np.zeros((*move.shape, 2)), np.zeros((*move.shape, 2))
        share[..., 1] = np.where(np.isnan(odds), np.where(np.isnan(part), 1.0, part), odds)
        whole[..., 0] = 1.0
        whole[..., 1] = np.where(np.isnan(odds), 0.0, odds)
        at_once = (move >= len(self.branch)) | np.isinf(odds)
        share[at_once] = whole[at_once] = 1.0, 0.0
        return share, whole

    def there_at_once(self) -> IntArray:
        """Return how many members of each suspect (F,) are there in full from the first share on.

        An open or a dead short knows no degrees.
        """
        return np.asarray(np.isinf(self.worst_odds)[self.of_suspect].sum(axis=1))

    @property
    def has_compounds(self) -> bool:
        return not (np.isnan(self.worst_odds).all() and np.isnan(self.worst_share).all())

    def moved_by(self, suspect: IntArray, share: FloatArray, rest: FloatArray) -> "Moved":
        """Return what E trials of s suspects at once (E, s) move, and how far."""
        moves = self.of_suspect[suspect]  # (E, s, m)
        count, suspects, most = moves.shape
        move = moves.reshape(count, suspects * most)
        if most > 1:
            share, rest = (np.repeat(each, most, axis=1) for each in (share, rest))
        if self.has_compounds:
            share, rest = self._as_members(move, share, rest)
        moved = Moved(move, share, rest)
        return moved if move.shape[1] == 1 else moved.packed()

    def _as_members(
        self, move: IntArray, share: FloatArray, rest: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return shares and 1 - share (E, k) with each member of a compound where it stands."""
        odds, part = self.worst_odds[move], self.worst_share[move]
        share, rest = share.copy(), rest.copy()
        in_odds = ~np.isnan(odds)
        if in_odds.any():
            own, its_odds = share[in_odds], odds[in_odds]
            with np.errstate(invalid="ignore"):
                # An open has infinite odds at any share above nought.
                there = np.where(own > 0, own * its_odds, 0.0)
                bent = np.where(np.isinf(there), 1.0, there / (1 + there))
            share[in_odds], rest[in_odds] = bent, 1 / (1 + there)
        in_parts = ~np.isnan(part)
        if in_parts.any():
            share[in_parts] *= part[in_parts]
            rest[in_parts] = 1 - share[in_parts]
        return share, rest


@dataclass(frozen=True, slots=True)
class Moved:
    """What E trials move: k moves each, how far each has gone, and 1 less that, (E, k)."""

    move: IntArray
    share: FloatArray
    rest: FloatArray

    def __len__(self) -> int:
        return len(self.move)

    def take(self, chosen: IntArray | BoolArray) -> "Moved":
        rows = np.flatnonzero(chosen) if chosen.dtype == bool else chosen
        return Moved(
            self.move.take(rows, axis=0),
            self.share.take(rows, axis=0),
            self.rest.take(rows, axis=0),
        )

    def first(self, slots: int) -> "Moved":
        """Return the trials with their first moves alone."""
        if slots == self.move.shape[1]:
            return self
        return Moved(self.move[:, :slots], self.share[:, :slots], self.rest[:, :slots])

    def beside(self, holds: IntArray) -> "Moved":
        """Return the trials with further moves (E, k) that have gone all the way, or NO_MOVE."""
        gone = (holds != NO_MOVE).astype(float)
        return Moved(
            np.hstack([self.move, holds]),
            np.hstack([self.share, gone]),
            np.hstack([self.rest, 1 - gone]),
        )

    def of_one_law(self, moved_branch: IntArray, thinned_branch: IntArray) -> "Moved":
        """Return the trials with shares that allow for what else is moved in a law.

        Where an added resistance leaves a share of a law, other moves of that law shrink with it.
        Of each move (E, k): the branch whose law it shifts, and the one of which it leaves a share,
        or -1.
        """
        share, rest = self.share, self.rest
        for thinning, other in permutations(range(self.move.shape[1]), 2):
            branch = thinned_branch[:, thinning]
            same = (branch >= 0) & (branch == moved_branch[:, other])
            if same.any():
                share, rest = share.copy(), rest.copy()
                share[same, other] *= self.rest[same, thinning]
                rest[same, other] = 1 - share[same, other]
        return Moved(self.move, share, rest)

    def with_path(self, path: IntArray, ohms: FloatArray) -> "Moved":
        """Return the trials with one more path each (E,), of so many ohms (E,)."""
        total = HALFWAY_OHMS + ohms
        return Moved(
            np.column_stack([self.move, path]),
            np.column_stack([self.share, HALFWAY_OHMS / total]),
            np.column_stack([self.rest, ohms / total]),
        ).packed()

    def packed(self) -> "Moved":
        """Return the trials with their moves in front and no more slots than one of them fills."""
        fills = self.move != NO_MOVE
        most = max(1, fills.sum(axis=1).max(initial=0))
        if not (fills[:, 1:] & ~fills[:, :-1]).any():
            return self.first(most)
        order = np.argsort(~fills, axis=1, kind="stable")[:, :most]
        order += np.arange(len(self))[:, None] * fills.shape[1]
        return Moved(self.move.take(order), self.share.take(order), self.rest.take(order))

    def by_slots(self) -> Iterator[tuple[int, IntArray]]:
        """Yield how many slots are filled, at least one, with the trials (indices) that do so."""
        if self.move.shape[1] == 1:
            yield 1, np.arange(len(self))
            return
        if (self.move[:, -1] != NO_MOVE).all():
            yield self.move.shape[1], np.arange(len(self))
            return
        filled = np.maximum((self.move != NO_MOVE).sum(axis=1), 1)
        for slots in np.unique(filled).tolist():
            yield slots, np.flatnonzero(filled == slots)


class _Move(NamedTuple):
    """One entry of `Moves`, before it is packed."""

    branch: int = -1
    worst_laws: tuple[Law, ...] = (Law(0.0, 0.0, 0.0),)
    opens: bool = False
    control: int = -1
    worst_rising: tuple[float, ...] = ()
    worst_falling: tuple[float, ...] = ()
    ends: tuple[int, int] = (ZERO_NODE, ZERO_NODE)
    is_path: bool = False
    contact: int = -1
    curve: Curve | None = None
    worst_widths: FloatArray | None = None
    worst_odds: float = math.nan
    worst_share: float = math.nan


class WorstCases:
    """What suspects make of parts at their worst, worked out once for all phases.

    Most parts are the same object in every phase, so the object is the key: comparing parts by
    value would cost as much as working them out. Each entry holds on to what its key stands for.
    """

    def __init__(self) -> None:
        self._known: dict[tuple[int, int], tuple[Part, Suspect, tuple[Branch, ...]]] = {}

    def branches(self, part: Part, suspect: Suspect) -> tuple[Branch, ...]:
        key = id(part), id(suspect)
        if key not in self._known:
            self._known[key] = part, suspect, worst_branches(part, suspect)
        return self._known[key][2]


def compile_moves(
    network: Network,
    situation: Situation,
    wiring: Wiring,
    suspects: Sequence[Suspect | None],
    leads: IntArray,
    worst_cases: WorstCases,
) -> Moves:
    """Return the moves of suspects in a situation; None is the healthy circuit, which stays.

    `leads` (R, 2) are the nodes between which meters may be drawn in.
    """
    compiler = _Compiler(network, situation, wiring, worst_cases)
    packed = [_Move()]
    of_suspect: list[list[int]] = []
    for suspect in suspects:
        own = list(compiler.moves(suspect)) if suspect is not None else []
        of_suspect.append(list(range(len(packed), len(packed) + len(own))))
        packed.extend(own)
    own_moves = len(packed)
    packed.extend(_Move(ends=(red, black), is_path=True) for red, black in leads.tolist())
    most = max((len(own) for own in of_suspect), default=1) or 1
    thresholds = MOST_PIECES - 1
    return Moves(
        of_suspect=np.array(
            [own + [NO_MOVE] * (most - len(own)) for own in of_suspect], dtype=np.intp
        ).reshape(-1, most),
        branch=np.array([move.branch for move in packed], dtype=np.intp),
        worst_laws=law_array(move.worst_laws for move in packed),
        opens=np.array([move.opens for move in packed], dtype=bool),
        control=np.array([move.control for move in packed], dtype=np.intp),
        worst_rising=_padded([move.worst_rising for move in packed], thresholds),
        worst_falling=_padded([move.worst_falling for move in packed], thresholds),
        ends=np.array([move.ends for move in packed], dtype=np.intp),
        is_path=np.array([move.is_path for move in packed], dtype=bool),
        contact=np.array([move.contact for move in packed], dtype=np.intp),
        curves={
            number: (move.branch, move.curve)
            for number, move in enumerate(packed)
            if move.curve is not None
        },
        worst_odds=np.array([move.worst_odds for move in packed]),
        worst_share=np.array([move.worst_share for move in packed]),
        worst_widths={
            number: move.worst_widths
            for number, move in enumerate(packed)
            if move.worst_widths is not None
        },
        between_leads=np.arange(own_moves, len(packed)),
    )


class _Compiler:
    """Looks up what a suspect moves in one situation."""

    def __init__(
        self, network: Network, situation: Situation, wiring: Wiring, worst_cases: WorstCases
    ) -> None:
        self.network = network
        self.worst_cases = worst_cases
        self.situation = situation
        self.wiring = wiring
        self.parts = {part.name: part for part in network.parts_in(network.phase(situation.phase))}
        self.control_of = {int(branch): row for row, branch in enumerate(wiring.controlled)}

    def moves(self, suspect: Suspect) -> Iterator[_Move]:
        if suspect.members and suspect.target in self.wiring.out:
            return
        for member in suspect.members:
            share, rest = member.suspect.share(member.severity)
            for move in self._moves_of_one(member.suspect):
                if member.suspect.in_ohms:
                    yield move._replace(worst_odds=share / rest if rest else math.inf)
                else:
                    yield move._replace(worst_share=share)
        if not suspect.members:
            yield from self._moves_of_one(suspect)

    def _moves_of_one(self, suspect: Suspect) -> Iterator[_Move]:
        # A part that is unplugged takes its fault along; a chafed wire stays where it is.
        stays = suspect.is_path and suspect.kind is not FaultKind.BYPASS
        if suspect.target in self.wiring.out and not stays:
            return
        if suspect.is_path:
            yield self._path(suspect)
            return
        for worst in self.worst_cases.branches(self.parts[suspect.target], suspect):
            yield self._row(suspect, worst)

    def _path(self, suspect: Suspect) -> _Move:
        first, second = path_ends(self.network, suspect)
        if suspect.kind is FaultKind.BYPASS and suspect.target == self.situation.ammeter_in:
            first = AMMETER_NODE
        contact = -1
        if suspect.kind is FaultKind.BYPASS and isinstance(
            self.parts[suspect.target], Contact | RuleContact | Switch
        ):
            contact = self.wiring.branch_index[suspect.target]
        return _Move(
            ends=(self.wiring.node(first), self.wiring.node(second)),
            is_path=True,
            contact=contact,
        )

    def _row(self, suspect: Suspect, worst: Branch) -> _Move:
        branch = self.wiring.branch_index[worst.name]
        drawn = self.wiring.branches[branch]
        control = worst.control if worst.control != drawn.control else None
        return _Move(
            branch=branch,
            worst_laws=worst.pieces,
            opens=suspect.kind is FaultKind.RESISTANCE,
            control=self.control_of[branch] if control is not None else -1,
            worst_rising=control.rising if control is not None else (),
            worst_falling=control.falling if control is not None else (),
            curve=worst.curve,
            worst_widths=law_array(wobble.half_width for wobble in worst.wobbles)
            if worst.wobbles != drawn.wobbles
            else None,
        )


def _padded(rows: Sequence[Sequence[float]], width: int) -> FloatArray:
    return np.array([[*row, *[np.inf] * (width - len(row))] for row in rows]).reshape(-1, width)
