"""What the circuit services refuse.

CircuitError
├── CircuitExists    a new circuit has the key of one that is there
├── OtherCircuit     a sheet of one circuit was meant for another
├── NothingNew       the sheet is the newest revision, word for word
├── NoteMissing      a revision without its reason
├── RevisionMovedOn  somebody else published in the meantime; says what they and you changed
├── UnknownRevision  the circuit has no revision of this number
├── UnknownCircuit   there is no circuit with this key
├── UnknownFinding   the inspection of this circuit finds no such thing
├── ReasonMissing    something is accepted without saying why
├── NotAccepted      what was never accepted cannot be taken back
├── UnknownPin       no part of the circuit is connected there
├── UnconfirmedVehicle  a circuit cannot be confirmed on what was written
├── UnknownPart      the circuit has no part of this name
├── UnknownPlace     no reading is predicted at this place in this phase
├── NoOpenRule       no assumed rule of this name has an alternative
├── RuleUnsettled    a reading does not tell a rule from its alternative
├── NotMeasuredHere  no reading is asked for on such a circuit
├── BadReference     a reading of a healthy vehicle that cannot be kept
├── UnknownReference  no such reading of a healthy vehicle is one's own
├── TooFar           a part of the drawing would be moved off the paper
├── BadWalk          steps of a walk-through cannot be shown; says which and why
├── NotYourWalk      somebody else wrote the walk-through
├── UnknownWalk      the circuit has no walk-through of this number
└── BadSeverity      a fault cannot be as bad as was said
"""

from collections.abc import Sequence

from rapidfuzz import process

from circuits.sheet import Difference, Merged


class CircuitError(Exception):
    """The service cannot do what it was asked; the message says why and how to mend it."""


class CircuitExists(CircuitError):
    """A new circuit has the key of one that is there."""

    def __init__(self, key: str) -> None:
        self.key = key
        super().__init__(
            f"There is a circuit '{key}' already. Publish a revision of it, or give the new "
            "circuit another key."
        )


class OtherCircuit(CircuitError):
    """A sheet of one circuit was meant for another."""

    def __init__(self, sheet_key: str, circuit_key: str) -> None:
        self.sheet_key = sheet_key
        self.circuit_key = circuit_key
        super().__init__(
            f"This sheet is of circuit '{sheet_key}', not '{circuit_key}'. Change its key, or "
            "publish it where it belongs."
        )


class NothingNew(CircuitError):
    """The sheet says nothing that the newest revision does not say."""

    def __init__(self, circuit_key: str, number: int) -> None:
        self.circuit_key = circuit_key
        self.number = number
        super().__init__(
            f"This sheet is revision {number} of '{circuit_key}', word for word. Change "
            "something before you publish it."
        )


class NoteMissing(CircuitError):
    """A revision needs its reason."""

    def __init__(self) -> None:
        super().__init__("Say what changed and why: a revision needs its note.")


class RevisionMovedOn(CircuitError):
    """The newest revision is not the one that the sheet was made from.

    `theirs` is what changed from the base to the newest revision, `mine` what the sheet changes in
    the base; `merged` holds both, with what clashes. `base` 0 means that the sheet came from
    elsewhere: then `mine` is what it changes in the newest revision.
    """

    def __init__(
        self,
        circuit_key: str,
        *,
        base: int,
        newest: int,
        theirs: Sequence[Difference],
        mine: Sequence[Difference],
        merged: Merged,
    ) -> None:
        self.circuit_key = circuit_key
        self.base = base
        self.newest = newest
        self.theirs = tuple(theirs)
        self.mine = tuple(mine)
        self.merged = merged
        made_from = (
            f"Somebody published revision {newest} of '{circuit_key}' since you began with revision"
            f" {base}"
            if base
            else f"There is a circuit '{circuit_key}' already, at revision {newest}"
        )
        super().__init__(
            f"{made_from}. Nothing of theirs or yours is lost: look at what differs, and publish on"
            f" top of revision {newest}."
        )


class UnknownRevision(CircuitError):
    """The circuit has no revision of this number."""

    def __init__(self, circuit_key: str, number: int, newest: int) -> None:
        self.circuit_key = circuit_key
        self.number = number
        self.newest = newest
        super().__init__(
            f"There is no revision {number} of '{circuit_key}'; the newest is {newest}."
        )


class UnknownCircuit(CircuitError):
    """There is no circuit with this key."""

    def __init__(self, key: str, nearest: Sequence[str] = ()) -> None:
        self.key = key
        hint = f" Did you mean {' or '.join(nearest)}?" if nearest else ""
        super().__init__(f"There is no circuit '{key}'.{hint}")


class BadSeverity(CircuitError):
    """A fault cannot be as bad as was said."""

    def __init__(self, text: str, problem: str, mend: str) -> None:
        self.text = text
        self.problem = problem
        self.mend = mend
        super().__init__(f"{problem} {mend}")


class UnknownFinding(CircuitError):
    """The inspection of this circuit finds no such thing."""

    def __init__(self, finding_id: str, circuit_key: str) -> None:
        self.finding_id = finding_id
        super().__init__(
            f"The inspection of '{circuit_key}' finds no '{finding_id}' in its newest revision. "
            "It may be mended already: look at the list again."
        )


class ReasonMissing(CircuitError):
    """Something is accepted without saying why."""

    def __init__(self) -> None:
        super().__init__(
            "Say why it may stay as it is: whoever reads it next has to be able to judge that."
        )


class NotAccepted(CircuitError):
    """What was never accepted cannot be taken back."""

    def __init__(self, finding_id: str) -> None:
        self.finding_id = finding_id
        super().__init__(f"'{finding_id}' is not accepted, so there is nothing to take back.")


class UnknownPin(CircuitError):
    """No part of the circuit is connected there."""

    def __init__(self, pin: str, known: Sequence[str]) -> None:
        self.pin = pin
        super().__init__(f"Nothing is connected at '{pin}'.{_nearest(pin, known)}")


class UnconfirmedVehicle(CircuitError):
    """A circuit cannot be confirmed on what was written."""

    def __init__(self, field: str, problem: str) -> None:
        self.field = field
        self.problem = problem
        super().__init__(f"{field}: {problem}")


class UnknownPart(CircuitError):
    """The circuit has no part of this name."""

    def __init__(self, part: str, known: Sequence[str]) -> None:
        self.part = part
        super().__init__(f"The circuit has no part '{part}'.{_nearest(part, known)}")


class UnknownPlace(CircuitError):
    """No reading is predicted at this place in this phase."""

    def __init__(self, place: str, phase: str) -> None:
        self.place = place
        self.phase = phase
        super().__init__(
            f"Nothing is predicted at '{place}' in '{phase}'. Name a place and a phase of this "
            "circuit by their keys."
        )


class NoOpenRule(CircuitError):
    """No assumed rule of this name has an alternative."""

    def __init__(self, part: str, known: Sequence[str]) -> None:
        self.part = part
        has = f"Open are: {', '.join(known)}." if known else "None of this circuit's rules has one."
        super().__init__(f"'{part}' is no assumed rule with an alternative. {has}")


class RuleUnsettled(CircuitError):
    """A reading does not tell a rule from its alternative; nothing was changed."""


class NotMeasuredHere(CircuitError):
    """No reading is asked for on such a circuit: airbags, orange cables, high volts."""


class BadReference(CircuitError):
    """A reading of a healthy vehicle that cannot be kept."""

    def __init__(self, field: str, problem: str) -> None:
        self.field = field
        self.problem = problem
        super().__init__(f"{field}: {problem}")


class UnknownReference(CircuitError):
    """No such reading of a healthy vehicle is one's own."""

    def __init__(self) -> None:
        super().__init__("You have no such reading here. Only whoever kept one can take it back.")


class TooFar(CircuitError):
    """A part of the drawing would be moved off the paper."""

    def __init__(self, part: str, farthest: int) -> None:
        self.part = part
        super().__init__(
            f"'{part}' cannot be moved more than {farthest} steps or rows from where the layout"
            " puts it. Put it back first."
        )


class BadWalk(CircuitError):
    """Steps of a walk-through cannot be shown.

    `problems` holds, for each thing to mend, the number of the step (0 for the walk itself), the
    field and the words.
    """

    def __init__(self, problems: Sequence[tuple[int, str, str]]) -> None:
        self.problems = tuple(problems)
        super().__init__(
            " ".join(
                f"Step {number}, {field}: {words}" if number else words
                for number, field, words in self.problems
            )
        )


class NotYourWalk(CircuitError):
    """Somebody else wrote the walk-through."""

    def __init__(self) -> None:
        super().__init__(
            "Only whoever wrote a walk-through can change it. Write one of your own: a circuit can"
            " have several."
        )


class UnknownWalk(CircuitError):
    """The circuit has no walk-through of this number."""

    def __init__(self, circuit_key: str, number: int) -> None:
        self.number = number
        super().__init__(f"'{circuit_key}' has no walk-through {number}.")


def _nearest(name: str, known: Sequence[str]) -> str:
    found = process.extract(name, known, limit=3, score_cutoff=50)
    words = " or ".join(f"'{each}'" for each, _, _ in found)
    return f" Did you mean {words}?" if words else ""
