"""Loads whose law is straight, piece by piece: resistors, inputs, consumers, motors, diodes."""

from dataclasses import dataclass

from circuits.engine.errors import BadPart
from circuits.engine.laws import OPEN, Branch, Control, Law
from circuits.engine.parts.conductors import Ohmic
from circuits.engine.parts.part import (
    COLLAPSE_VOLTS,
    LOAD_TOLERANCE,
    STILL,
    FaultKind,
    Part,
    TerminatedPart,
    Weakness,
    with_terminal,
    wobble,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistor(Ohmic):
    """A resistive load, or a resistor."""

    kind = "resistor"
    words = "resistor"
    can_be_bypassed = True


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
        return (Weakness(kind=FaultKind.DRAWS_MORE, value="amps", worst_change=most),)

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

    Too few volts for that current and it stands still, a plain resistance.
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
        return (Weakness(kind=FaultKind.DRAGS, value="base_amps", worst_change=most),)

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
