"""How far the tolerances of the parts move what is read."""

import numpy as np

from circuits.engine.grip import law_left
from circuits.engine.laws import FloatArray
from circuits.engine.stage import Stage, Trials
from circuits.engine.wiring import IntArray, law_array


def tolerance_names(stage: Stage) -> list[tuple[str, str, bool]]:
    """Return (branch, value, bound to one phase) of each of the P tolerances."""
    return [
        (stage.wiring.branches[branch].name, wobble.name, wobble.phase_bound)
        for branch, wobble in stage.wiring.wobbles
    ]


def sensitivities(stage: Stage, trials: Trials, pieces: IntArray, bend: FloatArray) -> FloatArray:
    """Return how far each tolerance, at its edge, moves each reading: (E, R, P).

    One adjoint product a place gives the answer to volts put into any branch; a tolerance puts in
    what its law is off by at the working point, which `bend` (E, J) leads to.
    """
    wiring = stage.wiring
    result = np.zeros((len(trials), len(stage.places), len(wiring.wobbles)))
    if not wiring.wobbles or not stage.places:
        return result
    branch = stage.wobbling_branches
    width = _half_widths(stage, trials, pieces)
    plain, stances, odd = stage.crowded(trials, pieces)
    if stances is not None:
        crowd = stage.crowd
        volts, amps = np.hsplit(stances.values(crowd.working_part), 2)
        off = _off(width[plain], volts, amps)
        off = np.where(crowd.thinned(stances)[:, None] == branch, off * trials.rest[plain], off)
        shown, _ = stage.meter_share_of_crowd(stances)
        result[plain] = crowd.gains(stances, branch)
        result[plain] *= off[:, None, :]
        result[plain] *= shown[:, :, None]
    amps_index = wiring.node_count + branch
    for view, some in stage.groups(pieces[odd]):
        chosen = odd[some]
        few = trials.take(chosen)
        factor = view.factor
        solved = stage.solve(view, few, bend[chosen])
        grip = solved.grip
        along = np.swapaxes(grip.along(view.places.response), 1, 2)  # (E, R, k)
        gain = (stage.place_rows @ factor.inverse)[:, amps_index] - (
            along @ factor.feel[:, amps_index][grip.move]
        )
        at = solved.values(stage.rows(view, stage.working_rows))
        off = _off(width[chosen], *np.hsplit(at, 2))
        # Added ohms leave only a share of their branch's law, and of what that is off by.
        move, _, rest = stage.moved(few)
        off *= law_left(factor, move, rest, branch)
        shown, _ = stage.meter_share(view, grip)
        result[chosen] = gain * off[:, None, :] * shown[:, :, None]
    return result


def _half_widths(stage: Stage, trials: Trials, pieces: IntArray) -> FloatArray:
    """Return by how much each tolerance moves its law in each trial (E, P, 3)."""
    of_pieces = law_array(wobble.half_width for _, wobble in stage.wiring.wobbles)
    piece = np.repeat(stage.wiring.resting_pieces[None], len(pieces), axis=0)
    piece[:, stage.wiring.controlled] = pieces
    branch = stage.wobbling_branches
    width = np.asarray(of_pieces[np.arange(len(branch)), piece[:, branch]])
    if not stage.moves.worst_widths:
        return width
    move, share, _ = stage.moved(trials)
    for number, worst in stage.moves.worst_widths.items():
        own, slot = np.nonzero(move == number)
        moved = stage.moves.branch[number]
        here = np.ix_(own, np.flatnonzero(branch == moved))
        there = worst[:, piece[own, moved]].swapaxes(0, 1)
        width[here] += share[own, slot, None, None] * (there - width[here])
    return width


def _off(width: FloatArray, volts: FloatArray, amps: FloatArray) -> FloatArray:
    """Return by how many volts laws are off at the working point (E, P)."""
    off: FloatArray = width[:, :, 2] - width[:, :, 0] * volts + width[:, :, 1] * amps
    return off
