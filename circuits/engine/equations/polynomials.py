"""Polynomials of low degree in a share, many at a time: products, values, and where they vanish.

A polynomial is its coefficients in rising order, along the last axis of an array (..., N).
"""

import math

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.laws import FloatArray

# A pair of roots that is complex by so much of its size may be a double one, and is looked at.
NEARLY_REAL = 1e-6
NEWTON_STEPS = 4
# Newton's steps mend the last digits of a root; what they would carry further is no root.
MOST_MENDED = 1e-5


def product(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the products of polynomials (..., N) and (..., M): (..., N + M - 1)."""
    terms = one.shape[-1]
    shape = np.broadcast_shapes(one.shape[:-1], other.shape[:-1])
    found = np.zeros((*shape, terms + other.shape[-1] - 1))
    for power in range(other.shape[-1]):
        found[..., power : power + terms] += one * other[..., power, None]
    return found


def value_at(polynomial: FloatArray, share: FloatArray) -> FloatArray:
    """Return the values (...) of polynomials (..., N) at shares that broadcast to them."""
    value = np.zeros(np.broadcast_shapes(polynomial.shape[:-1], np.shape(share)))
    for power in reversed(range(polynomial.shape[-1])):
        value = value * share + polynomial[..., power]
    return value


def hull_between(polynomial: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Return numbers (..., N) of which the least and the greatest bound it between two shares.

    They are its coefficients in Bernstein's basis, whose polynomials are nowhere below nought and
    add up to one (Farouki, The Bernstein polynomial basis, Computer Aided Geometric Design 29
    (2012); from memory).
    """
    local = _moved_to(polynomial, np.broadcast_to(low, polynomial.shape[:-1]))
    local *= (high - low)[..., None] ** np.arange(polynomial.shape[-1])
    degree = polynomial.shape[-1] - 1
    mixing = np.array(
        [
            [math.comb(row, power) / math.comb(degree, power) for power in range(degree + 1)]
            for row in range(degree + 1)
        ]
    )
    return np.asarray(local @ mixing.T)


def roots_around(polynomial: FloatArray, share: FloatArray) -> FloatArray:
    """Return the real roots of polynomials (..., N) by their distance from shares: (..., N - 1).

    What is no root is NaN. With u = share + 1 / x the polynomial becomes one in x whose first
    coefficient is its value at the share; its roots are the eigenvalues of its companion matrix
    (Horn and Johnson, Matrix Analysis, section 3.3; from memory), and a few of Newton's steps mend
    what they lost in digits.
    """
    share = np.broadcast_to(share, polynomial.shape[:-1])
    moved = _moved_to(polynomial, share)
    degree = polynomial.shape[-1] - 1
    with np.errstate(divide="ignore", invalid="ignore"):
        monic = moved[..., 1:] / moved[..., :1]
    sound: BoolArray = np.asarray(np.isfinite(monic).all(axis=-1))
    companion = np.zeros((*monic.shape[:-1], degree, degree))
    companion[..., 0, :] = np.where(sound[..., None], -monic, 0.0)
    companion[..., np.arange(1, degree), np.arange(degree - 1)] = 1.0
    inverse = np.linalg.eigvals(companion)
    real = sound[..., None] & (np.abs(inverse.imag) <= NEARLY_REAL * np.abs(inverse))
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.where(real, share[..., None] + 1 / inverse.real, np.nan)
        return _mended(polynomial, root)


def _moved_to(polynomial: FloatArray, share: FloatArray) -> FloatArray:
    """Return the polynomials in the distance from a share."""
    terms = polynomial.shape[-1]
    moved = np.zeros_like(polynomial)
    for power in range(terms):
        for lower in range(power + 1):
            grown = math.comb(power, lower) * share ** (power - lower)
            moved[..., lower] += polynomial[..., power] * grown
    return moved


def _mended(polynomial: FloatArray, root: FloatArray) -> FloatArray:
    slope = polynomial[..., None, 1:] * np.arange(1, polynomial.shape[-1])
    mended = root
    for _ in range(NEWTON_STEPS):
        step = value_at(polynomial[..., None, :], mended) / value_at(slope, mended)
        mended = np.where(np.isfinite(step), mended - step, mended)
    return np.where(np.abs(mended - root) <= MOST_MENDED * np.abs(root), mended, root)
