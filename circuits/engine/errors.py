"""What the engine refuses.

EngineError
├── BadPart               a value that no such part can have; names the part
├── BadPhase              a phase that changes a part in a way it cannot change
├── BadPlace              a place, rig or reading that names something the network lacks
│   └── PowerNotRemoved   ohms are asked of a circuit that still has its power
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


class PowerNotRemoved(BadPlace):
    """Ohms are asked of a circuit that still has its power; says what to measure instead."""

    def __init__(self, place: str, red: str, black: str) -> None:
        self.red = red
        self.black = black
        super().__init__(
            place,
            "an ohmmeter shows ohms only where the power is removed; on a live circuit it shows "
            "the circuit's own volts as a figure that is no resistance. Disconnect the battery as "
            "its maker says and note 'power removed', or leave it on and read the drop in volts "
            f"from {red} to {black} while the current flows",
        )


class ContradictoryNetwork(EngineError):
    """The drawing contradicts itself; `reasons` name the parts and how to mend it."""

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("; ".join(self.reasons))
