"""Places by what they touch, so that a case of another make can be compared.

Wires, joints, splices and fuses are one with what they join; what is left around a lead are the
parts that do something. A place between the pump's plus and zero is, in every make, one that
touches a motor and a contact on its red side and a motor and a source on its black one. Its size
is a share of the supply, so that 24 V answers 12 V in proportion and in no other way.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from cases.circuit import CIRCUITS_KEPT, CaseCircuit
from cases.judging.lines import BOUNDS
from cases.search.compared import Compared
from circuits.engine import Connector, Fuse, Ground, Network, Place, Splice, Wire
from circuits.units import base_unit

JOINTS = (Wire, Connector, Splice, Ground, Fuse)
#: One step of size is one percent of the supply, or of the healthy current.
ONE_PERCENT = 0.01
# Of currents that ought to be nothing, this is what a percent is taken of.
LEAST_AMPS = 1.0
ROLES_KEPT = 10_000


@dataclass(frozen=True, slots=True)
class RoleReading:
    """One reading by the role of its place; `number` is its number in the verdict."""

    role: str
    size: float
    number: int


def role_readings(circuit: CaseCircuit, compared: Iterable[Compared]) -> list[RoleReading]:
    """Return the readings before the repair that were taken as the circuit stands, by role."""
    found: dict[str, RoleReading] = {}
    for reading in compared:
        if reading.rig.key or reading.statistic in BOUNDS:
            continue
        role = _role_at(circuit, reading.place, reading.phase)
        if role is None:
            continue
        whole = (
            float(circuit.sheet.vehicle.supply_volts)
            if role.in_volts
            else max(abs(reading.predicted), LEAST_AMPS)
        )
        percent = (reading.value - reading.predicted) / (whole * ONE_PERCENT)
        if math.isfinite(percent):
            size = math.copysign(math.log2(1 + abs(percent)), percent)
            found[role.text] = RoleReading(role.text, size, reading.number)
    return list(found.values())


@dataclass(frozen=True, slots=True)
class _Role:
    """The role of a place in a phase."""

    text: str
    in_volts: bool


@lru_cache(maxsize=ROLES_KEPT)
def _role_at(circuit: CaseCircuit, key: str, phase: str) -> _Role | None:
    """Return the role of a place; None where ohms are read, or nothing can be predicted."""
    place, entry = circuit.place_at(key), circuit.entry_at(key)
    if place is None or entry is None or place.reads_ohms:
        return None
    unit = base_unit(entry.unit)
    where = _role_of(circuit.network, _touching(circuit), place)
    return _Role(f"{where}|{circuit.key_state(phase).value}|{unit}", unit == "V")


def _role_of(network: Network, touching: Mapping[str, str], place: Place) -> str:
    """Return what a place is by what its leads touch."""
    if place.through:
        part = network.part(place.through)
        ends = sorted(touching[end] for end in (part.first, part.second))
        return f"amps {type(part).__name__} {' - '.join(ends)}"
    red, black = touching[place.red], touching[place.black]
    return f"{red} > {black}" if red != black else f"along {red}"


@lru_cache(maxsize=CIRCUITS_KEPT)
def _touching(circuit: CaseCircuit) -> Mapping[str, str]:
    """Return for each node the kinds of parts around it, joints not counted."""
    network = circuit.network
    leader = {node: node for node in network.nodes}

    def found(node: str) -> str:
        while leader[node] != node:
            leader[node] = leader[leader[node]]
            node = leader[node]
        return node

    for part in network.parts:
        if isinstance(part, JOINTS):
            leader[found(part.first)] = found(part.second)
    kinds: dict[str, set[str]] = {}
    for part in network.parts:
        if not isinstance(part, JOINTS):
            for end in (part.first, part.second):
                kinds.setdefault(found(end), set()).add(type(part).__name__)
    return {node: "+".join(sorted(kinds.get(found(node), ()))) for node in leader}
