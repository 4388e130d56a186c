"""What several fault codes share: the supply, fuse, splice, ground or bus that all of them hang on.

A code hangs on the ways of the pins that its set condition looks at; where it has none, on those
of its module, if the sheet knows that by name. One cause upstream sets several codes at once, so
what all of them share is where to look before any one part is.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from circuits.codes.conditions import looked_at
from circuits.paths import SOURCES, whole_ways
from circuits.sheet import CodeEntry, ConnectionKind, PartEntry, Sheet

BUS_KINDS = frozenset({"can", "lin"})
_NET_KINDS = frozenset({"wire", "connector", "splice"})
#: The order in which shared things are told: where one fault does most harm comes first.
KINDS = ("supply", "fuse", "splice", "ground", "bus", "connector", "wire")


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedThing:
    """A part or connection that several codes hang on; `targets` are the names its faults go by."""

    kind: str
    name: str
    words: str
    targets: frozenset[str]


def pins_of_code(sheet: Sheet, entry: CodeEntry | None, module: str) -> frozenset[str]:
    """Return the connections that a code is about; none where the sheet does not say it."""
    pins: set[str] = set()
    for condition in entry.conditions if entry is not None else ():
        place = looked_at(sheet, condition.test)
        part = next((each for each in sheet.parts if each.name == place.through), None)
        pins.update(part.ends if part is not None else (place.red, place.black))
    return frozenset(pins - {""}) or _pins_of_module(sheet, module)


def shared_by(sheet: Sheet, pins: Mapping[str, frozenset[str]]) -> tuple[SharedThing, ...]:
    """Return what all codes hang on, by their pins; empty for fewer than two that name any."""
    named = [each for each in pins.values() if each]
    if len(named) < 2:
        return ()
    ways = [whole_ways(sheet, each) for each in named]
    parts = frozenset.intersection(*(way.parts for way in ways))
    nodes = frozenset.intersection(*(way.nodes for way in ways))
    sources = frozenset.intersection(*(way.sources for way in ways))
    buses = frozenset.intersection(*(frozenset(_buses(sheet, each)) for each in named))
    found = [
        *_shared_parts(sheet, parts, sources),
        *_shared_nodes(sheet, nodes),
        *(_bus(sheet, net) for net in buses),
    ]
    return tuple(sorted(found, key=lambda thing: (KINDS.index(thing.kind), thing.name)))


def _shared_parts(
    sheet: Sheet, parts: frozenset[str], sources: frozenset[str]
) -> Iterator[SharedThing]:
    for part in sheet.parts:
        if part.name in sources:
            yield SharedThing(
                kind="supply",
                name=part.name,
                words=f"{part.kind} at {_label(sheet, part.first)}",
                targets=frozenset({part.name, part.first}),
            )
        elif part.name in parts and part.kind in KINDS and part.kind not in SOURCES:
            ends = f"{_label(sheet, part.first)} to {_label(sheet, part.second)}"
            yield SharedThing(
                kind=part.kind, name=part.name, words=ends, targets=frozenset({part.name})
            )


def _shared_nodes(sheet: Sheet, nodes: frozenset[str]) -> Iterator[SharedThing]:
    for each in sheet.connections:
        joins = each.kind in (ConnectionKind.SPLICE, ConnectionKind.GROUND)
        if joins and each.node in nodes:
            yield SharedThing(
                kind=each.kind.value,
                name=each.node,
                words=each.label,
                targets=frozenset({each.node}),
            )


def _pins_of_module(sheet: Sheet, module: str) -> frozenset[str]:
    """Return the pins of a module that the sheet knows by what stands before . or / or a comma."""
    wanted = module.strip().casefold()
    if not wanted:
        return frozenset()
    pins = {
        each.node
        for each in sheet.connections
        if wanted in (_before(each.node, "./").casefold(), _before(each.label, ",").casefold())
        and each.kind is ConnectionKind.PIN
    }
    for part in sheet.parts:
        if _before(part.name, "./").casefold() == wanted:
            pins.update(part.ends)
    return frozenset(pins)


def _before(text: str, marks: str) -> str:
    for mark in marks:
        text = text.partition(mark)[0]
    return text.strip()


def _buses(sheet: Sheet, pins: frozenset[str]) -> Iterator[frozenset[str]]:
    """Yield the bus wires that some pins are on, each as all connections that it joins."""
    for part in sheet.parts:
        if part.kind in BUS_KINDS:
            for node in _bus_ends(part):
                net = _net(sheet, node)
                if net & pins:
                    yield net


def _bus_ends(part: PartEntry) -> tuple[str, ...]:
    """Return the ends of a node that are on the bus: a single wire has one, a pair has two."""
    return (part.first, part.second) if part.kind == "can" else (part.first,)


def _net(sheet: Sheet, start: str) -> frozenset[str]:
    """Return the connections that lie on the same wire, through plugs and splices."""
    reached, waiting = {start}, [start]
    while waiting:
        node = waiting.pop()
        for part in sheet.parts:
            if part.kind in _NET_KINDS and node in part.ends:
                fresh = set(part.ends) - reached
                reached |= fresh
                waiting += fresh
    return frozenset(reached)


def _bus(sheet: Sheet, net: frozenset[str]) -> SharedThing:
    named = [each for each in sheet.connections if each.node in net]
    splices = [each for each in named if each.kind is ConnectionKind.SPLICE]
    first = (splices or named)[0]
    parts = {part.name for part in sheet.parts if set(part.ends) <= net}
    return SharedThing(
        kind="bus", name=first.node, words=first.label, targets=frozenset(net | parts)
    )


def _label(sheet: Sheet, node: str) -> str:
    label = next((each.label for each in sheet.connections if each.node == node), "")
    return f"{node} ({label})" if label else node
