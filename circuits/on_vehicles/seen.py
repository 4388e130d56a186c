"""What healthy vehicles of a kind showed at a place, and how far that narrows the prediction.

Readings of n vehicles give an interval in which the next one is expected: their mean, give or take
t * s * sqrt(1 + 1/n), with Student's t at n - 1 degrees of freedom [1]_. It is taken at the level
of the predicted band, 99.5 %, from three vehicles on, and never closer to the mean than a meter
can tell. It narrows the band of the drawing and never moves it: where the vehicles disagree with
the drawing, the band stays and the drawing is doubted.

References
----------
.. [1] G. J. Hahn and W. Q. Meeker, Statistical Intervals, Wiley 1991, section 4.7.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

from circuits.engine import Prediction

#: The share of sound cars that a predicted band holds.
LEVEL = 0.995
FEWEST_VEHICLES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenReading:
    """What one healthy vehicle showed, in the base unit.

    `bound` is how far its meter may be off, and `beyond_band` how much of that the drawing's band
    does not hold already.
    """

    value: float
    bound: float
    beyond_band: float

    def is_outside(self, drawn: Prediction) -> bool:
        """Return whether the drawing does not allow this reading."""
        return not (drawn.low - self.beyond_band <= self.value <= drawn.high + self.beyond_band)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What was seen on `count` healthy vehicles, and the drawing's band narrowed by it."""

    count: int
    lowest: float
    highest: float
    drawn: Prediction
    #: The drawing's prediction, with its band narrowed where enough vehicles agree with it.
    narrowed: Prediction
    is_narrower: bool
    #: Vehicles that showed what the drawing does not allow.
    outside: int

    @property
    def share_left(self) -> float:
        """The part of the drawing's band that is left, above 0 to 1."""
        if not self.is_narrower:
            return 1.0
        return (self.narrowed.high - self.narrowed.low) / (self.drawn.high - self.drawn.low)

    @property
    def doubted(self) -> bool:
        """Whether the values of the circuit are to be doubted."""
        return self.outside > 0


def narrowed_by(drawn: Prediction, readings: Sequence[SeenReading]) -> Seen:
    """Return what was seen beside the drawing's prediction; there is at least one reading."""
    values = [reading.value for reading in readings]
    outside = sum(reading.is_outside(drawn) for reading in readings)
    narrowed = drawn
    if len(values) >= FEWEST_VEHICLES and not outside and not drawn.over_range:
        low, high = _expected(readings)
        low, high = max(low, drawn.low), min(high, drawn.high)
        # Readings at the very edge may leave no room in it; then they narrow nothing.
        narrowed = replace(drawn, low=low, high=high) if low < high else drawn
    return Seen(
        count=len(values),
        lowest=min(values),
        highest=max(values),
        drawn=drawn,
        narrowed=narrowed,
        is_narrower=(narrowed.low, narrowed.high) != (drawn.low, drawn.high),
        outside=outside,
    )


def _expected(readings: Sequence[SeenReading]) -> tuple[float, float]:
    """Return where the next vehicle's reading is expected, by these at least two."""
    count = len(readings)
    mean = sum(reading.value for reading in readings) / count
    variance = sum((reading.value - mean) ** 2 for reading in readings) / (count - 1)
    reach = student_t(LEVEL, count - 1) * math.sqrt(variance * (1 + 1 / count))
    reach = max(reach, *(reading.bound for reading in readings))
    return mean - reach, mean + reach


@cache
def student_t(level: float, degrees: int) -> float:
    """Return the t that holds this share of Student's distribution between -t and t."""
    low, high = 0.0, 1.0
    while _share_within(high, degrees) < level:
        high *= 2
    for _ in range(80):
        middle = (low + high) / 2
        if _share_within(middle, degrees) < level:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _share_within(t: float, degrees: int) -> float:
    """Return the share between -t and t, by its finite series in the angle arctan(t / sqrt(n)).

    M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, 26.7.3 and 26.7.4.
    """
    angle = math.atan(t / math.sqrt(degrees))
    sine, cosine = math.sin(angle), math.cos(angle)
    is_odd = degrees % 2 == 1
    term = cosine if is_odd else 1.0
    total = 0.0
    for step in range(2 if is_odd else 1, degrees, 2):
        total += term
        term *= step / (step + 1) * cosine**2
    return 2 / math.pi * (angle + sine * total) if is_odd else sine * total
