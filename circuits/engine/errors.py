"""What the engine refuses.

EngineError
├── BadPart               a value that no such part can have; names the part
├── BadPhase              a phase that changes a part in a way it cannot change
├── BadPlace              a place, rig or reading that names something the network lacks
└── ContradictoryNetwork  the drawing contradicts itself; a list of reasons in trade words

A floating node and a chattering relay are results, not errors.
"""

from collections.abc import Sequence


class EngineError(Exception):
    """The engine cannot go on; the message says what is wrong and how to mend it."""


class BadPart(EngineError):
    """A part has a value that no such part can have."""

    def __init__(self, part: str, problem: str) -> None:
        self.part = part
        self.problem = problem
        super().__init__(f"{part}: {problem}")


class BadPhase(EngineError):
    """A phase asks a part to do what it cannot do."""

    def __init__(self, phase: str, problem: str) -> None:
        self.phase = phase
        self.problem = problem
        super().__init__(f"phase '{phase}': {problem}")


class BadPlace(EngineError):
    """A place, rig or reading names something that the network does not have."""

    def __init__(self, place: str, problem: str) -> None:
        self.place = place
        self.problem = problem
        super().__init__(f"{place}: {problem}")


class ContradictoryNetwork(EngineError):
    """The drawing contradicts itself; `reasons` name the parts and how to mend it."""

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("; ".join(self.reasons))
