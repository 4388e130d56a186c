"""Batteries, supplies and generators; ideal sources for worked examples."""

from dataclasses import dataclass
from typing import Any

from circuits.engine.charge import (
    COLDEST_CELSIUS,
    EMPTY_OHMS_FACTOR,
    EMPTY_VOLTS_LESS,
    HOTTEST_CELSIUS,
    OHMS_CELSIUS,
    TABLE_CELSIUS,
    inner_ohms_factor,
    rest_volts,
)
from circuits.engine.errors import BadPart
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

# A source of so many amps is a generator that turns, not a module's supply. Common practice, no
# source.
LEAST_TURNING_AMPS = 20.0
# With one phase of three lost about two thirds of the amps are left; by where it is lost (one
# diode, a pair, a winding) and how fast it turns, more or less. Value from memory.
LEAST_PHASE_SHARE = 0.2
MOST_PHASE_SHARE = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery(Part):
    """A source with an inner resistance that differs in giving and taking charge.

    Volts and ohms are those of the battery as it stands; `at_charge` works them out from its
    state of charge and temperature. Three of its ills are faults of their own: too few volts (a
    dead cell), discharged (volts fall a little, ohms grow), and fitted the wrong way round; an
    aged battery is one with added resistance.
    """

    kind = "battery"
    words = "battery"

    open_circuit_volts: float
    internal_ohms: float
    charging_ohms: float | None = None
    #: The share of its charge that it has lost since it stood at these volts.
    lost_charge_fraction: float = 0.0
    #: 1, or -1 where it is fitted the wrong way round.
    polarity: float = 1.0
    volts_tolerance: float = BATTERY_VOLTS_TOLERANCE
    tolerance_fraction: float = BATTERY_OHMS_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(internal_ohms=self.internal_ohms)
        self.refuse_below_zero(open_circuit_volts=self.open_circuit_volts)
        self.refuse_high_volts(self.open_circuit_volts)
        self.refuse_no_fraction(lost_charge_fraction=self.lost_charge_fraction)
        if not -1 <= self.polarity <= 1:
            raise BadPart(self.name, f"polarity is 1 or -1, not {self.polarity:g}")
        if self.charging_ohms is not None:
            self.refuse_below_or_at_zero(charging_ohms=self.charging_ohms)

    @classmethod
    def at_charge(
        cls,
        charge_fraction: float | None = None,
        celsius: float | None = None,
        *,
        is_agm: bool = False,
        name: str,
        internal_ohms: float,
        open_circuit_volts: float | None = None,
        **values: Any,
    ) -> "Battery":
        """Return a 12 V battery by state of charge and temperature.

        `internal_ohms` and `charging_ohms` are those of a full battery at 25 C. Volts that are
        given stand; without a charge it is full as far as its ohms go.

        Raises
        ------
        BadPart
            The charge or the temperature is none that a battery can have, or neither charge nor
            volts are given.
        """
        if charge_fraction is not None and not 0 <= charge_fraction <= 1:
            raise BadPart(name, f"a state of charge of {charge_fraction:.0%} is not 0 to 100 %")
        if celsius is not None and not COLDEST_CELSIUS <= celsius <= HOTTEST_CELSIUS:
            raise BadPart(
                name,
                f"{celsius:g} °C is no temperature at which a battery works; give degrees Celsius "
                f"from {COLDEST_CELSIUS:g} to {HOTTEST_CELSIUS:g}",
            )
        if open_circuit_volts is None:
            if charge_fraction is None:
                raise BadPart(name, "neither its volts nor its state of charge are given")
            warmth = TABLE_CELSIUS if celsius is None else celsius
            open_circuit_volts = rest_volts(charge_fraction, warmth, is_agm=is_agm)
        factor = inner_ohms_factor(
            1.0 if charge_fraction is None else charge_fraction,
            OHMS_CELSIUS if celsius is None else celsius,
        )
        if values.get("charging_ohms") is not None:
            values["charging_ohms"] *= factor
        return cls(
            name=name,
            open_circuit_volts=open_circuit_volts,
            internal_ohms=internal_ohms * factor,
            **values,
        )

    def weaknesses(self) -> tuple[Weakness, ...]:
        return (
            Weakness(
                kind=FaultKind.LOW_VOLTS,
                value="open_circuit_volts",
                worst_change=-self.open_circuit_volts,
                unit="V",
            ),
            Weakness(
                kind=FaultKind.DISCHARGED,
                value="lost_charge_fraction",
                worst_change=1.0 - self.lost_charge_fraction,
                unit="%",
                most_severe=1.0,
            ),
            Weakness.all_or_nothing(FaultKind.REVERSED, "polarity", -1.0 - self.polarity),
        )

    def branches(self) -> tuple[Branch, ...]:
        lost = self.lost_charge_fraction
        emf_volts = self.polarity * self.open_circuit_volts * (1 - lost * EMPTY_VOLTS_LESS)
        more_ohms = 1 + lost * (EMPTY_OHMS_FACTOR - 1)
        giving_ohms = self.internal_ohms * more_ohms
        taking_ohms = giving_ohms
        if self.charging_ohms is not None:
            taking_ohms = self.charging_ohms * more_ohms
        # The wrong way round, amps from first to second discharge it.
        turned = (1 - self.polarity) / 2
        out_ohms = giving_ohms + turned * (taking_ohms - giving_ohms)
        in_ohms = taking_ohms + turned * (giving_ohms - taking_ohms)
        moved_volts = Law(0.0, 0.0, self.volts_tolerance)
        return self.branch(
            Law(1.0, out_ohms, emf_volts),
            Law(1.0, in_ohms, emf_volts),
            control=Control(branches=(self.name,), rising=(0.0,), falling=(0.0,)),
            wobbles=(
                wobble("volts", moved_volts, moved_volts),
                wobble(
                    "ohms",
                    Law(0.0, self.tolerance_fraction * out_ohms, 0.0),
                    Law(0.0, self.tolerance_fraction * in_ohms, 0.0),
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
        self.refuse_high_volts(self.volts)

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
    """Volts without an inner resistance: for worked examples, never in a parts catalogue.

    Textbooks reckon with more than 60 V, so this one alone is not held to it.
    """

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

    Also a module's sensor supply. The plus (stud) is `first`, the case `second`. A generator that
    is told its volts holds `fallback_volts` when the word no longer comes through.
    """

    kind = "generator"
    words = "regulated source"

    volts: float
    internal_ohms: float
    max_amps: float
    fallback_volts: float | None = None
    volts_tolerance: float = GENERATOR_VOLTS_TOLERANCE
    tolerance_fraction: float = LOAD_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(internal_ohms=self.internal_ohms)
        self.refuse_below_zero(volts=self.volts, max_amps=self.max_amps)
        self.refuse_high_volts(self.volts)
        if self.fallback_volts is not None:
            self.refuse_below_zero(fallback_volts=self.fallback_volts)
            self.refuse_high_volts(self.fallback_volts)

    def weaknesses(self) -> tuple[Weakness, ...]:
        most = self.max_amps
        found = [
            Weakness(kind=FaultKind.LOW_VOLTS, value="volts", worst_change=-self.volts, unit="V"),
            Weakness(kind=FaultKind.LIMITED, value="max_amps", worst_change=-most, unit="A"),
        ]
        if most >= LEAST_TURNING_AMPS:
            found.append(
                Weakness(
                    kind=FaultKind.LOST_PHASE,
                    value="max_amps",
                    worst_change=-MOST_PHASE_SHARE * most,
                    unit="%",
                    most_severe=MOST_PHASE_SHARE,
                    least_severe=LEAST_PHASE_SHARE,
                )
            )
        if self.fallback_volts is not None:
            change = self.fallback_volts - self.volts
            found.append(Weakness.all_or_nothing(FaultKind.FALLS_BACK, "volts", change))
        return tuple(found)

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
