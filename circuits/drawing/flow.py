"""Which end of a part is drawn above: the one that is nearer to the supply.

A rough picture of the volts decides, with one value per kind of part: what feeds stands above what
it feeds, whichever way round the part was written down. Since every part then points down a
slope, no loop can remain among the parts, whatever the circuit.
"""

from collections.abc import Sequence

import numpy as np

from circuits.sheet import PartEntry, Sheet
from circuits.units import UnitError, parse_quantity

_CONDUCTORS = frozenset(
    {"wire", "fuse", "connector", "splice", "ground", "switch", "driver", "contact", "rule"}
)
_SOURCES = frozenset({"battery", "supply"})
_CONDUCTS, _LOADED, _SENSES, _FEEDS, _LEAK = 1e3, 1.0, 1e-2, 1e2, 1e-6
#: Leads ends without any flow from a part's first end to its second.
_DRIFT = 1e-6
_SHUNT_OHMS = 0.05
#: Further sources stand a little below the first, generators below all: they hang from the rail.
_STEP, _GENERATOR = 0.03, 0.8


def heights(sheet: Sheet) -> dict[str, float]:
    """Return how far up each connection belongs; 0 is the zero node. No two are equal."""
    nodes = list(dict.fromkeys(node for part in sheet.parts for node in part.ends))
    index = {node: number for number, node in enumerate(nodes)}
    pull = np.zeros((len(nodes), len(nodes)))
    push = np.zeros(len(nodes))
    for part, (conductance, lift) in zip(sheet.parts, _characters(sheet.parts), strict=True):
        first, second, *third = (index[node] for node in part.ends)
        # A third end lies somewhere between the two others.
        between = [pair for each in third for pair in ((first, each), (each, second))]
        for one, other in [(first, second), *between]:
            pull[one, one] += conductance
            pull[other, other] += conductance
            pull[one, other] -= conductance
            pull[other, one] -= conductance
        push[first] += conductance * lift
        push[second] -= conductance * lift
    # The zero node is held; what is joined to nothing rests on a trace of a leak.
    pull[np.diag_indices(len(nodes))] += _LEAK
    if sheet.vehicle.zero in index:
        zero = index[sheet.vehicle.zero]
        pull[zero] = 0
        pull[zero, zero] = 1
        push[zero] = 0
    levels = np.linalg.solve(pull, push)
    order = np.lexsort((np.arange(len(nodes)), -np.round(levels, 9)))
    # Equal levels are parted by the order of the sheet.
    ranks = np.empty(len(nodes))
    ranks[order] = np.arange(len(nodes))
    return {node: float(-ranks[number]) for node, number in index.items()}


def _characters(parts: Sequence[PartEntry]) -> list[tuple[float, float]]:
    """Return each part's conductance and the lift it gives its first end."""
    characters = []
    sources = 0
    for part in parts:
        conductance, lift = _LOADED, _DRIFT
        if part.kind in _CONDUCTORS or _is_shunt(part):
            conductance = _CONDUCTS
        elif part.kind in _SOURCES:
            conductance, lift = _FEEDS, 1 - _STEP * sources
            sources += 1
        elif part.kind == "generator":
            conductance, lift = _LOADED, _GENERATOR
        elif part.kind == "input":
            conductance = _SENSES
        characters.append((conductance, lift))
    return characters


def _is_shunt(part: PartEntry) -> bool:
    """Return whether a resistor is one to measure amps with, which nobody draws as a load."""
    if part.kind != "resistor":
        return False
    texts = (value.text for setting in part.settings for value in setting.values if not value.word)
    for text in texts:
        try:
            return parse_quantity(text, "ohm").number < _SHUNT_OHMS
        except UnitError:
            # Still being written.
            continue
    return False
