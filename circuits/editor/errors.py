"""What the editor refuses.

CircuitError
├── DraftMovedOn        a draft was kept from another window meanwhile
├── NothingToTakeBack   a draft changes no such entry
├── TooManyDrafts       a person has as many drafts as one may have
└── UnknownStart        there is nothing of this name to begin from
"""

from datetime import datetime

from circuits.errors import CircuitError


class DraftMovedOn(CircuitError):
    """A draft was kept from another window or device since it was opened here."""

    def __init__(self, version: int, at: datetime) -> None:
        self.version = version
        self.at = at
        super().__init__(
            f"This draft was changed in another window at {at:%H:%M} UTC. Take what is there, or "
            "keep what is here; until then neither is lost."
        )


class NothingToTakeBack(CircuitError):
    """A draft has this entry as the revision has it that it began from, or neither has it."""

    def __init__(self, name: str) -> None:
        super().__init__(f"'{name}' is as in the revision already; nothing was changed.")


class TooManyDrafts(CircuitError):
    """A person has as many drafts as one may have."""

    def __init__(self, most: int) -> None:
        super().__init__(
            f"You have {most} drafts, as many as are kept. Publish one, or throw one away."
        )


class UnknownStart(CircuitError):
    """There is nothing of this name to begin from."""

    def __init__(self, name: str) -> None:
        super().__init__(f"There is no start '{name}'. Choose one of those listed.")
