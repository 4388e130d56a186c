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
SENSOR_TOLERANCE = 0.05
# A Zener diode's volts: the usual grade of the E24 series.
CLAMP_TOLERANCE = 0.05
# Damp dries and comes back; its ohms are known to a factor rather than to a share.
LEAK_TOLERANCE = 0.50
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

# Nothing above this is drawn, solved or explained here (the limit of voltage class A of ISO 6469-3
# is 60 V DC).
HIGHEST_VOLTS = 60.0

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
    NEIGHBOUR_SHORT = "neighbour-short"
    DRIFTS_UP = "drifts-up"
    DRIFTS_DOWN = "drifts-down"
    WRONG_HIGH = "wrong-high"
    WRONG_LOW = "wrong-low"
    DISCHARGED = "discharged"
    REVERSED = "reversed"
    FALLS_BACK = "falls-back"
    LOST_PHASE = "lost-phase"
    SEIZED = "seized"
    RETURN_ELSEWHERE = "return-elsewhere"
    NAMED = "named"


@dataclass(frozen=True, slots=True, kw_only=True)
class Weakness:
    """A value of a part that a fault moves, and by how much at its worst.

    As a rule the severity is the change itself, in `unit`, the same in every phase. Where
    `most_severe` is given, the severity is a share instead (`%`), and `worst_change` is what that
    share comes to in this phase: a sensor whose ohms are twice too many has twice too many hot
    and cold. A fault that is not `graded` is there or not.
    """

    kind: FaultKind
    value: str
    worst_change: float
    unit: str
    most_severe: float | None = None
    #: The severity below which it is no such fault.
    least_severe: float = 0.0
    graded: bool = True
    #: Whether it is the same change in every phase, as far as there is room for it in all of them.
    within_room: bool = False
    #: What is moved, in trade words: `watts`, `signal`; and what a severity in % is a share of.
    words: str = ""
    share_of: str = ""

    @classmethod
    def all_or_nothing(cls, kind: FaultKind, value: str, worst_change: float) -> "Weakness":
        return cls(
            kind=kind,
            value=value,
            worst_change=worst_change,
            unit="%",
            most_severe=1.0,
            graded=False,
        )


# A part of another value by mistake, or a sensor that has drifted: up to ten times as much, or
# next to nothing. Common practice, no source.
MOST_TIMES_MORE = 9.0
MOST_SHARE_LESS = 0.99


def off_by_a_share(
    value: str, amount: float, higher: FaultKind, lower: FaultKind, *, words: str
) -> tuple[Weakness, Weakness]:
    """Return that a value may be too high or too low, by the same share in every phase."""

    def weakness(kind: FaultKind, change: float) -> Weakness:
        return Weakness(
            kind=kind,
            value=value,
            worst_change=change * amount,
            unit="%",
            most_severe=abs(change),
            words=words,
        )

    return weakness(higher, MOST_TIMES_MORE), weakness(lower, -MOST_SHARE_LESS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What all parts share: a name and two ends."""

    kind: ClassVar[str]
    #: The part as the trade calls it, for messages.
    words: ClassVar[str]
    #: Whether a path across the part (welded, leaking, shorted inside) is a fault of its own.
    can_be_bypassed: ClassVar[bool] = False
    bypass_words: ClassVar[str] = "shorted inside"
    #: Whether more resistance in it is a fault of its own.
    can_be_opened: ClassVar[bool] = True
    #: The end in which an added resistance of this part sits.
    series_end: ClassVar[str] = "first"

    name: str
    first: str
    second: str

    @property
    def ends(self) -> tuple[str, ...]:
        """Return the places where it is connected: two, or three."""
        return (self.first, self.second)

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

    def refuse_no_temperature(
        self,
        celsius: float,
        of_what: str = "copper in a vehicle",
        *,
        coldest: float = COLDEST_CELSIUS,
        hottest: float = HOTTEST_CELSIUS,
    ) -> None:
        if not coldest <= celsius <= hottest:
            raise BadPart(
                self.name,
                f"{celsius:g} °C is no temperature of {of_what}; give degrees Celsius "
                f"from {coldest:g} to {hottest:g}",
            )

    def refuse_no_fraction(self, **values: float) -> None:
        for name, value in values.items():
            if not 0 <= value <= 1:
                raise BadPart(self.name, f"{name} must lie between 0 and 100 %, not {value:.0%}")

    def refuse_high_volts(self, volts: float) -> None:
        if abs(volts) > HIGHEST_VOLTS:
            raise BadPart(
                self.name,
                f"{volts:g} V is above {HIGHEST_VOLTS:g} V DC; such circuits are not worked out "
                "here: follow the maker's procedure and leave them to a person licensed for high "
                "voltage",
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

    #: The third end, of a part that has one.
    third: str = ""

    @property
    def ends(self) -> tuple[str, ...]:
        return (self.first, self.second, self.third) if self.third else (self.first, self.second)

    def branches(self) -> tuple[Branch, ...]:
        first, *others = self.ends
        return tuple(
            Branch(
                name=f"{self.name}.{number}" if number else self.name,
                first=first,
                second=other,
                pieces=(OPEN,),
            )
            for number, other in enumerate(others)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreeEnded(Part):
    """A part with a third end, such as a wiper; its amps are those that enter at `first`."""

    third: str

    @property
    def ends(self) -> tuple[str, ...]:
        return (self.first, self.second, self.third)


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
