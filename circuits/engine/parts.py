"""Every kind of part the engine knows, with its values, its behaviour and its tolerances.

A part is a frozen value with two ends, `first` and `second`; volts are counted from first to
second, amps flow from first to second. A source has its plus at `first`. `branches()` says how
the part behaves (see `laws`); a part that a fault can open from outside although it behaves as a
current brings a terminal of its own in series, so that an added resistance always has a wire to
sit in.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from circuits.engine.copper import ohms_per_metre, temperature_factor
from circuits.engine.errors import BadPart
from circuits.engine.laws import JOINT, OPEN, Branch, Control, FloatArray, Law, Wobble

# The default tolerances, as a fraction of the value. Common practice, no source, but for the
# fuse: makers' cold resistances differ by 10 to 20 % for one rating.
DEFAULT_TOLERANCE = {
    "wire": 0.10,
    "fuse": 0.20,
    "contact": 0.30,
    "coil": 0.10,
    "load": 0.10,
}
BATTERY_VOLTS_TOLERANCE = 0.1
BATTERY_OHMS_TOLERANCE = 0.20
GENERATOR_VOLTS_TOLERANCE = 0.1
# A supply stands in for the rest of the car; until its volts are logged they are known this well.
SUPPLY_VOLTS_TOLERANCE_FRACTION = 0.05

# Electronics let go when their supply collapses: below this they draw like a resistor.
COLLAPSE_VOLTS = 1.0

# Typical cold resistance of a blade fuse, one maker's data; makers, size and age move it by
# 10 to 20 % (values from memory; 10 A agrees with 1 mV = 130 mA in published drop charts).
FUSE_COLD_MILLIOHMS = {
    1.0: 123.0,
    2.0: 53.5,
    3.0: 31.1,
    5.0: 17.85,
    7.5: 10.91,
    10.0: 7.70,
    15.0: 4.80,
    20.0: 3.38,
    25.0: 2.52,
    30.0: 1.97,
}


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

    def series_branch(self) -> str:
        """Return the branch in which an added resistance of this part sits."""
        return self.name

    def _positive(self, **values: float) -> None:
        for name, value in values.items():
            if not np.isfinite(value) or value <= 0:
                raise BadPart(self.name, f"{name} must be above zero, not {value:g}")

    def _not_negative(self, **values: float) -> None:
        for name, value in values.items():
            if not np.isfinite(value) or value < 0:
                raise BadPart(self.name, f"{name} cannot be below zero ({value:g})")

    def _branch(
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


def _wobble(name: str, *half_width: Law, phase_bound: bool = False) -> Wobble:
    return Wobble(name=name, half_width=half_width, phase_bound=phase_bound)


def _ohms_wobble(half_width_ohms: float) -> Wobble:
    return _wobble("ohms", Law(0.0, half_width_ohms, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Absent(Part):
    """A part that is not there in a phase: a branch without current."""

    kind = "absent"
    words = "absent part"

    def branches(self) -> tuple[Branch, ...]:
        return self._branch(OPEN)


# ------------------------------------------------------------------------------- conductors


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire(Part):
    """A copper conductor by gauge, length and temperature, with the ohms of its joints."""

    kind = "wire"
    words = "wire"

    wire_mm2: float
    metres: float
    joint_ohms: float = 0.0
    celsius: float = 20.0
    tolerance_fraction: float = DEFAULT_TOLERANCE["wire"]

    def __post_init__(self) -> None:
        self._positive(wire_mm2=self.wire_mm2, metres=self.metres)
        self._not_negative(joint_ohms=self.joint_ohms)

    @property
    def ohms(self) -> float:
        copper_ohms = ohms_per_metre(self.wire_mm2) * self.metres
        return copper_ohms * temperature_factor(self.celsius) + self.joint_ohms

    def branches(self) -> tuple[Branch, ...]:
        wobble = _ohms_wobble(self.tolerance_fraction * self.ohms)
        return self._branch(Law.resistance(self.ohms), wobbles=(wobble,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse(Part):
    """A fuse by rating; the cold ohms are typical for the rating where none are given."""

    kind = "fuse"
    words = "fuse"

    rated_amps: float
    cold_ohms: float | None = None
    tolerance_fraction: float = DEFAULT_TOLERANCE["fuse"]

    def __post_init__(self) -> None:
        self._positive(rated_amps=self.rated_amps)
        if self.cold_ohms is not None:
            self._positive(cold_ohms=self.cold_ohms)
        elif self.rated_amps not in FUSE_COLD_MILLIOHMS:
            raise BadPart(
                self.name,
                f"no typical resistance is known for a {self.rated_amps:g} A fuse; add its cold ohms",
            )

    @property
    def ohms(self) -> float:
        if self.cold_ohms is not None:
            return self.cold_ohms
        return FUSE_COLD_MILLIOHMS[self.rated_amps] / 1000

    def branches(self) -> tuple[Branch, ...]:
        wobble = _ohms_wobble(self.tolerance_fraction * self.ohms)
        return self._branch(Law.resistance(self.ohms), wobbles=(wobble,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ohmic(Part):
    """What connectors, splices, grounds, resistors and windings share: plain ohms."""

    ohms: float
    tolerance_fraction: float = DEFAULT_TOLERANCE["load"]

    def __post_init__(self) -> None:
        self._positive(ohms=self.ohms)

    def branches(self) -> tuple[Branch, ...]:
        wobble = _ohms_wobble(self.tolerance_fraction * self.ohms)
        return self._branch(Law.resistance(self.ohms), wobbles=(wobble,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Connector(Ohmic):
    """One pin of a mated connector, or a bolted joint."""

    kind = "connector"
    words = "connector"

    tolerance_fraction: float = DEFAULT_TOLERANCE["contact"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Splice(Ohmic):
    """A crimped or welded joint of several wires."""

    kind = "splice"
    words = "splice"

    tolerance_fraction: float = DEFAULT_TOLERANCE["contact"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground(Ohmic):
    """A ground strap, ground bolt, or the body as a conductor."""

    kind = "ground"
    words = "ground"

    tolerance_fraction: float = DEFAULT_TOLERANCE["contact"]


# -------------------------------------------------------------------- switches and contacts


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch(Part):
    """A switch that each phase leaves open or closed."""

    kind = "switch"
    words = "switch"
    can_be_bypassed = True
    bypass_words = "stuck closed or leaking"

    closed_ohms: float
    closed: bool = True
    tolerance_fraction: float = DEFAULT_TOLERANCE["contact"]

    def __post_init__(self) -> None:
        self._positive(closed_ohms=self.closed_ohms)

    def branches(self) -> tuple[Branch, ...]:
        if not self.closed:
            return self._branch(OPEN)
        wobble = _ohms_wobble(self.tolerance_fraction * self.closed_ohms)
        return self._branch(Law.resistance(self.closed_ohms), wobbles=(wobble,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver(Switch):
    """A module's output that each phase commands on or off."""

    kind = "driver"
    words = "module driver"
    bypass_words = "always on or leaking"


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil(Ohmic):
    """A relay or solenoid winding; its amps pull the contacts that name it."""

    kind = "coil"
    words = "winding"
    can_be_bypassed = True

    celsius: float = 20.0
    tolerance_fraction: float = DEFAULT_TOLERANCE["coil"]

    def branches(self) -> tuple[Branch, ...]:
        warm_ohms = self.ohms * temperature_factor(self.celsius)
        wobble = _ohms_wobble(self.tolerance_fraction * warm_ohms)
        return self._branch(Law.resistance(warm_ohms), wobbles=(wobble,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact(Part):
    """A relay contact, moved by the amps of its winding and not by the volts at its pins.

    Pull-in and drop-out are given in volts at the winding, as makers do, and turned into amps
    with the winding's ohms at 20 C: an open winding with full volts on its pins pulls nothing.

    A starter solenoid has a second, pull-in winding on the same core, from terminal 50 to the
    motor. Out, it pulls along with the hold-in winding; in, the contact shorts it; and when the
    key is let go its current turns round and cancels the hold-in winding's, so that the contact
    opens. Both windings are taken to have the same number of turns.
    """

    kind = "contact"
    words = "relay contact"
    can_be_bypassed = True
    bypass_words = "welded shut or leaking"

    coil: str
    coil_ohms: float
    pull_in_volts: float
    drop_out_volts: float
    made_ohms: float
    normally_closed: bool = False
    pull_winding: str = ""
    pull_winding_ohms: float = 0.0
    tolerance_fraction: float = DEFAULT_TOLERANCE["contact"]

    def __post_init__(self) -> None:
        if self.pull_winding:
            self._positive(pull_winding_ohms=self.pull_winding_ohms)
        self._positive(
            coil_ohms=self.coil_ohms,
            made_ohms=self.made_ohms,
            drop_out_volts=self.drop_out_volts,
        )
        if self.pull_in_volts <= self.drop_out_volts:
            raise BadPart(
                self.name,
                f"pull-in ({self.pull_in_volts:g} V) must lie above drop-out "
                f"({self.drop_out_volts:g} V)",
            )

    @property
    def pull_in_amps(self) -> float:
        helped = self.pull_in_volts / self.pull_winding_ohms if self.pull_winding else 0.0
        return self.pull_in_volts / self.coil_ohms + helped

    @property
    def drop_out_amps(self) -> float:
        return self.drop_out_volts / self.coil_ohms

    def branches(self) -> tuple[Branch, ...]:
        return _contact_branches(
            self,
            Control(
                branches=(self.coil, self.pull_winding) if self.pull_winding else (self.coil,),
                rising=(self.pull_in_amps,),
                falling=(self.drop_out_amps,),
            ),
            closes_when_passed=not self.normally_closed,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleContact(Part):
    """A contact or driver that a module moves by the volts between two of its pins.

    It closes when the volts from `sense_red` to `sense_black` pass `closes_volts` and opens
    again at `opens_volts`. Closing above and opening below is one rule, closing below and
    opening above the other; the gap between the two is the rule's memory.
    """

    kind = "rule"
    words = "rule-controlled contact"
    can_be_bypassed = True
    bypass_words = "stuck closed or leaking"

    sense_red: str
    sense_black: str
    closes_volts: float
    opens_volts: float
    made_ohms: float
    enabled: bool = True
    basis: str = "assumed"
    tolerance_fraction: float = DEFAULT_TOLERANCE["contact"]

    BASES: ClassVar[tuple[str, ...]] = ("known", "measured", "assumed")

    def __post_init__(self) -> None:
        self._positive(made_ohms=self.made_ohms)
        if self.closes_volts == self.opens_volts:
            raise BadPart(self.name, "closing and opening volts must differ, or the rule chatters")
        if self.basis not in self.BASES:
            raise BadPart(self.name, f"a rule is {', '.join(self.BASES)}; not '{self.basis}'")

    def branches(self) -> tuple[Branch, ...]:
        if not self.enabled:
            return self._branch(OPEN)
        closes_above = self.closes_volts > self.opens_volts
        upper, lower = max(self.closes_volts, self.opens_volts), min(
            self.closes_volts, self.opens_volts
        )
        return _contact_branches(
            self,
            Control(
                red=self.sense_red, black=self.sense_black, rising=(upper,), falling=(lower,)
            ),
            closes_when_passed=closes_above,
        )


def _contact_branches(
    part: Contact | RuleContact, control: Control, *, closes_when_passed: bool
) -> tuple[Branch, ...]:
    made = Law.resistance(part.made_ohms)
    moved = Law(0.0, part.tolerance_fraction * part.made_ohms, 0.0)
    still = Law(0.0, 0.0, 0.0)
    pieces, half_width = ((OPEN, made), (still, moved))
    if not closes_when_passed:
        pieces, half_width = ((made, OPEN), (moved, still))
    return part._branch(*pieces, control=control, wobbles=(_wobble("ohms", *half_width),))


# ---------------------------------------------------------------------------------- sources


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
        self._positive(internal_ohms=self.internal_ohms)
        self._not_negative(open_circuit_volts=self.open_circuit_volts)
        if self.charging_ohms is not None:
            self._positive(charging_ohms=self.charging_ohms)

    def branches(self) -> tuple[Branch, ...]:
        giving_ohms = self.internal_ohms
        taking_ohms = self.charging_ohms if self.charging_ohms is not None else giving_ohms
        moved_volts = Law(0.0, 0.0, self.volts_tolerance)
        return self._branch(
            Law(1.0, giving_ohms, self.open_circuit_volts),
            Law(1.0, taking_ohms, self.open_circuit_volts),
            control=Control(branches=(self.name,), rising=(0.0,), falling=(0.0,)),
            wobbles=(
                _wobble("volts", moved_volts, moved_volts),
                _wobble(
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
        self._positive(internal_ohms=self.internal_ohms)

    def branches(self) -> tuple[Branch, ...]:
        volts_tolerance = self.volts_tolerance
        if volts_tolerance is None:
            volts_tolerance = SUPPLY_VOLTS_TOLERANCE_FRACTION * abs(self.volts)
        return self._branch(
            Law(1.0, self.internal_ohms, self.volts),
            wobbles=(
                _wobble("volts", Law(0.0, 0.0, volts_tolerance), phase_bound=True),
                _ohms_wobble(self.tolerance_fraction * self.internal_ohms),
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class IdealSource(Part):
    """Volts without an inner resistance: for worked examples, never in a parts catalogue."""

    kind = "ideal source"
    words = "ideal source"

    volts: float

    def branches(self) -> tuple[Branch, ...]:
        return self._branch(Law(1.0, 0.0, self.volts))


@dataclass(frozen=True, slots=True, kw_only=True)
class IdealCurrent(Part):
    """Amps from first to second, whatever the volts: for worked examples only."""

    kind = "ideal current"
    words = "ideal current source"

    amps: float

    def branches(self) -> tuple[Branch, ...]:
        return self._branch(Law.amps(self.amps))


def _with_terminal(part: Part, inside: Callable[[str], Branch]) -> tuple[Branch, ...]:
    """Put an ideal joint before a branch that behaves as a current."""
    inner_node = f"{part.name}.inside"
    terminal = Branch(
        name=_terminal_name(part.name), first=part.first, second=inner_node, pieces=(JOINT,)
    )
    return (terminal, inside(inner_node))


def _terminal_name(part: str) -> str:
    return f"{part}.terminal"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Terminated(Part):
    """A part that behaves as a current and so brings its own terminal."""

    def series_branch(self) -> str:
        return _terminal_name(self.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Generator(_Terminated):
    """A regulated source: holds its volts up to a current limit and takes nothing back.

    Also a module's sensor supply. The plus (stud) is `first`, the case `second`.
    """

    kind = "generator"
    words = "regulated source"

    volts: float
    internal_ohms: float
    max_amps: float
    volts_tolerance: float = GENERATOR_VOLTS_TOLERANCE
    tolerance_fraction: float = DEFAULT_TOLERANCE["load"]

    def __post_init__(self) -> None:
        self._positive(internal_ohms=self.internal_ohms)
        self._not_negative(volts=self.volts, max_amps=self.max_amps)

    def branches(self) -> tuple[Branch, ...]:
        limit_volts = self.volts - self.internal_ohms * self.max_amps
        still = Law(0.0, 0.0, 0.0)
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
                    _wobble("volts", still, moved_volts, still),
                    _wobble(
                        "limit",
                        Law(0.0, 0.0, self.tolerance_fraction * self.max_amps),
                        still,
                        still,
                    ),
                ),
            )

        return _with_terminal(self, inside)


# ------------------------------------------------------------------------------------ loads


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
class CurrentLoad(_Terminated):
    """Electronics that draw a constant current until their supply collapses."""

    kind = "current"
    words = "consumer"

    amps: float
    tolerance_fraction: float = DEFAULT_TOLERANCE["load"]

    def __post_init__(self) -> None:
        self._not_negative(amps=self.amps)

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
                    _wobble(
                        "amps",
                        Law(self.tolerance_fraction * collapsed.volts_factor, 0.0, 0.0),
                        Law(0.0, 0.0, -self.tolerance_fraction * self.amps),
                    ),
                ),
            )

        return _with_terminal(self, inside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor(_Terminated):
    """A motor that turns: its torque asks a current, rising a little with the volts.

    Too few volts for that current and it stands still, a plain resistance.
    """

    kind = "motor"
    words = "motor"
    can_be_bypassed = True

    base_amps: float
    amps_per_volt: float
    stalled_ohms: float
    tolerance_fraction: float = DEFAULT_TOLERANCE["load"]

    def __post_init__(self) -> None:
        self._positive(stalled_ohms=self.stalled_ohms)
        self._not_negative(base_amps=self.base_amps, amps_per_volt=self.amps_per_volt)
        if self.amps_per_volt * self.stalled_ohms >= 1:
            raise BadPart(
                self.name, "draws more turning than stalled; check amps per volt and stalled ohms"
            )

    @property
    def stall_volts(self) -> float:
        """Return the volts below which the motor cannot turn."""
        return self.base_amps / (1 / self.stalled_ohms - self.amps_per_volt)

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
                    _wobble(
                        "draw",
                        Law(0.0, -fraction * self.stalled_ohms, 0.0),
                        Law(fraction * self.amps_per_volt, 0.0, -fraction * self.base_amps),
                    ),
                ),
            )

        return _with_terminal(self, inside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diode(Part):
    """Blocks below its forward volts and conducts above them, anode at `first`."""

    kind = "diode"
    words = "diode"
    can_be_bypassed = True

    forward_volts: float
    on_ohms: float
    tolerance_fraction: float = DEFAULT_TOLERANCE["load"]

    def __post_init__(self) -> None:
        self._positive(forward_volts=self.forward_volts, on_ohms=self.on_ohms)

    def branches(self) -> tuple[Branch, ...]:
        still = Law(0.0, 0.0, 0.0)
        moved_volts = Law(0.0, 0.0, self.tolerance_fraction * self.forward_volts)
        return self._branch(
            OPEN,
            Law(1.0, self.on_ohms, self.forward_volts),
            control=Control.across(self.first, self.second, self.forward_volts),
            wobbles=(_wobble("volts", still, moved_volts),),
        )


# ------------------------------------------------------------------- loads with a curved law


@dataclass(frozen=True, slots=True)
class FilamentCurve:
    """Amps of a filament: I0 (V / V0) ** 0.55, and a plain cold resistance near zero volts.

    The exponent and the cold resistance (a twelfth of the hot one) are values from memory.
    """

    rated_volts: float
    rated_amps: float

    EXPONENT: ClassVar[float] = 0.55
    COLD_FRACTION: ClassVar[float] = 1 / 12

    @property
    def cold_siemens(self) -> float:
        return self.rated_amps / self.rated_volts / self.COLD_FRACTION

    @property
    def cold_volts(self) -> float:
        """Return the volts below which the filament is as good as cold."""
        return self.rated_volts * float(self.COLD_FRACTION ** (1 / (1 - self.EXPONENT)))

    def amps(self, volts: FloatArray) -> FloatArray:
        size = np.abs(volts)
        hot = self.rated_amps * (size / self.rated_volts) ** self.EXPONENT
        return np.sign(volts) * np.where(size < self.cold_volts, self.cold_siemens * size, hot)

    def siemens(self, volts: FloatArray) -> FloatArray:
        size = np.maximum(np.abs(volts), self.cold_volts)
        hot = self.EXPONENT * self.rated_amps / size * (size / self.rated_volts) ** self.EXPONENT
        return np.where(np.abs(volts) < self.cold_volts, self.cold_siemens, hot)


@dataclass(frozen=True, slots=True)
class PowerCurve:
    """Amps of electronics that take a power: P / V up to a limit, nothing much when collapsed."""

    watts: float
    max_amps: float

    def amps(self, volts: FloatArray) -> FloatArray:
        working = np.minimum(self.watts / np.maximum(volts, COLLAPSE_VOLTS), self.max_amps)
        collapsed = min(self.watts / COLLAPSE_VOLTS, self.max_amps) / COLLAPSE_VOLTS * volts
        return np.where(volts < COLLAPSE_VOLTS, collapsed, working)

    def siemens(self, volts: FloatArray) -> FloatArray:
        above = np.maximum(volts, COLLAPSE_VOLTS)
        falling = np.where(self.watts / above < self.max_amps, -self.watts / above**2, 0.0)
        collapsed = min(self.watts / COLLAPSE_VOLTS, self.max_amps) / COLLAPSE_VOLTS
        return np.where(volts < COLLAPSE_VOLTS, collapsed, falling)


@dataclass(frozen=True, slots=True)
class FanCurve:
    """Input amps of a duty-driven fan whose torque rises with the square of its speed.

    With drive d the winding sees d V = Ra Im + k w and Im = c w**2; the input takes d Im.
    """

    winding_ohms: float
    back_volts: float
    rated_amps: float
    drive_fraction: float

    def _speed(self, volts: FloatArray) -> FloatArray:
        seen = np.maximum(self.drive_fraction * volts, 0.0)
        full = np.sqrt(self.back_volts**2 + 4 * self.winding_ohms * self.rated_amps * seen)
        return (full - self.back_volts) / (2 * self.winding_ohms * self.rated_amps)

    def amps(self, volts: FloatArray) -> FloatArray:
        return self.drive_fraction * self.rated_amps * self._speed(volts) ** 2

    def siemens(self, volts: FloatArray) -> FloatArray:
        speed = self._speed(volts)
        speed_per_volt = self.drive_fraction / (
            self.back_volts + 2 * self.winding_ohms * self.rated_amps * speed
        )
        slope = 2 * self.drive_fraction * self.rated_amps * speed * speed_per_volt
        return np.where(volts < 0, 0.0, slope)


def _chord(curve: FilamentCurve | PowerCurve | FanCurve, volts: float) -> Law:
    amps = float(curve.amps(np.array(volts)))
    return Law(amps / volts, 1.0, 0.0) if amps else OPEN


@dataclass(frozen=True, slots=True, kw_only=True)
class _CurvedLoad(_Terminated):
    """A load with a curved law; the solver starts from its chord at the rated volts."""

    tolerance_fraction: float = DEFAULT_TOLERANCE["load"]

    def curve(self) -> FilamentCurve | PowerCurve | FanCurve:
        raise NotImplementedError

    def chord_volts(self) -> float:
        return 12.0

    def branches(self) -> tuple[Branch, ...]:
        curve = self.curve()
        chord = _chord(curve, self.chord_volts())
        # With the chord in the form volts_factor * v - i = 0 this moves the amps by the fraction.
        moved = Law(0.0, -self.tolerance_fraction, 0.0)

        def inside(node: str) -> Branch:
            return Branch(
                name=self.name,
                first=node,
                second=self.second,
                pieces=(chord,),
                wobbles=(_wobble("draw", moved),),
                curve=curve,
            )

        return _with_terminal(self, inside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp(_CurvedLoad):
    """A filament lamp by its watts at its rated volts."""

    kind = "lamp"
    words = "filament lamp"
    can_be_bypassed = True

    rated_watts: float
    rated_volts: float = 12.0

    def __post_init__(self) -> None:
        self._positive(rated_watts=self.rated_watts, rated_volts=self.rated_volts)

    def curve(self) -> FilamentCurve:
        return FilamentCurve(self.rated_volts, self.rated_watts / self.rated_volts)

    def chord_volts(self) -> float:
        return self.rated_volts


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLoad(_CurvedLoad):
    """Electronics that take a power: the fewer volts, the more amps, up to a limit."""

    kind = "power"
    words = "electronic load"

    watts: float
    max_amps: float

    def __post_init__(self) -> None:
        self._positive(watts=self.watts, max_amps=self.max_amps)

    def curve(self) -> PowerCurve:
        return PowerCurve(self.watts, self.max_amps)


@dataclass(frozen=True, slots=True, kw_only=True)
class FanMotor(_CurvedLoad):
    """A fan with its own power stage, driven by duty: current follows speed squared."""

    kind = "fan"
    words = "fan motor"

    winding_ohms: float
    back_volts: float
    rated_amps: float
    drive_fraction: float = 1.0

    def __post_init__(self) -> None:
        self._positive(
            winding_ohms=self.winding_ohms, back_volts=self.back_volts, rated_amps=self.rated_amps
        )
        if not 0 <= self.drive_fraction <= 1:
            raise BadPart(self.name, f"drive must lie between 0 and 100 %, not {self.drive_fraction:.0%}")

    def curve(self) -> FanCurve:
        return FanCurve(self.winding_ohms, self.back_volts, self.rated_amps, self.drive_fraction)


KINDS: dict[str, type[Part]] = {
    part.kind: part
    for part in (
        Battery,
        Supply,
        Generator,
        Wire,
        Fuse,
        Connector,
        Splice,
        Ground,
        Switch,
        Driver,
        Coil,
        Contact,
        RuleContact,
        SenseInput,
        Resistor,
        CurrentLoad,
        Motor,
        Lamp,
        PowerLoad,
        FanMotor,
        Diode,
    )
}
