"""Which severities of which faults could show some readings, each reading asked by itself.

Between two neighbours among the severities that are tried, a reading lies between what it shows at
both, because along a stretch it is a Moebius function. A joint misfit is never less than that of
one reading alone (a quadratic form of an inverse covariance, and its marginal), so what no reading
taken alone allows needs no joint test.
"""

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray


def may_show(
    suspect: IntArray, low: FloatArray, high: FloatArray, logged: FloatArray, open_side: FloatArray
) -> BoolArray:
    """Return which readings could lie between one trial and the next of its suspect (E, m).

    Parameters
    ----------
    suspect
        The suspect of each trial, in order of suspect and severity, (E,).
    low, high
        The least and the most that each trial could show, (E, m).
    logged
        What was logged of each reading, (m,).
    open_side
        Which way the steady figure may lie off a logged least or most without limit, (m,).
    """
    goes_on = (suspect[1:] == suspect[:-1])[:, None]
    least, most = low.copy(), high.copy()
    np.minimum(low[:-1], low[1:], out=least[:-1], where=goes_on)
    np.maximum(high[:-1], high[1:], out=most[:-1], where=goes_on)
    shows: BoolArray = (logged >= least) | (open_side > 0)
    shows &= (logged <= most) | (open_side < 0)
    return shows
