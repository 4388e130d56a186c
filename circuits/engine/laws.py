"""The one form that every part takes for the solver: a branch with a straight-line law.

A branch runs from a first node to a second. With v the volts from first to second and i the amps
in the same direction, every part at its operating point obeys

    volts_factor * v  -  amps_ohms * i  =  emf_volts

A resistor is (1, R, 0), a battery (1, R, E), an open (0, 1, 0), an ideal joint (1, 0, 0), a motor
that draws A + G v amps is (G, 1, -A). A part with several ways of behaving (a contact out or in,
a generator regulating or at its limit) has one law for each, its *pieces*, and a control that
says which piece holds. Because faults and tolerances also only move these three numbers, the
solver needs no other knowledge of parts.
"""

from dataclasses import dataclass, fields, replace
from typing import NamedTuple, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Law(NamedTuple):
    """volts_factor * volts - amps_ohms * amps = emf_volts."""

    volts_factor: float
    amps_ohms: float
    emf_volts: float

    @classmethod
    def resistance(cls, ohms: float) -> "Law":
        return cls(1.0, ohms, 0.0)

    @classmethod
    def amps(cls, amps: float) -> "Law":
        return cls(0.0, 1.0, -amps)

    def scaled(self, fraction: float) -> "Law":
        return Law(*(fraction * term for term in self))

    def is_open(self) -> bool:
        return self.volts_factor == 0.0 and self.emf_volts == 0.0

    def fixes_volts(self) -> bool:
        """Whether the law ties the volts of its two ends together, however loosely."""
        return self.volts_factor != 0.0


OPEN = Law(0.0, 1.0, 0.0)
JOINT = Law(1.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """What decides which piece of a branch holds.

    The watched quantity is the volts from `red` to `black`, or the sum of the amps through
    `branches` (two windings on one core pull together, whichever way the amps run). The
    piece is the number of thresholds passed: on the way up those of `rising`, on the way down
    those of `falling` (equal but for relays and rules, which remember).
    """

    red: str = ""
    black: str = ""
    branches: tuple[str, ...] = ()
    rising: tuple[float, ...]
    falling: tuple[float, ...]

    @classmethod
    def across(cls, red: str, black: str, *thresholds_volts: float) -> "Control":
        return cls(red=red, black=black, rising=thresholds_volts, falling=thresholds_volts)

    @property
    def remembers(self) -> bool:
        return self.rising != self.falling

    @property
    def either_way(self) -> bool:
        """Whether the size of the watched amps counts: a core is pulled by either direction."""
        return bool(self.branches) and self.remembers


@dataclass(frozen=True, slots=True, kw_only=True)
class Wobble:
    """One tolerance of a part: by how much its law may move, one entry for each piece.

    `half_width` is the change of each piece's law at the edge of the tolerance; `phase_bound`
    says that the value is drawn anew in each phase (a stand-in for the rest of the car), not once
    for the whole case.
    """

    name: str
    half_width: tuple[Law, ...]
    phase_bound: bool = False


class Curve(Protocol):
    """A law that is no straight line: the amps that a part draws at given volts."""

    def amps(self, volts: FloatArray) -> FloatArray: ...

    def siemens(self, volts: FloatArray) -> FloatArray:
        """Return the slope of `amps` at these volts."""
        ...

    def drawn(self, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return `amps` and `siemens` at these volts, for less than one by one."""
        ...


_Curve = TypeVar("_Curve", bound=Curve)


def curve_between(healthy: _Curve, worst: Curve, share: FloatArray) -> _Curve:
    """Return curves on the way from one to another of its kind, one for each share (E,)."""
    values = {
        each.name: getattr(healthy, each.name)
        + share * (getattr(worst, each.name) - getattr(healthy, each.name))
        for each in fields(healthy)  # type: ignore[arg-type]
    }
    return replace(healthy, **values)  # type: ignore[type-var]


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A two-ended branch: `pieces` in the order of the control, `piece` where none decides.

    Where a `curve` stands, it is the law and the single piece is its chord at the rated point.
    """

    name: str
    first: str
    second: str
    pieces: tuple[Law, ...]
    control: Control | None = None
    piece: int = 0
    wobbles: tuple[Wobble, ...] = ()
    curve: Curve | None = None
