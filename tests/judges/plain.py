"""A circuit as its parts are described in a handbook: what amps each draws at given volts.

This is the judges' own reading of a network. It goes from the values of the parts straight to
current against voltage and knows nothing of the engine's branches, pieces or lines of severity;
faults and rigs are drawn in as they would be on the bench: a resistor in series, a wire across.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from circuits.engine import (
    AS_IT_STANDS,
    Battery,
    CanNode,
    Driver,
    DutyDriver,
    Fault,
    FaultKind,
    Generator,
    Network,
    Part,
    Phase,
    Potentiometer,
    Rig,
    RuleContact,
    Supply,
    Switch,
)
from tests.judges.elements import Curved, Fan, Filament, Joint, Moved, Piece, Straight
from tests.judges.plain_faults import PLACE_FAULTS, single_faults, weakened
from tests.judges.plain_parts import elements_of

# A fused jumper with its clips, and the volts of a lamp of light-emitting diodes: the same figures
# as in the engine, which has them from the trade.
BRIDGE_OHMS = 0.02
LED_VOLTS = 2.0

# The least slope at which a fan counts as turning.
TURNING_SIEMENS = 1e-4


@dataclass(frozen=True, slots=True)
class PlainCircuit:
    """A circuit in one phase, with faults and a rig drawn in.

    What no ohms part is `joined`: dead
    shorts, and wipers at the end of their track.
    """

    zero: str
    straight: tuple[Straight, ...]
    curved: tuple[Curved, ...]
    moved: tuple[Moved, ...]
    joined: tuple[tuple[str, str], ...] = ()

    @property
    def nodes(self) -> tuple[str, ...]:
        every = (*self.straight, *self.curved, *self.moved)
        ends = [node for element in every for node in (element.first, element.second)]
        ends += [node for pair in self.joined for node in pair]
        return tuple(dict.fromkeys([self.zero, *ends]))

    def with_resistor(self, name: str, first: str, second: str, ohms: float) -> "PlainCircuit":
        more = Straight(name, first, second, (1 / ohms,))
        return replace(self, straight=(*self.straight, more))

    def tied_nodes(self, pieces: Mapping[str, int], volts: Mapping[str, float]) -> set[str]:
        """Return the nodes from which a path leads to the zero node in these pieces.

        A fan that stands still draws nothing, whatever the volts behind it: it is a path only
        while it turns, which `volts` tell.
        """
        links = list(self.joined)
        for element in self.straight:
            if element.siemens_of_piece[pieces.get(element.name, 0)] > 0:
                links.append((element.first, element.second))
        links += [(c.first, c.second) for c in self.curved if _is_path(c, volts)]
        links += [(m.first, m.second) for m in self.moved if math.isfinite(m.ohms(pieces))]
        return reached_from(self.zero, links)

    def made_one(self, pieces: Mapping[str, int]) -> dict[str, str]:
        """Return for each node the one that stands for it and all that no ohms part from it."""
        links = list(self.joined)
        links += [(m.first, m.second) for m in self.moved if m.ohms(pieces) == 0]
        stands_for = {node: node for node in self.nodes}
        for first, second in links:
            keep, drop = stands_for[first], stands_for[second]
            if drop == self.zero:
                keep, drop = drop, keep
            stands_for = {node: keep if root == drop else root for node, root in stands_for.items()}
        return stands_for


def _is_path(element: Curved, volts: Mapping[str, float]) -> bool:
    if not isinstance(element, Fan):
        return True
    across = volts.get(element.first, 0.0) - volts.get(element.second, 0.0)
    return element.siemens(across) > TURNING_SIEMENS


def reached_from(start: str, links: Iterable[tuple[str, str]]) -> set[str]:
    neighbours: dict[str, list[str]] = {}
    for first, second in links:
        neighbours.setdefault(first, []).append(second)
        neighbours.setdefault(second, []).append(first)
    reached, trail = {start}, [start]
    while trail:
        for neighbour in neighbours.get(trail.pop(), []):
            if neighbour not in reached:
                reached.add(neighbour)
                trail.append(neighbour)
    return reached


# ------------------------------------------------------------------------------ drawing it


def plain_circuit(
    network: Network,
    phase: Phase,
    faults: Fault | Sequence[Fault] | None = None,
    *,
    rig: Rig = AS_IT_STANDS,
    lamp_leads: tuple[str, str] | None = None,
) -> PlainCircuit:
    """Draw a network in one phase, with faults at their severities and a reading's rig."""
    at_once = (faults,) if isinstance(faults, Fault) else tuple(faults or ())
    singles = tuple(single_faults(at_once))
    drawing = _Drawing()
    for drawn in network.parts_in(phase):
        if not _is_out(drawn, rig):
            part = drawing.rigged(drawn, rig)
            drawing.add_part(part, [f for f in singles if f.suspect.target == part.name])
    for fault in singles:
        if fault.suspect.kind in PLACE_FAULTS:
            drawing.put_path(*path_ends(network, fault), fault.severity)
    for red, black in rig.bridged:
        drawing.put_path(red, black, BRIDGE_OHMS, name=f"bridge {red} - {black}")
    if lamp_leads is not None:
        drawing.add(_lamps(rig, *lamp_leads))
    return PlainCircuit(
        network.zero,
        tuple(drawing.straight),
        tuple(drawing.curved),
        tuple(drawing.moved),
        tuple(drawing.joined),
    )


def path_ends(network: Network, fault: Fault) -> tuple[str, str]:
    """Return the two places that a path between places joins."""
    suspect = fault.suspect
    if suspect.kind is FaultKind.GROUND_SHORT:
        return suspect.target, network.body
    if suspect.kind is FaultKind.SUPPLY_SHORT:
        return suspect.target, network.supply
    if suspect.target.endswith(", moved"):
        # A return fitted to the battery's post: from where it comes to 0 V.
        wire = network.part(suspect.target.removesuffix(", moved"))
        return (wire.first if wire.second == network.body else wire.second), network.zero
    pin = network.part(suspect.target)
    return pin.first, network.part(pin.beside).first  # type: ignore[attr-defined]


def _is_out(part: Part, rig: Rig) -> bool:
    """Whether a part is unplugged, or gives or holds nothing while the power is removed."""
    dead = (Battery, Supply, Generator, Driver, DutyDriver, RuleContact)
    return part.name in rig.unplugged or (rig.power_removed and isinstance(part, dead))


def _lamps(rig: Rig, red: str, black: str) -> list[Piece]:
    found: list[Piece] = []
    if rig.lamp_watts is not None:
        amps = rig.lamp_watts / rig.lamp_volts
        found.append(Filament("test lamp", red, black, rig.lamp_volts, amps))
    if rig.led_amps is not None:
        on = rig.led_amps / (rig.lamp_volts - LED_VOLTS)
        found.append(
            Straight("LED lamp", red, black, (0.0, on), (0.0, -LED_VOLTS * on), (LED_VOLTS,))
        )
    return found


class _Drawing:
    """Collects elements, and what faults add to them."""

    def __init__(self) -> None:
        self.straight: list[Straight] = []
        self.curved: list[Curved] = []
        self.moved: list[Moved] = []
        self.joined: list[tuple[str, str]] = []
        self.added = 0

    def add(self, elements: Iterable[Piece]) -> None:
        for element in elements:
            match element:
                case Straight():
                    self.straight.append(element)
                case Moved():
                    self.moved.append(element)
                case Joint():
                    self.joined.append((element.first, element.second))
                case _:
                    self.curved.append(element)

    def rigged(self, part: Part, rig: Rig) -> Part:
        """Return a part with the power off or an ammeter before it."""
        if rig.power_removed and isinstance(part, CanNode):
            part = replace(part, bias_volts=0.0)
        if part.name == rig.ammeter_in:
            behind = f"{part.name} behind the ammeter"
            self.put_path(part.first, behind, rig.burden_ohms, name="ammeter")
            part = replace(part, first=behind)
        return part

    def add_part(self, part: Part, faults: Sequence[Fault]) -> None:
        outer = part
        for fault in faults:
            part = weakened(part, fault)
        for fault in faults:
            if fault.suspect.kind is FaultKind.RESISTANCE:
                part = self.put_in_series(part, fault.severity)
        elements = list(elements_of(part))
        for fault in faults:
            if fault.suspect.kind is FaultKind.BYPASS:
                elements = self.put_across(outer, elements, fault.severity)
        self.add(elements)

    def put_path(self, first: str, second: str, ohms: float, name: str = "") -> None:
        if ohms == 0:
            self.joined.append((first, second))
        elif math.isfinite(ohms):
            self.added += 1
            name = name or f"fault {self.added}"
            self.straight.append(Straight(name, first, second, (1 / ohms,)))

    def put_across(self, part: Part, elements: Sequence[Piece], ohms: float) -> list[Piece]:
        """Put a path across a part; across a switch or contact it shows only while that is open."""
        if any(isinstance(element, Moved) for element in elements):
            return [replace(e, open_ohms=ohms) if isinstance(e, Moved) else e for e in elements]
        if not (isinstance(part, Switch) and part.closed):
            self.put_path(part.first, part.second, ohms)
        return list(elements)

    def put_in_series(self, part: Part, ohms: float) -> Part:
        """Put ohms before a part; an open leaves the part hanging by its other ends.

        A track wears where its wiper slides: there the ohms are in the third end.
        """
        if ohms == 0:
            return part
        end = "third" if isinstance(part, Potentiometer) else "first"
        inner = f"{part.name} behind the fault"
        self.put_path(getattr(part, end), inner, ohms)
        return replace(part, **{end: inner})
