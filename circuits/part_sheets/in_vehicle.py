"""The first checks of a part in trade order, each with what a healthy circuit reads there.

Source, powers, grounds, inputs, outputs: whoever goes in this order does not blame a part for
what its supply lacks. Every figure is the engine's for the phase in which the part works hardest;
what a wrong reading would mean is worked out from every single fault of the circuit.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from circuits.cautions import Caution, cautions_for, notes_at_step, off_limits
from circuits.engine import (
    Absent,
    Battery,
    Coil,
    Contact,
    Fault,
    FaultKind,
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
    solve,
    suspects,
    sweep,
)
from circuits.predicting.tables import Shown
from circuits.sheet import HazardKind, Sheet

# Above this a net is no 12 or 24 V net any more (ISO 16750-2: at most 32 V on a 24 V vehicle).
MOST_NET_VOLTS = 32.0
# Amps that a clamp shows well. Common practice, no source.
CLAMPED_AMPS = 0.5
IDLE_AMPS = 1e-3
MOST_NAMED = 5
#: Severities are tried from the end down, every so many decades: enough to see which way it goes.
EVERY_SO_MANY_DECADES = 3
#: What a common meter cannot tell apart, two counts.
VOLTS_STEP, AMPS_STEP = 0.02, 0.1
_FORBIDDEN_WORDS = ("airbag", "pretensioner", "belt tensioner", "pyrotechnic", "orange cable")
_SOURCES = (Battery, Supply, Generator)
REFERRAL = "Follow the maker's procedure, and leave it to a person trained and licensed for it."
PRECEDENCE = (
    "The maker's procedure, local codes and licensed practice come first. The figures are typical "
    "values of a drawing, no specification."
)


class NoTestSheet(ValueError):
    """A circuit or part for which no checks are given; the message says why and whom to ask."""


class UnknownSubject(NoTestSheet):
    """The circuit has no such part or module; the message says which it has."""


class Group(StrEnum):
    """The trade's order of checks."""

    SOURCE = "source"
    POWERS = "powers"
    GROUNDS = "grounds"
    INPUTS = "inputs"
    OUTPUTS = "outputs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What a reading on one side of the range speaks for."""

    side: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One reading to take: where, how, when, what is normal, and what another would mean."""

    group: Group
    what: str
    place: Place
    red: str
    black: str
    meter: str
    phase: str
    phase_words: str
    shown: Shown
    meanings: tuple[Meaning, ...]
    cautions: tuple[str, ...]

    @property
    def expected(self) -> str:
        """Return the normal range, with its unit once."""
        if self.shown.low == self.shown.high or self.shown.prediction.chatters:
            return self.shown.words
        return f"{self.shown.low} to {self.shown.high}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TestSheet:
    """The checks of one part, and what to mind before the first lead goes on."""

    subject: str
    parts: tuple[str, ...]
    checks: tuple[Check, ...]
    cautions: tuple[Caution, ...]


# -------------------------------------------------------------------------------- what is allowed


def refuse_dangerous(sheet: Sheet, network: Network) -> None:
    """Refuse what no sheet, no bridge and no next reading is given for.

    Raises
    ------
    NoTestSheet
        Airbags and other pyrotechnics, orange cables, 48 V nets and anything above.
    """
    grave = {HazardKind.AIRBAG: "airbags or belt tensioners", HazardKind.HIGH_VOLTAGE: "high volts"}
    for hazard in sheet.hazards:
        if hazard.kind in grave:
            raise NoTestSheet(f"This circuit has {grave[hazard.kind]}: {hazard.note}. {REFERRAL}")
    vehicle = sheet.vehicle
    said = " ".join(
        (
            vehicle.title,
            vehicle.system,
            *(connection.label for connection in sheet.connections),
            *(part.remark for part in sheet.parts),
        )
    ).lower()
    for word in _FORBIDDEN_WORDS:
        if word in said:
            raise NoTestSheet(f"The drawing speaks of '{word}'. {REFERRAL}")
    for solution in solve(network):
        known = [volts for volts in solution.volts.values() if volts is not None]
        if max(known) - min(known) > MOST_NET_VOLTS:
            raise NoTestSheet(
                f"It holds more than {MOST_NET_VOLTS:g} V: a 48 V net, which arcs. {REFERRAL}"
            )


# ------------------------------------------------------------------------------------- the sheet


def subjects(sheet: Sheet) -> tuple[str, ...]:
    """Return what a sheet can be made for: parts, and what hangs together by name, as K1.coil."""
    names: list[str] = []
    barred = off_limits(sheet)
    for part in sheet.parts:
        if part.name in barred or part.kind in ("wire", "splice", "ground", "connector", "fuse"):
            continue
        names.append(part.name.partition(".")[0])
    return tuple(dict.fromkeys(names))


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


def pin_words(sheet: Sheet, node: str) -> str:
    """Return a connection as it is found on the vehicle: its name and what it is."""
    label = next(entry.label for entry in sheet.connections if entry.node == node)
    return f"{node}, {label}" if label else node


def parts_of(sheet: Sheet, network: Network, subject: str) -> tuple[str, ...]:
    """Return the parts that a subject stands for: one part, or those that share its name.

    Raises
    ------
    UnknownSubject
        There is no such part.
    """
    names = [part.name for part in network.parts]
    meant = tuple(name for name in names if subject in (name, name.partition(".")[0]))
    if not meant:
        known = ", ".join(subjects(sheet))
        raise UnknownSubject(f"There is no part '{subject}' in this circuit; it has {known}.")
    if off_limits(sheet).intersection((subject, *meant)):
        raise NoTestSheet(f"'{subject}' sits beside an airbag. {REFERRAL}")
    return meant


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
        self.solutions = solve(network)
        self.working = self._hardest()
        self.idle = self._idle()

    def sheet_of_checks(self) -> TestSheet:
        barred = off_limits(self.sheet)
        wanted = [
            want
            for want in self._wanted()
            if not barred & {want.place.red, want.place.black, want.place.through}
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
        return TestSheet(
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
        feed, ground = self._feed_and_ground(part)
        zero = self.network.zero
        rests = isinstance(part, Contact | RuleContact) and not self._is_made(part)
        match group:
            case Group.POWERS if feed != zero and not rests:
                yield self._volts(group, f"feed of {name}", feed, zero)
            case Group.GROUNDS if ground != zero and not isinstance(part, Contact | RuleContact):
                yield self._volts(group, f"ground side of {name}, drop", ground, zero)
            case Group.INPUTS:
                yield from self._inputs(part)
            case Group.OUTPUTS:
                yield from self._outputs(part, feed, ground)

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
        return self.solutions[self.working].contacts.get(part.name, False)

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
        """Return the end with more volts first, as the subject works."""
        solution = self.solutions[self.working]
        first, second = (solution.volts[end] for end in (part.first, part.second))
        if first is not None and second is not None and second > first:
            return part.second, part.first
        return part.first, part.second

    # ---------------------------------------------------------------------- worked out

    def _check(self, want: _Wanted, column: int, shown: Sweep) -> Check:
        phase = self.sheet.phases[want.row]
        amps = bool(want.place.through)
        healthy = _prediction(shown, want.row, column)
        return Check(
            group=want.group,
            what=want.what,
            place=want.place,
            red=f"round {want.place.through}" if amps else pin_words(self.sheet, want.place.red),
            black="" if amps else pin_words(self.sheet, want.place.black),
            meter="clamp, amps DC" if amps else "volts DC",
            phase=phase.key,
            phase_words=phase.words,
            shown=Shown(prediction=healthy, unit="A" if amps else "V"),
            meanings=tuple(_meanings(shown, want.row, column, AMPS_STEP if amps else VOLTS_STEP)),
            cautions=tuple(_cautions_at(want, phase.key_state, self.sheet)),
        )


def _prediction(shown: Sweep, row: int, column: int) -> Prediction:
    return Prediction(
        value=float(shown.values[0, row, column]),
        low=float(shown.low[0, row, column]),
        high=float(shown.high[0, row, column]),
        floating=bool(shown.floating[0, row, column]),
        chatters=bool(shown.chatters[0, row, column]),
    )


# ------------------------------------------------------------------------ what it would mean


def _meanings(shown: Sweep, row: int, column: int, step: float) -> Iterator[Meaning]:
    values = shown.values[:, row, column]
    steady = ~(shown.floating[:, row, column] | shown.chatters[:, row, column])
    low, high = shown.low[0, row, column] - step, shown.high[0, row, column] + step
    for side, beyond in (("lower", low - values), ("higher", values - high)):
        named = _named(shown.faults, np.where(steady, beyond, 0.0))
        if named:
            yield Meaning(side=side, words="; ".join(named))


def _named(faults: Sequence[Fault | None], beyond: npt.NDArray[np.float64]) -> list[str]:
    """Return the suspects that reach beyond a limit, the commonest kinds first."""
    reach: dict[FaultKind, dict[str, float]] = {}
    for fault, far in zip(faults, beyond.tolist(), strict=True):
        if fault is not None and fault.suspect.kind in _KIND_WORDS and far > 0:
            targets = reach.setdefault(fault.suspect.kind, {})
            targets[fault.suspect.target] = max(targets.get(fault.suspect.target, 0.0), far)
    words = []
    for kind in [kind for kind in _KIND_WORDS if kind in reach][:MOST_KINDS]:
        names = sorted(reach[kind], key=lambda name: -reach[kind][name])
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        words.append(f"{_KIND_WORDS[kind]}: {', '.join(names[:MOST_NAMED])}{more}")
    return words


MOST_KINDS = 3
#: The commonest kinds first. Common practice, no source.
_KIND_WORDS = {
    FaultKind.RESISTANCE: "resistance or open",
    FaultKind.LOW_VOLTS: "weak source",
    FaultKind.DISCHARGED: "discharged",
    FaultKind.BYPASS: "shorted or stuck",
    FaultKind.GROUND_SHORT: "short to ground",
    FaultKind.SUPPLY_SHORT: "short to supply",
    FaultKind.DRAGS: "drags",
    FaultKind.DRAWS_MORE: "draws more",
    FaultKind.LIMITED: "limited source",
    FaultKind.LOST_PHASE: "lost phase",
    FaultKind.FALLS_BACK: "falls back",
    FaultKind.NEIGHBOUR_SHORT: "short between neighbours",
    FaultKind.DRIFTS_UP: "drifted up",
    FaultKind.DRIFTS_DOWN: "drifted down",
    FaultKind.WRONG_HIGH: "wrong part, too many ohms or watts",
    FaultKind.WRONG_LOW: "wrong part, too few ohms or watts",
    FaultKind.SEIZED: "seized",
    FaultKind.RETURN_ELSEWHERE: "return fitted elsewhere",
    FaultKind.NAMED: "a fault of its own name",
    FaultKind.REVERSED: "the wrong way round",
}


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
