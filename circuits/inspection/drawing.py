"""What the rules of an inspection look at: a sheet, its network, and what it does when solved."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from circuits.codes.conditions import amps_of, looked_at, volts_between
from circuits.engine import (
    Fault,
    Network,
    Part,
    Phase,
    PhaseSolution,
    Place,
    RuleContact,
    Sweep,
    solve,
    suspects,
    sweep,
)
from circuits.inspection.feeds import Feed, feeds, joined_to
from circuits.sheet import Comparison, Sheet, engine_places

BoolArray = npt.NDArray[np.bool_]
#: How finely severities are tried: an end and every decade tell what a fault can show at all.
POINTS_PER_DECADE = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """One phase: its parts as they are then, and what they do."""

    phase: Phase
    words: str
    parts: tuple[Part, ...]
    solution: PhaseSolution
    feeds: Mapping[str, Feed]
    grounded: frozenset[str]

    @property
    def name(self) -> str:
        return self.phase.name

    def part(self, name: str) -> Part:
        return next(part for part in self.parts if part.name == name)


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """A circuit under inspection; what takes time is worked out once, when first asked for."""

    sheet: Sheet
    network: Network

    @cached_property
    def solutions(self) -> tuple[PhaseSolution, ...]:
        return solve(self.network)

    @cached_property
    def situations(self) -> tuple[Situation, ...]:
        found = []
        for entry, phase, solution in zip(
            self.sheet.phases, self.network.phases, self.solutions, strict=True
        ):
            parts = self.network.parts_in(phase)
            found.append(
                Situation(
                    phase=phase,
                    words=entry.words,
                    parts=parts,
                    solution=solution,
                    feeds=feeds(parts, solution.contacts),
                    grounded=frozenset(joined_to(self.network.zero, parts, solution.contacts)),
                )
            )
        return tuple(found)

    @cached_property
    def places(self) -> tuple[Place, ...]:
        """Return the listed places that are read in volts or amps."""
        electric = {
            place.key for place in self.sheet.places if place.unit in ("V", "mV", "A", "mA")
        }
        return tuple(place for place in engine_places(self.sheet) if place.key in electric)

    @cached_property
    def faults(self) -> tuple[Fault | None, ...]:
        """Return healthy, then every fault the circuit can have, from barely to fully there."""
        return (
            None,
            *(
                Fault(suspect=suspect, severity=float(severity))
                for suspect in suspects(self.network)
                for severity in suspect.severity_grid(POINTS_PER_DECADE)
            ),
        )

    @cached_property
    def shown(self) -> Sweep:
        """Return what all faults make of all places, all amps, and all that codes look at."""
        seen = {place.key: place for place in self.places}
        for part in self.network.parts:
            seen[amps_of(part.name).key] = amps_of(part.name)
        for code in self.sheet.codes:
            for condition in code.conditions:
                for comparison in (condition.test, *condition.enabling):
                    place = self.looked_at(comparison)
                    seen.setdefault(place.key, place)
        for red, black in self.watched_pins():
            seen.setdefault(volts_between(red, black).key, volts_between(red, black))
        return sweep(self.network, tuple(seen.values()), self.faults)

    @cached_property
    def unsteady(self) -> BoolArray:
        """Return where nothing can be built on what is shown: it floats or chatters (E, P, R)."""
        return self.shown.floating | self.shown.chatters

    def watched_pins(self) -> set[tuple[str, str]]:
        """Return the pins that rules watch."""
        states = (part for situation in self.situations for part in situation.parts)
        return {
            (part.sense_red, part.sense_black)
            for part in states
            if isinstance(part, RuleContact) and part.sense_red != part.sense_black
        }

    def column(self, place: Place) -> int:
        """Return where a place stands among all that is shown."""
        return self._columns[place.key]

    @cached_property
    def _columns(self) -> Mapping[str, int]:
        return {key: number for number, key in enumerate(self.shown.places)}

    def looked_at(self, comparison: Comparison) -> Place:
        """Return where a code's comparison looks."""
        return looked_at(self.sheet, comparison)
