"""Findings in what the drawing is to tell: phases, places, codes, rules and tolerances."""

from collections.abc import Iterator, Mapping
from itertools import combinations
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from circuits.codes.conditions import codes_set, condition_holds, volts_between
from circuits.engine import KINDS as ENGINE_KINDS
from circuits.engine import PhaseSolution, RuleContact
from circuits.inspection.drawing import Drawing
from circuits.inspection.feeds import METAL
from circuits.inspection.findings import Finding, FindingKind, listed
from circuits.sheet import CodeEntry, Comparison, PartEntry
from circuits.units import format_quantity

# What a common meter cannot tell apart: two counts of the range that the unit is read on.
LEAST_STEPS: Mapping[str, float] = MappingProxyType({"V": 2e-3, "mV": 2e-4, "A": 2e-2, "mA": 2e-5})
SAME_VOLTS = 1e-3
SAME_AMPS = 1e-3
# What metal, contacts and windings vary by is known from tables; the rest is a guess of ours.
_OWN_TOLERANCE = (*(kind.kind for kind in METAL), "switch", "driver", "coil", "contact", "rule")


def idle_phases(drawing: Drawing) -> Iterator[Finding]:
    """Yield phases in which everything is as in an earlier one."""
    told: set[str] = set()
    for one, other in combinations(drawing.situations, 2):
        if other.name in told or not _is_same(one.solution, other.solution):
            continue
        told.add(other.name)
        yield Finding(
            kind=FindingKind.IDLE_PHASE,
            subject=other.name,
            problem=f"in '{other.words}' nothing differs from '{one.words}'.",
            why="A reading in one says nothing that the other does not; somebody will take both.",
            mend="Say what is switched, loaded or warmer in it, or take the phase out.",
        )


def _is_same(one: PhaseSolution, other: PhaseSolution) -> bool:
    volts = [(one.volts[node], other.volts[node]) for node in one.volts]
    if any((first is None) != (second is None) for first, second in volts):
        return False
    apart = [
        abs(first - second) for first, second in volts if first is not None and second is not None
    ]
    if max(apart, default=0.0) > SAME_VOLTS or one.contacts != other.contacts:
        return False
    return all(abs(one.amps[name] - other.amps[name]) <= SAME_AMPS for name in one.amps)


def mute_places(drawing: Drawing) -> Iterator[Finding]:
    """Yield places at which no fault at all moves the reading out of what healthy may read."""
    look = drawing.shown
    for place in drawing.places:
        entry = drawing.sheet.place(place.key)
        at = slice(None), slice(None), drawing.column(place)
        step = LEAST_STEPS[entry.unit]
        # The first row is the healthy circuit.
        low, high = look.low[at][0] - step, look.high[at][0] + step
        outside = (look.values[at] < low) | (look.values[at] > high)
        if np.any(outside & ~drawing.unsteady[at]):
            continue
        yield Finding(
            kind=FindingKind.MUTE_PLACE,
            subject=place.key,
            problem=f"no fault of this circuit moves '{entry.label}' beyond what healthy may read.",
            why="A reading there proves nothing, whatever it shows.",
            mend="Read across the part itself, under load; narrow tolerances where they are known; "
            "or take the place out.",
        )


# ------------------------------------------------------------------------------ codes and rules


def codes(drawing: Drawing) -> Iterator[Finding]:
    """Yield codes that the healthy circuit sets, and codes that no fault of it ever sets."""
    healthy = codes_set(drawing.sheet, drawing.network)
    for code in drawing.sheet.codes:
        if not code.conditions:
            continue
        phases = [s.words for s in drawing.situations if code in healthy[s.name]]
        if phases:
            yield Finding(
                kind=FindingKind.HEALTHY_CODE,
                subject=code.code,
                problem=f"the healthy circuit sets it ({listed(phases)}).",
                why="Either the set condition or a value of the drawing is wrong.",
                mend="Check the limit, the phases in which the monitor runs, and the lead order.",
            )
        elif not _ever_sets(drawing, code):
            yield Finding(
                kind=FindingKind.CODE_NEVER_SETS,
                subject=code.code,
                problem="no single fault of this circuit meets its set condition.",
                why="The code would never be explained by this drawing.",
                mend="Check its limit and phases, draw the part whose fault sets it, or say 'not "
                "testable:' with the reason.",
            )


def _ever_sets(drawing: Drawing, code: CodeEntry) -> bool:
    look = drawing.shown
    for row, phase in enumerate(look.phases):

        def shown(comparison: Comparison, row: int = row) -> npt.NDArray[np.float64]:
            at = slice(None), row, drawing.column(drawing.looked_at(comparison))
            return np.where(drawing.unsteady[at], np.nan, look.values[at])

        if any(
            condition_holds(drawing.sheet, condition, phase, shown).any()
            for condition in code.conditions
        ):
            return True
    return False


def rules(drawing: Drawing) -> Iterator[Finding]:
    """Yield rules that stay as they are in every phase, whatever fails."""
    look = drawing.shown
    for part in drawing.network.parts:
        if not isinstance(part, RuleContact):
            continue
        volts: list[float] = []
        for row, situation in enumerate(drawing.situations):
            now = situation.part(part.name)
            if not isinstance(now, RuleContact) or not now.enabled:
                continue
            if now.sense_red == now.sense_black:
                volts.append(0.0)
                continue
            pins = volts_between(now.sense_red, now.sense_black)
            at = slice(None), row, drawing.column(pins)
            volts.extend(look.values[at][~drawing.unsteady[at]].tolist())
        yield from _unmoved(part, volts)


def _unmoved(part: RuleContact, volts: list[float]) -> Iterator[Finding]:
    low, high = min(volts, default=0.0), max(volts, default=0.0)
    rising = part.closes_volts > part.opens_volts
    closes = bool(volts) and (high >= part.closes_volts if rising else low <= part.closes_volts)
    opens = bool(volts) and (low <= part.opens_volts if rising else high >= part.opens_volts)
    if closes and opens:
        return
    never = "closes" if not closes else "opens"
    limit = part.closes_volts if not closes else part.opens_volts
    seen = (
        f"between {part.sense_red} and {part.sense_black} it sees {format_quantity(low, 'V')} to "
        f"{format_quantity(high, 'V')}"
        if volts
        else "it is at work in no phase"
    )
    yield Finding(
        kind=FindingKind.RULE_NEVER_MOVES,
        subject=part.name,
        problem=f"it never {never}, in any phase or with any fault: {seen}, and the limit is "
        f"{limit:g} V.",
        why="A module that never does what the drawing says explains nothing.",
        mend="Check the limit, the pins that it watches and their order, and in which phases it "
        "works.",
    )


# ---------------------------------------------------------------------------------- tolerances


def missing_tolerances(drawing: Drawing) -> Iterator[Finding]:
    """Yield kinds of parts whose values have neither a tolerance nor a source."""
    by_kind: dict[str, list[str]] = {}
    for part in drawing.sheet.parts:
        if part.kind not in _OWN_TOLERANCE and not _is_vouched_for(part):
            by_kind.setdefault(part.kind, []).append(part.name)
    for kind, names in by_kind.items():
        words = ENGINE_KINDS[kind].words
        yield Finding(
            kind=FindingKind.NO_TOLERANCE,
            subject=kind,
            problem=f"{listed(names)} ({words}) {'has' if len(names) == 1 else 'have'} neither a "
            "tolerance nor a source.",
            why="Their usual tolerance is taken, which is a guess: it decides how far a reading "
            "may stray before a fault is named.",
            mend="Add 'within 10 %' with the figure of the part, or where the value comes from: "
            "'| measured on the car'.",
        )


def _is_vouched_for(part: PartEntry) -> bool:
    values = [value for setting in part.settings for value in setting.values]
    return bool(part.source) or any(value.source or value.word == "within" for value in values)
