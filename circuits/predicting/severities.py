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
from circuits.units import UNIT_WORDS, UnitError, format_quantity, parse_quantity

HEALTHY, OPEN, SHORT = "healthy", "open", "short"
#: Stops of a slider to a factor of ten: a step is then a tenth more or less.
STOPS_PER_DECADE = 20
# On twelve decades of ohms: 0.1, 10 and 1000 Ohm, where most circuits begin to feel it.
_MIDDLES = (3 / 12, 5 / 12, 7 / 12)


class NotOnScale(ValueError):
    """A fault cannot be as bad as was typed; says why not, and how to write what it can be."""

    def __init__(self, problem: str, mend: str) -> None:
        self.problem = problem
        self.mend = mend
        super().__init__(f"{problem} {mend}")


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

    def read(self, text: str, *, on_paper: bool = False) -> float:
        """Return the severity that a person typed, `words` turned back.

        `on_paper`, where it stays for others to read, it needs its unit, and healthy is no fault.

        Raises
        ------
        NotOnScale
            It is no number in the fault's unit, or none that the fault can have.
        """
        severity = self._read(text, unit_needed=on_paper)
        if on_paper and severity == self.healthy:
            raise NotOnScale(f"at {text} there is no fault at all.", self._mend(on_paper=True))
        if not (severity == self.healthy or self.suspect.can_be(severity)):
            raise NotOnScale(self._range_words, self._mend(on_paper=on_paper))
        return severity

    def _read(self, text: str, *, unit_needed: bool) -> float:
        word = text.lower()
        if word == HEALTHY:
            return self.healthy
        if word and word == self.end_word:
            return self.end
        if word in (OPEN, SHORT):
            raise NotOnScale(
                f"{self.suspect.describe()} cannot be that.", self._mend(on_paper=unit_needed)
            )
        shown = UNIT_WORDS.get(self.suspect.unit, self.suspect.unit)
        try:
            return parse_quantity(text, shown, unit_needed=unit_needed).number
        except UnitError as error:
            raise NotOnScale(error.problem, error.mend) from None

    @property
    def _range_words(self) -> str:
        suspect = self.suspect
        if not suspect.graded:
            return f"{suspect.describe()}: that is so or it is not, and has no degrees."
        least = format_quantity(suspect.least, suspect.unit) if suspect.least else "0"
        most = (
            "" if math.isinf(suspect.most) else f" to {format_quantity(suspect.most, suspect.unit)}"
        )
        return f"A severity runs from {least}{most}."

    def _mend(self, *, on_paper: bool) -> str:
        if not self.suspect.graded:
            return f"Leave it empty, or write {HEALTHY}."
        example = format_quantity(min(1.0, self.suspect.most), self.suspect.unit)
        words = [word for word in (self.end_word, "" if on_paper else HEALTHY) if word]
        return f"Write it like {example}{', or ' if words else ''}{' or '.join(words)}."

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
