"""How bad a fault is, as a scale that a person can slide along: from healthy to open or dead short.

The scale is the fault's own: the ohms, volts or amps that make sense for it, spread evenly on a
logarithmic axis, with *healthy* before its mild end and the *end* (open, dead short) behind the
other. Wherever it is drawn, worse lies to the right. A fault that has no degrees has two ends and
nothing between.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from circuits.engine import Fault, Suspect
from circuits.units import format_quantity

HEALTHY, OPEN, SHORT = "healthy", "open", "short"
#: Stops of a slider to a factor of ten: a step is then a tenth more or less.
STOPS_PER_DECADE = 20
# On twelve decades of ohms: 0.1, 10 and 1000 Ohm, where most circuits begin to feel it.
_MIDDLES = (3 / 12, 5 / 12, 7 / 12)


@dataclass(frozen=True)
class SeverityScale:
    """The severities that a suspect can have, in its unit, from mild to bad.

    >>> from circuits.engine import FaultKind, Suspect
    >>> wire = Suspect(kind=FaultKind.RESISTANCE, target="W1", target_words="wire")
    >>> scale = SeverityScale(wire)
    >>> scale.words(1.1), scale.words(scale.end), scale.words(scale.healthy)
    ('1.10 Ohm', 'open', 'healthy')
    >>> round(scale.stop(1.0) / scale.last_stop, 2)
    0.33
    """

    suspect: Suspect

    @cached_property
    def _grid(self) -> NDArray[np.float64]:
        return self.suspect.severity_grid(2)

    @property
    def mildest(self) -> float:
        """The least severity that the scale knows, next to healthy."""
        return float(self._grid[0])

    @property
    def worst(self) -> float:
        """The largest severity that is still a number: short of an open or a dead short."""
        return float(self._grid[-2] if self.has_end else self._grid[-1])

    @property
    def end(self) -> float:
        """As bad as it can be."""
        return float(self._grid[-1])

    @property
    def has_end(self) -> bool:
        """Whether the end lies beyond all numbers of a logarithmic scale."""
        return self.end == 0.0 or math.isinf(self.end)

    @property
    def healthy(self) -> float:
        """The severity of no fault at all: no added ohms, or a path of endless ohms."""
        return math.inf if self.suspect.is_path else 0.0

    @property
    def end_word(self) -> str:
        """What the end is typed as; empty where it is a number."""
        if not self.has_end:
            return ""
        return SHORT if self.suspect.is_path else OPEN

    def words(self, severity: float) -> str:
        """Return a severity as it is typed and shown."""
        if severity == self.healthy:
            return HEALTHY
        if severity == self.end and self.has_end:
            return self.end_word
        return format_quantity(severity, self.suspect.unit)

    # ------------------------------------------------------------------------ where it lies

    @property
    def decades(self) -> float:
        return abs(math.log10(self.worst / self.mildest))

    @property
    def graded(self) -> bool:
        """Whether there is anything between healthy and the end."""
        return self.worst != self.mildest

    def way(self, severity: float) -> float:
        """Return where a number lies between `mildest` (0) and `worst` (1), by its logarithm."""
        if self.worst == self.mildest:
            return 1.0
        return math.log(severity / self.mildest) / math.log(self.worst / self.mildest)

    def along(self, points_per_decade: int) -> list[float]:
        """Return severities from mild to bad, evenly by their logarithms, the end included."""
        return [float(severity) for severity in self.suspect.severity_grid(points_per_decade)]

    @property
    def middles(self) -> tuple[float, ...]:
        """A few severities between mild and bad: by decades, or shares of all volts or amps."""
        if not self.suspect.graded:
            return ()
        if not self.has_end:
            least = self.suspect.least
            return tuple(least + part * (self.worst - least) for part in (0.25, 0.5))
        return tuple(
            float(f"{self.mildest * (self.worst / self.mildest) ** way:.3g}") for way in _MIDDLES
        )

    @property
    def last_stop(self) -> int:
        """The stop of the end; stop 0 is healthy, stop 1 is the mildest."""
        return self._numbers + (1 if self.has_end else 0)

    @property
    def _numbers(self) -> int:
        return round(self.decades * STOPS_PER_DECADE) + 1

    def stop(self, severity: float) -> int:
        """Return the stop of a slider nearest to a severity."""
        if severity == self.healthy:
            return 0
        if severity == self.end:
            return self.last_stop
        nearest = 1 + round(self.way(severity) * (self._numbers - 1))
        return min(max(nearest, 1), self._numbers)


def fault_words(fault: Fault) -> str:
    """Return a fault in trade words; at the healthy end of its scale it is none."""
    if fault.severity == SeverityScale(fault.suspect).healthy:
        return f"{fault.suspect.target}: as it should be"
    return fault.suspect.describe(fault.severity)
