"""Switches of several positions, and outputs that a module switches fast."""

import math
from dataclasses import dataclass

from circuits.engine.errors import BadPart
from circuits.engine.laws import OPEN, Branch, Law
from circuits.engine.parts.part import (
    CONTACT_TOLERANCE,
    LOAD_TOLERANCE,
    Part,
    ohms_wobble,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Selector(Part):
    """One of several resistances, by position: a blower's resistor pack, a ladder of buttons.

    `step_ohms` are those of positions 1, 2, 3 and so on; infinity is a position that is open. The
    position is set by phase.
    """

    kind = "selector"
    words = "multi-position switch"
    can_be_bypassed = True
    bypass_words = "shorted across, whatever its position"

    step_ohms: tuple[float, ...]
    position: int
    tolerance_fraction: float = LOAD_TOLERANCE

    def __post_init__(self) -> None:
        if len(self.step_ohms) < 2:
            raise BadPart(self.name, "a switch of several positions has two steps or more")
        for number, ohms in enumerate(self.step_ohms, start=1):
            if math.isnan(ohms) or ohms <= 0:
                raise BadPart(
                    self.name, f"step {number} must be above zero ohms, or open; not {ohms:g}"
                )
        if not 1 <= self.position <= len(self.step_ohms):
            raise BadPart(
                self.name,
                f"there is no position {self.position}; its steps are 1 to {len(self.step_ohms)}",
            )

    @property
    def ohms(self) -> float:
        return self.step_ohms[self.position - 1]

    def branches(self) -> tuple[Branch, ...]:
        if math.isinf(self.ohms):
            return self.branch(OPEN)
        wobble = ohms_wobble(self.tolerance_fraction * self.ohms)
        return self.branch(Law.resistance(self.ohms), wobbles=(wobble,))


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyDriver(Part):
    """An output that a module switches on and off many times a second; a meter shows the average.

    Closed for the share d of each cycle with r ohms, and working against W ohms (the pull-up of a
    command line, or the load in its path), the average of any place of a straight circuit is
    (1 - d) times what it is with the output open plus d times what it is with the output closed.
    Seen from the output that average is the one of a resistance

        R = (r + (1 - d) W) / d

    which is neither r / d nor d in siemens: with r = 0 and d = 0.5 it is W, so that a pulled-up
    line averages half its supply. (Put V / (W + R) = d V / (W + r), the closed amps for the share
    d, and solve for R; every volt elsewhere goes with these amps in a straight line.)

    R is exact for any supply as long as the rest of the circuit is straight and has W ohms as
    seen from the output: the healthy line, an open line, one shorted to ground and a lost supply
    come out exact. Where a fault changes W it is not: added resistance or a leakage path moves
    the average by up to the share that it has of W, and in a short to supply the volts are right
    and the true amps many more. Nor does it hold for what is slow against the cycle: a solenoid
    with a free-wheel diode takes d times its amps, a filament glows at the mean of its watts.
    """

    kind = "duty"
    words = "duty-switched driver"
    can_be_bypassed = True
    bypass_words = "always on or leaking"

    closed_ohms: float
    against_ohms: float
    duty_fraction: float
    tolerance_fraction: float = CONTACT_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(closed_ohms=self.closed_ohms, against_ohms=self.against_ohms)
        self.refuse_no_fraction(duty_fraction=self.duty_fraction)

    @property
    def average_ohms(self) -> float:
        off_fraction = 1 - self.duty_fraction
        return (self.closed_ohms + off_fraction * self.against_ohms) / self.duty_fraction

    def branches(self) -> tuple[Branch, ...]:
        if self.duty_fraction == 0:
            return self.branch(OPEN)
        # Only the ohms of the output itself are in doubt; the duty is a digital figure.
        moved_ohms = self.tolerance_fraction * self.closed_ohms / self.duty_fraction
        return self.branch(Law.resistance(self.average_ohms), wobbles=(ohms_wobble(moved_ohms),))
