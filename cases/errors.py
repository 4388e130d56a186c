"""What the cases app refuses.

CaseError
├── Forbidden             the person may see the thing but not do this
│   ├── NotYourCase           only the shop that did the repair may do this
│   ├── NotYours              only the person whose own this is may do this
│   ├── NotAMember            the person does not belong to the shop
│   ├── OwnersOnly            only an owner of the shop may do this
│   └── TrainersOnly          only a trainer of the shop may do this
├── BadInput              what was handed in cannot be used; says what, where and how to mend it
│   ├── PlaceNotInCircuit
│   ├── PhaseNotInCircuit
│   ├── PlaceMoved            a place of the same name has other leads in the new revision
│   ├── BadRig                the circuit does not allow what was unplugged, bridged or loaded
│   ├── OhmsOnLiveParts       ohms were read with the power on; says which drop to read instead
│   ├── UnreadableReading     the digits cannot be read as a reading at that place
│   ├── UnknownFault          the circuit cannot have the fault that was named
│   ├── BadFact               one fact about a case, vehicle or shop
│   └── BadRows               a file with bad rows, all of them listed
└── OutOfTurn             it cannot be done now; says what has to come first
    ├── CircuitNotKnown       no circuit is chosen, so no place and no fault can be named
    ├── NothingToJudge        no reading that could be judged
    ├── NoPairsWanted         pairs of faults are there, or are being looked for
    ├── NoRejudgingWanted     the case is not to be judged once more, or is on its way
    ├── AlreadyCorrected      the reading has been corrected already
    ├── SentBefore            the same sending was taken already with other readings
    ├── CaseWithdrawn         the case was withdrawn
    ├── NotShared             the case is not shared
    ├── LogNotReady           the older log is being gone through, or is in already
    ├── AlreadyAnswered       the attempt has been answered
    ├── AlreadySettled        a changed verdict was taken over or left already
    ├── NoRoomInRevision      the case has no place in the newer revision
    └── NotForProposals       the circuit belongs to licensed people: no reading is proposed there
"""

from collections.abc import Sequence
from dataclasses import dataclass


class CaseError(Exception):
    """The cases app cannot do what was asked; the message says why and how to go on."""


class Forbidden(CaseError):
    """The person may see the thing but not do this with it."""


class NotYourCase(Forbidden):
    """Only the shop that did the repair may do this."""

    def __init__(self, deed: str) -> None:
        self.deed = deed
        super().__init__(f"Only the shop that did the repair can {deed}.")


class NotYours(Forbidden):
    """Only the person whose own this is may do this."""

    def __init__(self, deed: str) -> None:
        self.deed = deed
        super().__init__(f"Only the person who keeps it can {deed}.")


class NotAMember(Forbidden):
    """The person does not belong to the shop."""

    def __init__(self, shop: str) -> None:
        self.shop = shop
        super().__init__(
            f"Only members of {shop} can do this; ask an owner of the shop to add you."
        )


class OwnersOnly(Forbidden):
    """Only an owner of the shop may do this."""

    def __init__(self, shop: str, deed: str) -> None:
        self.shop = shop
        self.deed = deed
        super().__init__(f"Only an owner of {shop} can {deed}.")


class TrainersOnly(Forbidden):
    """Only a trainer of the shop may do this."""

    def __init__(self, shop: str, deed: str) -> None:
        self.shop = shop
        self.deed = deed
        super().__init__(f"Only a trainer of {shop} can {deed}.")


class BadInput(CaseError):
    """What was handed in cannot be used."""


def _choice(known: Sequence[str]) -> str:
    return ", ".join(known) if known else "none"


class PlaceNotInCircuit(BadInput):
    """A reading names a place that the circuit does not have."""

    def __init__(self, place: str, known: Sequence[str]) -> None:
        self.place = place
        self.known = tuple(known)
        super().__init__(f"This circuit has no place '{place}'; it has {_choice(known)}.")


class PhaseNotInCircuit(BadInput):
    """A reading names a phase that the circuit does not have."""

    def __init__(self, phase: str, known: Sequence[str]) -> None:
        self.phase = phase
        self.known = tuple(known)
        super().__init__(f"This circuit has no phase '{phase}'; it has {_choice(known)}.")


class PlaceMoved(BadInput):
    """A place of the same name has other leads in another revision of the circuit."""

    def __init__(self, place: str, was: str, now: str) -> None:
        self.place = place
        self.was = was
        self.now = now
        super().__init__(
            f"{place} is measured elsewhere there: {was} became {now}. What was logged at the old "
            "place is no reading of the new one."
        )


class BadRig(BadInput):
    """What was unplugged, bridged or loaded cannot be, or must not be, in this circuit."""

    def __init__(self, place: str, problem: str) -> None:
        self.place = place
        self.problem = problem
        super().__init__(f"{place}: {problem}")


class OhmsOnLiveParts(BadInput):
    """Ohms were read on a circuit that still has its power."""

    def __init__(self, place: str, problem: str) -> None:
        self.place = place
        self.problem = f"{problem[:1].upper()}{problem[1:]}"
        super().__init__(f"{place} reads ohms: {problem}")


class UnreadableReading(BadInput):
    """The digits cannot be read as a reading at that place."""

    def __init__(self, place: str, text: str, problem: str) -> None:
        self.place = place
        self.text = text
        self.problem = problem
        super().__init__(f"{place}: {problem}")


class UnknownFault(BadInput):
    """The circuit cannot have the fault that was named."""

    def __init__(self, suspect: str, problem: str) -> None:
        self.suspect = suspect
        super().__init__(problem)


class BadFact(BadInput):
    """One fact about a case, a vehicle or a shop cannot be used."""

    def __init__(self, field: str, problem: str) -> None:
        self.field = field
        self.problem = problem
        super().__init__(f"{field}: {problem}")


@dataclass(frozen=True, slots=True)
class RowProblem:
    """One thing wrong in a file: where it is, what it is and how to mend it.

    `line` counts from 1 and is 0 where the file has no lines to speak of; `column` is the column
    of a table or the path inside a document.
    """

    line: int
    column: str
    problem: str
    mend: str = ""

    def __str__(self) -> str:
        line = f"line {self.line}" if self.line else ""
        where = ", ".join(word for word in (line, self.column) if word)
        return " ".join(
            word for word in (f"{where}:" if where else "", self.problem, self.mend) if word
        )


class BadRows(BadInput):
    """A file with bad rows; nothing of it was kept. `problems` lists every one."""

    def __init__(self, problems: Sequence[RowProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class OutOfTurn(CaseError):
    """It cannot be done now; something has to come first."""


class CircuitNotKnown(OutOfTurn):
    """No circuit has been chosen for the case."""

    def __init__(self, deed: str) -> None:
        self.deed = deed
        super().__init__(f"Choose the circuit of this case first; then you can {deed}.")


class NoPairsWanted(OutOfTurn):
    """Pairs of faults need not be looked for once more."""

    def __init__(self) -> None:
        super().__init__(
            "Pairs of faults are there already, or are being looked for. Open the case again."
        )


class NoRejudgingWanted(OutOfTurn):
    """A case need not be judged once more, or is about to be."""

    def __init__(self) -> None:
        super().__init__(
            "The case has been judged once more already, or is about to be. Open it again."
        )


class NothingToJudge(OutOfTurn):
    """No reading that could be judged has been taken."""

    def __init__(self, need: str) -> None:
        self.need = need
        super().__init__(need)


class AlreadyCorrected(OutOfTurn):
    """The reading has been corrected already; correct the newer line instead."""

    def __init__(self, place: str) -> None:
        self.place = place
        super().__init__(
            f"This reading at {place} has been corrected already; correct the newer line instead."
        )


class SentBefore(OutOfTurn):
    """The same sending was taken already with other readings: its answer was lost on the way."""

    def __init__(self, logged: Sequence[str]) -> None:
        self.logged = tuple(logged)
        super().__init__(
            f"These were sent before and are logged as {', '.join(self.logged)}. Where one of them "
            "is wrong, correct its line in the case. To log these as further readings, send again."
        )


class CaseWithdrawn(OutOfTurn):
    """The case was withdrawn and takes no more entries."""

    def __init__(self, key: str) -> None:
        self.key = key
        super().__init__(f"Case {key} was withdrawn; log a new case instead.")


class LogNotReady(OutOfTurn):
    """An older log is being gone through, or its cases are in already."""


class NotShared(OutOfTurn):
    """The case is not shared."""

    def __init__(self, key: str) -> None:
        self.key = key
        super().__init__(f"Case {key} is not shared; share it first.")


class AlreadyAnswered(OutOfTurn):
    """The attempt has been answered; start a new one to go on."""

    def __init__(self) -> None:
        super().__init__("This attempt has been answered; start a new one to try again.")


class AlreadySettled(OutOfTurn):
    """A changed verdict was taken over, left or replaced already."""

    def __init__(self, settlement: str) -> None:
        self.settlement = settlement
        super().__init__(
            f"This was settled already ({settlement}); look at the case for how it stands."
        )


class NoRoomInRevision(OutOfTurn):
    """The case has no place in the newer revision."""

    def __init__(self, trouble: str) -> None:
        self.trouble = trouble
        super().__init__(f"{trouble} Mend the circuit or the readings, or leave the case as it is.")


class NotForProposals(OutOfTurn):
    """Airbags, orange cables, 48 V and more: no reading and no bridge is proposed there."""
