"""How likely it is that no past case had this fault: the engine's misfit, codes and words.

A likely fault that nobody had makes even the best of the old cases a stranger. What the readings
say comes from the engine here, not from bins of past cases: it has judged every fault of the
circuit at its best severity, those that nobody had as well as the others.
"""

from collections.abc import Mapping

import numpy as np

from cases.models import HEALTHY
from cases.search.evidence import fault_text
from cases.search.posterior import Posterior
from cases.search.query import Query

#: However badly a fault fits, so much is left to it: one reading may be a slip. No source.
LEFT_TO_MISFITS = 1e-3
#: A misfit as large as any, where it has no end.
HOPELESS = 1e9


def chance_unseen(query: Query, posterior: Posterior, numbers: Mapping[str, int]) -> float | None:
    """Return how likely the fault is one of the circuit's that no case in sight had.

    That the car is in order counts among what was seen or not, like a fault. `numbers` are those of
    faults by their name among those of all circuits. None where nothing was read or where faults
    of several circuits are compared.
    """
    circuit = query.circuit
    before = query.verdict.before if query.verdict is not None else None
    if circuit is None or before is None or not query.slots or query.by_role:
        return None
    misfits = {finding.suspect: finding.misfit for finding in before.findings}
    misfits[HEALTHY] = before.healthy.misfit
    judged = {
        place: min(misfits[name], HOPELESS)
        for name in (*circuit.suspects, HEALTHY)
        if name in misfits
        and (place := posterior.place_of(numbers[fault_text(query.circuit_key, name)])) is not None
    }
    places, misfit = np.array(list(judged)), np.array(list(judged.values()))
    fits = np.exp(-(misfit - misfit.min()) / 2) + LEFT_TO_MISFITS
    weight = np.log(posterior.prior) + posterior.told_beside_readings()
    chance = np.exp(weight - weight.max())[places] * fits
    unseen = posterior.cases[places] == 0
    return float(chance[unseen].sum() / chance.sum())
