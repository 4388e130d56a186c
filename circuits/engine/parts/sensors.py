"""Parts with a wiper or a signal output: potentiometers and three-wire sensors."""

from dataclasses import dataclass

from circuits.engine.errors import BadPart
from circuits.engine.laws import JOINT, OPEN, Branch, Control, Law
from circuits.engine.parts.part import (
    COLLAPSE_VOLTS,
    LOAD_TOLERANCE,
    FaultKind,
    ThreeEnded,
    Weakness,
    terminal_name,
    wobble,
)

# A signal is good to so much of the full supply. Common practice, no source.
SIGNAL_TOLERANCE = 0.02
# A sensor's own electronics take a few milliamps, up to some tens with a light source in it; more
# is a slip of the prefix. Common practice, no source.
MOST_SENSOR_AMPS = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Potentiometer(ThreeEnded):
    """A track from supply (`first`) to ground (`second`) with a wiper (`third`) on it.

    With the wiper at the share p of the way up, counted from the ground end, the track is two
    straight resistances, (1 - p) R above the wiper and p R below; without load the wiper has the
    share p of the volts across the track, whatever its ohms (the divider of the textbooks). p is
    set by phase. Added resistance sits in the wiper, where tracks wear. A wiper that has moved on
    its shaft, or a worn-out spring, shows as a signal that is too high or too low by the same
    share of the supply in every phase, as far as the track goes.
    """

    kind = "potentiometer"
    words = "potentiometer"
    can_be_bypassed = True
    series_end = "third"

    track_ohms: float
    position_fraction: float
    wiper_ohms: float = 0.0
    tolerance_fraction: float = LOAD_TOLERANCE
    position_tolerance: float = SIGNAL_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(track_ohms=self.track_ohms)
        self.refuse_below_zero(
            wiper_ohms=self.wiper_ohms, position_tolerance=self.position_tolerance
        )
        self.refuse_no_fraction(position_fraction=self.position_fraction)

    def weaknesses(self) -> tuple[Weakness, ...]:
        def shift(kind: FaultKind, change: float) -> Weakness:
            return Weakness(
                kind=kind,
                value="position_fraction",
                worst_change=change,
                unit="%",
                within_room=True,
                words="signal",
                share_of="of its supply",
            )

        return (
            shift(FaultKind.DRIFTS_UP, 1.0 - self.position_fraction),
            shift(FaultKind.DRIFTS_DOWN, -self.position_fraction),
        )

    def series_branch(self) -> str:
        return f"{self.name}.wiper"

    def branches(self) -> tuple[Branch, ...]:
        above = (1 - self.position_fraction) * self.track_ohms
        below = self.position_fraction * self.track_ohms
        feed, tap = f"{self.name}.feed", f"{self.name}.tap"
        # A terminal of its own, so that a clamp sees all that it takes from its supply.
        terminal = Branch(
            name=terminal_name(self.name), first=self.first, second=feed, pieces=(JOINT,)
        )
        return (
            terminal,
            self._track("above", feed, tap, above),
            self._track("below", tap, self.second, below),
            Branch(
                name=self.series_branch(),
                first=tap,
                second=self.third,
                pieces=(Law.resistance(self.wiper_ohms),),
            ),
            self._inside(feed),
        )

    def _inside(self, feed: str) -> Branch:
        """Return what else lies between its supply and its ground: here nothing but a tolerance.

        More or fewer ohms of the whole track leave the signal alone and move what it takes from
        its supply, as a small current beside the track would.
        """
        more_siemens = self.tolerance_fraction / self.track_ohms
        return Branch(
            name=f"{self.name}.supply",
            first=feed,
            second=self.second,
            pieces=(OPEN,),
            wobbles=(wobble("ohms", Law(more_siemens, 0.0, 0.0)),),
        )

    def _track(self, side: str, first: str, second: str, ohms: float) -> Branch:
        """Return one side of the track.

        A wiper that stands higher makes one side longer and the other shorter; as two tolerances
        of their own they move the signal by 0.7 to 1 times as much as together.
        """
        moved_ohms = self.position_tolerance * self.track_ohms
        return Branch(
            name=f"{self.name}.{side}",
            first=first,
            second=second,
            pieces=(Law.resistance(ohms),),
            wobbles=(wobble("position", Law(0.0, moved_ohms, 0.0)),),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreeWireSensor(Potentiometer):
    """A ratiometric sensor: its signal is a share of its supply, as if a wiper stood there.

    The electronics take `supply_amps` from supply to ground until the supply collapses. The
    output is drawn as a divider of `track_ohms` followed by the output's own ohms (`wiper_ohms`):
    exact without load, and with one as far as its output behaves like a resistance, which a
    buffered output does not do near its rails.
    """

    kind = "sensor"
    words = "three-wire sensor"
    bypass_words = "shorted inside, supply to ground"

    supply_amps: float = 0.0

    def __post_init__(self) -> None:
        Potentiometer.__post_init__(self)
        self.refuse_below_zero(supply_amps=self.supply_amps)
        if self.supply_amps > MOST_SENSOR_AMPS:
            raise BadPart(
                self.name,
                f"{self.supply_amps:g} A is more than a sensor takes; check for mA, at most "
                f"{MOST_SENSOR_AMPS:g} A",
            )

    def weaknesses(self) -> tuple[Weakness, ...]:
        drawn = Weakness(
            kind=FaultKind.DRAWS_MORE,
            value="supply_amps",
            worst_change=MOST_SENSOR_AMPS - self.supply_amps,
            unit="A",
        )
        return (*Potentiometer.weaknesses(self), drawn)

    def _inside(self, feed: str) -> Branch:
        drawn = self.supply_amps
        collapsed = Law(drawn / COLLAPSE_VOLTS, 1.0, 0.0) if drawn else OPEN
        more_siemens = self.tolerance_fraction / self.track_ohms
        more_amps = self.tolerance_fraction * drawn
        return Branch(
            name=f"{self.name}.supply",
            first=feed,
            second=self.second,
            pieces=(collapsed, Law.amps(drawn)),
            control=Control.across(feed, self.second, COLLAPSE_VOLTS),
            piece=1,
            wobbles=(
                wobble(
                    "draw",
                    Law(more_siemens + more_amps / COLLAPSE_VOLTS, 0.0, 0.0),
                    Law(more_siemens, 0.0, -more_amps),
                ),
            ),
        )
