"""Between which shares the readings of a case lie within their bands, stretch by stretch."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.lines import place_lines, place_ratios
from circuits.engine.equations.polynomials import hull_between, roots_around, value_at
from circuits.engine.equations.stage import Stage
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray
from circuits.engine.settling.chart import Stretches

# What a wire that hangs loose shows is what the meter picks up. Common practice, no source.
PICKED_UP_VOLTS = 0.05


@dataclass(frozen=True, slots=True)
class Lines:
    """What the places of a situation show on stretches of one move: above / below, (R, 2, S) each.

    Below is above nought all along the stretch. Places come first, so that the line of a reading
    lies in one piece of memory.
    """

    above: FloatArray
    below: FloatArray
    picked_up_volts: FloatArray  # (R, S), by how much a loose place may be off

    @classmethod
    def of(cls, stage: Stage, stretches: Stretches, pieces: IntArray) -> "Lines":
        low, high = stretches.low, stretches.high
        above, below, floating = place_lines(stage, stretches.suspect, low, high, pieces)
        sign = np.sign(below[0] + below[1] * ((low + high) / 2)[:, None])
        return cls(
            np.ascontiguousarray((sign * above).transpose(2, 0, 1)),
            np.ascontiguousarray((sign * below).transpose(2, 0, 1)),
            np.ascontiguousarray(np.where(floating, PICKED_UP_VOLTS, 0.0).T),
        )

    def narrow(
        self, low: FloatArray, high: FloatArray, seat: int, value: float, half_width: float
    ) -> None:
        """Narrow stretches (S,) to where a reading lies within its band."""
        above, below = self.above[seat], self.below[seat]
        half = half_width + self.picked_up_volts[seat]
        for side in (-1.0, 1.0):
            # Where this is below zero the reading lies beyond that end of the band.
            still, slope = side * ((value + side * half) * below - above)
            with np.errstate(divide="ignore", invalid="ignore"):
                crossing = -still / slope
            np.maximum(low, crossing, out=low, where=slope > 0)
            np.minimum(high, crossing, out=high, where=slope < 0)
            np.copyto(high, -1.0, where=(slope == 0) & (still < 0))


@dataclass(frozen=True, slots=True)
class Ratios:
    """The same on stretches of several moves: above / below, polynomials (S, R, N) each."""

    above: FloatArray
    below: FloatArray
    #: The hulls of both along the stretches, see `polynomials`
    above_hull: FloatArray
    below_hull: FloatArray
    picked_up_volts: FloatArray  # (S, R)

    @classmethod
    def of(cls, stage: Stage, stretches: Stretches, pieces: IntArray) -> "Ratios":
        low, high = stretches.low[:, None], stretches.high[:, None]
        middle = (low + high) / 2
        above, below, floating = place_ratios(stage, stretches.suspect, middle[:, 0], pieces)
        sign = np.sign(value_at(below, middle))[:, :, None]
        above, below = sign * above, sign * below
        return cls(
            above,
            below,
            hull_between(above, low, high),
            hull_between(below, low, high),
            np.where(floating, PICKED_UP_VOLTS, 0.0),
        )


@dataclass(frozen=True, slots=True)
class Band:
    """A reading on stretches of several moves: its place there, its value and how far it is off."""

    ratios: Ratios
    seat: int
    value: float
    half_width: float

    def edges(self, stretch: IntArray) -> FloatArray:
        """Return polynomials (2, S, N) that are below zero beyond either end of the band."""
        return self._edges(self.ratios.above, self.ratios.below, stretch)

    def hulls(self, stretch: IntArray) -> FloatArray:
        return self._edges(self.ratios.above_hull, self.ratios.below_hull, stretch)

    def _edges(self, above: FloatArray, below: FloatArray, stretch: IntArray) -> FloatArray:
        above, below = above[stretch, self.seat], below[stretch, self.seat]
        half = self.half_width + self.ratios.picked_up_volts[stretch, self.seat, None]
        return np.stack([(self.value + half) * below - above, above - (self.value - half) * below])


def parts_within(
    stretches: Stretches, stretch: IntArray, bands: Sequence[Band]
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return the parts of some stretches of several moves where all readings are in their bands.

    These are the stretch of each part, and from where to where it goes. Most stretches lie within
    a band or beyond it as a whole, as their hulls tell; roots are looked for in the others alone.
    """
    unsure: list[Band] = []
    doubtful = np.zeros(len(stretches), dtype=bool)
    for band in bands:
        hulls = band.hulls(stretch)
        beyond = (hulls.max(axis=2, initial=-np.inf) < 0).any(axis=0)
        if (hulls.min(initial=np.inf)) < 0:
            doubtful[stretch] |= (hulls.min(axis=2) < 0).any(axis=0)
            unsure.append(band)
        stretch = stretch[~beyond]
        if not stretch.size:
            break
    whole, doubtful_ones = stretch[~doubtful[stretch]], stretch[doubtful[stretch]]
    edges = [band.edges(doubtful_ones) for band in unsure]
    part, low, high = _where_none_is_below(stretches.take(doubtful_ones), edges)
    return (
        np.concatenate([whole, doubtful_ones[part]]),
        np.concatenate([stretches.low[whole], low]),
        np.concatenate([stretches.high[whole], high]),
    )


def _where_none_is_below(
    stretches: Stretches, polynomials: Sequence[FloatArray]
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return the parts of stretches where no polynomial, each (2, S, N), is below zero."""
    low, high = stretches.low[:, None], stretches.high[:, None]
    if not len(stretches):
        return np.zeros(0, dtype=np.intp), low[:, 0], high[:, 0]
    middle = (stretches.low + stretches.high) / 2
    roots = np.concatenate(
        [side for each in polynomials for side in roots_around(each, middle)], axis=1
    )
    with np.errstate(invalid="ignore"):
        roots = np.where((roots > low) & (roots < high), roots, low)
    edges = np.sort(np.concatenate([low, roots, high], axis=1), axis=1)
    begin, end = edges[:, :-1], edges[:, 1:]
    holds = end > begin
    for each in polynomials:
        for side in each:
            holds &= value_at(side[:, None], (begin + end) / 2) >= 0
    return np.nonzero(holds)[0], begin[holds], end[holds]
