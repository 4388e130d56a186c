"""What a part does between two of its ends: the amps that follow from the volts, piece by piece.

Amps count from the first end to the second. Bends are counted: an element that has passed two of
its bends is in piece 2 (the engine numbers its pieces the same way, and the tests rely on it).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# A generator has three: at its limit, regulating, off. So has a clamp.
MOST_PIECES = 3

# The same figures as in the engine, which has them from the trade: the volts at which electronics
# let go, and the tungsten filament (cold a twelfth of hot, exponent 0.55).
COLLAPSE_VOLTS = 1.0
FILAMENT_EXPONENT = 0.55
FILAMENT_COLD_FRACTION = 1 / 12


class Element(Protocol):
    """Two ends, and amps that follow from the volts between them."""

    name: str
    first: str
    second: str

    def amps(self, volts: float) -> float: ...

    def siemens(self, volts: float) -> float: ...


@dataclass(frozen=True, slots=True)
class Straight:
    """Straight from bend to bend: in piece k the amps are siemens[k] * volts + amps_at_zero[k]."""

    name: str
    first: str
    second: str
    siemens_of_piece: tuple[float, ...]
    amps_at_zero: tuple[float, ...] = (0.0,)
    bend_volts: tuple[float, ...] = ()

    def piece(self, volts: float) -> int:
        return sum(volts > bend for bend in self.bend_volts)

    def amps(self, volts: float) -> float:
        piece = self.piece(volts)
        return self.siemens_of_piece[piece] * volts + self.amps_at_zero[piece]

    def siemens(self, volts: float) -> float:
        return self.siemens_of_piece[self.piece(volts)]

    def laid_out(self) -> tuple[Floats, Floats, Floats]:
        """Return siemens and amps by piece, the last repeated, and bends, padded with infinity."""
        last = len(self.siemens_of_piece) - 1
        pieces = [min(piece, last) for piece in range(MOST_PIECES)]
        amps = (*self.amps_at_zero, *[self.amps_at_zero[-1]] * MOST_PIECES)
        bends = (*self.bend_volts, *[math.inf] * MOST_PIECES)
        return (
            np.array([self.siemens_of_piece[piece] for piece in pieces]),
            np.array([amps[piece] for piece in pieces]),
            np.array(bends[: MOST_PIECES - 1]),
        )


@dataclass(frozen=True, slots=True)
class Filament:
    """I0 (v / v0) ** 0.55, and a plain cold resistance where that draws less."""

    name: str
    first: str
    second: str
    rated_volts: float
    rated_amps: float

    @property
    def cold_siemens(self) -> float:
        return self.rated_amps / self.rated_volts / FILAMENT_COLD_FRACTION

    @property
    def cold_volts(self) -> float:
        return self.rated_volts * FILAMENT_COLD_FRACTION ** (1 / (1 - FILAMENT_EXPONENT))

    def amps(self, volts: float) -> float:
        size = abs(volts)
        if size <= self.cold_volts:
            return self.cold_siemens * volts
        hot = self.rated_amps * (size / self.rated_volts) ** FILAMENT_EXPONENT
        return math.copysign(hot, volts)

    def siemens(self, volts: float) -> float:
        if abs(volts) <= self.cold_volts:
            return self.cold_siemens
        return FILAMENT_EXPONENT * self.amps(volts) / volts


@dataclass(frozen=True, slots=True)
class TakesPower:
    """P / v up to a limit; below a volt it has let go and draws like a resistor."""

    name: str
    first: str
    second: str
    watts: float
    max_amps: float

    @property
    def collapsed_siemens(self) -> float:
        return min(self.watts / COLLAPSE_VOLTS, self.max_amps) / COLLAPSE_VOLTS

    def amps(self, volts: float) -> float:
        if volts < COLLAPSE_VOLTS:
            return self.collapsed_siemens * volts
        return min(self.watts / volts, self.max_amps)

    def siemens(self, volts: float) -> float:
        if volts < COLLAPSE_VOLTS:
            return self.collapsed_siemens
        return -self.watts / volts**2 if self.watts / volts < self.max_amps else 0.0


@dataclass(frozen=True, slots=True)
class Fan:
    """A driven fan: d V = R I + k w, the winding's I = c w**2, and d I is drawn from the supply."""

    name: str
    first: str
    second: str
    winding_ohms: float
    back_volts: float
    rated_amps: float
    drive_fraction: float

    def speed(self, volts: float) -> float:
        seen = self.drive_fraction * max(volts, 0.0)
        # The root of R c w**2 + k w - d V that is not below zero, written so as to lose no digits.
        root = math.sqrt(self.back_volts**2 + 4 * self.winding_ohms * self.rated_amps * seen)
        return 2 * seen / (self.back_volts + root)

    def amps(self, volts: float) -> float:
        return self.drive_fraction * self.rated_amps * self.speed(volts) ** 2

    def siemens(self, volts: float) -> float:
        if volts <= 0:
            return 0.0
        speed = self.speed(volts)
        per_volt = self.drive_fraction / (
            self.back_volts + 2 * self.winding_ohms * self.rated_amps * speed
        )
        return 2 * self.drive_fraction * self.rated_amps * speed * per_volt


Curved = Filament | TakesPower | Fan


@dataclass(frozen=True, slots=True)
class Moved:
    """A contact that is made or not, by the amps of windings or the volts between two pins.

    It has *passed* once the watched quantity went above `rising` and until it goes below
    `falling`; passed means made, or open for a contact that is closed at rest. What has welded or
    leaks across it (`open_ohms`) shows only while it should be open.
    """

    name: str
    first: str
    second: str
    made_ohms: float
    rising: float
    falling: float
    made_when_passed: bool
    windings: tuple[str, ...] = ()
    red: str = ""
    black: str = ""
    open_ohms: float = math.inf

    def is_made(self, pieces: Mapping[str, int]) -> bool:
        return (pieces[self.name] > 0) == self.made_when_passed

    def ohms(self, pieces: Mapping[str, int]) -> float:
        return self.made_ohms if self.is_made(pieces) else self.open_ohms


@dataclass(frozen=True, slots=True)
class Joint:
    """Two ends that no ohms part: a wiper at the end of its track."""

    first: str
    second: str


Piece = Straight | Curved | Moved | Joint
