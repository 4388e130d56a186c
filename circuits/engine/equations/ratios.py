"""What several moves make of readings along the line of one suspect, as ratios of polynomials.

One move at share u makes every reading a Moebius function of u (see `factors`). Where a suspect
moves several things their pulls c follow from

    rest_i c_i + share_i * sum over j of coupling_ij c_j = share_i drive_i

(see `grip`), with shares that are themselves quotients of straight lines in u. Cramer's rule makes
every reading a ratio of two determinants; each is a sum over all subsets of the moves, those
inside standing with their share and those outside with their rest. So both are polynomials in u,
of as many degrees as there are moves, or a few more where an added resistance leaves a share of a
law that another move shifts.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, permutations

import numpy as np

from circuits.engine.equations.factors import NO_WAY_ROUND
from circuits.engine.equations.grip import LEAST_STIFFNESS, with_holds
from circuits.engine.equations.moves import Moved, Moves
from circuits.engine.equations.polynomials import product
from circuits.engine.equations.stage import Stage
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray


@dataclass(frozen=True, slots=True)
class Together:
    """E trials of k moves in given pieces: how far each has gone along a line, and who feels whom.

    `share` over `whole` is how far each has gone at u, both polynomials in u.
    """

    number: IntArray  # (E,) of the trial
    share: FloatArray  # (E, k, N)
    whole: FloatArray  # (E, k, N)
    coupling: FloatArray  # (E, k, k)
    drive: FloatArray  # (E, k)
    watched: tuple[FloatArray, FloatArray]  # unmoved (E, K) and answers to each move (E, k, K)
    places: tuple[FloatArray, FloatArray]  # the same of places (E, R), (E, k, R)
    place_ohms: tuple[
        FloatArray, FloatArray
    ]  # behind the leads (E, R), and what moves feel of them

    def watched_ratios(self) -> tuple[FloatArray, FloatArray]:
        """Return what is watched along the line: polynomials (E, K, N) over others (E, N)."""
        still, response = self.watched
        return self._ratios(still, response, self.drive[:, :, None])

    def place_ratios(self, input_ohms: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what meters of given ohms (R,) show along the line: (E, R, N) over (E, R, N)."""
        still, response = self.places
        ohms, felt = self.place_ohms
        above, below = self._ratios(still, response, self.drive[:, :, None])
        behind, _ = self._ratios(ohms, response, -felt)
        return above, below[:, None] + behind / input_ohms[:, None]

    def _ratios(
        self, still: FloatArray, response: FloatArray, drive: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return rows that are still (E, r) and answer to moves (E, k, r) that have a drive.

        The drive (E, k, 1 or r) may be another for each row.
        """
        rest = self.whole - self.share
        moves, rows = response.shape[1:]
        drive = np.broadcast_to(drive, response.shape)
        above = below = np.zeros(1)
        for size in range(moves + 1):
            for inside in map(list, combinations(range(moves), size)):
                weight = np.ones((len(still), 1))
                for move in range(moves):
                    weight = product(weight, (self.share if move in inside else rest)[:, move])
                own = self.coupling[:, inside][:, :, inside]
                bordered = np.zeros((len(still), rows, size + 1, size + 1))
                bordered[:, :, :size, :size] = own[:, None]
                bordered[:, :, :size, size] = -drive[:, inside].transpose(0, 2, 1)
                bordered[:, :, size, :size] = response[:, inside].transpose(0, 2, 1)
                bordered[:, :, size, size] = still
                above = above + np.linalg.det(bordered)[:, :, None] * weight[:, None]
                below = below + np.linalg.det(own)[:, None] * weight
        return above, below


def together(stage: Stage, moved: Moved, pieces: IntArray) -> Iterator[Together]:
    """Yield trials in given pieces (E, K), as many moves each as they fill slots."""
    crowd = stage.crowd
    for slots, own in moved.by_slots():
        few = moved.first(slots).take(own)
        state, pair, is_plain = crowd.pairs.of(few.move, pieces[own])
        plain, odd = np.flatnonzero(is_plain), np.flatnonzero(~is_plain)
        if plain.size:
            yield _plain(stage, few.take(plain), own[plain], state[plain], pair[plain])
        for view, some in stage.groups(pieces[own[odd]]):
            factor = view.factor
            move = with_holds(factor, few.take(odd[some]))[0].move
            share, whole = _gone(
                stage.moves, move, factor.moved_branch[move], factor.thinned_branch[move]
            )
            yield Together(
                own[odd[some]],
                share,
                whole,
                _felt(factor.coupling[move[:, :, None], move[:, None, :]]),
                factor.drive[move],
                (_each(view.watched.unmoved, move), view.watched.response[move]),
                (_each(view.places.unmoved, move), view.places.response[move]),
                (_each(view.source_ohms, move), view.places_felt[move]),
            )


def _plain(
    stage: Stage, moved: Moved, number: IntArray, state: IntArray, pair: IntArray
) -> Together:
    crowd = stage.crowd
    pairs = crowd.pairs
    share, whole = _gone(
        stage.moves, moved.move, pairs.moves.branch[moved.move], pairs.thinned[pair]
    )
    return Together(
        number,
        share,
        whole,
        _felt(crowd.coupling(pair)),
        pairs.drive[pair],
        (crowd.watched.still(state), crowd.watched.response(pair)),
        (crowd.places.still(state), crowd.places.response(pair)),
        crowd.behind_places(state, pair),
    )


def _felt(coupling: FloatArray) -> FloatArray:
    """Return the coupling (E, k, k) without rounding.

    An open with no way round it feels nothing, and changes nothing unless a current is forced.
    """
    feels = np.abs(coupling).max(axis=2, keepdims=True) > NO_WAY_ROUND
    return np.where(feels, coupling, LEAST_STIFFNESS * np.eye(coupling.shape[1]))


def _each(row: FloatArray, move: IntArray) -> FloatArray:
    return np.broadcast_to(row, (len(move), len(row)))


def _gone(
    moves: Moves, move: IntArray, moved_branch: IntArray, thinned_branch: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return how far moves (E, k) have gone at u, share over whole, both (E, k, N).

    Where an added resistance leaves a share of a law, other moves of that law shrink with it.
    """
    share, whole = moves.along_the_line(move)
    own_share, own_whole = share, whole
    for thinning, other in permutations(range(move.shape[1]), 2):
        branch = thinned_branch[:, thinning]
        same = (branch >= 0) & (branch == moved_branch[:, other])
        if not same.any():
            continue
        left, out_of = own_whole[:, thinning] - own_share[:, thinning], own_whole[:, thinning]
        one = np.zeros_like(left)
        one[:, 0] = 1.0
        terms = share.shape[2] + left.shape[1] - 1
        shrunk, grown = np.zeros((2, *move.shape, terms))
        shrunk[:, :, : share.shape[2]], grown[:, :, : share.shape[2]] = share, whole
        shrunk[:, other] = product(share[:, other], np.where(same[:, None], left, one))
        grown[:, other] = product(whole[:, other], np.where(same[:, None], out_of, one))
        share, whole = shrunk, grown
    return share, whole
