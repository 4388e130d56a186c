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
    branch = np.array([number for number, _ in wiring.wobbles], dtype=np.intp)
    half_width = law_array(wobble.half_width for _, wobble in wiring.wobbles)
    volts_rows = [wiring.volts_row(*wiring.ends[number]) for number in branch]
    amps_rows = [wiring.amps_row(int(number)) for number in branch]
    working_point = np.array([*volts_rows, *amps_rows])
    amps_index = wiring.node_count + branch
    for view, chosen in stage.groups(pieces):
        some = trials.take(chosen)
        factor = view.factor
        solved = stage.solve(view, some, bend[chosen])
        grip = solved.grip
        along = np.swapaxes(grip.along(view.places.response), 1, 2)  # (E, R, k)
        gain = (stage.place_rows @ factor.inverse)[:, amps_index] - (
            along @ factor.feel[:, amps_index][grip.move]
        )
        at = solved.values(stage.rows(view, working_point))
        volts, amps = at[:, : len(branch)], at[:, len(branch) :]
        piece = stage.piece_of_branches(pieces[chosen[0]])[branch]
        width = half_width[np.arange(len(branch)), piece]
        off = width[:, 2] - width[:, 0] * volts + width[:, 1] * amps  # (E, P)
        # Added ohms leave only a share of their branch's law, and of what that is off by.
        move, _, rest = stage.moved(some)
        off *= law_left(factor, move, rest, branch)
        shown, _ = stage.meter_share(view, grip)
        result[chosen] = gain * off[:, None, :] * shown[:, :, None]
    return result
