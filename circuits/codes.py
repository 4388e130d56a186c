"""Which codes a circuit sets in each phase, by their set conditions.

A phase is taken to last: a condition that must hold for half a second counts as held. A code
without a testable condition is never said to be set, nor not to be set.
"""

import math
from collections.abc import Mapping

from circuits.engine import Fault, Network, PhaseSolution, solve
from circuits.sheet import CodeEntry, Comparison, Condition, Sheet
from circuits.units import parse_quantity


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


def _is_met(sheet: Sheet, condition: Condition, solution: PhaseSolution) -> bool:
    if condition.phases and solution.phase not in condition.phases:
        return False
    return all(
        _holds(sheet, comparison, solution) for comparison in (condition.test, *condition.enabling)
    )


def _holds(sheet: Sheet, comparison: Comparison, solution: PhaseSolution) -> bool:
    shown, unit = _looked_at(sheet, comparison, solution)
    limit = parse_quantity(comparison.number, unit).number
    # A pin that floats, or a relay that chatters, holds no condition.
    if math.isnan(shown) or solution.chatters:
        return False
    return shown > limit if comparison.above else shown < limit


def _looked_at(sheet: Sheet, comparison: Comparison, solution: PhaseSolution) -> tuple[float, str]:
    if comparison.part:
        return solution.amps[comparison.part], "A"
    if comparison.place:
        place = sheet.place(comparison.place)
        if place.through:
            amps = solution.amps[place.through]
            return (-amps if place.against else amps), "A"
        return solution.drop_volts(place.red, place.black), "V"
    return solution.drop_volts(comparison.red, comparison.black), "V"
