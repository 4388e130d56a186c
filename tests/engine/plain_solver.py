"""A second solver, slow and plain, that shares nothing with the engine but the values of parts.

Node volts by conductances, one dense solve for each combination of states that batteries, motors,
diodes, generators and consumers could be in; the combination that contradicts nothing is the
solution (there is one and only one, because each of these parts takes more amps with more volts).
Relays then move one at a time, in the order of the drawing, from where the phase before left
them; one that comes back to where all relays were before has no steady state.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from circuits.engine import (
    Absent,
    Battery,
    Coil,
    Contact,
    CurrentLoad,
    Diode,
    Generator,
    Motor,
    Network,
    Part,
    Resistor,
    Switch,
)

# A watched quantity this close to its threshold may fall on either side by rounding.
TOO_CLOSE = 1e-6


class TooClose(Exception):
    """Some part stands at its threshold, where rounding decides."""


@dataclass(frozen=True)
class Line:
    """A part in one state: amps = siemens * volts + amps_at_zero, while volts lie in a range."""

    siemens: float
    amps_at_zero: float
    lowest_volts: float = -np.inf
    highest_volts: float = np.inf


OPEN = Line(0.0, 0.0)


@dataclass(frozen=True)
class PlainSolution:
    volts: Mapping[str, float | None]
    amps: Mapping[str, float]
    contacts: Mapping[str, bool]
    chatters: bool


def solve_plainly(network: Network) -> list[PlainSolution]:
    """Return the solution of every phase, relays carrying their state from one to the next."""
    made = {part.name: part.normally_closed for part in network.parts if isinstance(part, Contact)}
    solutions = []
    for phase in network.phases:
        solution = _settle(network.parts_in(phase), network.zero, made)
        made = dict(solution.contacts)
        solutions.append(solution)
    return solutions


def _settle(parts: Sequence[Part], zero: str, made: Mapping[str, bool]) -> PlainSolution:
    made = dict(made)
    been = []
    while True:
        volts, amps = _solve_with(parts, zero, made)
        if made in been:
            return PlainSolution(volts, amps, made, chatters=True)
        been.append(dict(made))
        wrong = next(_wrong_contacts(parts, amps, made), None)
        if wrong is None:
            return PlainSolution(volts, amps, made, chatters=False)
        # All contacts of a relay move together.
        for part in parts:
            if isinstance(part, Contact) and part.coil == wrong.coil:
                made[part.name] = not made[part.name]


def _wrong_contacts(
    parts: Sequence[Part], amps: Mapping[str, float], made: Mapping[str, bool]
) -> Iterator[Contact]:
    for part in parts:
        if not isinstance(part, Contact):
            continue
        pulled = made[part.name] != part.normally_closed
        pull = abs(amps[part.coil])
        for threshold_amps in (part.pull_in_volts / part.coil_ohms, part.drop_out_amps):
            if abs(pull - threshold_amps) < TOO_CLOSE * threshold_amps:
                raise TooClose
        if pulled and pull < part.drop_out_volts / part.coil_ohms:
            yield part
        if not pulled and pull > part.pull_in_volts / part.coil_ohms:
            yield part


def _lines(part: Part, made: Mapping[str, bool]) -> tuple[Line, ...]:
    """Return the lines that a part may stand on."""
    match part:
        case Absent():
            return (OPEN,)
        case Contact():
            return (Line(1 / part.made_ohms, 0.0) if made[part.name] else OPEN,)
        case Switch():
            return (Line(1 / part.closed_ohms, 0.0) if part.closed else OPEN,)
        case Coil() | Resistor():
            return (Line(1 / part.ohms, 0.0),)
        case Battery():
            volts, giving, taking = battery_values(part)
            return (
                Line(1 / giving, -volts / giving, highest_volts=volts),
                Line(1 / taking, -volts / taking, lowest_volts=volts),
            )
        case Generator():
            ohms, volts = part.internal_ohms, part.volts
            limit_volts = volts - ohms * part.max_amps
            return (
                Line(0.0, -part.max_amps, highest_volts=limit_volts),
                Line(1 / ohms, -volts / ohms, limit_volts, volts),
                Line(0.0, 0.0, lowest_volts=volts),
            )
        case Motor():
            # It turns from where its two lines cross: V / Rs = A + G V.
            stall_volts = part.base_amps / (1 / part.stalled_ohms - part.amps_per_volt)
            return (
                Line(1 / part.stalled_ohms, 0.0, highest_volts=stall_volts),
                Line(part.amps_per_volt, part.base_amps, lowest_volts=stall_volts),
            )
        case CurrentLoad():
            return (
                Line(part.amps, 0.0, highest_volts=1.0),
                Line(0.0, part.amps, lowest_volts=1.0),
            )
        case Diode():
            on = 1 / part.on_ohms
            return (
                Line(0.0, 0.0, highest_volts=part.forward_volts),
                Line(on, -on * part.forward_volts, lowest_volts=part.forward_volts),
            )
        case _:
            raise TypeError(f"no line is written here for {type(part).__name__}")


def battery_values(battery: Battery) -> tuple[float, float, float]:
    """Return volts, and the ohms for amps that leave its plus and for amps that enter there.

    Flat, it has lost 0.76 of 12.65 V and its ohms are two and a half times as many; the wrong way
    round, amps that enter at what should be its plus discharge it.
    """
    lost = battery.lost_charge_fraction
    more = 1 + 1.5 * lost
    giving = more * battery.internal_ohms
    taking = more * (battery.charging_ohms or battery.internal_ohms)
    volts = battery.open_circuit_volts * (1 - lost * 0.76 / 12.65)
    return (-volts, taking, giving) if battery.polarity < 0 else (volts, giving, taking)


def _solve_with(
    parts: Sequence[Part], zero: str, made: Mapping[str, bool]
) -> tuple[dict[str, float | None], dict[str, float]]:
    """Return node volts and part amps with the relays held, trying all states of the rest."""
    choices = [_lines(part, made) for part in parts]
    for lines in product(*choices):
        found = _volts(parts, zero, lines)
        if found is None:
            continue
        volts, loose = found
        across = [volts[part.first] - volts[part.second] for part in parts]
        if all(
            line.lowest_volts <= each <= line.highest_volts
            for line, each in zip(lines, across, strict=True)
        ):
            _refuse_close_calls(lines, across)
            _refuse_one_ended(parts, loose)
            amps = {
                part.name: line.siemens * each + line.amps_at_zero
                for part, line, each in zip(parts, lines, across, strict=True)
            }
            known = {node: None if node in loose else each for node, each in volts.items()}
            return known, amps
    raise TooClose


def _refuse_close_calls(lines: Sequence[Line], across: Sequence[float]) -> None:
    for line, volts in zip(lines, across, strict=True):
        for edge in (line.lowest_volts, line.highest_volts):
            if abs(volts - edge) < TOO_CLOSE:
                raise TooClose


def _refuse_one_ended(parts: Sequence[Part], loose: set[str]) -> None:
    """Refuse a diode or generator that is all that leads to a loose end: is it just on, or off?"""
    for part in parts:
        if isinstance(part, Diode | Generator) and (part.first in loose) != (part.second in loose):
            raise TooClose


def _volts(
    parts: Sequence[Part], zero: str, lines: Sequence[Line]
) -> tuple[dict[str, float], set[str]] | None:
    """Return the volts of all nodes and which of them hang loose; None if these lines clash."""
    nodes = list(dict.fromkeys(node for part in parts for node in (part.first, part.second)))
    group = _groups(nodes, parts, lines)
    number = {node: index for index, node in enumerate(nodes)}
    matrix = np.zeros((len(nodes), len(nodes)))
    arriving = np.zeros(len(nodes))
    for part, line in zip(parts, lines, strict=True):
        first, second = number[part.first], number[part.second]
        matrix[first, first] += line.siemens
        matrix[second, second] += line.siemens
        matrix[first, second] -= line.siemens
        matrix[second, first] -= line.siemens
        arriving[first] -= line.amps_at_zero
        arriving[second] += line.amps_at_zero
    loose = {node for node in nodes if group[node] != group[zero]}
    for label in set(group.values()):
        members = [node for node in nodes if group[node] == label]
        if label != group[zero] and abs(sum(arriving[number[node]] for node in members)) > 1e-9:
            return None  # a current is forced into a group that has no way out
        held = number[zero if label == group[zero] else members[0]]
        matrix[held] = 0.0
        matrix[held, held] = 1.0
        arriving[held] = 0.0
    volts = np.linalg.solve(matrix, arriving)
    return {node: float(volts[number[node]]) for node in nodes}, loose


def _groups(nodes: Sequence[str], parts: Sequence[Part], lines: Sequence[Line]) -> dict[str, str]:
    """Return for each node the name of its group: nodes that parts tie to each other."""
    group = {node: node for node in nodes}
    for part, line in zip(parts, lines, strict=True):
        if line.siemens:
            old, new = group[part.first], group[part.second]
            group = {node: new if label == old else label for node, label in group.items()}
    return group
