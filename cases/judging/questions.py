"""Questions about a reading while it is typed; nothing is ever changed by itself.

What a circuit's faults can make of a place is worked out once for a circuit and a rig, at many
severities; a reading beyond all of it asks to be looked at again.
"""

import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from cases.circuit import CaseCircuit
from cases.documents.verdicts import SetAside
from cases.errors import OhmsOnLiveParts
from cases.judging.lines import (
    NOT_NARROWED,
    Line,
    Narrowed,
    engine_readings,
    engine_rig,
    narrowed_at_line,
    set_aside,
)
from cases.judging.live_ohms import refuse_live_ohms
from circuits.engine import (
    Bound,
    Closure,
    EngineError,
    Fault,
    FaultKind,
    MendedCase,
    Place,
    Reading,
    Rig,
    Sweep,
    closure_of,
    possible_slips,
    suspects,
    sweep,
)
from circuits.units import format_in

POINTS_PER_DECADE = 2
MOST_SLIPS = 2
MOST_NAMED = 2
OUTLOOKS_KEPT = 16
SLIPS_KEPT = 64
#: Of the machine's time for one question; whoever types has gone on to the next reading by then.
MOST_SLIP_SECONDS = 2.5
NOT_ALL_LOOKED_AT = (
    "Not everything that this may have been meant as was looked at: it takes too long here."
)


def hint_for(circuit: CaseCircuit, line: Line, narrowed: Narrowed = NOT_NARROWED) -> str:
    """Return what a place can tell in a phase, before anything is read; empty where unknown.

    `narrowed` is what healthy vehicles leave of the bands, by phase and place.

    Raises
    ------
    EngineError
        The rig names something that is not in the circuit.
    """
    place = circuit.place_at(line.place)
    if place is None or place.reads_ohms or line.phase not in circuit.phases:
        return ""
    shown = _outlook(circuit, place, engine_rig(circuit, line.rig))
    row = shown.phases.index(line.phase)
    unit = _unit(circuit, line)
    low, high = (float(array[0, row, 0]) for array in (shown.low, shown.high))
    seen = narrowed_at_line(line, narrowed)
    if seen is not None:
        low, high = seen.narrowed.low, seen.narrowed.high
    healthy = f"Healthy: {format_in(low, unit)} to {format_in(high, unit)}."
    named = list(_shows_from(shown, row))
    if not named:
        return f"{healthy} Tells nothing here: every fault of the drawing reads as healthy."
    if line.rig.unplugged and line.rig.lamp_watts is None and not _sees_resistance(shown, row):
        return f"{healthy} Without its load no current flows here, so no resistance shows."
    return f"{healthy} The mildest that shows: {'; '.join(named[:MOST_NAMED])}."


def plain_questions(circuit: CaseCircuit, lines: Sequence[Line], typed: Line) -> Iterator[str]:
    """Yield what is asked at once: whether it is judged at all, adds up, and can be."""
    aside = set_aside(circuit, typed)
    if aside is not None and typed.text:
        yield _aside_words(circuit, typed, aside)
    if not _is_compared(circuit, typed):
        return
    readings, number = _beside(circuit, lines, typed)
    yield from _gap(circuit, typed, readings, number)
    if not _is_possible(circuit, typed, readings[number]):
        unit = _unit(circuit, typed)
        value = readings[number].value
        yield f"No fault of the drawing gives {format_in(value, unit)} here in '{typed.phase}'."


def slip_questions(circuit: CaseCircuit, lines: Sequence[Line], typed: Line) -> tuple[str, ...]:
    """Return what a reading may have been meant as, which can take a second."""
    # No other place is named where others have to take over.
    if circuit.refusal or not _is_compared(circuit, typed):
        return ()
    return _slips(circuit, tuple(lines), typed)


def _is_compared(circuit: CaseCircuit, typed: Line) -> bool:
    place = circuit.place_at(typed.place)
    if place is None or place.reads_ohms or typed.value is None:
        return False
    return set_aside(circuit, typed) is None


def _beside(circuit: CaseCircuit, lines: Sequence[Line], typed: Line) -> tuple[list[Reading], int]:
    """Return what was logged with the typed reading as the last of it, and that one's number.

    Supplies that were noted beside readings come behind them.
    """
    heard = [line for line in lines if line.stage == typed.stage and not set_aside(circuit, line)]
    asked = [*heard, typed]
    return [reading for reading, _ in engine_readings(circuit, asked)], len(heard)


# A field that is left asks again what it asked while it was typed in.
@lru_cache(maxsize=SLIPS_KEPT)
def _slips(circuit: CaseCircuit, lines: tuple[Line, ...], typed: Line) -> tuple[str, ...]:
    try:
        readings, number = _beside(circuit, lines, typed)
        possible = _is_possible(circuit, typed, readings[number])
        until = time.thread_time() + MOST_SLIP_SECONDS
        cut_short = False

        def may_go_on() -> bool:
            nonlocal cut_short
            cut_short = cut_short or time.thread_time() > until
            return not cut_short

        found = possible_slips(
            circuit.network,
            readings,
            number,
            places=tuple(circuit.places.values()),
            supply_places=circuit.supply_places,
            far_better=possible,
            may_go_on=may_go_on,
        )
    except EngineError as error:
        return (f"{error}.",)
    hardly = "A single fault could give this figure, yet hardly with what is logged."
    asked = [f"Was it {_slip_words(circuit, slip)}?" for slip in found[:MOST_SLIPS]]
    left = (NOT_ALL_LOOKED_AT,) if cut_short else ()
    return (hardly, *asked, *left) if possible and found else (*asked, *left)


def _aside_words(circuit: CaseCircuit, typed: Line, aside: SetAside) -> str:
    try:
        refuse_live_ohms(circuit, typed.place, typed.phase, typed.rig)
    except OhmsOnLiveParts as refused:
        return refused.problem
    return f"{aside.because[:1].upper()}{aside.because[1:]}."


def _gap(
    circuit: CaseCircuit, typed: Line, readings: Sequence[Reading], number: int
) -> Iterator[str]:
    closure = closure_of(circuit.network, readings, number)
    if closure is None or closure.closes(readings[number]):
        return
    unit = _unit(circuit, typed)
    left, reach = format_in(closure.value, unit), format_in(closure.reach, unit)
    yield (
        f"{_sum_words(readings, closure)} leaves {left} here, give or take {reach}: the same "
        "moment, the same state?"
    )


def _sum_words(readings: Sequence[Reading], closure: Closure) -> str:
    words = ""
    for number, sign in sorted(closure.signed, key=lambda each: -each[1]):
        operator = " - " if sign < 0 else " + " if words else ""
        words += f"{operator}{readings[number].place.key}"
    return words.strip()


def _slip_words(circuit: CaseCircuit, slip: MendedCase) -> str:
    meant = slip.readings[slip.changed[-1]]
    words = str(slip.kind)
    if "place" in words:
        words = f"{words}: {meant.place.key}"
    elif "phase" in words:
        words = f"{words}: '{meant.phase}'"
    else:
        entry = circuit.entry_at(meant.place.key)
        words = f"{words}: {format_in(meant.value, entry.unit if entry is not None else 'V')}"
    return words


def _is_possible(circuit: CaseCircuit, typed: Line, reading: Reading) -> bool:
    place = circuit.place_at(typed.place)
    assert place is not None  # asked of what is compared
    shown = _outlook(circuit, place, reading.rig)
    row = shown.phases.index(reading.phase)
    low = float(np.min(shown.worst_low[:, row, 0])) - reading.step
    high = float(np.max(shown.worst_high[:, row, 0])) + reading.step
    # The least may dip below all that is steady, the most stand above it.
    return (reading.bound is Bound.FROM_BELOW or low <= reading.value) and (
        reading.bound is Bound.FROM_ABOVE or reading.value <= high
    )


def _shows_from(shown: Sweep, row: int) -> Iterator[str]:
    """Yield the faults that show here, each from its mildest severity that does, joints first."""
    doubt_low, doubt_high = float(shown.low[0, row, 0]), float(shown.high[0, row, 0])
    values = shown.values[:, row, 0]
    steady = ~(shown.floating[:, row, 0] | shown.chatters[:, row, 0])
    seen = steady & ((values < doubt_low) | (values > doubt_high))
    mildest: dict[str, Fault] = {}
    for number, fault in enumerate(shown.faults):
        if fault is not None and seen[number] and fault.suspect.id not in mildest:
            mildest[fault.suspect.id] = fault
    joints = [each for each in mildest.values() if each.suspect.kind is FaultKind.RESISTANCE]
    others = [each for each in mildest.values() if each.suspect.kind is not FaultKind.RESISTANCE]
    for fault in (*sorted(joints, key=lambda each: each.severity), *others):
        yield f"{fault.suspect.describe(fault.severity)}"


def _sees_resistance(shown: Sweep, row: int) -> bool:
    low, high = float(shown.low[0, row, 0]), float(shown.high[0, row, 0])
    return any(
        fault is not None
        and fault.suspect.kind is FaultKind.RESISTANCE
        and not low <= float(shown.values[number, row, 0]) <= high
        and np.isfinite(fault.severity)
        for number, fault in enumerate(shown.faults)
    )


def _outlook(circuit: CaseCircuit, place: Place, rig: Rig) -> Sweep:
    """Return what every fault makes of a place in every phase, mild ones first."""
    return _swept(_Asked(circuit, replace(place, by_drop=False), rig))


class _Asked:
    """What an outlook is kept under: a circuit is the same as long as it is the same object."""

    def __init__(self, circuit: CaseCircuit, place: Place, rig: Rig) -> None:
        self.circuit, self.place, self.rig = circuit, place, rig
        self._key = (id(circuit), place, rig)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self._key == other._key

    def __hash__(self) -> int:
        return hash(self._key)


@lru_cache(maxsize=OUTLOOKS_KEPT)
def _swept(asked: _Asked) -> Sweep:
    faults = [
        Fault(suspect=suspect, severity=float(severity))
        for suspect in suspects(asked.circuit.network)
        for severity in suspect.severity_grid(POINTS_PER_DECADE)
    ]
    return sweep(asked.circuit.network, [asked.place], [None, *faults], rig=asked.rig)


def _unit(circuit: CaseCircuit, line: Line) -> str:
    entry = circuit.entry_at(line.place)
    return entry.unit if entry is not None else "V"
