"""Where and how a reading is taken, and what was read."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a meter showed at a place in a phase; `step` is the last digit of its display."""

    place: Place
    phase: str
    value: float
    step: float
    rig: Rig = AS_IT_STANDS
    meter: Meter = field(default_factory=Meter)
