"""Which codes a circuit sets in each phase, by their set conditions.

A phase is taken to last: a condition that must hold for half a second counts as held. A code
without a testable condition is never said to be set, nor not to be set.
"""

import math
from collections.abc import Callable, Mapping

import numpy as np
import numpy.typing as npt

from circuits.engine import (
    Fault,
    Monitor,
    Network,
    PhaseSolution,
    Place,
    SetCondition,
    Watch,
    solve,
)
from circuits.sheet import CodeEntry, Comparison, Condition, Sheet, engine_place
from circuits.units import parse_quantity

#: What a comparison looks at, in volts or amps: one number, or one under each of many faults.
Shown = Callable[[Comparison], float | npt.NDArray[np.float64]]


def codes_set(
    sheet: Sheet, network: Network, *, fault: Fault | None = None
) -> Mapping[str, tuple[CodeEntry, ...]]:
    """Return, for each phase by its key, the codes whose set condition is met in it."""
    testable = [code for code in sheet.codes if code.conditions]
    return {
        solution.phase: tuple(
            code
            for code in testable
            if any(_is_met(sheet, condition, solution) for condition in code.conditions)
        )
        for solution in solve(network, fault)
    }


def condition_holds(
    sheet: Sheet, condition: Condition, phase: str, shown: Shown
) -> npt.NDArray[np.bool_]:
    """Return whether a set condition holds in a phase, for each of the numbers shown.

    What is not a number (a pin that floats, a relay that chatters) holds no condition.
    """
    met = np.asarray(not condition.phases or phase in condition.phases)
    for comparison in (condition.test, *condition.enabling):
        limit = parse_quantity(comparison.number, _unit(sheet, comparison)).number
        values = np.asarray(shown(comparison))
        met = met & (values > limit if comparison.above else values < limit)
    return met


def code_entry(sheet: Sheet, code: str) -> CodeEntry | None:
    """Return the entry of a code on the sheet, however it is spaced; None where there is none."""
    wanted = _bare(code)
    return next((entry for entry in sheet.codes if _bare(entry.code) == wanted), None)


def monitor_of(sheet: Sheet, entry: CodeEntry) -> Monitor | None:
    """Return what a code's module watches, for the engine; None where it cannot be tested."""
    if not entry.conditions:
        return None
    return Monitor(
        code=entry.code,
        conditions=tuple(
            SetCondition(
                test=_watch(sheet, condition.test),
                enabling=tuple(_watch(sheet, each) for each in condition.enabling),
                phases=condition.phases,
            )
            for condition in entry.conditions
        ),
    )


def looked_at(sheet: Sheet, comparison: Comparison) -> Place:
    """Return where a comparison looks."""
    if comparison.part:
        return amps_of(comparison.part)
    if comparison.place:
        return engine_place(sheet.place(comparison.place))
    return volts_between(comparison.red, comparison.black)


def amps_of(part: str) -> Place:
    return Place(key=f"amps of {part}", through=part)


def volts_between(red: str, black: str) -> Place:
    return Place(key=f"volts {red} - {black}", red=red, black=black)


def _watch(sheet: Sheet, comparison: Comparison) -> Watch:
    return Watch(
        place=looked_at(sheet, comparison),
        above=comparison.above,
        limit=parse_quantity(comparison.number, _unit(sheet, comparison)).number,
    )


def _bare(code: str) -> str:
    return "".join(code.upper().split())


def _is_met(sheet: Sheet, condition: Condition, solution: PhaseSolution) -> bool:
    def shown(comparison: Comparison) -> float:
        return math.nan if solution.chatters else _looked_at(sheet, comparison, solution)

    return bool(condition_holds(sheet, condition, solution.phase, shown))


def _unit(sheet: Sheet, comparison: Comparison) -> str:
    if comparison.part or (comparison.place and sheet.place(comparison.place).through):
        return "A"
    return "V"


def _looked_at(sheet: Sheet, comparison: Comparison, solution: PhaseSolution) -> float:
    if comparison.part:
        return solution.amps[comparison.part]
    if comparison.place:
        place = sheet.place(comparison.place)
        if place.through:
            amps = solution.amps[place.through]
            return -amps if place.against else amps
        return solution.drop_volts(place.red, place.black)
    return solution.drop_volts(comparison.red, comparison.black)
