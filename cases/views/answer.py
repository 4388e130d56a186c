"""What an exercise shows: the readings asked for, and how the named fault was answered."""

from dataclasses import dataclass

from cases.circuit import CaseCircuit
from cases.documents.readings import Rig
from cases.documents.verdicts import AnswerDocument
from cases.models import HEALTHY, AskedReading, Attempt
from cases.views.range_bars import RangeBars, range_bars
from cases.views.reading_words import rig_words


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedRow:
    """A reading that was asked for, as a line of the table."""

    asked: AskedReading
    label: str
    phase: str
    done: str


@dataclass(frozen=True, slots=True)
class AnswerSheet:
    """An answer in words."""

    answer: AnswerDocument
    circuit: CaseCircuit

    @property
    def mark(self) -> str:
        return self.answer.outcome.replace(" ", "-")

    @property
    def named(self) -> str:
        return self._words(self.answer.named)

    @property
    def claim(self) -> str:
        return self._words(self.answer.claim)

    @property
    def rivals(self) -> list[str]:
        return [self._words(suspect) for suspect in self.answer.rivals]

    @property
    def bars(self) -> RangeBars | None:
        """The reading that decided on the fault that was named, drawn."""
        before = self.answer.verdict.before
        if before is None:
            return None
        return range_bars(before, before.claim or before.healthy, self.circuit)

    def _words(self, suspect: str) -> str:
        if suspect == HEALTHY:
            return "the circuit in order"
        found = self.circuit.suspects.get(suspect)
        return found.describe() if found is not None else suspect


def asked_rows(attempt: Attempt, circuit: CaseCircuit) -> list[AskedRow]:
    """Return the readings a learner asked for, in their order. Asks the database once."""
    phases = {phase.key: phase.words for phase in circuit.sheet.phases}
    return [
        AskedRow(
            asked=asked,
            label=circuit.place_entry(asked.place_key).label,
            phase=phases.get(asked.phase_key, asked.phase_key),
            done=rig_words(_rig(asked)),
        )
        for asked in attempt.asked.all()
    ]


def _rig(asked: AskedReading) -> Rig:
    return Rig(
        unplugged=tuple(asked.unplugged),
        bridged=tuple((one, other) for one, other in asked.bridged),
        lamp_watts=asked.lamp_watts,
        power_removed=asked.power_removed,
    )
