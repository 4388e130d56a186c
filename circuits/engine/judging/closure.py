"""Whether readings close: drops around a loop make nothing, currents into a node make nothing.

Kirchhoff's laws hold whatever is broken, so a reading that does not close with others of the same
phase and rig was misread, misplaced, or taken in another state. No circuit is solved for it.
"""

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from circuits.engine.instruments import reading_bound
from circuits.engine.network import Network
from circuits.engine.readings import Bound, Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """What other readings leave for one: `value` give or take `reach`, in volts or amps.

    `signed` are the numbers of those readings, each with the sign that it counts with.
    """

    value: float
    reach: float
    signed: tuple[tuple[int, int], ...]

    def closes(self, reading: Reading) -> bool:
        """Return whether a reading agrees, as far as the meters allow."""
        return abs(reading.value - self.value) <= self.reach + reading_bound(reading)


def closure_of(network: Network, readings: Sequence[Reading], number: int) -> Closure | None:
    """Return what the other readings leave for one of them, or None where they do not say.

    Volts close around a loop of places; amps close at a node all of whose parts were clamped.
    Meters may be off all one way at once: their bounds add.

    Examples
    --------
    Of 12.4 V at the battery, 5.5 V are lost on the way and 0.1 V on the way back:

    >>> from circuits.engine import Battery, Network, Place, Reading, Resistor, closure_of
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.6, internal_ohms=0.001),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.05),
    ...     Resistor(name="H1", first="in", second="out", ohms=6.0),
    ...     Resistor(name="W2", first="out", second="minus", ohms=0.05),
    ... ))
    >>> def read(red, black, volts):
    ...     place = Place(key=red + black, red=red, black=black)
    ...     return Reading(place=place, phase="as drawn", value=volts, step=0.01)
    >>> taken = [read("plus", "minus", 12.4), read("plus", "in", 5.5), read("out", "minus", 0.1),
    ...          read("in", "out", 7.9)]
    >>> left = closure_of(lamp, taken, 3)
    >>> round(left.value, 2), left.closes(taken[3])
    (6.8, False)
    """
    doubted = readings[number]
    if doubted.place.reads_ohms or doubted.bound is not Bound.EXACT:
        return None
    others = {
        other: reading
        for other, reading in enumerate(readings)
        if other != number
        and reading.phase == doubted.phase
        and reading.rig == doubted.rig
        and not reading.place.reads_ohms
        and reading.bound is Bound.EXACT
    }
    signed = _node(network, others, doubted) if doubted.place.through else _loop(others, doubted)
    if not signed:
        return None
    return Closure(
        value=sum(sign * others[other].value for other, sign in signed),
        reach=sum(reading_bound(others[other]) for other, _ in signed),
        signed=signed,
    )


def _loop(others: Mapping[int, Reading], doubted: Reading) -> tuple[tuple[int, int], ...]:
    """Return the shortest chain of readings from the red lead to the black one."""
    links: dict[str, list[tuple[str, int, int]]] = {}
    for number, reading in others.items():
        if reading.place.through:
            continue
        red, black = reading.place.red, reading.place.black
        links.setdefault(red, []).append((black, number, 1))
        links.setdefault(black, []).append((red, number, -1))
    start, goal = doubted.place.red, doubted.place.black
    came: dict[str, tuple[str, int, int]] = {}
    waiting = deque([start])
    while waiting and goal not in came:
        node = waiting.popleft()
        for after, number, sign in links.get(node, []):
            if after != start and after not in came:
                came[after] = (node, number, sign)
                waiting.append(after)
    if goal not in came:
        return ()
    chain = []
    node = goal
    while node != start:
        node, number, sign = came[node]
        chain.append((number, sign))
    return tuple(reversed(chain))


def _node(
    network: Network, others: Mapping[int, Reading], doubted: Reading
) -> tuple[tuple[int, int], ...]:
    """Return the clamped parts at an end of the doubted one, where all of them were clamped."""
    clamped = {
        reading.place.through: (number, -1 if reading.place.reversed_clamp else 1)
        for number, reading in others.items()
        if reading.place.through
    }
    own = network.part(doubted.place.through)
    turned = -1 if doubted.place.reversed_clamp else 1
    for end, leaves in ((own.first, 1), (own.second, -1)):
        parts = [
            part
            for part in network.parts
            if part.name != own.name and end in (part.first, part.second)
        ]
        if not parts or not all(part.name in clamped for part in parts):
            continue
        # Amps run from a part's first end to its second; what comes in at a node goes out again.
        return tuple(
            (number, -leaves * turned * sign * (1 if part.first == end else -1))
            for part in parts
            for number, sign in (clamped[part.name],)
        )
    return ()
