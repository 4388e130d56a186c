"""How far the tolerances of the parts move what is read."""

from enum import Enum

import numpy as np

from circuits.engine.equations.crowd import Stances
from circuits.engine.equations.grip import law_left
from circuits.engine.equations.moves import Moved
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.views import Rows, Solved
from circuits.engine.equations.wiring import IntArray, row_keys
from circuits.engine.laws import FloatArray
from circuits.engine.settling.settle import Settled

# Of a load that hangs in the air the equation of its slope is this near to nothing.
CUT_OFF = 1e-12
# A matrix whose largest entry times that of its inverse is above this is looked at closely.
MOST_STRAIN = 1e8


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


def watched_sensitivities(stage: Stage, trials: Trials, settled: Settled) -> FloatArray:
    """Return how far each tolerance, at its edge, moves what each control watches: (E, K, P)."""
    if not (len(trials) and stage.control_count and stage.wiring.wobbles):
        return np.zeros((len(trials), stage.control_count, len(stage.wiring.wobbles)))
    return _moved(stage, trials, settled.pieces, settled.bend, WhatMoves.WATCHED)


class WhatMoves(Enum):
    """Which rows of unknowns tolerances are asked to move."""

    PLACES = "places"
    WATCHED = "watched"


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
    crowd, branch = stage.crowd, stage.wobbling_branches
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
    width = _half_widths(stage, moved, pieces)
    off = _off(width, *np.hsplit(stances.values(crowd.working), 2))
    # Added ohms leave only a share of their branch's law, and of what that is off by.
    for slot, thinned in enumerate(stances.thinned().T):
        own, column = np.nonzero(thinned[:, None] == branch)
        off[own, column] *= moved.rest[own, slot]
    gains *= off[:, None, :]
    return gains


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
    state, of_trial = _distinct(pieces)
    piece = np.repeat(stage.wiring.resting_pieces[None], len(state), axis=0)
    piece[:, stage.wiring.controlled] = state
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


def _distinct(pieces: IntArray) -> tuple[IntArray, IntArray]:
    """Return the different rows of pieces (D, K), and which of them each trial is in (E,)."""
    if not pieces.size or (pieces == pieces[0]).all():
        return pieces[:1], np.zeros(len(pieces), dtype=np.intp)
    number: dict[bytes, int] = {}
    of_trial = np.array([number.setdefault(key, len(number)) for key in row_keys(pieces)])
    _, first = np.unique(of_trial, return_index=True)
    return pieces[first], of_trial


def _off(width: FloatArray, volts: FloatArray, amps: FloatArray) -> FloatArray:
    """Return by how many volts laws are off at the working point (E, P)."""
    volts_factor, amps_ohms, emf_volts = width
    off: FloatArray = emf_volts - volts_factor * volts
    off += amps_ohms * amps
    return off
