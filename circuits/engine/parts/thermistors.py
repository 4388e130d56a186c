"""Sensors whose ohms follow the temperature: NTC and PTC thermistors, platinum.

References
----------
.. [1] Table: between two points ln R runs straight over 1 / T, as the B formula has it there.
.. [2] B formula: R = R0 exp(B (1 / T - 1 / T0)), IEC 60539-1.
.. [3] Steinhart, Hart: Calibration curves for thermistors. Deep-Sea Research 15 (1968):
   1 / T = A + B ln R + C (ln R)**3, through three points.
.. [4] IEC 60751: R = R0 (1 + A t + B t**2 + C (t - 100) t**3), the last term below 0 C only.
"""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from circuits.engine.laws import Branch, Law
from circuits.engine.parts.part import (
    SENSOR_TOLERANCE,
    FaultKind,
    Part,
    Weakness,
    off_by_a_share,
    ohms_wobble,
)

KELVIN = 273.15

Point = tuple[float, float]
"""Degrees Celsius, ohms."""


class CurveProblem(ValueError):
    """A curve whose values make none; the part that has it puts its name before the words."""


class ThermalCurve(Protocol):
    """Ohms by temperature, and from where to where the curve is good."""

    @property
    def coldest_celsius(self) -> float: ...

    @property
    def hottest_celsius(self) -> float: ...

    def ohms_at(self, celsius: float) -> float: ...


def _checked(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return points in order of temperature.

    Raises
    ------
    CurveProblem
        A temperature occurs twice or is none, or ohms are not above zero.
    """
    for celsius, ohms in points:
        if not (math.isfinite(ohms) and ohms > 0):
            raise CurveProblem(f"the ohms at {celsius:g} °C must be above zero, not {ohms:g}")
        if not (math.isfinite(celsius) and celsius > -KELVIN):
            raise CurveProblem(f"{celsius:g} °C is below absolute zero; check the sign")
    ordered = tuple(sorted(points))
    for (celsius, _), (next_celsius, _) in pairwise(ordered):
        if celsius == next_celsius:
            raise CurveProblem(f"{celsius:g} °C is given twice; keep one of the two")
    return ordered


@dataclass(frozen=True, slots=True)
class TableCurve:
    """A maker's table, NTC or PTC; good from its first point to its last, see [1]_."""

    points: tuple[Point, ...]

    def __post_init__(self) -> None:
        if len(self.points) < 2:
            raise CurveProblem("a table needs two points or more")
        object.__setattr__(self, "points", _checked(self.points))

    @property
    def coldest_celsius(self) -> float:
        return self.points[0][0]

    @property
    def hottest_celsius(self) -> float:
        return self.points[-1][0]

    def ohms_at(self, celsius: float) -> float:
        # np.interp wants rising abscissas; -1 / T rises with T.
        along = [-1 / (point[0] + KELVIN) for point in self.points]
        logs = [math.log(point[1]) for point in self.points]
        return math.exp(float(np.interp(-1 / (celsius + KELVIN), along, logs)))


@dataclass(frozen=True, slots=True, kw_only=True)
class BetaCurve:
    """An NTC by its ohms at one temperature and its B, see [2]_.

    One B holds over a stretch of the curve only: from 25/50 C it may miss 100 C by several per
    cent, so a table is better where there is one.
    """

    nominal_ohms: float
    beta_kelvin: float
    nominal_celsius: float = 25.0

    # The range over which makers give a B at all. Common practice, no source.
    coldest_celsius = -55.0
    hottest_celsius = 150.0

    def __post_init__(self) -> None:
        for words, value in (("nominal ohms", self.nominal_ohms), ("B", self.beta_kelvin)):
            if not (math.isfinite(value) and value > 0):
                raise CurveProblem(f"{words} must be above zero, not {value:g}")
        if not self.coldest_celsius <= self.nominal_celsius <= self.hottest_celsius:
            raise CurveProblem(
                f"nominal ohms at {self.nominal_celsius:g} °C are out of the range of a B curve"
            )

    def ohms_at(self, celsius: float) -> float:
        inverse = 1 / (celsius + KELVIN) - 1 / (self.nominal_celsius + KELVIN)
        return self.nominal_ohms * math.exp(self.beta_kelvin * inverse)


@dataclass(frozen=True, slots=True)
class SteinhartHartCurve:
    """An NTC through three of its points, see [3]_.

    It is good a little beyond them; the range given here is the one over which such a curve
    through 0, 25 and 100 C was found within a quarter of a kelvin of a maker's table.
    """

    points: tuple[Point, ...]

    coldest_celsius = -55.0
    hottest_celsius = 150.0

    def __post_init__(self) -> None:
        if len(self.points) != 3:
            raise CurveProblem(f"this curve goes through three points, not {len(self.points)}")
        object.__setattr__(self, "points", _checked(self.points))
        _, linear, cubic = self.coefficients()
        # Only then do the ohms fall all the way; elsewhere the formula has no one answer.
        if linear <= 0 or cubic < 0:
            raise CurveProblem(
                "no NTC curve goes through these three points; check them, or give them as a table"
            )

    def coefficients(self) -> tuple[float, float, float]:
        """Return A, B and C of [3]_."""
        logs = np.log([ohms for _, ohms in self.points])
        inverse = [1 / (celsius + KELVIN) for celsius, _ in self.points]
        system = np.column_stack([np.ones(3), logs, logs**3])
        try:
            constant, linear, cubic = np.linalg.solve(system, inverse)
        except np.linalg.LinAlgError:
            raise CurveProblem("two of the three points have the same ohms") from None
        return float(constant), float(linear), float(cubic)

    def ohms_at(self, celsius: float) -> float:
        constant, linear, cubic = self.coefficients()
        missing = constant - 1 / (celsius + KELVIN)
        if cubic == 0:
            return math.exp(-missing / linear)
        # Cardano's formula for x**3 + (B / C) x + (A - 1 / T) / C = 0, which has one real root.
        half, third = missing / cubic / 2, linear / cubic / 3
        root = math.sqrt(third**3 + half**2)
        return math.exp(float(np.cbrt(root - half) - np.cbrt(root + half)))


@dataclass(frozen=True, slots=True)
class PlatinumCurve:
    """Platinum by its ohms at 0 C, see [4]_; Pt100 has 100 Ohm there."""

    zero_ohms: float = 100.0

    coldest_celsius = -200.0
    hottest_celsius = 850.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.zero_ohms) and self.zero_ohms > 0):
            raise CurveProblem(f"the ohms at 0 °C must be above zero, not {self.zero_ohms:g}")

    def ohms_at(self, celsius: float) -> float:
        below_zero = -4.183e-12 * (celsius - 100) * celsius**3 if celsius < 0 else 0.0
        return self.zero_ohms * (1 + 3.9083e-3 * celsius - 5.775e-7 * celsius**2 + below_zero)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermistor(Part):
    """A temperature sensor of two wires: its ohms follow a curve, at the temperature of the phase.

    Faults of its own beside added resistance and a path across it: it has drifted, or is one of
    another value; `off_fraction` is by which share of its ohms, hot and cold alike.
    """

    kind = "thermistor"
    words = "temperature sensor"
    can_be_bypassed = True

    curve: ThermalCurve
    celsius: float
    off_fraction: float = 0.0
    tolerance_fraction: float = SENSOR_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_no_temperature(
            self.celsius,
            "this sensor's curve",
            coldest=self.curve.coldest_celsius,
            hottest=self.curve.hottest_celsius,
        )
        self.refuse_below_or_at_zero(share_of_its_ohms=1 + self.off_fraction)

    @property
    def ohms(self) -> float:
        return self.curve.ohms_at(self.celsius) * (1 + self.off_fraction)

    def weaknesses(self) -> tuple[Weakness, ...]:
        return off_by_a_share(
            "off_fraction", 1.0, FaultKind.DRIFTS_UP, FaultKind.DRIFTS_DOWN, words="ohms"
        )

    def branches(self) -> tuple[Branch, ...]:
        wobble = ohms_wobble(self.tolerance_fraction * self.ohms)
        return self.branch(Law.resistance(self.ohms), wobbles=(wobble,))
