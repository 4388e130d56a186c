"""Findings in the wiring itself: fuses, wires, returns, grounds and relays."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from circuits.codes.conditions import amps_of
from circuits.engine import (
    Absent,
    Coil,
    Contact,
    FaultKind,
    Fuse,
    Part,
    SenseInput,
    Switch,
    Wire,
    ohms_per_metre,
    solve,
    temperature_factor,
)
from circuits.inspection.drawing import Drawing, Situation
from circuits.inspection.feeds import METAL, SOURCES, Feed, is_shunt
from circuits.inspection.findings import Finding, FindingKind, listed
from circuits.inspection.limits import (
    COPPER_SOURCE,
    DROP_SOURCE,
    SHORT_STUB_METRES,
    WIRE_AMPS,
    WIRE_SOURCE,
    fuse_amps_for,
    most_drop_volts,
    wire_amps,
    wire_mm2_for,
)
from circuits.units import format_quantity

# A relay under a bonnet sits in air of 85 to 90 C. Common practice, no source.
HOT_RELAY_CELSIUS = 90.0
# Amps that make a lamp glow, a relay hold or a module wake. Common practice, no source.
NOTICED_AMPS = 0.01


# ---------------------------------------------------------------------------- fuses and wires


def fuses(drawing: Drawing) -> Iterator[Finding]:
    """Yield wires that a short would burn: no fuse before them, or one that they cannot stand."""
    for name, feed in strongest_feeds(drawing).items():
        wire = drawing.network.part(name)
        assert isinstance(wire, Wire)
        stands = wire_amps(wire.wire_mm2)
        if feed.amps <= stands:
            continue
        size = f"{wire.wire_mm2:g} mm²"
        fuse = fuse_amps_for(wire.wire_mm2)
        if feed.is_fused:
            thicker = wire_mm2_for(feed.amps)
            mends = [f"Fit a fuse of at most {fuse:g} A"] if fuse else []
            mends += [f"draw a wire of {thicker:g} mm²"] if thicker else []
            yield Finding(
                kind=FindingKind.FUSE_TOO_LARGE,
                subject=name,
                problem=f"fuse {feed.limited_by} ({feed.amps:g} A) feeds this wire of {size}, "
                f"which stands {stands:g} A.",
                why="Overloaded, the wire burns before the fuse opens; in a bundle or in engine "
                "heat it stands less still.",
                mend=f"{' or '.join(mends)}.",
                source=WIRE_SOURCE,
            )
        elif wire.metres > SHORT_STUB_METRES:
            yield Finding(
                kind=FindingKind.NO_FUSE,
                subject=name,
                problem=f"{feed.limited_by} feeds this wire of {size} with no fuse between them.",
                why=f"Chafed to ground it carries far more than the {stands:g} A that it stands, "
                "and burns.",
                mend=f"Draw a fuse{f' of at most {fuse:g} A' if fuse else ''} close to "
                f"{feed.limited_by}, or say why there is none.",
                source=WIRE_SOURCE,
            )


def strongest_feeds(drawing: Drawing) -> dict[str, Feed]:
    """Return for each wire on the plus side its strongest feed in any phase."""
    strongest: dict[str, Feed] = {}
    for situation in drawing.situations:
        for part in situation.parts:
            if not isinstance(part, Wire) or part.first not in situation.feeds:
                continue
            ends = (situation.feeds[part.first], situation.feeds[part.second])
            feed = max(ends, key=lambda end: end.amps)
            if part.name not in strongest or feed.amps > strongest[part.name].amps:
                strongest[part.name] = feed
    return strongest


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drop:
    """What a wire loses in the phase in which it loses too much."""

    situation: Situation
    wire: Wire
    amps: float
    most_volts: float
    on_ground_side: bool

    @property
    def volts(self) -> float:
        return self.amps * self.wire.ohms

    @property
    def excess(self) -> float:
        return self.volts / self.most_volts


def long_wires(drawing: Drawing) -> Iterator[Finding]:
    """Yield wires that lose more volts under load than the trade allows."""
    worst: dict[str, _Drop] = {}
    for situation in drawing.situations:
        for part in situation.parts:
            if not isinstance(part, Wire):
                continue
            on_ground_side = part.first in situation.grounded
            key_state = situation.phase.key_state
            drop = _Drop(
                situation=situation,
                wire=part,
                amps=abs(situation.solution.amps[part.name]),
                most_volts=most_drop_volts(key_state, on_ground_side=on_ground_side),
                on_ground_side=on_ground_side,
            )
            if drop.excess > 1 and (
                part.name not in worst or drop.excess > worst[part.name].excess
            ):
                worst[part.name] = drop
    for name, drop in worst.items():
        side = "ground" if drop.on_ground_side else "feed"
        yield Finding(
            kind=FindingKind.WIRE_TOO_LONG,
            subject=name,
            problem=f"{drop.wire.metres:g} m of {drop.wire.wire_mm2:g} mm² lose "
            f"{format_quantity(drop.volts, 'V')} at {format_quantity(drop.amps, 'A')} "
            f"({drop.situation.words}).",
            why=f"A {side} wire may lose {format_quantity(drop.most_volts, 'V')} there; what is "
            "lost here is missing at the load, and hides a bad joint.",
            mend=_shorter_or_thicker(drop),
            source=DROP_SOURCE,
        )


def _shorter_or_thicker(drop: _Drop) -> str:
    wire = drop.wire
    copper_ohms = drop.most_volts / drop.amps - wire.joint_ohms
    if copper_ohms <= 0:
        return "Its joints alone lose that much: check what was typed for them."
    warm = temperature_factor(wire.celsius)
    metres = copper_ohms / (ohms_per_metre(wire.wire_mm2) * warm)
    thick = next(
        (
            size
            for size in sorted(WIRE_AMPS)
            if ohms_per_metre(size) * warm * wire.metres <= copper_ohms
        ),
        None,
    )
    thicker = f"draw {thick:g} mm², or " if thick else ""
    words = f"{thicker}at most {metres:.2g} m of this size; check the length on the vehicle."
    return words[0].upper() + words[1:]


# ------------------------------------------------------------------------- returns and islands


def without_return(drawing: Drawing) -> Iterator[Finding]:
    """Yield parts through which no current can ever go round: nothing else joins their ends."""
    parts = drawing.network.parts
    stubs = [part for part in parts if not _joined_without(part, parts)]
    for chain in _chains(stubs):
        named = next((part for part in chain if not isinstance(part, METAL)), chain[-1])
        others = [part.name for part in chain if part is not named]
        along = f", nor through {listed(others)}" if others else ""
        yield Finding(
            kind=FindingKind.NO_RETURN,
            subject=named.name,
            problem=f"no current can ever flow through it{along}: one end leads nowhere.",
            why="Without a way back to the source a part does nothing, and every reading at it "
            "is that of an open circuit.",
            mend="Draw its way back (ground or feed), or take it out.",
        )


def _joined_without(left_out: Part, parts: Sequence[Part]) -> bool:
    others = [part for part in parts if part is not left_out]
    return any(other in _reachable(end, others) for end, other in combinations(left_out.ends, 2))


def _reachable(node: str, parts: Sequence[Part]) -> set[str]:
    reached, grew = {node}, True
    while grew:
        grew = False
        for part in parts:
            touched = reached.intersection(part.ends)
            if touched and len(touched) < len(part.ends):
                reached.update(part.ends)
                grew = True
    return reached


def _chains(parts: Iterable[Part]) -> list[list[Part]]:
    """Group parts that hang on each other."""
    chains: list[list[Part]] = []
    for part in parts:
        touching = [
            chain for chain in chains if any(set(part.ends) & set(other.ends) for other in chain)
        ]
        joined = [other for chain in touching for other in chain]
        chains = [chain for chain in chains if chain not in touching]
        chains.append([*joined, part])
    return chains


def floating(drawing: Drawing) -> Iterator[Finding]:
    """Yield connections that no phase ties to the rest of the circuit."""
    loose = [
        node
        for node in drawing.network.nodes
        if all(solution.volts.get(node) is None for solution in drawing.solutions)
        and node != drawing.network.zero
    ]
    seen: set[str] = set()
    between = [part for part in drawing.network.parts if set(part.ends) <= set(loose)]
    for node in loose:
        if node in seen:
            continue
        island = sorted(_reachable(node, between), key=loose.index)
        seen.update(island)
        yield Finding(
            kind=FindingKind.FLOATING,
            subject=island[0],
            problem=f"{listed(island)} {'floats' if len(island) == 1 else 'float'} in every phase.",
            why="Nothing ties it to plus or ground, so no reading there means anything.",
            mend="Close the switch that joins it in one phase at least, or draw what is missing.",
        )


# -------------------------------------------------------------------------------- lost grounds


def back_feeds(drawing: Drawing) -> Iterator[Finding]:
    """Yield grounds which, once lost, send their current backwards through another load."""
    look = drawing.shown
    loads = [part for part in drawing.network.parts if _is_load(part)]
    for number, fault in enumerate(look.faults):
        if (
            fault is None
            or fault.suspect.kind is not FaultKind.RESISTANCE
            or not np.isinf(fault.severity)
        ):
            continue
        name = fault.suspect.target
        if not _is_ground(drawing, name):
            continue
        found: list[tuple[float, str, str]] = []
        for row, situation in enumerate(drawing.situations):
            for load in loads:
                at = number, row, drawing.column(amps_of(load.name))
                healthy, lost = situation.solution.amps[load.name], float(look.values[at])
                starts = abs(healthy) < NOTICED_AMPS
                if (
                    abs(lost) > NOTICED_AMPS
                    and not drawing.unsteady[at]
                    and (starts or healthy * lost < 0)
                ):
                    found.append((abs(lost), load.name, situation.words))
        if found:
            amps, load_name, phase = max(found)
            others = sorted({name for _, name, _ in found} - {load_name})
            also = f" (also {listed(others)})" if others else ""
            yield Finding(
                kind=FindingKind.BACK_FEED,
                subject=name,
                problem=f"with this ground lost, {format_quantity(amps, 'A')} find their way "
                f"through {load_name}{also} ({phase}).",
                why="What is switched off wakes or glows, and the blame falls on it; something "
                "may move that nobody switched on.",
                mend="Where the vehicle has separate grounds, draw them; otherwise accept it and "
                "keep a place that reads this ground.",
            )


def _is_load(part: Part) -> bool:
    idle = (*METAL, *SOURCES, Switch, Contact, Absent, SenseInput)
    return not isinstance(part, idle) and not is_shunt(part)


def _is_ground(drawing: Drawing, name: str) -> bool:
    """Return whether a part is metal that leads to 0 V, and not the battery's own lead alone."""
    part = drawing.network.part(name)
    if not isinstance(part, METAL) or isinstance(part, Fuse):
        return False
    return any(part.first in situation.grounded for situation in drawing.situations)


# -------------------------------------------------------------------------------------- relays


def hot_relays(drawing: Drawing) -> Iterator[Finding]:
    """Yield relays that pull in cold and no longer with a winding as hot as it gets."""
    network = drawing.network
    contacts = [part for part in network.parts if isinstance(part, Contact)]
    windings = {part.coil for part in contacts} | {part.pull_winding for part in contacts} - {""}
    for name in windings:
        winding = network.part(name)
        if isinstance(winding, Coil) and winding.celsius < HOT_RELAY_CELSIUS:
            network = network.with_part_values(name, celsius=HOT_RELAY_CELSIUS)
    for situation, hot in zip(drawing.situations, solve(network), strict=True):
        for contact in contacts:
            now = situation.part(contact.name)
            if not isinstance(now, Contact) or not _pulled(now, situation.solution.contacts):
                continue
            if _pulled(now, hot.contacts) and not hot.chatters:
                continue
            volts = now.pull_in_volts * temperature_factor(HOT_RELAY_CELSIUS)
            yield Finding(
                kind=FindingKind.WEAK_WHEN_HOT,
                subject=contact.name,
                problem=f"its winding at {HOT_RELAY_CELSIUS:g} °C no longer pulls it in "
                f"({situation.words}).",
                why=f"Copper that hot resists {temperature_factor(HOT_RELAY_CELSIUS) - 1:.0%} "
                f"more: {now.pull_in_volts:g} V cold become {volts:.1f} V at the winding.",
                mend="Check pull-in volts and ohms against the relay's data, and the drop in its "
                "control wires; such a relay fails hot although nothing is broken.",
                source=COPPER_SOURCE,
            )
            contacts = [other for other in contacts if other is not contact]


def _pulled(contact: Contact, contacts: Mapping[str, bool]) -> bool:
    return contacts.get(contact.name, False) != contact.normally_closed
