"""Who feeds what: how far a source reaches through closed metal, and what limits its current."""

import heapq
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import count

from circuits.engine import (
    Battery,
    Connector,
    Contact,
    Fuse,
    Generator,
    Ground,
    Part,
    Resistor,
    RuleContact,
    Selector,
    Splice,
    Supply,
    Switch,
    Wire,
)

# A resistor this low is a piece of the conductor: a shunt, not a load. Common practice, no source.
SHUNT_OHMS = 0.05
METAL = (Wire, Fuse, Connector, Splice, Ground)
SOURCES = (Battery, Supply, Generator)


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """The most amps that can last at a node, and what limits them: a fuse or the source."""

    amps: float
    limited_by: str
    is_fused: bool


def conducts(part: Part, contacts: Mapping[str, bool]) -> bool:
    """Return whether a part, as it is in a phase, is closed metal from end to end."""
    match part:
        case Wire() | Fuse() | Connector() | Splice() | Ground():
            return True
        case Switch():
            return part.closed
        case Contact() | RuleContact():
            return contacts.get(part.name, False)
    return is_shunt(part)


def is_shunt(part: Part) -> bool:
    """Return whether a resistance is so low that it is metal rather than a load."""
    return isinstance(part, Resistor | Selector) and part.ohms <= SHUNT_OHMS


def feeds(parts: tuple[Part, ...], contacts: Mapping[str, bool]) -> dict[str, Feed]:
    """Return for each node that a source reaches through closed metal how strongly it is fed.

    Of several ways the strongest counts: a short is fed by all of them.
    """
    reached: dict[str, Feed] = {}
    # The number in the middle tells equal amps apart; feeds have no order of their own.
    numbers = count()
    waiting = [(-feed.amps, next(numbers), node, feed) for node, feed in _starts(parts)]
    neighbours = _neighbours(parts, contacts)
    heapq.heapify(waiting)
    while waiting:
        _, _, node, feed = heapq.heappop(waiting)
        if node in reached:
            continue
        reached[node] = feed
        for part, other in neighbours.get(node, ()):
            onward = feed
            if isinstance(part, Fuse) and part.rated_amps < feed.amps:
                onward = Feed(amps=part.rated_amps, limited_by=part.name, is_fused=True)
            if other not in reached:
                heapq.heappush(waiting, (-onward.amps, next(numbers), other, onward))
    return reached


def joined_to(node: str, parts: tuple[Part, ...], contacts: Mapping[str, bool]) -> set[str]:
    """Return the nodes that closed metal joins to a node."""
    neighbours = _neighbours(parts, contacts)
    joined, waiting = {node}, [node]
    while waiting:
        for _, other in neighbours.get(waiting.pop(), ()):
            if other not in joined:
                joined.add(other)
                waiting.append(other)
    return joined


def _neighbours(
    parts: tuple[Part, ...], contacts: Mapping[str, bool]
) -> dict[str, list[tuple[Part, str]]]:
    neighbours: dict[str, list[tuple[Part, str]]] = {}
    for part in parts:
        if conducts(part, contacts):
            neighbours.setdefault(part.first, []).append((part, part.second))
            neighbours.setdefault(part.second, []).append((part, part.first))
    return neighbours


def _starts(parts: tuple[Part, ...]) -> Iterator[tuple[str, Feed]]:
    for part in parts:
        if isinstance(part, SOURCES):
            yield part.first, Feed(amps=_short_amps(part), limited_by=part.name, is_fused=False)


def _short_amps(source: Part) -> float:
    """Return what a source drives into a dead short."""
    match source:
        case Battery():
            return source.open_circuit_volts / source.internal_ohms
        case Supply():
            return abs(source.volts) / source.internal_ohms
        case Generator():
            return source.max_amps
    return math.inf
