"""Readings of an older log, understood once however many lines say the same.

In a log of thousands of cases the same places, phases and figures come again and again. What a row
keeps of them and how they lie beside the car in order is worked out for the first of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

from cases.circuit import circuit_of
from cases.documents.readings import ReadingDocument
from cases.judging.lines import Line
from cases.models import LoggedReading
from cases.search.compared import Comparer, Ready
from cases.search.evidence import NOTHING, Measured, measured_by
from cases.services.readings import reading_values
from cases.services.record import line_of
from circuits.engine import EngineError
from circuits.models import Revision
from circuits.on_vehicles.references import narrowed_at

READINGS_KEPT: Final = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Understood:
    """What follows from a reading by itself; the numbers in it are nobody's.

    `ready` is the line made ready to be compared, unless a verdict sets it aside.
    """

    values: Mapping[str, Any]
    line: Line
    ready: Ready | None


class Understanding:
    """Understands the readings that were taken in one circuit."""

    def __init__(self, revision: Revision) -> None:
        self._circuit = circuit_of(revision)
        self._comparer = Comparer(self._circuit, narrowed_at(revision))
        self.of = lru_cache(maxsize=READINGS_KEPT)(self._of)

    def _of(self, reading: ReadingDocument) -> Understood:
        values = reading_values(self._circuit, reading)
        line = line_of(LoggedReading(pk=0, **values))
        # Whether a supply noted beside it counts is for the whole log to say.
        ready = self._comparer.ready([replace(line, supply_volts=None)])
        return Understood(values, line, ready[0] if ready else None)

    def values_of(self, reading: ReadingDocument) -> Mapping[str, Any]:
        """Return what a row keeps of a reading itself; raises what `reading_values` raises."""
        return self.of(reading).values

    def measured(self, log: Sequence[tuple[Understood, Line]]) -> Measured:
        """Return what was measured by the lines of one log, each with what it was understood as.

        Nothing where the circuit cannot be solved: no verdict compares anything then.
        """
        if any(line.supply_volts is not None for _, line in log):
            ready = self._comparer.ready([line for _, line in log])
            numbered = [(each, each.entry.number) for each in ready]
        else:
            numbered = [(each.ready, line.number) for each, line in log if each.ready is not None]
        try:
            return measured_by(self._circuit, self._comparer.compared(numbered))
        except EngineError:
            return NOTHING
