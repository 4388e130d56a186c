"""Where and how a reading is taken, and what was read."""

import math
from dataclasses import dataclass, field, replace
from enum import StrEnum

from circuits.engine.errors import BadPlace
from circuits.engine.parts.part import COLDEST_CELSIUS, HOTTEST_CELSIUS

# A multimeter on its volts range: 10 MOhm, 0.5 % of the reading and two counts. Common practice.
DEFAULT_INPUT_OHMS = 10e6
DEFAULT_READING_FRACTION = 0.005
DEFAULT_COUNTS = 2.0
# A pair of test leads: 0.2 to 0.5 ohm; above 1 ohm they are to be replaced (an instrument
# maker's note on the accuracy of multimeters).
DEFAULT_LEAD_OHMS = 0.35
DEFAULT_LEAD_TOLERANCE_OHMS = 0.15
# The amps range of a multimeter drops 0.03 to 0.05 V for an amp, leads and fuse and all, its
# milliamps range 1 to 2 mV for a milliamp. Values from memory.
DEFAULT_BURDEN_OHMS = 0.04
# What makes a test lamp of light-emitting diodes draw so little. Common practice, no source.
LED_FORWARD_VOLTS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Two points for volts or ohms, or the part whose amps are read.

    Volts are read from `red` to `black`, and so are ohms where `reads_ohms` is set. Amps are read
    through the part `through`, counted from its first end to its second, or the other way if
    `reversed_clamp`. With `by_drop` no clamp goes round it: a millivolt meter lies across the
    part, a shunt or a fuse, and what it shows is divided by the ohms that the part should have.

    Examples
    --------
    >>> from circuits.engine import Place
    >>> Place(key="TP1", red="plus", black="minus").unit
    'V'
    >>> Place(key="TP2", through="F17", by_drop=True).unit
    'A'
    >>> Place(key="TP3", red="canh", black="canl", reads_ohms=True).unit
    'ohm'
    """

    key: str
    red: str = ""
    black: str = ""
    through: str = ""
    reversed_clamp: bool = False
    reads_ohms: bool = False
    by_drop: bool = False

    def __post_init__(self) -> None:
        if bool(self.through) == bool(self.red or self.black):
            raise BadPlace(
                self.key, "a place has either two leads (volts, ohms) or one part (amps)"
            )
        if not self.through and self.red == self.black:
            raise BadPlace(self.key, f"both leads are on {self.red}; that reads nothing")
        if self.reads_ohms and self.through:
            raise BadPlace(self.key, "ohms are read between two leads; name red and black")
        if self.by_drop and not self.through:
            raise BadPlace(self.key, "a drop stands for amps only across a part; name the part")

    @property
    def reads_amps(self) -> bool:
        return bool(self.through)

    @property
    def unit(self) -> str:
        """Return the base unit of what is read: V, A or ohm."""
        if self.reads_ohms:
            return "ohm"
        return "A" if self.reads_amps else "V"

    @property
    def usual_step(self) -> float:
        """Return the last digit of a common display here: 10 mV, 10 mA, 0.1 ohm [base unit]."""
        return 0.1 if self.reads_ohms else 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """What was done to the circuit for one reading.

    Attributes
    ----------
    unplugged
        Parts that are out.
    bridged
        Pairs of nodes joined by a fused lead.
    lamp_watts, lamp_volts
        A filament test lamp across the two leads of the reading, and the volts it is made for.
    led_amps
        A test lamp of light-emitting diodes across the leads, by its amps at `lamp_volts`.
    power_removed
        Every source is disconnected (open, not shorted) and modules are without power: the only
        way to read ohms.
    ammeter_in, burden_ohms
        The part whose first end an ammeter was put into, and what that ammeter resists.
    """

    unplugged: frozenset[str] = frozenset()
    bridged: tuple[tuple[str, str], ...] = ()
    lamp_watts: float | None = None
    lamp_volts: float = 12.0
    led_amps: float | None = None
    power_removed: bool = False
    ammeter_in: str = ""
    burden_ohms: float = DEFAULT_BURDEN_OHMS

    def __post_init__(self) -> None:
        if self.led_amps is not None and not (math.isfinite(self.led_amps) and self.led_amps > 0):
            raise BadPlace("rig", f"an LED lamp draws some milliamps, not {self.led_amps:g} A")
        if not (math.isfinite(self.lamp_volts) and self.lamp_volts > LED_FORWARD_VOLTS):
            raise BadPlace("rig", f"a test lamp is made for 6, 12 or 24 V, not {self.lamp_volts:g}")
        if not (math.isfinite(self.burden_ohms) and self.burden_ohms > 0):
            raise BadPlace(
                "rig", f"an ammeter resists a little; its ohms cannot be {self.burden_ohms:g}"
            )

    def for_place(self, place: Place) -> "Rig":
        """Return this rig with the power removed where ohms are to be read."""
        return replace(self, power_removed=True) if place.reads_ohms else self


AS_IT_STANDS = Rig()


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """The instrument: what it does to the circuit and how far it may be off.

    Attributes
    ----------
    input_ohms
        What a voltmeter draws through: 10 MOhm as a rule, some 400 kOhm for a low-impedance one.
    reading_fraction, counts
        Accuracy as makers state it, a share of the reading and so many steps of the last digit.
    floor_amps
        What a clamp may be off however small the current: its zero drift. Below it the clamp
        sees nothing.
    test_amps
        The current that an ohmmeter drives, where it is fixed to one range; None takes the range
        that suits what is shown.
    lead_ohms, lead_tolerance_ohms
        What the leads of an ohmmeter add to its reading, and how far that may be off. Leads that
        were held together and subtracted are 0 with a tolerance of some 0.05 ohm.
    """

    input_ohms: float = DEFAULT_INPUT_OHMS
    reading_fraction: float = DEFAULT_READING_FRACTION
    counts: float = DEFAULT_COUNTS
    floor_amps: float = 0.0
    test_amps: float | None = None
    lead_ohms: float = DEFAULT_LEAD_OHMS
    lead_tolerance_ohms: float = DEFAULT_LEAD_TOLERANCE_OHMS

    def __post_init__(self) -> None:
        if not self.input_ohms > 0:
            raise BadPlace("meter", f"input ohms must be above zero, not {self.input_ohms:g}")
        for what, value in (("share", self.reading_fraction), ("counts", self.counts)):
            if not (math.isfinite(value) and value >= 0):
                raise BadPlace("meter", f"its {what} of accuracy cannot be {value:g}")
        for what, value in (
            ("floor in amps", self.floor_amps),
            ("ohms of the leads", self.lead_ohms),
            ("tolerance of the leads", self.lead_tolerance_ohms),
        ):
            if not (math.isfinite(value) and value >= 0):
                raise BadPlace("meter", f"its {what} cannot be {value:g}")
        if self.test_amps is not None and not 1e-7 < self.test_amps <= 1:
            raise BadPlace(
                "meter",
                f"an ohmmeter drives between 0.1 uA and 1 A, not {self.test_amps:g} A",
            )


class Bound(StrEnum):
    """What a figure says of the steady one: that it is it, or that it lies on one side of it.

    The least that a meter caught in a while may be a dip that no steady state shows: the steady
    figure lies there or above. The most that it caught bounds it from above in the same way.
    """

    EXACT = "exact"
    FROM_BELOW = "from below"
    FROM_ABOVE = "from above"

    @property
    def open_side(self) -> int:
        """Return which way the steady figure may lie off without limit: up 1, down -1, none 0."""
        return {Bound.EXACT: 0, Bound.FROM_BELOW: 1, Bound.FROM_ABOVE: -1}[self]

    @property
    def turned(self) -> "Bound":
        """Return what it is with the leads swapped: the least becomes the most."""
        swapped = {Bound.FROM_BELOW: Bound.FROM_ABOVE, Bound.FROM_ABOVE: Bound.FROM_BELOW}
        return swapped.get(self, self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a meter showed at a place in a phase; `step` is the last digit of its display.

    `OL` is an infinite value and says something in ohms alone: there is no path, or none within
    the meter's range. `celsius` is the temperature that was noted with the reading, `symptom`
    whether the complaint showed while it was taken, None where nobody can tell. Where healthy
    vehicles of the kind lie closer together than the parts' tolerances let them, `tolerance_share`
    is the part of the tolerance that they leave, above 0 to 1. `bound` says whether the figure is
    the steady one, or the least or the most that was caught.
    """

    place: Place
    phase: str
    value: float
    step: float
    rig: Rig = AS_IT_STANDS
    meter: Meter = field(default_factory=Meter)
    celsius: float | None = None
    symptom: bool | None = None
    tolerance_share: float = 1.0
    bound: Bound = Bound.EXACT

    def __post_init__(self) -> None:
        if not 0 < self.tolerance_share <= 1:
            raise BadPlace(
                self.place.key,
                f"what vehicles leave of a tolerance is above 0 to 1, not {self.tolerance_share:g}",
            )
        if not math.isfinite(self.value) and not self.is_over_range:
            raise BadPlace(
                self.place.key,
                f"a reading to judge is a number, not {self.value}; leave out what was over "
                "range or not measured",
            )
        if not (math.isfinite(self.step) and self.step > 0):
            raise BadPlace(
                self.place.key, f"the last digit of a display is above zero, not {self.step:g}"
            )
        if self.celsius is not None and not COLDEST_CELSIUS <= self.celsius <= HOTTEST_CELSIUS:
            raise BadPlace(
                self.place.key,
                f"{self.celsius:g} °C is no temperature of a vehicle; note degrees Celsius from "
                f"{COLDEST_CELSIUS:g} to {HOTTEST_CELSIUS:g}",
            )

    @property
    def is_over_range(self) -> bool:
        """Whether the meter showed OL on its ohms range."""
        return self.place.reads_ohms and self.value == math.inf
