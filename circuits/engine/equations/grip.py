"""Several moves at once: what they make of a factorised circuit together.

Each move pulls with an unknown force c along its response, and feels what all of them do:

    rest_i c_i + share_i * sum over j of coupling_ij c_j = share_i drive_i

(the compensation theorem for several ports; for one move, the closed form of `factors`). So k
faults at any severities are a system of k equations in the factorisation that is there already.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from circuits.engine.equations.factors import NO_DRIVE, NO_WAY_ROUND, Factor
from circuits.engine.equations.moves import NO_MOVE, BoolArray, Moved
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray

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
    #: (E, k, k), in its columns the ways in which opens leave volts undetermined, or None
    free: FloatArray | None
    #: (E, I) the island that each of the factor's islands has become part of, or none if all stay
    kin: IntArray | None

    def along(self, response: FloatArray) -> FloatArray:
        """Return how r rows answer to what each move of each trial feels (E, k, r)."""
        return np.swapaxes(self.pull, 1, 2) @ response[self.move]

    def left_free(self, response: FloatArray, threshold: float) -> BoolArray:
        """Return which of r rows an open leaves undetermined (E, r)."""
        if self.free is None:
            return np.zeros((len(self.move), response.shape[1]), dtype=bool)
        reached = np.abs(np.swapaxes(self.free, 1, 2) @ response[self.move]) > threshold
        return np.asarray(reached.any(axis=1))

    def together(self, islands: IntArray) -> BoolArray:
        """Return whether pairs of islands (R, 2) are one island in each trial (E, R)."""
        if self.kin is None:
            same = islands[:, 0] == islands[:, 1]
            return np.broadcast_to(same, (len(self.move), len(same)))
        return np.asarray(self.kin[:, islands[:, 0]] == self.kin[:, islands[:, 1]])


def take_hold(factor: Factor, moved: Moved) -> Grip:
    """Return the grip of E trials in one factorisation."""
    moved, kin = with_holds(factor, moved)
    move = moved.move
    if move.shape[1] == 1:
        pulls = pull_alone(factor.drive[move], factor.stiffness[move], factor.splits[move], moved)
    else:
        pulls = pull_together(
            factor.drive[move],
            factor.coupling[move[:, :, None], move[:, None, :]],
            moved.of_one_law(factor.moved_branch[move], factor.thinned_branch[move]),
            is_hold=move >= len(factor.moves.branch),
        )
    return Grip(factor, move, *pulls, kin)


def with_holds(factor: Factor, moved: Moved) -> tuple[Moved, IntArray | None]:
    """Return trials with the holds that their paths let go, and the islands these lead to.

    The islands are those of `Grip`.
    """
    joining = factor.joins[moved.move] & (moved.share > 0)
    if not joining.any():
        return moved, None
    holds, kin = _let_go(factor, np.where(joining, moved.move, NO_MOVE))
    return moved.beside(holds), kin


class Pulls(NamedTuple):
    """What the moves of E trials do together, see `Grip`."""

    way: FloatArray  # (E, k)
    pull: FloatArray  # (E, k, k)
    free: FloatArray | None  # (E, k, k), or None where nothing is left free


def pull_alone(drive: FloatArray, stiffness: FloatArray, splits: BoolArray, moved: Moved) -> Pulls:
    """Return what single moves do, by their drive, stiffness and whether they split (E, 1)."""
    below = moved.rest + moved.share * stiffness
    below = np.where(np.abs(below) < LEAST_STIFFNESS, LEAST_STIFFNESS, below)
    # Where nothing flows, opening changes nothing.
    cut_off = splits & (moved.rest == 0)
    if not cut_off.any():
        pull = moved.share / below
        return Pulls(pull * drive, pull[:, :, None], None)
    pull = np.where(cut_off, 0.0, moved.share / below)
    return Pulls(pull * drive, pull[:, :, None], cut_off[:, :, None].astype(float))


def pull_together(
    drive: FloatArray, coupling: FloatArray, moved: Moved, is_hold: BoolArray | bool = False
) -> Pulls:
    """Return what k moves do together, by their drive (E, k) and coupling (E, k, k).

    Some may be no faults but holds that are let go of (E, k).
    """
    # Thousands of small systems: with the trials last, each of their terms is one long row.
    share, slots = moved.share.T, moved.move.shape[1]
    matrix = share[:, None] * np.moveaxis(coupling, 0, 2)  # (k, k, E)
    for slot in range(slots):
        matrix[slot, slot] += moved.rest[:, slot]
    # A move that does nothing keeps its equation to itself.
    idle = (share == 0) | (moved.move.T == NO_MOVE)
    if idle.any():
        matrix = np.where(idle[:, None], np.eye(slots)[:, :, None], matrix)
    size = np.abs(matrix).max(axis=1)
    # An open with no way round it feels nothing: what stands in its equation is rounding.
    scale = 1 / np.where(size > NO_WAY_ROUND, size, 1.0)
    matrix *= scale[:, None]
    own = share * scale
    wish = own * drive.T
    inverse, suspicious = _inverses(matrix)
    # The way is not put together from the pull: where a forced current has run off, it would lose
    # all its digits.
    way, pull = np.einsum("ije,je->ie", inverse, wish), inverse * own
    free = None
    if suspicious.any():
        ajar = np.where((moved.rest.T == 0) & ~np.asarray(is_hold).T, own, 0.0)
        looked = _close_look(
            np.moveaxis(matrix[..., suspicious], 2, 0),
            own[:, suspicious].T,
            wish[:, suspicious].T,
            ajar[:, suspicious].T,
            ROUNDING * scale[:, suspicious].max(axis=0),
        )
        way[:, suspicious] = looked.way.T
        pull[..., suspicious] = np.moveaxis(looked.pull, 0, 2)
        free = np.zeros_like(coupling)
        free[suspicious] = looked.free
    return Pulls(way.T, np.moveaxis(pull, 2, 0), free)


def _inverses(matrix: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return inverses (k, k, E) of scaled equations, and which (E,) are too near to having none."""
    if len(matrix) > 2:
        by_trial = np.moveaxis(matrix, 2, 0)
        suspicious = np.abs(np.linalg.det(by_trial)) < SUSPICIOUS
        sound = np.where(suspicious[:, None, None], np.eye(len(matrix)), by_trial)
        return np.moveaxis(np.linalg.inv(sound), 0, 2), suspicious
    (own, felt), (other_felt, other) = matrix
    determinant = own * other - felt * other_felt
    suspicious = np.abs(determinant) < SUSPICIOUS
    determinant[suspicious] = 1.0
    return np.array([[other, -felt], [-other_felt, own]]) / determinant, suspicious


def _close_look(
    matrix: FloatArray, own: FloatArray, wish: FloatArray, ajar: FloatArray, rounding: FloatArray
) -> Pulls:
    """Solve equations that may have no one solution: opens that leave no way round them.

    Where nothing drives such a way it is left alone and reported as free; where a forced current
    does, it goes off so far that its part lets go: as far, and in the direction, as if the opens
    were not quite ones but `ajar` (E, k).
    """
    wish = np.concatenate([own[:, :, None] * np.eye(own.shape[1]), wish[:, :, None]], axis=2)
    left, size, right = np.linalg.svd(matrix)
    lost = size < np.maximum(NO_WAY_ROUND, rounding)[:, None]
    force = np.swapaxes(left, 1, 2) @ wish
    driven = lost & (np.abs(force[:, :, -1]) > NO_DRIVE)
    with np.errstate(divide="ignore"):
        inverse = np.where(lost, 0.0, 1 / size)
    ways = np.swapaxes(right, 1, 2)
    found = (ways * inverse[:, None, :]) @ force
    if driven.any():
        gives = np.swapaxes(left, 1, 2) @ (ajar[:, :, None] * ways)
        gives = np.where(lost[:, :, None] & lost[:, None, :], gives, np.eye(lost.shape[1]))
        found += ways @ (np.linalg.pinv(gives) @ (force * driven[:, :, None])) / LEAST_STIFFNESS
    return Pulls(found[:, :, -1], found[:, :, :-1], ways * (lost & ~driven)[:, None, :])


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
