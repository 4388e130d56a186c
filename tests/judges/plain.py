"""A circuit as its parts are described in a handbook: what amps each draws at given volts.

This is the judges' own reading of a network. It goes from the values of the parts straight to
current against voltage and knows nothing of the engine's branches, pieces or lines of severity;
faults and rigs are drawn in as they would be on the bench: a resistor in series, a wire across.

Amps count from the first end to the second. Bends are counted: an element that has passed two of
its bends is in piece 2 (the engine numbers its pieces the same way, and the tests rely on it).
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from circuits.engine import (
    AS_IT_STANDS,
    Absent,
    Battery,
    Coil,
    Contact,
    CurrentLoad,
    Diode,
    FanMotor,
    Fault,
    FaultKind,
    Generator,
    Lamp,
    Motor,
    Network,
    Part,
    Phase,
    PowerLoad,
    Resistor,
    Rig,
    RuleContact,
    Supply,
    Switch,
)

Floats = NDArray[np.float64]

# A generator has three: at its limit, regulating, off.
MOST_PIECES = 3

# The same figures as in the engine, which has them from the trade: a fused jumper with its clips,
# the volts at which electronics let go, and the tungsten filament (cold a twelfth of hot,
# exponent 0.55).
BRIDGE_OHMS = 0.02
COLLAPSE_VOLTS = 1.0
FILAMENT_EXPONENT = 0.55
FILAMENT_COLD_FRACTION = 1 / 12
COPPER_PER_KELVIN = 0.00393

# The least slope at which a fan counts as turning.
TURNING_SIEMENS = 1e-4


class Element(Protocol):
    """Two ends, and amps that follow from the volts between them."""

    name: str
    first: str
    second: str

    def amps(self, volts: float) -> float: ...

    def siemens(self, volts: float) -> float: ...


@dataclass(frozen=True, slots=True)
class Straight:
    """Straight from bend to bend: in piece k the amps are siemens[k] * volts + amps_at_zero[k]."""

    name: str
    first: str
    second: str
    siemens_of_piece: tuple[float, ...]
    amps_at_zero: tuple[float, ...] = (0.0,)
    bend_volts: tuple[float, ...] = ()

    def piece(self, volts: float) -> int:
        return sum(volts > bend for bend in self.bend_volts)

    def amps(self, volts: float) -> float:
        piece = self.piece(volts)
        return self.siemens_of_piece[piece] * volts + self.amps_at_zero[piece]

    def siemens(self, volts: float) -> float:
        return self.siemens_of_piece[self.piece(volts)]

    def laid_out(self) -> tuple[Floats, Floats, Floats]:
        """Return siemens and amps by piece, the last repeated, and bends, padded with infinity."""
        last = len(self.siemens_of_piece) - 1
        pieces = [min(piece, last) for piece in range(MOST_PIECES)]
        amps = (*self.amps_at_zero, *[self.amps_at_zero[-1]] * MOST_PIECES)
        bends = (*self.bend_volts, *[math.inf] * MOST_PIECES)
        return (
            np.array([self.siemens_of_piece[piece] for piece in pieces]),
            np.array([amps[piece] for piece in pieces]),
            np.array(bends[: MOST_PIECES - 1]),
        )


@dataclass(frozen=True, slots=True)
class Filament:
    """I0 (v / v0) ** 0.55, and a plain cold resistance where that draws less."""

    name: str
    first: str
    second: str
    rated_volts: float
    rated_amps: float

    @property
    def cold_siemens(self) -> float:
        return self.rated_amps / self.rated_volts / FILAMENT_COLD_FRACTION

    @property
    def cold_volts(self) -> float:
        return self.rated_volts * FILAMENT_COLD_FRACTION ** (1 / (1 - FILAMENT_EXPONENT))

    def amps(self, volts: float) -> float:
        size = abs(volts)
        if size <= self.cold_volts:
            return self.cold_siemens * volts
        hot = self.rated_amps * (size / self.rated_volts) ** FILAMENT_EXPONENT
        return math.copysign(hot, volts)

    def siemens(self, volts: float) -> float:
        if abs(volts) <= self.cold_volts:
            return self.cold_siemens
        return FILAMENT_EXPONENT * self.amps(volts) / volts


@dataclass(frozen=True, slots=True)
class TakesPower:
    """P / v up to a limit; below a volt it has let go and draws like a resistor."""

    name: str
    first: str
    second: str
    watts: float
    max_amps: float

    @property
    def collapsed_siemens(self) -> float:
        return min(self.watts / COLLAPSE_VOLTS, self.max_amps) / COLLAPSE_VOLTS

    def amps(self, volts: float) -> float:
        if volts < COLLAPSE_VOLTS:
            return self.collapsed_siemens * volts
        return min(self.watts / volts, self.max_amps)

    def siemens(self, volts: float) -> float:
        if volts < COLLAPSE_VOLTS:
            return self.collapsed_siemens
        return -self.watts / volts**2 if self.watts / volts < self.max_amps else 0.0


@dataclass(frozen=True, slots=True)
class Fan:
    """A driven fan: d V = R I + k w, the winding's I = c w**2, and d I is drawn from the supply."""

    name: str
    first: str
    second: str
    winding_ohms: float
    back_volts: float
    rated_amps: float
    drive_fraction: float

    def speed(self, volts: float) -> float:
        seen = self.drive_fraction * max(volts, 0.0)
        # The root of R c w**2 + k w - d V that is not below zero, written so as to lose no digits.
        root = math.sqrt(self.back_volts**2 + 4 * self.winding_ohms * self.rated_amps * seen)
        return 2 * seen / (self.back_volts + root)

    def amps(self, volts: float) -> float:
        return self.drive_fraction * self.rated_amps * self.speed(volts) ** 2

    def siemens(self, volts: float) -> float:
        if volts <= 0:
            return 0.0
        speed = self.speed(volts)
        per_volt = self.drive_fraction / (
            self.back_volts + 2 * self.winding_ohms * self.rated_amps * speed
        )
        return 2 * self.drive_fraction * self.rated_amps * speed * per_volt


Curved = Filament | TakesPower | Fan


@dataclass(frozen=True, slots=True)
class Moved:
    """A contact that is made or not, by the amps of windings or the volts between two pins.

    It has *passed* once the watched quantity went above `rising` and until it goes below
    `falling`; passed means made, or open for a contact that is closed at rest. What has welded or
    leaks across it (`open_ohms`) shows only while it should be open.
    """

    name: str
    first: str
    second: str
    made_ohms: float
    rising: float
    falling: float
    made_when_passed: bool
    windings: tuple[str, ...] = ()
    red: str = ""
    black: str = ""
    open_ohms: float = math.inf

    def is_made(self, pieces: Mapping[str, int]) -> bool:
        return (pieces[self.name] > 0) == self.made_when_passed

    def ohms(self, pieces: Mapping[str, int]) -> float:
        return self.made_ohms if self.is_made(pieces) else self.open_ohms


@dataclass(frozen=True, slots=True)
class PlainCircuit:
    """A circuit in one phase, with a fault and a rig drawn in. `short` is a dead short, if any."""

    zero: str
    straight: tuple[Straight, ...]
    curved: tuple[Curved, ...]
    moved: tuple[Moved, ...]
    short: tuple[str, str] | None = None

    @property
    def nodes(self) -> tuple[str, ...]:
        every = (*self.straight, *self.curved, *self.moved)
        ends = [node for element in every for node in (element.first, element.second)]
        ends += self.short or ()
        return tuple(dict.fromkeys([self.zero, *ends]))

    def with_resistor(self, name: str, first: str, second: str, ohms: float) -> "PlainCircuit":
        more = Straight(name, first, second, (1 / ohms,))
        return replace(self, straight=(*self.straight, more))

    def tied_nodes(self, pieces: Mapping[str, int], volts: Mapping[str, float]) -> set[str]:
        """Return the nodes from which a path leads to the zero node in these pieces.

        A fan that stands still draws nothing, whatever the volts behind it: it is a path only
        while it turns, which `volts` tell.
        """
        links = [self.short] if self.short else []
        for element in self.straight:
            if element.siemens_of_piece[pieces.get(element.name, 0)] > 0:
                links.append((element.first, element.second))
        links += [(c.first, c.second) for c in self.curved if _is_path(c, volts)]
        links += [(m.first, m.second) for m in self.moved if math.isfinite(m.ohms(pieces))]
        return reached_from(self.zero, links)

    def made_one(self, pieces: Mapping[str, int]) -> dict[str, str]:
        """Return for each node the one that stands for it and all that no ohms part from it."""
        links = [self.short] if self.short else []
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
    fault: Fault | None = None,
    *,
    rig: Rig = AS_IT_STANDS,
    lamp_leads: tuple[str, str] | None = None,
) -> PlainCircuit:
    """Draw a network in one phase, with a fault at its severity and a reading's rig."""
    drawing = _Drawing()
    for drawn in network.parts_in(phase):
        if drawn.name in rig.unplugged:
            continue
        part = drawn
        faulty = fault is not None and fault.suspect.target == part.name
        if fault is not None and faulty:
            part = _weakened(part, fault)
            if fault.suspect.kind is FaultKind.RESISTANCE:
                part = drawing.put_in_series(part, fault.severity)
        elements = list(_elements(part))
        if fault is not None and faulty and fault.suspect.kind is FaultKind.BYPASS:
            elements = drawing.put_across(part, elements, fault.severity)
        drawing.add(elements)
    if fault is not None and fault.suspect.kind is FaultKind.GROUND_SHORT:
        drawing.put_path(fault.suspect.target, network.body, fault.severity)
    if fault is not None and fault.suspect.kind is FaultKind.SUPPLY_SHORT:
        drawing.put_path(fault.suspect.target, network.supply, fault.severity)
    for red, black in rig.bridged:
        drawing.put_path(red, black, BRIDGE_OHMS, name=f"bridge {red} - {black}")
    if rig.lamp_watts is not None and lamp_leads is not None:
        red, black = lamp_leads
        drawing.add([Filament("test lamp", red, black, 12.0, rig.lamp_watts / 12.0)])
    return PlainCircuit(
        network.zero,
        tuple(drawing.straight),
        tuple(drawing.curved),
        tuple(drawing.moved),
        drawing.short,
    )


class _Drawing:
    """Collects elements, and what a fault adds to them."""

    def __init__(self) -> None:
        self.straight: list[Straight] = []
        self.curved: list[Curved] = []
        self.moved: list[Moved] = []
        self.short: tuple[str, str] | None = None

    def add(self, elements: Iterable[Straight | Curved | Moved]) -> None:
        for element in elements:
            if isinstance(element, Straight):
                self.straight.append(element)
            elif isinstance(element, Moved):
                self.moved.append(element)
            else:
                self.curved.append(element)

    def put_path(self, first: str, second: str, ohms: float, name: str = "fault") -> None:
        if ohms == 0:
            self.short = (first, second)
        elif math.isfinite(ohms):
            self.straight.append(Straight(name, first, second, (1 / ohms,)))

    def put_across(
        self, part: Part, elements: Sequence[Straight | Curved | Moved], ohms: float
    ) -> list[Straight | Curved | Moved]:
        """Put a path across a part; across a switch or contact it shows only while that is open."""
        moved = [element for element in elements if isinstance(element, Moved)]
        if moved:
            return [replace(contact, open_ohms=ohms) for contact in moved]
        if not (isinstance(part, Switch) and part.closed):
            self.put_path(part.first, part.second, ohms)
        return list(elements)

    def put_in_series(self, part: Part, ohms: float) -> Part:
        """Put ohms before a part; an open leaves the part hanging by its second end."""
        if ohms == 0:
            return part
        inner = f"{part.name} behind the fault"
        if math.isfinite(ohms):
            self.straight.append(Straight("fault", part.first, inner, (1 / ohms,)))
        return replace(part, first=inner)


#: What the fault changes: a value by the severity, or by that share of the value.
_MOVED_VALUES = {
    (Battery, FaultKind.LOW_VOLTS): ("open_circuit_volts", -1),
    (Generator, FaultKind.LOW_VOLTS): ("volts", -1),
    (Generator, FaultKind.LIMITED): ("max_amps", -1),
    (Motor, FaultKind.DRAGS): ("base_amps", 1),
    (FanMotor, FaultKind.DRAGS): ("rated_amps", 1),
    (CurrentLoad, FaultKind.DRAWS_MORE): ("amps", 1),
    (Lamp, FaultKind.WRONG_HIGH): ("rated_watts", 1),
    (Lamp, FaultKind.WRONG_LOW): ("rated_watts", -1),
}
_MOVED_SHARES = {
    (Resistor, FaultKind.WRONG_HIGH): ("ohms", 1),
    (Resistor, FaultKind.WRONG_LOW): ("ohms", -1),
    (Generator, FaultKind.LOST_PHASE): ("max_amps", -1),
    # A million times the torque of its rated point: as good as a resistance.
    (FanMotor, FaultKind.SEIZED): ("rated_amps", 1e6),
}


def _weakened(part: Part, fault: Fault) -> Part:
    """Move the value that the fault moves; nothing gives less than nothing.

    A value smaller than the suspect's largest change, as a generator commanded lower in one
    phase, goes to zero in proportion.
    """
    key = (type(part), fault.suspect.kind)
    if isinstance(part, Battery) and key[1] in (FaultKind.DISCHARGED, FaultKind.REVERSED):
        return _spoilt(part, fault)
    if key in _MOVED_SHARES:
        name, factor = _MOVED_SHARES[key]
        return replace(part, **{name: getattr(part, name) * (1 + factor * fault.severity)})
    if key not in _MOVED_VALUES:
        return part
    name, sign = _MOVED_VALUES[key]
    value = getattr(part, name)
    change = fault.severity
    if sign < 0 and fault.suspect.most > value:
        change *= value / fault.suspect.most
    return replace(part, **{name: value + sign * change})


def _spoilt(battery: Battery, fault: Fault) -> Battery:
    """Return a battery that is discharged, or turned round with what that does to its ohms.

    The wrong way round, amps that enter at its first end discharge it. A share of that is nothing
    that happens on a car, but the line towards it is straight.
    """
    giving = battery.internal_ohms
    taking = battery.charging_ohms or giving
    if fault.suspect.kind is FaultKind.DISCHARGED:
        more_ohms = 1 + 1.5 * fault.severity
        return replace(
            battery,
            open_circuit_volts=battery.open_circuit_volts * (1 - fault.severity * 0.76 / 12.65),
            internal_ohms=giving * more_ohms,
            charging_ohms=taking * more_ohms,
        )
    turned = fault.severity
    return replace(
        battery,
        polarity=1 - 2 * turned,
        internal_ohms=giving + turned * (taking - giving),
        charging_ohms=taking + turned * (giving - taking),
    )


def _elements(part: Part) -> Iterator[Straight | Curved | Moved]:
    name, first, second = part.name, part.first, part.second

    def straight(
        siemens: tuple[float, ...],
        amps: tuple[float, ...] = (0.0,),
        bends: tuple[float, ...] = (),
    ) -> Straight:
        return Straight(name, first, second, siemens, amps, bends)

    match part:
        case Absent():
            return
        case Battery():
            volts = part.polarity * part.open_circuit_volts
            giving = 1 / part.internal_ohms
            taking = 1 / (part.charging_ohms or part.internal_ohms)
            yield straight((giving, taking), (-volts * giving, -volts * taking), (volts,))
        case Supply():
            siemens = 1 / part.internal_ohms
            yield straight((siemens,), (-part.volts * siemens,))
        case Generator():
            siemens = 1 / part.internal_ohms
            at_limit = part.volts - part.max_amps * part.internal_ohms
            yield straight(
                (0.0, siemens, 0.0),
                (-part.max_amps, -part.volts * siemens, 0.0),
                (at_limit, part.volts),
            )
        case Switch():
            if part.closed:
                yield straight((1 / part.closed_ohms,))
        case Coil():
            warm = 1 + COPPER_PER_KELVIN * (part.celsius - 20)
            yield straight((1 / (part.ohms * warm),))
        case Contact():
            pull_in_amps = part.pull_in_volts / part.coil_ohms
            windings = [part.coil]
            if part.pull_winding:
                pull_in_amps += part.pull_in_volts / part.pull_winding_ohms
                windings.append(part.pull_winding)
            yield Moved(
                name,
                first,
                second,
                part.made_ohms,
                rising=pull_in_amps,
                falling=part.drop_out_volts / part.coil_ohms,
                made_when_passed=not part.normally_closed,
                windings=tuple(windings),
            )
        case RuleContact():
            if part.enabled:
                yield Moved(
                    name,
                    first,
                    second,
                    part.made_ohms,
                    rising=max(part.closes_volts, part.opens_volts),
                    falling=min(part.closes_volts, part.opens_volts),
                    made_when_passed=part.closes_volts > part.opens_volts,
                    red=part.sense_red,
                    black=part.sense_black,
                )
        case CurrentLoad():
            yield straight((part.amps / COLLAPSE_VOLTS, 0.0), (0.0, part.amps), (COLLAPSE_VOLTS,))
        case Motor():
            stalled = 1 / part.stalled_ohms
            stall_volts = part.base_amps / (stalled - part.amps_per_volt)
            yield straight((stalled, part.amps_per_volt), (0.0, part.base_amps), (stall_volts,))
        case Diode():
            on = 1 / part.on_ohms
            yield straight((0.0, on), (0.0, -part.forward_volts * on), (part.forward_volts,))
        case Lamp():
            amps = part.rated_watts / part.rated_volts
            yield Filament(name, first, second, part.rated_volts, amps)
        case PowerLoad():
            yield TakesPower(name, first, second, part.watts, part.max_amps)
        case FanMotor():
            yield Fan(
                name,
                first,
                second,
                part.winding_ohms,
                part.back_volts,
                part.rated_amps,
                part.drive_fraction,
            )
        case _:
            # Wires, fuses, connectors, splices, grounds, resistors and inputs are plain ohms.
            yield straight((1 / part.ohms,))  # type: ignore[attr-defined]
