"""The chi-square limits of the verdict against printed tables."""

import math

import pytest

from circuits.engine import chi_square_limit
from circuits.engine.judging.chi_square import chi_square_below

# Critical values as in every statistics handbook, for instance NIST/SEMATECH e-Handbook of
# Statistical Methods, 1.3.6.7.4.
UPPER_HALF_PERCENT = {1: 7.879, 2: 10.597, 5: 16.750, 10: 25.188, 20: 39.997}
UPPER_FIVE_PERCENT = {1: 3.841, 2: 5.991, 5: 11.070, 10: 18.307, 20: 31.410, 100: 124.342}


@pytest.mark.parametrize(("degrees", "limit"), UPPER_HALF_PERCENT.items())
def test_limits_at_99_5_percent_are_those_of_the_printed_table(degrees, limit) -> None:
    assert chi_square_limit(degrees) == pytest.approx(limit, abs=0.0006)


@pytest.mark.parametrize(("degrees", "limit"), UPPER_FIVE_PERCENT.items())
def test_limits_at_95_percent_are_those_of_the_printed_table(degrees, limit) -> None:
    assert chi_square_limit(degrees, 0.95) == pytest.approx(limit, abs=0.0006)


def test_two_degrees_of_freedom_have_a_closed_form() -> None:
    """With two degrees of freedom P(chi-square > x) = exp(-x / 2)."""
    for value in (0.01, 1.0, 10.0, 60.0):
        assert chi_square_below(value, 2) == pytest.approx(1 - math.exp(-value / 2), rel=1e-12)
    assert chi_square_limit(2) == pytest.approx(-2 * math.log(0.005), rel=1e-12)


def test_one_degree_of_freedom_is_the_square_of_a_normal_quantity() -> None:
    for sigmas in (0.1, 1.0, 2.807, 5.0):
        assert chi_square_below(sigmas**2, 1) == pytest.approx(
            math.erf(sigmas / math.sqrt(2)), rel=1e-12
        )


def test_nothing_lies_below_zero_and_everything_below_much() -> None:
    assert chi_square_below(0.0, 4) == 0.0
    assert chi_square_below(-1.0, 4) == 0.0
    assert chi_square_below(500.0, 4) == pytest.approx(1.0)


def test_the_limit_grows_with_the_readings() -> None:
    limits = [chi_square_limit(degrees) for degrees in range(1, 60)]

    assert limits == sorted(limits)
