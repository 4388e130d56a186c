"""What suspects move in a wiring: rows of its equations along a line, or a path between two nodes.

Most suspects move one row or join two nodes. Some move several at the same share: a wiper shifts
the track on both of its sides, a return fitted elsewhere opens one way and makes another.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from circuits.engine.faults import Suspect, path_ends, worst_branches
from circuits.engine.instruments import AMMETER_NODE
from circuits.engine.laws import Branch, Curve, FloatArray, Law
from circuits.engine.network import Network
from circuits.engine.parts import Contact, FaultKind, Part, RuleContact, Switch
from circuits.engine.wiring import MOST_PIECES, ZERO_NODE, IntArray, Situation, Wiring, law_array

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

    def single(self) -> BoolArray:
        """Return which suspects (F,) move one thing at most: their lines have a closed form."""
        compound = np.isfinite(self.worst_share) | ~np.isnan(self.worst_odds)
        alone = (self.of_suspect != NO_MOVE).sum(axis=1) <= 1
        single: BoolArray = alone & ~compound[self.of_suspect].any(axis=1)
        return single


@dataclass(frozen=True, slots=True, kw_only=True)
class _Move:
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
    worst_cases: WorstCases,
) -> Moves:
    """Return the moves of suspects in a situation; None is the healthy circuit, which stays."""
    compiler = _Compiler(network, situation, wiring, worst_cases)
    packed = [_Move()]
    of_suspect: list[list[int]] = []
    for suspect in suspects:
        own = list(compiler.moves(suspect)) if suspect is not None else []
        of_suspect.append(list(range(len(packed), len(packed) + len(own))))
        packed.extend(own)
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
                    yield replace(move, worst_odds=share / rest if rest else math.inf)
                else:
                    yield replace(move, worst_share=share)
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
