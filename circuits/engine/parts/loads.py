"""Loads whose law is straight, piece by piece: resistors, inputs, consumers, motors, diodes."""

from dataclasses import dataclass

from circuits.engine.errors import BadPart
from circuits.engine.laws import OPEN, Branch, Control, Law
from circuits.engine.parts.conductors import Ohmic
from circuits.engine.parts.part import (
    CLAMP_TOLERANCE,
    COLLAPSE_VOLTS,
    LEAK_TOLERANCE,
    LOAD_TOLERANCE,
    STILL,
    FaultKind,
    Part,
    TerminatedPart,
    Weakness,
    off_by_a_share,
    with_terminal,
    wobble,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistor(Ohmic):
    """A resistive load, or a resistor."""

    kind = "resistor"
    words = "resistor"
    can_be_bypassed = True

    def weaknesses(self) -> tuple[Weakness, ...]:
        return off_by_a_share(
            "ohms", self.ohms, FaultKind.WRONG_HIGH, FaultKind.WRONG_LOW, words="ohms"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak(Ohmic):
    """A path that should not be there and is known: damp, dirt, soot, an old harness."""

    kind = "leak"
    words = "leakage path"
    can_be_bypassed = True
    bypass_words = "grown: leaks more than it is known to"
    can_be_opened = False

    tolerance_fraction: float = LEAK_TOLERANCE


@dataclass(frozen=True, slots=True, kw_only=True)
class SenseInput(Ohmic):
    """A module's input: the ohms from its pin to the module's ground or supply."""

    kind = "input"
    words = "module input"
    can_be_bypassed = True


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentLoad(TerminatedPart):
    """Electronics that draw a constant current until their supply collapses."""

    kind = "current"
    words = "consumer"

    amps: float
    tolerance_fraction: float = LOAD_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_zero(amps=self.amps)

    def weaknesses(self) -> tuple[Weakness, ...]:
        # Enough for a consumer that should sleep and does not, or has a short inside.
        most = 10 + 4 * self.amps
        return (Weakness(kind=FaultKind.DRAWS_MORE, value="amps", worst_change=most, unit="A"),)

    def branches(self) -> tuple[Branch, ...]:
        collapsed = Law(self.amps / COLLAPSE_VOLTS, 1.0, 0.0)
        if self.amps == 0:
            collapsed = OPEN

        def inside(node: str) -> Branch:
            return Branch(
                name=self.name,
                first=node,
                second=self.second,
                pieces=(collapsed, Law.amps(self.amps)),
                control=Control.across(node, self.second, COLLAPSE_VOLTS),
                piece=1,
                wobbles=(
                    wobble(
                        "amps",
                        Law(self.tolerance_fraction * collapsed.volts_factor, 0.0, 0.0),
                        Law(0.0, 0.0, -self.tolerance_fraction * self.amps),
                    ),
                ),
            )

        return with_terminal(self, inside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor(TerminatedPart):
    """A motor that turns: its torque asks a current, rising a little with the volts.

    Too few volts for that current and it stands still, a plain resistance. A seized motor is the
    end of one that drags: it asks so much torque that it stands still on any supply.
    """

    kind = "motor"
    words = "motor"
    can_be_bypassed = True

    base_amps: float
    amps_per_volt: float
    stalled_ohms: float
    tolerance_fraction: float = LOAD_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(stalled_ohms=self.stalled_ohms)
        self.refuse_below_zero(base_amps=self.base_amps, amps_per_volt=self.amps_per_volt)
        if self.amps_per_volt * self.stalled_ohms >= 1:
            raise BadPart(
                self.name, "draws more turning than stalled; check amps per volt and stalled ohms"
            )

    @property
    def stall_volts(self) -> float:
        """Return the volts below which the motor cannot turn."""
        return self.base_amps / (1 / self.stalled_ohms - self.amps_per_volt)

    def weaknesses(self) -> tuple[Weakness, ...]:
        # With this much torque asked of it the motor stands still on any supply we handle.
        most = 60 / self.stalled_ohms
        return (Weakness(kind=FaultKind.DRAGS, value="base_amps", worst_change=most, unit="A"),)

    def branches(self) -> tuple[Branch, ...]:
        fraction = self.tolerance_fraction

        def inside(node: str) -> Branch:
            return Branch(
                name=self.name,
                first=node,
                second=self.second,
                pieces=(
                    Law.resistance(self.stalled_ohms),
                    Law(self.amps_per_volt, 1.0, -self.base_amps),
                ),
                control=Control.across(node, self.second, self.stall_volts),
                piece=1,
                wobbles=(
                    wobble(
                        "draw",
                        Law(0.0, -fraction * self.stalled_ohms, 0.0),
                        Law(fraction * self.amps_per_volt, 0.0, -fraction * self.base_amps),
                    ),
                ),
            )

        return with_terminal(self, inside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diode(Part):
    """Blocks below its forward volts and conducts above them, anode at `first`."""

    kind = "diode"
    words = "diode"
    can_be_bypassed = True

    forward_volts: float
    on_ohms: float
    tolerance_fraction: float = LOAD_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(forward_volts=self.forward_volts, on_ohms=self.on_ohms)

    def branches(self) -> tuple[Branch, ...]:
        moved_volts = Law(0.0, 0.0, self.tolerance_fraction * self.forward_volts)
        return self.branch(
            OPEN,
            Law(1.0, self.on_ohms, self.forward_volts),
            control=Control.across(self.first, self.second, self.forward_volts),
            wobbles=(wobble("volts", STILL, moved_volts),),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamp(Part):
    """Conducts above its forward volts like a diode, and backward above its clamp volts.

    A Zener or suppressor diode, anode at `first`: with v from first to second it is a straight
    line at either end and an open between them,

        v > forward_volts: v = forward_volts + on_ohms * i
        v < -clamp_volts:  v = -clamp_volts + on_ohms * i

    (piecewise-linear diode of the textbooks; its knee is rounder in truth).
    """

    kind = "clamp"
    words = "clamp diode"
    can_be_bypassed = True

    clamp_volts: float
    on_ohms: float
    forward_volts: float = 0.7
    tolerance_fraction: float = CLAMP_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(
            clamp_volts=self.clamp_volts, on_ohms=self.on_ohms, forward_volts=self.forward_volts
        )
        self.refuse_high_volts(self.clamp_volts)

    def branches(self) -> tuple[Branch, ...]:
        fraction = self.tolerance_fraction
        return self.branch(
            Law(1.0, self.on_ohms, -self.clamp_volts),
            OPEN,
            Law(1.0, self.on_ohms, self.forward_volts),
            control=Control.across(self.first, self.second, -self.clamp_volts, self.forward_volts),
            piece=1,
            wobbles=(
                wobble(
                    "volts",
                    Law(0.0, 0.0, -fraction * self.clamp_volts),
                    STILL,
                    Law(0.0, 0.0, fraction * self.forward_volts),
                ),
            ),
        )
