"""Checks of a part that was taken out: dead by ohms, then fused and limited on named pins.

Every figure is the drawing's own for that part at 20 C, with its tolerance. Contacts are judged by
their drop under load, because an ohmmeter cannot see the milliohms that matter.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from circuits.cautions import notes_on_bench, off_limits
from circuits.engine import (
    Coil,
    Contact,
    Diode,
    Driver,
    Lamp,
    Motor,
    Network,
    Part,
    Resistor,
    Switch,
)
from circuits.inspection.limits import FUSE_RATINGS_AMPS
from circuits.part_sheets.allowed import NoTestSheet, parts_of, pin_words, refuse_dangerous
from circuits.part_sheets.checks import Check, Meaning, PartSheet
from circuits.sheet import HazardKind, Sheet
from circuits.units import format_quantity

# The lamp through which a contact is loaded on the bench. Common practice, no source.
LOAD_WATTS = 21.0
# Two test leads: 0.2 to 0.5 ohm (an instrument maker's note on multimeters).
LEADS_OHMS = 0.5
# A cold filament has about a twelfth of its hot ohms (value from memory).
COLD_FRACTION = 1 / 12
# What a bench supply gives. Common practice, no source.
MOST_BENCH_AMPS = 20.0
DEAD = "dead: nothing connected, no supply"
HANDLING = (
    "Fuse and limit the supply before it is connected; read ohms with nothing connected. Eyes "
    "covered, part held down."
)
_UNIT_OF_METER = {
    "ohms": "Ohm",
    "ohms, leads subtracted": "Ohm",
    "amps of the supply": "A",
    "volts of the supply": "V",
    "volts DC": "V",
    "millivolts DC": "mV",
    "diode range": "V",
}


@dataclass(frozen=True, slots=True)
class Expected:
    """What a part in order shows, in words and as bounds in the base unit.

    Both bounds are infinite where it shows `OL`, and None where only an eye can tell.
    """

    words: str
    low: float | None = None
    high: float | None = None

    def compared(self, value: float) -> str:
        """Return in words how a reading in the base unit stands to it; `OL` is infinite."""
        side = ""
        if self.low is not None and value < self.low:
            side = "lower than a part in order, "
        elif self.high is not None and value > self.high:
            side = "higher than a part in order, "
        elif self.low is not None or self.high is not None:
            side = "as a part in order, "
        return f"{side}where {self.words} is expected"


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchStep(Check):
    """A check on the bench.

    `is_alone` says that it is the ohms of `part` by itself and at rest, which the drawing of the
    circuit tells too, once everything else is taken off its ends.
    """

    part: str
    shows: Expected
    is_alone: bool = False

    @property
    def unit(self) -> str:
        """The unit of bare digits read here."""
        return _UNIT_OF_METER[self.meter]


BenchSheet = PartSheet[BenchStep]


def make_bench_sheet(sheet: Sheet, network: Network, subject: str) -> BenchSheet:
    """Return the bench checks of a part, or of all parts of a module by its name.

    Raises
    ------
    NoTestSheet
        The circuit is one that belongs to others, there is no such part, or none that can be
        judged by itself.
    """
    refuse_dangerous(sheet, network)
    parts = [network.part(name) for name in parts_of(sheet, network, subject)]
    steps = bench_steps(sheet, network, parts)
    if not steps:
        raise NoTestSheet(
            f"'{subject}' cannot be judged by itself on a bench: test it in the vehicle, or as its "
            "maker says."
        )
    return PartSheet(subject=subject, parts=tuple(part.name for part in parts), checks=steps)


def bench_steps(sheet: Sheet, network: Network, parts: Sequence[Part]) -> tuple[BenchStep, ...]:
    """Return every step that these parts have on a bench."""
    bench, barred = _Bench(sheet, network), off_limits(sheet)
    return tuple(
        replace(step, cautions=_cautions_at(step, sheet))
        for part in parts
        if part.name not in barred
        for step in bench.steps(part)
    )


def _cautions_at(step: BenchStep, sheet: Sheet) -> tuple[str, ...]:
    """Return what can hurt at a step; its ends belong to nothing else while the part is out."""
    return tuple(notes_on_bench(sheet, (step.part,), is_fed=DEAD not in step.when))


class _Bench:
    """Writes steps for parts of one circuit."""

    def __init__(self, sheet: Sheet, network: Network) -> None:
        self.sheet, self.network = sheet, network
        self.volts = float(sheet.vehicle.supply_volts)
        self.load_amps = LOAD_WATTS / self.volts
        self.writers: Mapping[type[Part], Callable[[Part], Iterator[BenchStep]]] = MappingProxyType(
            {
                Coil: self._coil,
                Contact: self._contact,
                Switch: self._switch,
                Lamp: self._lamp,
                Motor: self._motor,
                Resistor: self._resistor,
                Diode: self._diode,
            }
        )

    def steps(self, part: Part) -> Iterator[BenchStep]:
        # A driver is part of its module and cannot be taken out.
        if isinstance(part, Driver) or type(part) not in self.writers:
            return
        yield from self.writers[type(part)](part)

    def _step(
        self,
        part: Part,
        *,
        what: str,
        when: str,
        meter: str,
        shows: Expected,
        otherwise: str,
        at: Part | None = None,
        is_alone: bool = False,
    ) -> BenchStep:
        """Return a step with the leads on the ends of its part, or of another that works it."""
        ends = at or part
        return BenchStep(
            part=part.name,
            what=what,
            red=pin_words(self.sheet, ends.first),
            black=pin_words(self.sheet, ends.second),
            meter=meter,
            when=when,
            shows=shows,
            expected=shows.words,
            otherwise=(Meaning(words=otherwise),),
            is_alone=is_alone,
        )

    def _fed(self, red: str, black: str, amps: float) -> str:
        fuse = next((rating for rating in FUSE_RATINGS_AMPS if rating >= 1.3 * amps), 0.0)
        limit = format_quantity(1.2 * amps, "A")
        return (
            f"{self.volts:g} V on {red} (+) and {black} (-), fused {fuse:g} A, limited to {limit}"
        )

    def _coil(self, part: Part) -> Iterator[BenchStep]:
        assert isinstance(part, Coil)
        within = part.tolerance_fraction
        amps = self.volts / part.ohms
        yield self._step(
            part,
            what=f"winding {part.name}",
            when=DEAD,
            meter="ohms",
            shows=_range(part.ohms, within, "Ohm"),
            is_alone=True,
            otherwise="OL: open; far fewer: shorted turns, or a resistor or diode across it",
        )
        yield self._step(
            part,
            what=f"winding {part.name}, asked to pull",
            when=self._fed(part.first, part.second, amps),
            meter="amps of the supply",
            shows=_range(amps, within, "A"),
            otherwise="nothing: open; at the limit: shorted, or a diode across it fed backwards",
        )

    def _contact(self, part: Part) -> Iterator[BenchStep]:
        assert isinstance(part, Contact)
        coil = self.network.part(part.coil)
        rest = "made" if part.normally_closed else "open"
        yield self._dead(part, is_made=part.normally_closed, state=f"{DEAD}; at rest it is {rest}")
        winding = self._fed(coil.first, coil.second, self.volts / part.coil_ohms)
        for what, expected, otherwise in (
            (
                "pulls in",
                Expected(f"by {part.pull_in_volts:g} V, going up", high=part.pull_in_volts),
                "later: weak or dirty",
            ),
            (
                "lets go",
                Expected(f"{part.drop_out_volts:g} V or more, going down", low=part.drop_out_volts),
                "never: stuck or welded",
            ),
        ):
            yield self._step(
                part,
                what=f"{part.name} {what}",
                at=coil,
                when=f"{winding}; turn the volts slowly from 0 and back",
                meter="volts of the supply",
                shows=expected,
                otherwise=otherwise,
            )
        made_state = DEAD_WINDING if part.normally_closed else f"request made: {winding}"
        open_state = f"request made: {winding}" if part.normally_closed else DEAD_WINDING
        yield self._under_load(part, part.made_ohms, part.tolerance_fraction, made_state)
        yield self._step(
            part,
            what=f"{part.name} under load, open",
            when=f"{open_state}; {self._lamp_words(part)}",
            meter="volts DC",
            shows=Expected(
                f"about {self.volts:g} V, lamp dark", low=0.9 * self.volts, high=1.1 * self.volts
            ),
            otherwise="lamp glows: welded or leaking",
        )

    def _switch(self, part: Part) -> Iterator[BenchStep]:
        assert isinstance(part, Switch)
        yield self._dead(part, is_made=False, state=f"{DEAD}; in its open position")
        yield self._dead(part, is_made=True, state=f"{DEAD}; in its closed position")
        yield self._under_load(part, part.closed_ohms, part.tolerance_fraction, "closed")

    def _lamp(self, part: Part) -> Iterator[BenchStep]:
        assert isinstance(part, Lamp)
        hot_ohms = part.rated_volts**2 / part.rated_watts
        yield self._step(
            part,
            what=f"filament {part.name}, cold",
            when=DEAD,
            meter="ohms",
            shows=Expected(
                f"about {format_quantity(hot_ohms * COLD_FRACTION, 'Ohm')} and the leads' own"
            ),
            otherwise="OL: broken filament",
        )
        amps = part.rated_watts / part.rated_volts * (self.volts / part.rated_volts) ** 0.55
        yield self._step(
            part,
            what=f"filament {part.name}, lit",
            when=f"{self._fed(part.first, part.second, amps)}; the limit may act for a moment",
            meter="amps of the supply",
            shows=_range(amps, part.tolerance_fraction, "A"),
            otherwise="other amps: another bulb than drawn",
        )

    def _motor(self, part: Part) -> Iterator[BenchStep]:
        assert isinstance(part, Motor)
        yield self._step(
            part,
            what=f"{part.name}, brushes and winding",
            when=f"{DEAD}; turn the shaft by hand between readings",
            meter="ohms",
            shows=Expected(
                f"{format_quantity(part.stalled_ohms, 'Ohm')} and the leads' own, steady"
            ),
            otherwise="OL at some angle: worn brush or dead segment",
        )
        loaded_amps = part.base_amps + part.amps_per_volt * self.volts
        wet = any(hazard.kind is HazardKind.FUEL for hazard in self.sheet.hazards)
        # A fuel pump is never run dry, and a starter belongs on a stand that holds it.
        if wet or loaded_amps > MOST_BENCH_AMPS:
            return
        yield self._step(
            part,
            what=f"{part.name}, running free and clamped down",
            when=self._fed(part.first, part.second, loaded_amps),
            meter="amps of the supply",
            shows=Expected(
                f"turns smoothly, under {format_quantity(loaded_amps, 'A')}", high=loaded_amps
            ),
            otherwise="more without load: drags inside; stands at the limit: seized or shorted",
        )

    def _resistor(self, part: Part) -> Iterator[BenchStep]:
        assert isinstance(part, Resistor)
        yield self._step(
            part,
            what=part.name,
            when=DEAD,
            meter="ohms, leads subtracted",
            shows=_range(part.ohms, part.tolerance_fraction, "Ohm"),
            is_alone=True,
            otherwise="OL: open; other ohms: burnt, shorted, or another part than drawn",
        )

    def _diode(self, part: Part) -> Iterator[BenchStep]:
        assert isinstance(part, Diode)
        yield self._step(
            part,
            what=f"{part.name}, both ways",
            when=DEAD,
            meter="diode range",
            shows=Expected(f"about {part.forward_volts:g} V, and OL with the leads changed over"),
            otherwise="OL both ways: open (or above the meter's test volts); 0 V: shorted",
        )

    def _dead(self, part: Part, *, is_made: bool, state: str) -> BenchStep:
        return self._step(
            part,
            what=f"{part.name}, {'made' if is_made else 'open'}",
            when=state,
            meter="ohms",
            shows=MADE if is_made else OPEN,
            otherwise="more: burnt, go on to its drop" if is_made else "a number: stuck or leaking",
        )

    def _under_load(self, part: Part, ohms: float, within: float, state: str) -> BenchStep:
        most_volts = ohms * (1 + within) * self.load_amps
        return self._step(
            part,
            what=f"{part.name} under load, made",
            when=f"{state}; {self._lamp_words(part)}",
            meter="millivolts DC",
            shows=Expected(
                f"at most {_two_digits(1000 * most_volts)} mV at "
                f"{format_quantity(self.load_amps, 'A')}",
                high=float(_two_digits(1000 * most_volts)) / 1000,
            ),
            otherwise="more: burnt contact, whatever the ohms said",
        )

    def _lamp_words(self, part: Part) -> str:
        fuse = next(rating for rating in FUSE_RATINGS_AMPS if rating >= 1.3 * self.load_amps)
        return (
            f"{self.volts:g} V, fused {fuse:g} A, through a {LOAD_WATTS:g} W lamp and then "
            f"{part.first} to {part.second}"
        )


MADE = Expected(f"under {LEADS_OHMS:g} Ohm, the leads' own", high=LEADS_OHMS)
OPEN = Expected("OL", low=math.inf, high=math.inf)
DEAD_WINDING = "request unmade: winding without supply"


def _range(value: float, within: float, unit: str) -> Expected:
    low, high = value * (1 - within), value * (1 + within)
    return Expected(f"{format_quantity(low, unit)} to {format_quantity(high, unit)}", low, high)


def _two_digits(number: float) -> str:
    """Return a number rounded up to two digits, as a limit is said."""
    power = 10.0 ** (math.floor(math.log10(number)) - 1)
    return f"{math.ceil(round(number / power, 6)) * power:g}"
