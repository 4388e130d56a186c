"""Batteries, supplies and generators; ideal sources for worked examples."""

from dataclasses import dataclass

from circuits.engine.laws import OPEN, Branch, Control, Law
from circuits.engine.parts.part import (
    BATTERY_OHMS_TOLERANCE,
    BATTERY_VOLTS_TOLERANCE,
    GENERATOR_VOLTS_TOLERANCE,
    LOAD_TOLERANCE,
    STILL,
    SUPPLY_VOLTS_TOLERANCE_FRACTION,
    FaultKind,
    Part,
    TerminatedPart,
    Weakness,
    ohms_wobble,
    with_terminal,
    wobble,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery(Part):
    """A source with an inner resistance that differs in giving and taking charge."""

    kind = "battery"
    words = "battery"

    open_circuit_volts: float
    internal_ohms: float
    charging_ohms: float | None = None
    volts_tolerance: float = BATTERY_VOLTS_TOLERANCE
    tolerance_fraction: float = BATTERY_OHMS_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(internal_ohms=self.internal_ohms)
        self.refuse_below_zero(open_circuit_volts=self.open_circuit_volts)
        if self.charging_ohms is not None:
            self.refuse_below_or_at_zero(charging_ohms=self.charging_ohms)

    def weaknesses(self) -> tuple[Weakness, ...]:
        return (
            Weakness(
                kind=FaultKind.LOW_VOLTS,
                value="open_circuit_volts",
                worst_change=-self.open_circuit_volts,
            ),
        )

    def branches(self) -> tuple[Branch, ...]:
        giving_ohms = self.internal_ohms
        taking_ohms = self.charging_ohms if self.charging_ohms is not None else giving_ohms
        moved_volts = Law(0.0, 0.0, self.volts_tolerance)
        return self.branch(
            Law(1.0, giving_ohms, self.open_circuit_volts),
            Law(1.0, taking_ohms, self.open_circuit_volts),
            control=Control(branches=(self.name,), rising=(0.0,), falling=(0.0,)),
            wobbles=(
                wobble("volts", moved_volts, moved_volts),
                wobble(
                    "ohms",
                    Law(0.0, self.tolerance_fraction * giving_ohms, 0.0),
                    Law(0.0, self.tolerance_fraction * taking_ohms, 0.0),
                ),
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply(Part):
    """A stand-in for the rest of the car: volts behind an inner resistance, set by phase."""

    kind = "supply"
    words = "supply"

    volts: float
    internal_ohms: float
    volts_tolerance: float | None = None
    tolerance_fraction: float = BATTERY_OHMS_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(internal_ohms=self.internal_ohms)
        self.refuse_no_number(volts=self.volts)

    def branches(self) -> tuple[Branch, ...]:
        volts_tolerance = self.volts_tolerance
        if volts_tolerance is None:
            volts_tolerance = SUPPLY_VOLTS_TOLERANCE_FRACTION * abs(self.volts)
        return self.branch(
            Law(1.0, self.internal_ohms, self.volts),
            wobbles=(
                wobble("volts", Law(0.0, 0.0, volts_tolerance), phase_bound=True),
                ohms_wobble(self.tolerance_fraction * self.internal_ohms),
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class IdealSource(Part):
    """Volts without an inner resistance: for worked examples, never in a parts catalogue."""

    kind = "ideal source"
    words = "ideal source"

    volts: float

    def branches(self) -> tuple[Branch, ...]:
        return self.branch(Law(1.0, 0.0, self.volts))


@dataclass(frozen=True, slots=True, kw_only=True)
class IdealCurrent(Part):
    """Amps from first to second, whatever the volts: for worked examples only."""

    kind = "ideal current"
    words = "ideal current source"

    amps: float

    def branches(self) -> tuple[Branch, ...]:
        return self.branch(Law.amps(self.amps))


@dataclass(frozen=True, slots=True, kw_only=True)
class Generator(TerminatedPart):
    """A regulated source: holds its volts up to a current limit and takes nothing back.

    Also a module's sensor supply. The plus (stud) is `first`, the case `second`.
    """

    kind = "generator"
    words = "regulated source"

    volts: float
    internal_ohms: float
    max_amps: float
    volts_tolerance: float = GENERATOR_VOLTS_TOLERANCE
    tolerance_fraction: float = LOAD_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(internal_ohms=self.internal_ohms)
        self.refuse_below_zero(volts=self.volts, max_amps=self.max_amps)

    def weaknesses(self) -> tuple[Weakness, ...]:
        return (
            Weakness(kind=FaultKind.LOW_VOLTS, value="volts", worst_change=-self.volts),
            Weakness(kind=FaultKind.LIMITED, value="max_amps", worst_change=-self.max_amps),
        )

    def branches(self) -> tuple[Branch, ...]:
        limit_volts = self.volts - self.internal_ohms * self.max_amps
        moved_volts = Law(0.0, 0.0, self.volts_tolerance)

        def inside(node: str) -> Branch:
            return Branch(
                name=self.name,
                first=node,
                second=self.second,
                pieces=(
                    Law.amps(-self.max_amps),
                    Law(1.0, self.internal_ohms, self.volts),
                    OPEN,
                ),
                control=Control.across(node, self.second, limit_volts, self.volts),
                piece=1,
                wobbles=(
                    wobble("volts", STILL, moved_volts, STILL),
                    wobble(
                        "limit",
                        Law(0.0, 0.0, self.tolerance_fraction * self.max_amps),
                        STILL,
                        STILL,
                    ),
                ),
            )

        return with_terminal(self, inside)
