"""Wires, fuses, connectors, splices and grounds."""

from dataclasses import dataclass

from circuits.engine.copper import ohms_per_metre, temperature_factor
from circuits.engine.errors import BadPart
from circuits.engine.laws import Branch, Law
from circuits.engine.parts.part import (
    CONTACT_TOLERANCE,
    FUSE_TOLERANCE,
    LOAD_TOLERANCE,
    WIRE_TOLERANCE,
    Part,
    ohms_wobble,
)

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
class Wire(Part):
    """A copper conductor by gauge, length and temperature, with the ohms of its joints."""

    kind = "wire"
    words = "wire"

    wire_mm2: float
    metres: float
    joint_ohms: float = 0.0
    celsius: float = 20.0
    tolerance_fraction: float = WIRE_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(wire_mm2=self.wire_mm2, metres=self.metres)
        self.refuse_below_zero(joint_ohms=self.joint_ohms)
        self.refuse_no_temperature(self.celsius)

    @property
    def ohms(self) -> float:
        copper_ohms = ohms_per_metre(self.wire_mm2) * self.metres
        return copper_ohms * temperature_factor(self.celsius) + self.joint_ohms

    def branches(self) -> tuple[Branch, ...]:
        wobble = ohms_wobble(self.tolerance_fraction * self.ohms)
        return self.branch(Law.resistance(self.ohms), wobbles=(wobble,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse(Part):
    """A fuse by rating; the cold ohms are typical for the rating where none are given."""

    kind = "fuse"
    words = "fuse"

    rated_amps: float
    cold_ohms: float | None = None
    tolerance_fraction: float = FUSE_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(rated_amps=self.rated_amps)
        if self.cold_ohms is not None:
            self.refuse_below_or_at_zero(cold_ohms=self.cold_ohms)
        elif self.rated_amps not in FUSE_COLD_MILLIOHMS:
            raise BadPart(
                self.name,
                f"no typical ohms are known for a {self.rated_amps:g} A fuse; add its cold ohms",
            )

    @property
    def ohms(self) -> float:
        if self.cold_ohms is not None:
            return self.cold_ohms
        return FUSE_COLD_MILLIOHMS[self.rated_amps] / 1000

    def branches(self) -> tuple[Branch, ...]:
        wobble = ohms_wobble(self.tolerance_fraction * self.ohms)
        return self.branch(Law.resistance(self.ohms), wobbles=(wobble,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ohmic(Part):
    """What connectors, splices, grounds, resistors and windings share: plain ohms."""

    ohms: float
    tolerance_fraction: float = LOAD_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(ohms=self.ohms)

    def branches(self) -> tuple[Branch, ...]:
        wobble = ohms_wobble(self.tolerance_fraction * self.ohms)
        return self.branch(Law.resistance(self.ohms), wobbles=(wobble,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Connector(Ohmic):
    """One pin of a mated connector, or a bolted joint.

    `beside` names the pin next to it: damp, a bent pin or a stray strand then joins the first
    ends of the two.
    """

    kind = "connector"
    words = "connector"

    beside: str = ""

    tolerance_fraction: float = CONTACT_TOLERANCE


@dataclass(frozen=True, slots=True, kw_only=True)
class Splice(Ohmic):
    """A crimped or welded joint of several wires."""

    kind = "splice"
    words = "splice"

    tolerance_fraction: float = CONTACT_TOLERANCE


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground(Ohmic):
    """A ground strap, ground bolt, or the body as a conductor."""

    kind = "ground"
    words = "ground"

    tolerance_fraction: float = CONTACT_TOLERANCE
