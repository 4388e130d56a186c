"""Several moves at once: what they make of a factorised circuit together.

Each move pulls with an unknown force c along its response, and feels what all of them do:

    rest_i c_i + share_i * sum over j of coupling_ij c_j = share_i drive_i

(the compensation theorem for several ports; for one move, the closed form of `factors`). So k
faults at any severities are a system of k equations in the factorisation that is there already.
"""

from dataclasses import dataclass

import numpy as np

from circuits.engine.factors import NO_DRIVE, NO_WAY_ROUND, Factor
from circuits.engine.laws import FloatArray
from circuits.engine.moves import NO_MOVE, BoolArray
from circuits.engine.wiring import IntArray

# Determinants of scaled equations below this are looked at closely.
SUSPICIOUS = 1e-5
# Rounding of a coupling, which is one plus or minus numbers of its size.
ROUNDING = 1e-14
# A forced current behind an open end drives its volts off, so far that its part lets go.
LEAST_STIFFNESS = 1e-14


@dataclass(frozen=True, slots=True)
class Grip:
    """E trials of k moves each in one factorisation (k counts the holds that paths let go)."""

    factor: Factor
    move: IntArray  # (E, k)
    #: (E, k) how far each trial goes along each of its responses
    way: FloatArray
    #: (E, k, k): the inverse of a trial is the factor's less `response @ pull @ feel`
    pull: FloatArray
    #: (E, k, k), in its columns the ways in which opens leave volts undetermined, or zeros
    free: FloatArray
    #: (E, I) the island that each of the factor's islands has become part of, or none if all stay
    kin: IntArray | None

    def along(self, response: FloatArray) -> FloatArray:
        """Return how r rows answer to what each move of each trial feels (E, k, r)."""
        return np.swapaxes(self.pull, 1, 2) @ response[self.move]

    def left_free(self, response: FloatArray, threshold: float) -> BoolArray:
        """Return which of r rows an open leaves undetermined (E, r)."""
        reached = np.abs(np.swapaxes(self.free, 1, 2) @ response[self.move]) > threshold
        return np.asarray(reached.any(axis=1))

    def together(self, islands: IntArray) -> BoolArray:
        """Return whether pairs of islands (R, 2) are one island in each trial (E, R)."""
        if self.kin is None:
            same = islands[:, 0] == islands[:, 1]
            return np.broadcast_to(same, (len(self.move), len(same)))
        return np.asarray(self.kin[:, islands[:, 0]] == self.kin[:, islands[:, 1]])


def take_hold(factor: Factor, move: IntArray, share: FloatArray, rest: FloatArray) -> Grip:
    """Return the grip of E trials by their moves, shares and 1 - share (E, k)."""
    joining = factor.joins[move] & (share > 0)
    if joining.any():
        holds, kin = _let_go(factor, np.where(joining, move, NO_MOVE))
        released = holds != NO_MOVE
        move = np.hstack([move, holds])
        share = np.hstack([share, released.astype(float)])
        rest = np.hstack([rest, (~released).astype(float)])
    else:
        kin = None
    if move.shape[1] == 1:
        return _single(factor, move, share, rest)
    way, pull, free = _several(factor, move, *_shares_of_one_law(factor, move, share, rest))
    return Grip(factor, move, way, pull, free, kin)


def _single(factor: Factor, move: IntArray, share: FloatArray, rest: FloatArray) -> Grip:
    below = rest + share * factor.stiffness[move]
    below = np.where(np.abs(below) < LEAST_STIFFNESS, LEAST_STIFFNESS, below)
    # Where nothing flows, opening changes nothing.
    cut_off = factor.splits[move] & (rest == 0)
    pull = np.where(cut_off, 0.0, share / below)
    way = pull * factor.drive[move]
    return Grip(factor, move, way, pull[:, :, None], cut_off[:, :, None].astype(float), None)


def _shares_of_one_law(
    factor: Factor, move: IntArray, share: FloatArray, rest: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Where an added resistance leaves a share of a law, other moves of that law shrink with it."""
    moved, thinned = factor.moved_branch[move], factor.thinned_branch[move]
    shared, remaining = share.copy(), rest.copy()
    for slot in range(move.shape[1]):
        same = (moved == thinned[:, [slot]]) & (moved >= 0)
        same[:, slot] = False
        shared = np.where(same, shared * rest[:, [slot]], shared)
        remaining = np.where(same, 1 - shared, remaining)
    return shared, remaining


def _several(
    factor: Factor, move: IntArray, share: FloatArray, rest: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return way (E, k), pull and free ways (E, k, k) of trials with several moves."""
    slots = move.shape[1]
    matrix = share[:, :, None] * factor.coupling[move[:, :, None], move[:, None, :]]
    diagonal = np.arange(slots)
    matrix[:, diagonal, diagonal] += rest
    # A move that does nothing keeps its equation to itself.
    idle = (share == 0) | (move == NO_MOVE)
    matrix = np.where(idle[:, :, None], np.eye(slots), matrix)
    size = np.abs(matrix).max(axis=2)
    # An open with no way round it feels nothing: what stands in its equation is rounding.
    scale = 1 / np.where(size > NO_WAY_ROUND, size, 1.0)
    matrix *= scale[:, :, None]
    # The way has a column of its own: where a forced current has run off, it would lose all its
    # digits if it were put together from the pull.
    wish = np.zeros((len(move), slots, slots + 1))
    wish[:, diagonal, diagonal] = share * scale
    wish[:, :, slots] = share * scale * factor.drive[move]
    suspicious = np.abs(np.linalg.det(matrix)) < SUSPICIOUS
    sound = np.where(suspicious[:, None, None], np.eye(slots), matrix)
    found = np.linalg.solve(sound, wish)
    free = np.zeros_like(matrix)
    if suspicious.any():
        found[suspicious], free[suspicious] = _close_look(
            matrix[suspicious], wish[suspicious], ROUNDING * scale[suspicious].max(axis=1)
        )
    return found[:, :, slots], found[:, :, :slots], free


def _close_look(
    matrix: FloatArray, wish: FloatArray, rounding: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Solve equations that may have no one solution: opens that leave no way round them.

    Where nothing drives such a way it is left alone and reported as free; where a forced current
    does, it goes off so far that its part lets go.
    """
    left, size, right = np.linalg.svd(matrix)
    lost = size < np.maximum(NO_WAY_ROUND, rounding)[:, None]
    force = np.swapaxes(left, 1, 2) @ wish
    driven = np.abs(force[:, :, -1]) > NO_DRIVE
    with np.errstate(divide="ignore"):
        inverse = np.where(lost, np.where(driven, 1 / LEAST_STIFFNESS, 0.0), 1 / size)
    ways = np.swapaxes(right, 1, 2)
    found = (ways * inverse[:, None, :]) @ force
    return found, ways * (lost & ~driven)[:, None, :]


def _let_go(factor: Factor, joining: IntArray) -> tuple[IntArray, IntArray]:
    """Return the holds (E, k) that joining paths let go, and the islands they lead to (E, I)."""
    combinations, of_trial = np.unique(joining, axis=0, return_inverse=True)
    holds = np.full(combinations.shape, NO_MOVE, dtype=np.intp)
    kin = np.tile(np.arange(len(factor.island)), (len(combinations), 1))
    for row, moves in enumerate(combinations):
        for slot, move in enumerate(moves):
            first, second = kin[row, factor.path_islands[move]]
            if first == second:
                continue
            tied = {int(kin[row, label]) for label in factor.tied}
            loose, other = (first, second) if first not in tied else (second, first)
            # What was merged into an island goes by its label, and has its one hold.
            if loose not in tied:
                holds[row, slot] = factor.hold_of[int(loose)]
            kin[row, kin[row] == loose] = other
    of_trial = of_trial.reshape(-1)
    return holds[of_trial], kin[of_trial]


def law_left(factor: Factor, move: IntArray, rest: FloatArray, branches: IntArray) -> FloatArray:
    """Return what share of each branch's law the added resistances of trials leave (E, P)."""
    thinned = factor.thinned_branch[move][:, :, None] == branches
    return np.asarray(np.where(thinned, rest[:, :, None], 1.0).prod(axis=1))
