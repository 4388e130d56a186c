"""Loads with a curved law: filaments, electronics that take a power, fans."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from circuits.engine.errors import BadPart
from circuits.engine.laws import OPEN, Branch, FloatArray, Law
from circuits.engine.parts.part import (
    COLLAPSE_VOLTS,
    LOAD_TOLERANCE,
    MOST_SHARE_LESS,
    FaultKind,
    TerminatedPart,
    Weakness,
    with_terminal,
    wobble,
)

# The widest mix-up of lamps that fit the same holder. Common practice, no source.
MOST_WATTS_MORE = 100.0
# So many times the torque of its rated point lets a fan turn at a thousandth of its speed, where
# its winding is as good as a plain resistance.
STANDSTILL_TORQUE = 1e6


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
        return self.drawn(volts)[0]

    def siemens(self, volts: FloatArray) -> FloatArray:
        return self.drawn(volts)[1]

    def drawn(self, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        cold_volts = self.cold_volts
        size = np.abs(volts)
        is_cold = size < cold_volts
        hot_volts = np.maximum(size, cold_volts)
        hot_amps = self.rated_amps * (hot_volts / self.rated_volts) ** self.EXPONENT
        amps = np.where(is_cold, self.cold_siemens * size, hot_amps)
        slope = np.where(is_cold, self.cold_siemens, self.EXPONENT * hot_amps / hot_volts)
        return np.copysign(amps, volts), slope


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

    def drawn(self, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        return self.amps(volts), self.siemens(volts)


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
        return self.drawn(volts)[0]

    def siemens(self, volts: FloatArray) -> FloatArray:
        return self.drawn(volts)[1]

    def drawn(self, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        speed = self._speed(volts)
        speed_per_volt = self.drive_fraction / (
            self.back_volts + 2 * self.winding_ohms * self.rated_amps * speed
        )
        amps_per_speed = self.drive_fraction * self.rated_amps * speed
        slope = np.where(volts < 0, 0.0, 2 * amps_per_speed * speed_per_volt)
        return amps_per_speed * speed, slope


def _chord(curve: FilamentCurve | PowerCurve | FanCurve, volts: float) -> Law:
    amps = float(curve.amps(np.array(volts)))
    return Law(amps / volts, 1.0, 0.0) if amps else OPEN


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvedLoad(TerminatedPart):
    """A load with a curved law; the solver starts from its chord at the rated volts."""

    tolerance_fraction: float = LOAD_TOLERANCE

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
                wobbles=(wobble("draw", moved),),
                curve=curve,
            )

        return with_terminal(self, inside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp(CurvedLoad):
    """A filament lamp by its watts at its rated volts."""

    kind = "lamp"
    words = "filament lamp"
    can_be_bypassed = True

    rated_watts: float
    rated_volts: float = 12.0

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(rated_watts=self.rated_watts, rated_volts=self.rated_volts)
        self.refuse_high_volts(self.rated_volts)

    def weaknesses(self) -> tuple[Weakness, ...]:
        # From a headlamp where a marker lamp belongs (60 W for 5 W) to the other way round.
        return (
            Weakness(
                kind=FaultKind.WRONG_HIGH,
                value="rated_watts",
                worst_change=MOST_WATTS_MORE,
                unit="W",
                words="watts",
            ),
            Weakness(
                kind=FaultKind.WRONG_LOW,
                value="rated_watts",
                worst_change=-MOST_SHARE_LESS * self.rated_watts,
                unit="W",
                words="watts",
            ),
        )

    def curve(self) -> FilamentCurve:
        return FilamentCurve(self.rated_volts, self.rated_watts / self.rated_volts)

    def chord_volts(self) -> float:
        return self.rated_volts


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLoad(CurvedLoad):
    """Electronics that take a power: the fewer volts, the more amps, up to a limit."""

    kind = "power"
    words = "electronic load"

    watts: float
    max_amps: float

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(watts=self.watts, max_amps=self.max_amps)

    def curve(self) -> PowerCurve:
        return PowerCurve(self.watts, self.max_amps)


@dataclass(frozen=True, slots=True, kw_only=True)
class FanMotor(CurvedLoad):
    """A fan with its own power stage, driven by duty: current follows speed squared."""

    kind = "fan"
    words = "fan motor"

    winding_ohms: float
    back_volts: float
    rated_amps: float
    drive_fraction: float = 1.0

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(
            winding_ohms=self.winding_ohms, back_volts=self.back_volts, rated_amps=self.rated_amps
        )
        if not 0 <= self.drive_fraction <= 1:
            raise BadPart(
                self.name, f"drive must lie between 0 and 100 %, not {self.drive_fraction:.0%}"
            )

    def weaknesses(self) -> tuple[Weakness, ...]:
        # A bearing that asks four times the torque has long blown the fuse.
        most = 3 * self.rated_amps
        return (
            Weakness(kind=FaultKind.DRAGS, value="rated_amps", worst_change=most, unit="A"),
            Weakness.all_or_nothing(
                FaultKind.SEIZED, "rated_amps", STANDSTILL_TORQUE * self.rated_amps
            ),
        )

    def curve(self) -> FanCurve:
        return FanCurve(self.winding_ohms, self.back_volts, self.rated_amps, self.drive_fraction)
