"""The instrument is a part: what it puts into the circuit, and how far it may be off.

An ohmmeter drives a current that it knows through what lies between its leads and shows the volts
it needs for that, divided by the current. Open, it stands at a few volts and shows OL. What it
drives goes through every path there is, not only through the part that one has in mind; diodes and
electronics answer to its volts as they would to any other; and where the circuit has volts of its
own, the display shows a figure that is no resistance.

References
----------
.. [1] JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM): 4.3.7, a bound
   a is a rectangular distribution of standard uncertainty a / sqrt(3); 5.1.2, what is independent
   is added in squares.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from circuits.engine.laws import Branch, Law
from circuits.engine.parts import Diode, Generator, Lamp, Resistor
from circuits.engine.parts.conductors import Fuse, Ohmic
from circuits.engine.parts.part import ohms_wobble
from circuits.engine.readings import LED_FORWARD_VOLTS, Meter, Place, Reading

# An ohmmeter stands at about 3 V when open and drives 1 mA on its lowest ranges, less on higher
# ones. Common practice, no source.
OPEN_VOLTS = 3.0
RANGE_AMPS = (1e-3, 1e-5, 3e-7)
# So little is left of the volts where the meter no longer drives its current: it shows OL.
SLACK_FRACTION = 0.01
# Where many faults are looked at in one go one range has to do for all.
WIDE_RANGE_AMPS = RANGE_AMPS[1]
# Which range an OL was seen on is seldom logged; most meters go further than this one of 3 MOhm.
OVER_RANGE_AMPS = 1e-6
#: Where an ohmmeter's red lead ends inside the meter, and the node behind a series ammeter.
OHMMETER_TIP = "ohmmeter tip"
AMMETER_NODE = "behind the ammeter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ohmmeter:
    """An ohmmeter on one range, with its leads."""

    test_amps: float
    lead_ohms: float
    lead_tolerance_ohms: float

    @classmethod
    def on_range(cls, meter: Meter, range_amps: float) -> "Ohmmeter":
        return cls(
            test_amps=range_amps if meter.test_amps is None else meter.test_amps,
            lead_ohms=meter.lead_ohms,
            lead_tolerance_ohms=meter.lead_tolerance_ohms,
        )

    @property
    def most_ohms(self) -> float:
        """Return the ohms above which the display shows OL."""
        return (1 - SLACK_FRACTION) * OPEN_VOLTS / self.test_amps

    @property
    def open_ohms(self) -> float:
        """Return what an open comes to inside: the open volts over the test current."""
        return OPEN_VOLTS / self.test_amps

    def branches(self, red: str, black: str) -> Iterator[Branch]:
        yield Branch(
            name="leads",
            first=red,
            second=OHMMETER_TIP,
            pieces=(Law.resistance(self.lead_ohms),),
            wobbles=(ohms_wobble(self.lead_tolerance_ohms),),
        )
        source = Generator(
            name="ohmmeter",
            first=OHMMETER_TIP,
            second=black,
            volts=OPEN_VOLTS,
            internal_ohms=SLACK_FRACTION * OPEN_VOLTS / self.test_amps,
            max_amps=self.test_amps,
            volts_tolerance=0.0,
            tolerance_fraction=0.0,
        )
        yield from source.branches()


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What hangs across the leads of a reading and moves the circuit."""

    red: str
    black: str
    lamp_watts: float | None = None
    lamp_volts: float = 12.0
    led_amps: float | None = None
    meter_ohms: float | None = None
    ohmmeter: Ohmmeter | None = None

    def branches(self) -> Iterator[Branch]:
        red, black = self.red, self.black
        if self.lamp_watts is not None:
            yield from Lamp(
                name="test lamp",
                first=red,
                second=black,
                rated_watts=self.lamp_watts,
                rated_volts=self.lamp_volts,
            ).branches()
        if self.led_amps is not None:
            yield from Diode(
                name="LED lamp",
                first=red,
                second=black,
                forward_volts=LED_FORWARD_VOLTS,
                on_ohms=(self.lamp_volts - LED_FORWARD_VOLTS) / self.led_amps,
            ).branches()
        if self.meter_ohms is not None:
            yield from Resistor(
                name="meter", first=red, second=black, ohms=self.meter_ohms
            ).branches()
        if self.ohmmeter is not None:
            yield from self.ohmmeter.branches(red, black)


def ohmmeter_of(reading: Reading) -> Ohmmeter:
    """Return the ohmmeter on the range that a reading was shown on."""
    if reading.is_over_range:
        return Ohmmeter.on_range(reading.meter, OVER_RANGE_AMPS)
    for range_amps in RANGE_AMPS:
        ohmmeter = Ohmmeter.on_range(reading.meter, range_amps)
        if abs(reading.value) <= ohmmeter.most_ohms:
            break
    return ohmmeter


# --------------------------------------------------------------------------- how far it is off


def compared_value(reading: Reading) -> float:
    """Return the number that a reading is compared by: an OL is the open of its range."""
    return ohmmeter_of(reading).open_ohms if reading.is_over_range else reading.value


def meter_bound(meter: Meter, place: Place, value: float, step: float) -> float:
    """Return how far a meter may be off: a share of the reading, counts, and a clamp's floor."""
    bound = meter.reading_fraction * abs(value) + meter.counts * step
    if place.reads_amps and not place.by_drop:
        bound += meter.floor_amps
    return bound


def reading_bound(reading: Reading) -> float:
    """Return how far a reading may be off, in its unit; an OL by what lies beyond.

    That is the meter's share and counts, and half a step of the display.

    >>> from circuits.engine import Meter, Place, Reading, reading_bound
    >>> meter = Meter(reading_fraction=0.005, counts=2)
    >>> feed = Reading(place=Place(key="feed", red="in", black="minus"), phase="as drawn",
    ...                value=12.0, step=0.01, meter=meter)
    >>> round(reading_bound(feed), 3)
    0.085
    """
    if reading.is_over_range:
        ohmmeter = ohmmeter_of(reading)
        return ohmmeter.open_ohms - ohmmeter.most_ohms
    bound = meter_bound(reading.meter, reading.place, reading.value, reading.step)
    return bound + reading.step / 2


def meter_variance(reading: Reading) -> float:
    """Return the variance that the meter brings: percent and counts, and the display's step.

    Both are bounds of a rectangular distribution [1]_: a / sqrt(3), and half a step / sqrt(3) for
    the last digit. An OL stands for anything beyond its range.
    """
    if reading.is_over_range:
        ohmmeter = ohmmeter_of(reading)
        return (ohmmeter.open_ohms - ohmmeter.most_ohms) ** 2 / 3
    bound = meter_bound(reading.meter, reading.place, reading.value, reading.step)
    return (bound**2 + (reading.step / 2) ** 2) / 3


@dataclass(frozen=True, slots=True, kw_only=True)
class AmpsRange:
    """A current that was not measured itself: the likely value and its bounds."""

    low: float
    value: float
    high: float


def amps_from_drop(part: Fuse | Ohmic, drop_volts: float, error_volts: float) -> AmpsRange:
    """Return the current that a drop across a fuse or shunt stands for.

    The bounds take the drop and the part's ohms at the edges of their tolerances; a drop that may
    be nothing leaves a current that may be nothing.

    Parameters
    ----------
    drop_volts, error_volts
        What was shown across the part, and how far that may be off [V].

    Examples
    --------
    A common 15 A fuse has 4.8 mOhm, give or take 20 %:

    >>> from circuits.engine import Fuse, amps_from_drop
    >>> fuse = Fuse(name="F17", first="in", second="out", rated_amps=15.0)
    >>> found = amps_from_drop(fuse, 0.42e-3, 0.1e-3)
    >>> [round(1000 * amps) for amps in (found.low, found.value, found.high)]
    [56, 88, 135]
    """
    least_ohms = part.ohms * (1 - part.tolerance_fraction)
    most_ohms = part.ohms * (1 + part.tolerance_fraction)
    edges = [
        volts / ohms
        for volts in (drop_volts - error_volts, drop_volts + error_volts)
        for ohms in (least_ohms, most_ohms)
    ]
    return AmpsRange(low=min(edges), value=drop_volts / part.ohms, high=max(edges))
