"""What an exercise shows: the readings asked for, and how the named fault was answered."""

from dataclasses import dataclass

from cases.circuit import CaseCircuit
from cases.documents.verdicts import AnswerDocument
from cases.models import HEALTHY, AskedReading, Attempt
from cases.services.class_results import AskedPlace, ClassResults, NamedFault
from cases.services.exercises import rig_of
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
        return _fault_words(suspect, self.circuit)


@dataclass(frozen=True, slots=True)
class ClassSheet:
    """What a class made of an exercise, in words."""

    results: ClassResults
    circuit: CaseCircuit

    @property
    def named(self) -> list[tuple[str, NamedFault]]:
        return [(_fault_words(each.suspect, self.circuit), each) for each in self.results.named]

    @property
    def asked(self) -> list[tuple[str, str, str, AskedPlace]]:
        """Each reading with its place, its phase and what was done for it."""
        phases = {phase.key: phase.words for phase in self.circuit.sheet.phases}
        return [
            (
                self.circuit.place_entry(each.place).label,
                phases.get(each.phase, each.phase),
                rig_words(each.rig),
                each,
            )
            for each in self.results.asked
        ]

    @property
    def left_standing(self) -> list[tuple[str, int]]:
        return [
            (_fault_words(each.suspect, self.circuit), each.people)
            for each in self.results.left_standing
        ]


def _fault_words(suspect: str, circuit: CaseCircuit) -> str:
    if suspect == HEALTHY:
        return "the circuit in order"
    found = circuit.suspects.get(suspect)
    return found.describe() if found is not None else suspect


def asked_rows(attempt: Attempt, circuit: CaseCircuit) -> list[AskedRow]:
    """Return the readings a learner asked for, in their order. Asks the database once."""
    phases = {phase.key: phase.words for phase in circuit.sheet.phases}
    return [
        AskedRow(
            asked=asked,
            label=circuit.place_entry(asked.place_key).label,
            phase=phases.get(asked.phase_key, asked.phase_key),
            done=rig_words(rig_of(asked)),
        )
        for asked in attempt.asked.all()
    ]
