"""Which codes a circuit sets in each phase, by their set conditions.

A phase is taken to last: a condition that must hold for half a second counts as held. A code
without a testable condition is never said to be set, nor not to be set.
"""

import math
from collections.abc import Callable, Mapping

import numpy as np
import numpy.typing as npt

from circuits.engine import Fault, Network, PhaseSolution, solve
from circuits.sheet import CodeEntry, Comparison, Condition, Sheet
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
