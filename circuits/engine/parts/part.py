"""What all parts share: a name, two ends, tolerances and ways to slacken."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

import numpy as np

from circuits.engine.errors import BadPart
from circuits.engine.laws import JOINT, OPEN, Branch, Control, Law, Wobble

# The default tolerances, as a fraction of the value. Common practice, no source, but for the
# fuse: makers' cold resistances differ by 10 to 20 % for one rating.
WIRE_TOLERANCE = 0.10
FUSE_TOLERANCE = 0.20
CONTACT_TOLERANCE = 0.30
COIL_TOLERANCE = 0.10
LOAD_TOLERANCE = 0.10
BATTERY_VOLTS_TOLERANCE = 0.1
BATTERY_OHMS_TOLERANCE = 0.20
GENERATOR_VOLTS_TOLERANCE = 0.1
# A supply stands in for the rest of the car; until its volts are logged they are known this well.
SUPPLY_VOLTS_TOLERANCE_FRACTION = 0.05

# Electronics let go when their supply collapses: below this they draw like a resistor.
COLLAPSE_VOLTS = 1.0

# Beyond these a temperature is a slip of the pen, and the copper law no longer holds. Common
# practice, no source.
COLDEST_CELSIUS = -60.0
HOTTEST_CELSIUS = 300.0

STILL = Law(0.0, 0.0, 0.0)


class FaultKind(StrEnum):
    """How a part or place can fail."""

    RESISTANCE = "resistance"
    BYPASS = "bypass"
    GROUND_SHORT = "ground-short"
    SUPPLY_SHORT = "supply-short"
    LOW_VOLTS = "low-volts"
    LIMITED = "limited"
    DRAGS = "drags"
    DRAWS_MORE = "draws-more"


@dataclass(frozen=True, slots=True, kw_only=True)
class Weakness:
    """A value of a part that a fault moves, and by how much at its worst."""

    kind: FaultKind
    value: str
    worst_change: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What all parts share: a name and two ends."""

    kind: ClassVar[str]
    #: The part as the trade calls it, for messages.
    words: ClassVar[str]
    #: Whether a path across the part (welded, leaking, shorted inside) is a fault of its own.
    can_be_bypassed: ClassVar[bool] = False
    bypass_words: ClassVar[str] = "shorted inside"

    name: str
    first: str
    second: str

    def branches(self) -> tuple[Branch, ...]:
        raise NotImplementedError

    def weaknesses(self) -> tuple[Weakness, ...]:
        """Return the values of this part that a fault can move."""
        return ()

    def series_branch(self) -> str:
        """Return the branch in which an added resistance of this part sits."""
        return self.name

    def refuse_below_or_at_zero(self, **values: float) -> None:
        for name, value in values.items():
            if not np.isfinite(value) or value <= 0:
                raise BadPart(self.name, f"{name} must be above zero, not {value:g}")

    def refuse_below_zero(self, **values: float) -> None:
        for name, value in values.items():
            if not np.isfinite(value) or value < 0:
                raise BadPart(self.name, f"{name} cannot be below zero ({value:g})")

    def refuse_no_number(self, **values: float) -> None:
        for name, value in values.items():
            if not np.isfinite(value):
                raise BadPart(self.name, f"{name} must be a number, not {value:g}")

    def refuse_no_temperature(self, celsius: float) -> None:
        if not COLDEST_CELSIUS <= celsius <= HOTTEST_CELSIUS:
            raise BadPart(
                self.name,
                f"{celsius:g} °C is no temperature of copper in a vehicle; give degrees Celsius "
                f"from {COLDEST_CELSIUS:g} to {HOTTEST_CELSIUS:g}",
            )

    def branch(
        self,
        *pieces: Law,
        control: Control | None = None,
        piece: int = 0,
        wobbles: tuple[Wobble, ...] = (),
    ) -> tuple[Branch, ...]:
        return (
            Branch(
                name=self.name,
                first=self.first,
                second=self.second,
                pieces=pieces,
                control=control,
                piece=piece,
                wobbles=wobbles,
            ),
        )


def wobble(name: str, *half_width: Law, phase_bound: bool = False) -> Wobble:
    return Wobble(name=name, half_width=half_width, phase_bound=phase_bound)


def ohms_wobble(half_width_ohms: float) -> Wobble:
    return wobble("ohms", Law(0.0, half_width_ohms, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Absent(Part):
    """A part that is not there in a phase: a branch without current."""

    kind = "absent"
    words = "absent part"

    def branches(self) -> tuple[Branch, ...]:
        return self.branch(OPEN)


def with_terminal(part: Part, inside: Callable[[str], Branch]) -> tuple[Branch, ...]:
    """Put an ideal joint before a branch that behaves as a current."""
    inner_node = f"{part.name}.inside"
    terminal = Branch(
        name=terminal_name(part.name), first=part.first, second=inner_node, pieces=(JOINT,)
    )
    return (terminal, inside(inner_node))


def terminal_name(part: str) -> str:
    return f"{part}.terminal"


@dataclass(frozen=True, slots=True, kw_only=True)
class TerminatedPart(Part):
    """A part that behaves as a current and so brings its own terminal."""

    def series_branch(self) -> str:
        return terminal_name(self.name)
