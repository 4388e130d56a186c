"""How far the tolerances of the parts move what is read."""

from enum import Enum

import numpy as np

from circuits.engine.equations.crowd import Gains, RowSet, Stances
from circuits.engine.equations.grip import law_left
from circuits.engine.equations.moves import Moved
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.views import Rows, Solved
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray
from circuits.engine.settling.settle import Settled

# Of a load that hangs in the air the equation of its slope is this near to nothing.
CUT_OFF = 1e-12
# A matrix whose largest entry times that of its inverse is above this is looked at closely.
MOST_STRAIN = 1e8
# How many numbers a stack of sensitivities may hold at once.
MOST_ELEMENTS = 1_000_000


def tolerance_names(stage: Stage) -> list[tuple[str, str, bool]]:
    """Return (branch, value, bound to one phase) of each of the P tolerances."""
    return [
        (stage.wiring.branches[branch].name, wobble.name, wobble.phase_bound)
        for branch, wobble in stage.wiring.wobbles
    ]


def sensitivities(stage: Stage, trials: Trials, settled: Settled) -> FloatArray:
    """Return how far each tolerance, at its edge, moves each reading: (E, R, P).

    One adjoint product a place gives the answer to volts put into any branch; a tolerance puts in
    what its law is off by at the working point. About that point a curved law counts by its slope.
    """
    if not (len(trials) and stage.places and stage.wiring.wobbles):
        return np.zeros((len(trials), len(stage.places), len(stage.wiring.wobbles)))
    moved = _moved(stage, trials, settled.pieces, settled.bend, WhatMoves.PLACES)
    for each in settled.loaded:
        own = _moved(stage, trials.take(each.trial), each.pieces, each.bend, WhatMoves.PLACES)
        moved[each.trial, each.seat] = own[:, each.seat]
    return moved


class WhatMoves(Enum):
    """Which rows of unknowns tolerances are asked to move."""

    PLACES = "places"
    WATCHED = "watched"


def variances(
    stage: Stage, trials: Trials, settled: Settled, what: WhatMoves = WhatMoves.PLACES
) -> FloatArray:
    """Return the sum of the squares of `sensitivities` over the tolerances, (E, R) or (E, K).

    Of trials with one move it comes from products of matrices: the answer S of a place to a
    tolerance is that of its state, less what the move takes off, t a f, and the sum over the
    tolerances of off**2 (S - t a f)**2 falls into three.
    """
    of_places = what is WhatMoves.PLACES
    result = np.zeros((len(trials), len(stage.places) if of_places else stage.control_count))
    if not (result.size and stage.wiring.wobbles):
        return result
    moved = stage.moved(trials)
    crowded = stage.crowded(moved, settled.pieces, settled.bend, is_bent=True)
    in_full = [crowded.odd, *(each.trial for each in settled.loaded if of_places)]
    rows = stage.crowd.places if of_places else stage.crowd.watched
    for own, stances in crowded.plain:
        if stances.bend is not None or stances.pair.shape[1] > 1:
            in_full.append(own)
            continue
        off = _off_in_crowd(stage, stances, moved.take(own), settled.pieces[own])
        summed = _summed_squares(stances, stage.crowd.wobble_gains, rows, off)
        result[own] = summed * stage.meter_share_of_crowd(stances)[0] ** 2 if of_places else summed
    rest = np.unique(np.concatenate(in_full))
    portion = max(1, MOST_ELEMENTS // (result.shape[1] * len(stage.wiring.wobbles)))
    spreads = sensitivities if of_places else watched_sensitivities
    for some in (rest[begin : begin + portion] for begin in range(0, len(rest), portion)):
        spread = spreads(stage, trials.take(some), settled.take(some))
        result[some] = (spread**2).sum(axis=2)
    return result


def _summed_squares(stances: Stances, gains: Gains, rows: RowSet, off: FloatArray) -> FloatArray:
    """Return the sums over tolerances that are `off` by volts (E, P) of their effects' squares."""
    along = stances.pulled(gains.felt(stances.pair))[:, 0]  # (E, P)
    square, still = off**2, gains.still(rows)
    response = rows.response(stances.pair[:, 0])
    result = np.empty_like(response)
    order = np.argsort(stances.state, kind="stable")
    states, first = np.unique(stances.state[order], return_index=True)
    for state, own in zip(states.tolist(), np.split(order, first[1:]), strict=True):
        weight, answer = square[own], still[state]
        felt = weight * along[own]
        result[own] = weight @ (answer**2).T
        result[own] -= 2 * response[own] * (felt @ answer.T)
        result[own] += response[own] ** 2 * np.einsum("ep,ep->e", felt, along[own])[:, None]
    return np.maximum(result, 0.0)


def watched_sensitivities(stage: Stage, trials: Trials, settled: Settled) -> FloatArray:
    """Return how far each tolerance, at its edge, moves what each control watches: (E, K, P)."""
    if not (len(trials) and stage.control_count and stage.wiring.wobbles):
        return np.zeros((len(trials), stage.control_count, len(stage.wiring.wobbles)))
    return _moved(stage, trials, settled.pieces, settled.bend, WhatMoves.WATCHED)


def _moved(
    stage: Stage, trials: Trials, pieces: IntArray, bend: FloatArray, what: WhatMoves
) -> FloatArray:
    moved = stage.moved(trials)
    crowded = stage.crowded(moved, pieces, bend, is_bent=True)
    rows = len(stage.places) if what is WhatMoves.PLACES else stage.control_count
    result = np.empty((len(trials), rows, len(stage.wiring.wobbles)))
    for plain, stances in crowded.plain:
        gains = _moved_in_crowd(stage, stances, moved.take(plain), pieces[plain], what)
        if what is WhatMoves.PLACES:
            gains *= stage.meter_share_of_crowd(stances)[0][:, :, None]
        if len(plain) == len(trials):
            return gains
        result[plain] = gains
    for view, some in stage.groups(pieces[crowded.odd]):
        chosen = crowded.odd[some]
        few = moved.take(chosen)
        solved = stage.solve(view, few, bend[chosen], is_bent=True)
        result[chosen] = _moved_in_view(stage, solved, few, pieces[chosen], what)
        if what is WhatMoves.PLACES:
            result[chosen] *= stage.meter_share(view, solved.grip)[0][:, :, None]
    return result


def _moved_in_crowd(
    stage: Stage, stances: Stances, moved: Moved, pieces: IntArray, what: WhatMoves
) -> FloatArray:
    crowd = stage.crowd
    rows = crowd.places if what is WhatMoves.PLACES else crowd.watched
    gains = crowd.wobble_gains.of(stances, rows)
    if stances.bend is not None:
        ports = crowd.ports
        bent = _bent_by(
            stage.bends.chord_less_slope(moved, _first_half(stances.values(ports))),
            _first_half(stances.curve_gain(ports)),
            _first_half(crowd.wobble_gains.of(stances, ports)),
        )
        gains += stances.curve_gain(rows) @ bent
    gains *= _off_in_crowd(stage, stances, moved, pieces)[:, None, :]
    return gains


def _off_in_crowd(stage: Stage, stances: Stances, moved: Moved, pieces: IntArray) -> FloatArray:
    """Return by how many volts the laws of plain trials are off by each tolerance (E, P)."""
    width = _half_widths(stage, moved, pieces)
    off = _off(width, *np.hsplit(stances.values(stage.crowd.working), 2))
    # Added ohms leave only a share of their branch's law, and of what that is off by.
    for slot, thinned in enumerate(stances.thinned().T):
        own, column = np.nonzero(thinned[:, None] == stage.wobbling_branches)
        off[own, column] *= moved.rest[own, slot]
    return off


def _moved_in_view(
    stage: Stage, solved: Solved, moved: Moved, pieces: IntArray, what: WhatMoves
) -> FloatArray:
    view, branch = solved.view, stage.wobbling_branches
    rows = view.places if what is WhatMoves.PLACES else view.watched
    row_matrix = stage.place_rows if what is WhatMoves.PLACES else stage.wiring.watched
    gains = _gains(stage, solved, rows, row_matrix)
    if stage.curved_branches.size:
        bent = _bent_by(
            stage.bends.chord_less_slope(moved, _first_half(solved.values(view.ports))),
            _first_half(solved.curve_gain(view.ports)),
            _first_half(_gains(stage, solved, view.ports, stage.port_rows)),
        )
        gains = gains + solved.curve_gain(rows) @ bent
    at = solved.values(stage.rows(view, stage.working_rows))
    off = _off(_half_widths(stage, moved, pieces), *np.hsplit(at, 2))
    off = off * law_left(view.factor, moved.move, moved.rest, branch)
    return np.asarray(gains * off[:, None, :])


def _first_half(ports: FloatArray) -> FloatArray:
    """Return the volts (E, J, ...) of ports, whose second half is their amps."""
    return np.asarray(ports[:, : ports.shape[1] // 2])


def _bent_by(lean: FloatArray, volts_gain: FloatArray, felt: FloatArray) -> FloatArray:
    """Return by how much curved laws bend (E, J, P) if each tolerance moves their volts.

    A curved law gives way along its slope, where its chord stands in the factorisation: that is
    steeper by `lean` (E, J). A load that is cut off has no volts of its own; it takes no part.
    """
    gives_way = np.eye(lean.shape[1]) - lean[:, :, None] * volts_gain
    return _pseudo_inverses(gives_way) @ (lean[:, :, None] * felt)


def _pseudo_inverses(matrices: FloatArray) -> FloatArray:
    """Return inverses (E, J, J) of 1 less something; what has none to the least is left out."""
    scale = np.maximum(1.0, np.abs(matrices).max(axis=(1, 2)))
    try:
        inverse = np.asarray(np.linalg.inv(matrices))
        doubtful = ~(scale * np.abs(inverse).max(axis=(1, 2)) < MOST_STRAIN)
    except np.linalg.LinAlgError:
        inverse, doubtful = np.empty_like(matrices), np.ones(len(matrices), dtype=bool)
    if doubtful.any():
        left, size, right = np.linalg.svd(matrices[doubtful])
        with np.errstate(divide="ignore"):
            kept = np.where(size < CUT_OFF * scale[doubtful, None], 0.0, 1 / size)
        inverse[doubtful] = np.swapaxes(left * kept[:, None, :] @ right, 1, 2)
    return inverse


def _gains(stage: Stage, solved: Solved, rows: Rows, row_matrix: FloatArray) -> FloatArray:
    """Return how rows answer to volts put into the branches with tolerances (E, r, P)."""
    factor, grip = solved.view.factor, solved.grip
    columns = stage.wiring.node_count + stage.wobbling_branches
    along = np.swapaxes(grip.along(rows.response), 1, 2)  # (E, r, k)
    still = (row_matrix @ factor.inverse)[:, columns]
    return np.asarray(still - along @ factor.feel[:, columns][grip.move])


def _half_widths(stage: Stage, moved: Moved, pieces: IntArray) -> FloatArray:
    """Return by how much each tolerance moves the three terms of its law (3, E, P)."""
    branch = stage.wobbling_branches
    states = stage.crowd.states
    state, of_trial = np.unique(states.numbers(pieces), return_inverse=True)
    piece = np.repeat(stage.wiring.resting_pieces[None], len(state), axis=0)
    piece[:, stage.wiring.controlled] = states.pieces[state]
    of_pieces = stage.wobble_widths
    width: FloatArray = of_pieces[:, np.arange(len(branch)), piece[:, branch]][:, of_trial]
    if not stage.moves.worst_widths:
        return width
    for number, worst in stage.moves.worst_widths.items():
        own, slot = np.nonzero(moved.move == number)
        of_branch = stage.moves.branch[number]
        there = worst[:, piece[of_trial[own], of_branch]].transpose(2, 1, 0)  # (3, own, w)
        columns = np.flatnonzero(branch == of_branch)
        here = width[:, own[:, None], columns]
        width[:, own[:, None], columns] += moved.share[own, slot, None] * (there - here)
    return width


def _off(width: FloatArray, volts: FloatArray, amps: FloatArray) -> FloatArray:
    """Return by how many volts laws are off at the working point (E, P)."""
    volts_factor, amps_ohms, emf_volts = width
    off: FloatArray = emf_volts - volts_factor * volts
    off += amps_ohms * amps
    return off
