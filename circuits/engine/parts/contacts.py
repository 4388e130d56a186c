"""Switches, module drivers, relays and contacts that a module's rule moves."""

from dataclasses import dataclass
from typing import ClassVar

from circuits.engine.copper import temperature_factor
from circuits.engine.errors import BadPart
from circuits.engine.laws import OPEN, Branch, Control, Law
from circuits.engine.parts.conductors import Ohmic
from circuits.engine.parts.part import (
    COIL_TOLERANCE,
    CONTACT_TOLERANCE,
    STILL,
    Part,
    ohms_wobble,
    wobble,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch(Part):
    """A switch that each phase leaves open or closed."""

    kind = "switch"
    words = "switch"
    can_be_bypassed = True
    bypass_words = "stuck closed or leaking"

    closed_ohms: float
    closed: bool = True
    tolerance_fraction: float = CONTACT_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(closed_ohms=self.closed_ohms)

    def branches(self) -> tuple[Branch, ...]:
        if not self.closed:
            return self.branch(OPEN)
        wobble = ohms_wobble(self.tolerance_fraction * self.closed_ohms)
        return self.branch(Law.resistance(self.closed_ohms), wobbles=(wobble,))


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
    tolerance_fraction: float = COIL_TOLERANCE

    def __post_init__(self) -> None:
        Ohmic.__post_init__(self)
        self.refuse_no_temperature(self.celsius)

    def branches(self) -> tuple[Branch, ...]:
        warm_ohms = self.ohms * temperature_factor(self.celsius)
        wobble = ohms_wobble(self.tolerance_fraction * warm_ohms)
        return self.branch(Law.resistance(warm_ohms), wobbles=(wobble,))


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
    tolerance_fraction: float = CONTACT_TOLERANCE

    def __post_init__(self) -> None:
        if self.pull_winding:
            self.refuse_below_or_at_zero(pull_winding_ohms=self.pull_winding_ohms)
        self.refuse_below_or_at_zero(
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
    tolerance_fraction: float = CONTACT_TOLERANCE

    BASES: ClassVar[tuple[str, ...]] = ("known", "measured", "assumed")

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(made_ohms=self.made_ohms)
        self.refuse_no_number(closes_volts=self.closes_volts, opens_volts=self.opens_volts)
        if self.closes_volts == self.opens_volts:
            raise BadPart(self.name, "closing and opening volts must differ, or the rule chatters")
        if self.basis not in self.BASES:
            raise BadPart(self.name, f"a rule is {', '.join(self.BASES)}; not '{self.basis}'")

    def branches(self) -> tuple[Branch, ...]:
        if not self.enabled:
            return self.branch(OPEN)
        closes_above = self.closes_volts > self.opens_volts
        upper, lower = (
            max(self.closes_volts, self.opens_volts),
            min(self.closes_volts, self.opens_volts),
        )
        return _contact_branches(
            self,
            Control(red=self.sense_red, black=self.sense_black, rising=(upper,), falling=(lower,)),
            closes_when_passed=closes_above,
        )


def _contact_branches(
    part: Contact | RuleContact, control: Control, *, closes_when_passed: bool
) -> tuple[Branch, ...]:
    made = Law.resistance(part.made_ohms)
    moved = Law(0.0, part.tolerance_fraction * part.made_ohms, 0.0)
    pieces, half_width = ((OPEN, made), (STILL, moved))
    if not closes_when_passed:
        pieces, half_width = ((made, OPEN), (moved, STILL))
    return part.branch(*pieces, control=control, wobbles=(wobble("ohms", *half_width),))
