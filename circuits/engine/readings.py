"""Where and how a reading is taken, and what was read."""

import math
from dataclasses import dataclass, field

from circuits.engine.errors import BadPlace

# A multimeter on its volts range: 10 MOhm, 0.5 % of the reading and two counts. Common practice.
DEFAULT_INPUT_OHMS = 10e6
DEFAULT_READING_FRACTION = 0.005
DEFAULT_COUNTS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """The two points of a volts reading, or the part that a clamp goes round.

    Volts are read from `red` to `black`. Amps are read through the part `through`, counted from
    its first end to its second, or the other way if `reversed_clamp`.
    """

    key: str
    red: str = ""
    black: str = ""
    through: str = ""
    reversed_clamp: bool = False

    def __post_init__(self) -> None:
        if bool(self.through) == bool(self.red or self.black):
            raise BadPlace(self.key, "a place has either two leads (volts) or one part (amps)")
        if not self.through and self.red == self.black:
            raise BadPlace(self.key, f"both leads are on {self.red}; that reads nothing")

    @property
    def reads_amps(self) -> bool:
        return bool(self.through)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """What was done to the circuit for one reading.

    `unplugged` names parts that are out, `bridged` pairs of nodes joined by a fused lead,
    `lamp_watts` a 12 V test lamp across the two leads of the reading.
    """

    unplugged: frozenset[str] = frozenset()
    bridged: tuple[tuple[str, str], ...] = ()
    lamp_watts: float | None = None


AS_IT_STANDS = Rig()


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """The instrument: what it draws and how far it may be off."""

    input_ohms: float = DEFAULT_INPUT_OHMS
    reading_fraction: float = DEFAULT_READING_FRACTION
    counts: float = DEFAULT_COUNTS

    def __post_init__(self) -> None:
        if not self.input_ohms > 0:
            raise BadPlace("meter", f"input ohms must be above zero, not {self.input_ohms:g}")
        for what, value in (("share", self.reading_fraction), ("counts", self.counts)):
            if not (math.isfinite(value) and value >= 0):
                raise BadPlace("meter", f"its {what} of accuracy cannot be {value:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a meter showed at a place in a phase; `step` is the last digit of its display."""

    place: Place
    phase: str
    value: float
    step: float
    rig: Rig = AS_IT_STANDS
    meter: Meter = field(default_factory=Meter)

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise BadPlace(
                self.place.key,
                f"a reading to judge is a number, not {self.value}; leave out what was over "
                "range or not measured",
            )
        if not (math.isfinite(self.step) and self.step > 0):
            raise BadPlace(
                self.place.key, f"the last digit of a display is above zero, not {self.step:g}"
            )
