"""The first checks of a part in trade order, each with what a healthy circuit reads there.

Source, powers, grounds, inputs, outputs: whoever goes in this order does not blame a part for
what its supply lacks. Every figure is the engine's for the phase in which the part works hardest;
what a wrong reading would mean is worked out from every single fault of the circuit.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from circuits.cautions import cautions_for, notes_at_step, off_limits
from circuits.engine import (
    Absent,
    Battery,
    Coil,
    Contact,
    Driver,
    Fault,
    Generator,
    KeyState,
    Network,
    Part,
    PhaseSolution,
    Place,
    Prediction,
    RuleContact,
    Supply,
    Sweep,
    Switch,
    solve,
    suspects,
    sweep,
)
from circuits.part_sheets.allowed import parts_of, pin_words, refuse_dangerous
from circuits.part_sheets.checks import Check, PartSheet
from circuits.part_sheets.meanings import meanings
from circuits.paths import CONDUCTORS, CONTACTS
from circuits.predicting.tables import Shown
from circuits.sheet import Sheet

# Amps that a clamp shows well. Common practice, no source.
CLAMPED_AMPS = 0.5
IDLE_AMPS = 1e-3
# What a ground in order stays below by far, and a feed above. Common practice, no source.
MOST_GROUND_VOLTS = 1.0
#: Severities are tried from the end down, every so many decades: enough to see which way it goes.
EVERY_SO_MANY_DECADES = 3
#: What a common meter cannot tell apart, two counts.
VOLTS_STEP, AMPS_STEP = 0.02, 0.1
_SOURCES = (Battery, Supply, Generator)


class Group(StrEnum):
    """The trade's order of checks."""

    SOURCE = "source"
    POWERS = "powers"
    GROUNDS = "grounds"
    INPUTS = "inputs"
    OUTPUTS = "outputs"


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleCheck(Check):
    """A check in the vehicle, at a place of the circuit in one of its phases."""

    group: Group
    place: Place
    phase: str
    shown: Shown


TestSheet = PartSheet[VehicleCheck]


# ------------------------------------------------------------------------------------- the sheet


def make_test_sheet(sheet: Sheet, network: Network, subject: str) -> TestSheet:
    """Return the first checks of a part, or of all parts of a module by its name.

    Raises
    ------
    NoTestSheet
        The circuit is one that belongs to others, or there is no such part.
    """
    refuse_dangerous(sheet, network)
    names = parts_of(sheet, network, subject)
    return _Writer(sheet, network, subject, names).sheet_of_checks()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """A check before it is worked out."""

    group: Group
    what: str
    place: Place
    row: int


class _Writer:
    """Writes the sheet of one subject."""

    def __init__(
        self, sheet: Sheet, network: Network, subject: str, names: tuple[str, ...]
    ) -> None:
        self.sheet, self.network = sheet, network
        self.subject, self.names = subject, names
        self.kinds = {part.name: part.kind for part in sheet.parts}
        self.barred = off_limits(sheet)
        self.solutions = solve(network)
        self.working = self._hardest()
        self.idle = self._idle()

    def sheet_of_checks(self) -> TestSheet:
        wanted = [
            want
            for want in self._wanted()
            if not self.barred & {want.place.red, want.place.black, want.place.through}
        ]
        places = [want.place for want in wanted]
        faults = (
            None,
            *(
                Fault(suspect=suspect, severity=float(severity))
                for suspect in suspects(self.network)
                for severity in suspect.severity_grid(1)[::-EVERY_SO_MANY_DECADES]
            ),
        )
        shown = sweep(self.network, places, faults)
        return PartSheet(
            subject=self.subject,
            parts=self.names,
            checks=tuple(self._check(want, number, shown) for number, want in enumerate(wanted)),
            cautions=tuple(cautions_for(self.sheet.hazards)),
        )

    # ----------------------------------------------------------------------------- phases

    def _hardest(self) -> int:
        """Return the phase in which the subject works hardest."""
        return int(np.argmax([self._effort(solution) for solution in self.solutions]))

    def _idle(self) -> int | None:
        """Return a phase in which the subject rests, if there is one."""
        for row, solution in enumerate(self.solutions):
            if self._effort(solution) < IDLE_AMPS:
                return row
        return None

    def _effort(self, solution: PhaseSolution) -> float:
        return max(abs(solution.amps[name]) for name in self.names)

    # ------------------------------------------------------------------------- which checks

    def _wanted(self) -> Iterator[_Wanted]:
        yield from self._source()
        for group in (Group.POWERS, Group.GROUNDS, Group.INPUTS, Group.OUTPUTS):
            seen: set[tuple[str, str, str]] = set()
            for name in self.names:
                for want in self._of_part(name, group):
                    at = (want.place.red, want.place.black, want.place.through)
                    if at not in seen:
                        seen.add(at)
                        yield want

    def _source(self) -> Iterator[_Wanted]:
        source = next(part for part in self.network.parts if isinstance(part, _SOURCES))
        yield self._volts(Group.SOURCE, "source under load", source.first, source.second)

    def _of_part(self, name: str, group: Group) -> Iterator[_Wanted]:
        part = self._now(name, self.working)
        zero = self.network.zero
        if self.kinds[name] == "input":
            if group is Group.GROUNDS and part.second != zero:
                yield self._volts(group, f"ground behind {name}, drop", part.second, zero)
            if group is Group.INPUTS:
                yield self._volts(group, f"input {name}", part.first, part.second)
            return
        feed, ground = self._feed_and_ground(part)
        match group:
            case Group.POWERS if feed != zero and self._has_feed(part, ground):
                yield self._volts(group, f"feed of {name}", feed, zero)
            case Group.GROUNDS if ground != zero and self._has_ground(part, ground):
                yield self._volts(group, f"ground side of {name}, drop", ground, zero)
            case Group.INPUTS:
                yield from self._inputs(part)
            case Group.OUTPUTS:
                yield from self._outputs(part, feed, ground)

    def _has_feed(self, part: Part, ground: str) -> bool:
        """Return whether a part is fed: one that only leads on is, where it leads to a load."""
        if not self._only_leads_on(part):
            return True
        return self._is_made(part) and self._stands_above_ground(ground)

    def _has_ground(self, part: Part, ground: str) -> bool:
        """Return whether a part returns by its lower end, or leads on to what does."""
        if not self._only_leads_on(part):
            return True
        return self._is_made(part) and not self._stands_above_ground(ground)

    def _only_leads_on(self, part: Part) -> bool:
        return self.kinds[part.name] in CONDUCTORS | CONTACTS

    def _stands_above_ground(self, node: str) -> bool:
        volts = self.solutions[self.working].volts[node]
        return volts is not None and abs(volts) > MOST_GROUND_VOLTS

    def _inputs(self, part: Part) -> Iterator[_Wanted]:
        if isinstance(part, Contact):
            coil = self.network.part(part.coil)
            feed, ground = self._feed_and_ground(coil)
            yield self._volts(Group.INPUTS, f"winding {coil.name}, across it", feed, ground)
        if isinstance(part, RuleContact):
            yield self._volts(
                Group.INPUTS, f"what {part.name} watches", part.sense_red, part.sense_black
            )

    def _outputs(self, part: Part, feed: str, ground: str) -> Iterator[_Wanted]:
        if isinstance(part, Coil):
            return
        if isinstance(part, Contact | RuleContact):
            if not self._is_made(part):
                yield self._volts(Group.OUTPUTS, f"across {part.name}, open", feed, ground)
                return
            yield self._volts(Group.OUTPUTS, f"drop across {part.name}, made", feed, ground)
            yield self._volts(Group.OUTPUTS, f"{part.name}, output", ground, self.network.zero)
        else:
            yield self._volts(Group.OUTPUTS, f"across {part.name}, at work", feed, ground)
        if self.idle is not None and not isinstance(self._now(part.name, self.idle), Absent):
            yield self._volts(
                Group.OUTPUTS, f"across {part.name}, at rest", feed, ground, row=self.idle
            )
        if abs(self.solutions[self.working].amps[part.name]) >= CLAMPED_AMPS:
            place = Place(key=f"{Group.OUTPUTS} amps {part.name}", through=part.name)
            yield _Wanted(
                group=Group.OUTPUTS, what=f"current of {part.name}", place=place, row=self.working
            )

    def _is_made(self, part: Part) -> bool:
        """Return whether a contact is made as the subject works; a wire always is."""
        if isinstance(part, Switch | Driver):
            return part.closed
        return self.solutions[self.working].contacts.get(
            part.name, not isinstance(part, Contact | RuleContact)
        )

    def _volts(
        self, group: Group, what: str, red: str, black: str, *, row: int | None = None
    ) -> _Wanted:
        at = self.working if row is None else row
        place = Place(key=f"{group} {what}", red=red, black=black)
        return _Wanted(group=group, what=what, place=place, row=at)

    def _now(self, name: str, row: int) -> Part:
        parts = self.network.parts_in(self.network.phases[row])
        return next(part for part in parts if part.name == name)

    def _feed_and_ground(self, part: Part) -> tuple[str, str]:
        """Return the end with more volts first, as the subject works; as drawn where it rests."""
        solution = self.solutions[self.working]
        if abs(solution.amps[part.name]) < IDLE_AMPS and not self._differ(part):
            return part.first, part.second
        first, second = (solution.volts[end] for end in (part.first, part.second))
        if first is not None and second is not None and second > first:
            return part.second, part.first
        return part.first, part.second

    def _differ(self, part: Part) -> bool:
        """Return whether the two ends of a part stand plainly apart."""
        first, second = (
            self.solutions[self.working].volts[end] for end in (part.first, part.second)
        )
        return first is not None and second is not None and abs(first - second) > VOLTS_STEP

    # ---------------------------------------------------------------------- worked out

    def _check(self, want: _Wanted, column: int, shown: Sweep) -> VehicleCheck:
        phase = self.sheet.phases[want.row]
        amps = bool(want.place.through)
        healthy = Shown(prediction=_prediction(shown, want.row, column), unit="A" if amps else "V")
        return VehicleCheck(
            group=want.group,
            what=want.what,
            place=want.place,
            red=self._clamped(want.place.through)
            if amps
            else pin_words(self.sheet, want.place.red),
            black="" if amps else pin_words(self.sheet, want.place.black),
            meter="clamp, amps DC" if amps else "volts DC",
            phase=phase.key,
            when=phase.words,
            shown=healthy,
            expected=_range_words(healthy),
            otherwise=tuple(meanings(shown, want.row, column, AMPS_STEP if amps else VOLTS_STEP)),
            cautions=tuple(_cautions_at(want, phase.key_state, self.sheet)),
        )

    def _clamped(self, name: str) -> str:
        """Return where a clamp goes: at an end where one other part alone carries the current."""
        part = self.network.part(name)
        for node in (part.first, part.second):
            others = [each for each in self.sheet.parts if each.name != name and node in each.ends]
            if len(others) == 1 and node not in self.barred:
                return f"round the wire at {pin_words(self.sheet, node)}"
        return f"round {name}"


def _range_words(shown: Shown) -> str:
    """Return the normal range, with its unit once."""
    if shown.low == shown.high or shown.prediction.chatters:
        return shown.words
    return f"{shown.low} to {shown.high}"


def _prediction(shown: Sweep, row: int, column: int) -> Prediction:
    return Prediction(
        value=float(shown.values[0, row, column]),
        low=float(shown.low[0, row, column]),
        high=float(shown.high[0, row, column]),
        floating=bool(shown.floating[0, row, column]),
        chatters=bool(shown.chatters[0, row, column]),
    )


# -------------------------------------------------------------------------- cautions at a step


def _cautions_at(want: _Wanted, key_state: KeyState, sheet: Sheet) -> Iterator[str]:
    yield from notes_at_step(
        sheet,
        key_state,
        touched=(want.place.red, want.place.black, want.place.through),
        at_source=want.group is Group.SOURCE,
        at_work=want.group in (Group.OUTPUTS, Group.INPUTS),
        by_clamp=bool(want.place.through),
    )
