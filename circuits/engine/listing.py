"""Which single faults a circuit can have, made from its parts and places."""

import difflib
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from circuits.engine.errors import EngineError
from circuits.engine.faults import Fault, Suspect
from circuits.engine.network import Network
from circuits.engine.parts import (
    Absent,
    Connector,
    FaultKind,
    IdealCurrent,
    IdealSource,
    Part,
    Weakness,
    Wire,
)

# A signal that drifts as much in every phase goes as far as the phase with the least room, but
# this far at least; where there is less, it ends at the rail.
LEAST_ROOM = 0.05


class UnknownSuspect(EngineError):
    """A claim names a fault that this circuit cannot have."""

    def __init__(self, suspect_id: str, nearest: tuple[str, ...]) -> None:
        self.suspect_id = suspect_id
        self.nearest = nearest
        hint = f"; did you mean {' or '.join(nearest)}?" if nearest else ""
        super().__init__(f"'{suspect_id}' is not a fault this circuit can have{hint}")

    @classmethod
    def among(cls, suspect_id: str, known: Iterable[str]) -> "UnknownSuspect":
        return cls(suspect_id, tuple(difflib.get_close_matches(suspect_id, known, n=3)))


def suspects(network: Network) -> tuple[Suspect, ...]:
    """Return every single fault that this circuit can have, in the order of its parts.

    >>> from circuits.engine import Battery, Network, Resistor, suspects
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.6, internal_ohms=0.001),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.05),
    ...     Resistor(name="H1", first="in", second="minus", ohms=6.0),
    ... ))
    >>> [each.id for each in suspects(lamp) if each.target == "in"]
    ['ground-short:in', 'supply-short:in']
    """
    found: list[Suspect] = []
    for part in network.parts:
        found.extend(_part_suspects(part, network))
    supplied = {network.zero, network.supply}
    for node in network.nodes:
        if node in supplied:
            continue
        if node != network.body:
            found.append(Suspect(kind=FaultKind.GROUND_SHORT, target=node, target_words="place"))
        found.append(Suspect(kind=FaultKind.SUPPLY_SHORT, target=node, target_words="place"))
    found.extend(_neighbour_suspects(network))
    found.extend(_return_suspects(network))
    found.extend(_named_suspects(network, found))
    return tuple(found)


def find_suspect(network: Network, suspect_id: str) -> Suspect:
    """Return the suspect with this id, `kind:part` or `kind:place`.

    Raises
    ------
    UnknownSuspect
        The circuit cannot have that fault; the error names the nearest ones it can.

    Examples
    --------
    >>> from circuits.engine import IdealSource, Network, Resistor, UnknownSuspect, find_suspect
    >>> lamp = Network(zero="minus", parts=(
    ...     IdealSource(name="B1", first="plus", second="minus", volts=12.0),
    ...     Resistor(name="H1", first="plus", second="minus", ohms=6.0),
    ... ))
    >>> find_suspect(lamp, "resistance:H1").describe(2.0)
    'H1: 2 Ohm added resistance'
    >>> try:
    ...     find_suspect(lamp, "resistance:H2")
    ... except UnknownSuspect as error:
    ...     print(error.nearest[0])
    resistance:H1
    """
    by_id = {suspect.id: suspect for suspect in suspects(network)}
    if suspect_id not in by_id:
        raise UnknownSuspect.among(suspect_id, by_id)
    return by_id[suspect_id]


def _part_suspects(part: Part, network: Network) -> Iterator[Suspect]:
    if isinstance(part, IdealSource | IdealCurrent | Absent):
        return
    plain = Suspect(
        kind=FaultKind.RESISTANCE,
        target=part.name,
        target_words=part.words,
        bypass_words=part.bypass_words,
    )
    if part.can_be_opened:
        yield plain
    if part.can_be_bypassed:
        yield replace(plain, kind=FaultKind.BYPASS)
    for kind, (weakness, most) in _weaknesses(part, network).items():
        yield replace(
            plain,
            kind=kind,
            most=most,
            least=weakness.least_severe,
            unit=weakness.unit,
            graded=weakness.graded,
            value_words=weakness.words,
            share_of=weakness.share_of,
        )


def _weaknesses(part: Part, network: Network) -> dict[FaultKind, tuple[Weakness, float]]:
    """Return what can slacken or grow in a part, and how badly."""
    found: dict[FaultKind, list[tuple[float, Weakness]]] = {}
    for state in (part, *(phase.changes.get(part.name, part) for phase in network.phases)):
        for weakness in state.weaknesses():
            most = weakness.most_severe or abs(weakness.worst_change)
            found.setdefault(weakness.kind, []).append((most, weakness))
    worst = {}
    for kind, each in found.items():
        most, weakness = max(each, key=lambda pair: pair[0])
        if weakness.within_room and most:
            most = max(min(room for room, _ in each), min(LEAST_ROOM, most))
        if most:
            worst[kind] = weakness, most
    return worst


def _neighbour_suspects(network: Network) -> Iterator[Suspect]:
    """Yield a path between the first ends of two pins that sit side by side."""
    for part in network.parts:
        if not (isinstance(part, Connector) and part.beside):
            continue
        joined = part.first, network.part(part.beside).first
        if joined[0] != joined[1]:
            yield Suspect(
                kind=FaultKind.NEIGHBOUR_SHORT,
                target=part.name,
                target_words=part.words,
                value_words=part.beside,
                joined=joined,
            )


def _return_suspects(network: Network) -> Iterator[Suspect]:
    """Yield the returns that somebody may have fitted to the battery's post, not to the body.

    What flows there goes round a sensor at the post, and round the body's strap.
    """
    if network.body == network.zero:
        return
    for part in network.parts:
        if not isinstance(part, Wire) or network.body not in part.ends:
            continue
        other = part.first if part.second == network.body else part.second
        if other == network.zero:
            continue
        plain = Suspect(kind=FaultKind.RESISTANCE, target=part.name, target_words=part.words)
        way = replace(
            plain,
            kind=FaultKind.NEIGHBOUR_SHORT,
            target=f"{part.name}, moved",
            joined=(other, network.zero),
        )
        yield replace(
            plain,
            kind=FaultKind.RETURN_ELSEWHERE,
            most=1.0,
            unit="%",
            graded=False,
            value_words=f"{network.zero} instead of {network.body}",
            members=(
                Fault(suspect=plain, severity=math.inf),
                Fault(suspect=way, severity=part.ohms),
            ),
        )


def _named_suspects(network: Network, listed: Sequence[Suspect]) -> Iterator[Suspect]:
    """Yield the compound faults that the circuit names."""
    by_id = {suspect.id: suspect for suspect in listed}
    for compound in network.compounds:
        for suspect_id, _ in compound.faults:
            if suspect_id not in by_id:
                raise UnknownSuspect.among(suspect_id, by_id)
        yield Suspect(
            kind=FaultKind.NAMED,
            target=compound.name,
            target_words=compound.words,
            most=1.0,
            unit="%",
            share_of="of it",
            members=tuple(
                single
                for suspect_id, severity in compound.faults
                for single in _singles(Fault(suspect=by_id[suspect_id], severity=severity))
            ),
        )


def _singles(fault: Fault) -> tuple[Fault, ...]:
    """Return the faults that one is made of, or itself."""
    return fault.suspect.members_at(fault.severity) or (fault,)
