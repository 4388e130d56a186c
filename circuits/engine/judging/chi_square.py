"""The chi-square distribution, which is all the statistics the verdict needs."""

import math
from functools import cache

MOST_TERMS = 10_000


def chi_square_below(value: float, degrees: int) -> float:
    """Return the probability that chi-square of these degrees of freedom stays below a value.

    The regularized incomplete gamma function by its series, sum of x^k / (a (a+1) ... (a+k)).
    """
    if value <= 0:
        return 0.0
    shape, x = degrees / 2, value / 2
    term = total = 1 / shape
    for step in range(1, MOST_TERMS):
        term *= x / (shape + step)
        total += term
        if term < total * 1e-16:
            break
    return total * math.exp(shape * math.log(x) - x - math.lgamma(shape))


@cache
def chi_square_limit(degrees: int, probability: float = 0.995) -> float:
    """Return the value that chi-square stays below with this probability.

    >>> from circuits.engine import chi_square_limit
    >>> round(chi_square_limit(2), 3)
    10.597
    """
    low, high = 0.0, degrees + 20 * math.sqrt(2 * degrees) + 20
    for _ in range(80):
        middle = (low + high) / 2
        if chi_square_below(middle, degrees) < probability:
            low = middle
        else:
            high = middle
    return high
