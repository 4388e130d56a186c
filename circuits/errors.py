"""What the circuit services refuse.

CircuitError
├── CircuitExists    a new circuit has the key of one that is there
├── OtherCircuit     a sheet of one circuit was meant for another
├── NothingNew       the sheet is the newest revision, word for word
├── NoteMissing      a revision without its reason
├── UnknownCircuit   there is no circuit with this key
└── BadSeverity      a fault cannot be as bad as was said
"""

from collections.abc import Sequence


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
