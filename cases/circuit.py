"""What a case needs of its circuit: the sheet, the network, and the places by their keys."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache

from cases.documents.readings import Rig
from cases.errors import BadRig, NotForProposals, PhaseNotInCircuit, PlaceNotInCircuit
from cases.spots import BENCH, Spot, bench_spots, is_on_bench, resting_phase, spot_at
from circuits.cautions import off_limits
from circuits.engine import (
    Absent,
    Battery,
    Fuse,
    Generator,
    IdealSource,
    KeyState,
    Network,
    Part,
    Phase,
    Place,
    PowerNotRemoved,
    Resistor,
    Supply,
    Suspect,
    Switch,
    suspects,
)
from circuits.models import Revision
from circuits.part_sheets.allowed import NoTestSheet, refuse_dangerous
from circuits.part_sheets.on_the_bench import BenchStep
from circuits.services import network_of, sheet_of
from circuits.sheet import MoveKind, PlaceEntry, Sheet, engine_places, to_network
from circuits.units import parse_quantity

SOURCES = (Battery, Generator, IdealSource, Supply)
CIRCUITS_KEPT = 64
MARK_LENGTH = 12
#: The key of the supply itself where the sheet lists no place that reads it.
SUPPLY_PLACE = "supply"


@dataclass(frozen=True, eq=False)
class CaseCircuit:
    """A circuit as cases use it."""

    sheet: Sheet
    network: Network

    @cached_property
    def refusal(self) -> str:
        """Why no reading, no bridge and no parting place is proposed here; empty where they are."""
        try:
            refuse_dangerous(self.sheet, self.network)
        except NoTestSheet as refusal:
            return str(refusal)
        return ""

    def require_proposals(self) -> None:
        """Refuse to propose anything on a circuit that belongs to licensed people."""
        if self.refusal:
            raise NotForProposals(self.refusal)

    @cached_property
    def entries(self) -> dict[str, PlaceEntry]:
        return {entry.key: entry for entry in self.sheet.places}

    @cached_property
    def barred(self) -> frozenset[str]:
        """Connections and parts beside an airbag: no lead is sent there."""
        return off_limits(self.sheet)

    @cached_property
    def offered_places(self) -> frozenset[str]:
        """The listed places where a reading may be proposed: none that sits beside an airbag."""
        if self.refusal:
            return frozenset()
        return frozenset(key for key in self.entries if not self.is_barred(key))

    @cached_property
    def allowed_bridges(self) -> tuple[tuple[str, str], ...]:
        """The bridges of the circuit's record; each stands while any place is read."""
        named = (
            move.names
            for entry in self.sheet.places
            for move in entry.moves
            if move.kind is MoveKind.BRIDGE
        )
        return tuple((one, other) for one, other in named if self.barred.isdisjoint((one, other)))

    def is_barred(self, place: str) -> bool:
        """Whether a reading at this place, listed or not, goes to what sits beside an airbag."""
        entry = self.entry_at(place)
        return entry is not None and bool(self.barred & {entry.red, entry.black, entry.through})

    @cached_property
    def places(self) -> dict[str, Place]:
        """The places that the engine can predict, by key."""
        return {place.key: place for place in engine_places(self.sheet)}

    @cached_property
    def supply_places(self) -> tuple[str, ...]:
        """The keys of the places that read the supply itself."""
        ends = (self.network.supply, self.network.zero)
        return tuple(
            place.key for place in self.places.values() if (place.red, place.black) == ends
        )

    @cached_property
    def supply_place(self) -> Place:
        """A place that reads the supply, listed or not."""
        if self.supply_places:
            return self.places[self.supply_places[0]]
        return Place(key=SUPPLY_PLACE, red=self.network.supply, black=self.network.zero)

    @property
    def supplies(self) -> tuple[str, ...]:
        """The keys of all places that read the supply, the one that no sheet lists among them."""
        return (*self.supply_places, self.supply_place.key)

    @cached_property
    def phases(self) -> tuple[str, ...]:
        return self.sheet.phase_keys

    @cached_property
    def suspects(self) -> dict[str, Suspect]:
        return {suspect.id: suspect for suspect in suspects(self.network)}

    @cached_property
    def load_marks(self) -> dict[str, str]:
        """For each phase a short mark of what is switched on and how it is loaded.

        Two phases of the same circuit with the same mark and key state are one to search,
        whatever they are called. Sources are left out: another battery is not another load.
        """
        phases = self.network.phases
        moving = sorted({name for phase in phases for name in phase.changes})
        return {phase.name: _load_mark(self.network, phase, moving) for phase in phases}

    @cached_property
    def _bench_spots(self) -> Mapping[str, Spot]:
        return {} if self.refusal else bench_spots(self.sheet, self.network)

    def spot(self, key: str) -> Spot | None:
        """Return a place that the sheet does not list, by a key that says where it is."""
        if is_on_bench(key):
            return self._bench_spots.get(key)
        return spot_at(self.sheet, self.network, key)

    def entry_at(self, key: str) -> PlaceEntry | None:
        """Return the place with this key, listed or not; None where this circuit has no such."""
        if key in self.entries:
            return self.entries[key]
        spot = self.spot(key)
        return spot.entry if spot is not None else None

    def place_at(self, key: str) -> Place | None:
        """Return the place that the engine can predict, listed or not."""
        if key in self.entries:
            return self.places.get(key)
        spot = self.spot(key)
        return spot.place if spot is not None else None

    def bench_step(self, key: str) -> BenchStep | None:
        """Return the step of the bench sheet that a place is; None in the vehicle."""
        spot = self.spot(key) if is_on_bench(key) else None
        return spot.step if spot is not None else None

    def rig_at(self, place: str, rig: Rig) -> Rig:
        """Return what was done for a reading, with what the place itself takes off.

        A part on the bench is the circuit with every source off and all else off its ends.
        """
        spot = self.spot(place) if is_on_bench(place) else None
        if spot is None:
            return rig
        unplugged = tuple(sorted(spot.unplugged.union(rig.unplugged)))
        return rig.model_copy(update={"unplugged": unplugged, "power_removed": True})

    def engine_phase(self, phase: str) -> str:
        """Return the phase in which the engine is asked: on the bench all is at rest."""
        return resting_phase(self.network) if self._has_no_key(phase) else phase

    def place_entry(self, key: str) -> PlaceEntry:
        """Return the place with this key, or say which there are."""
        entry = self.entry_at(key)
        if entry is None:
            raise PlaceNotInCircuit(key, tuple(self.entries))
        return entry

    def check_phase(self, key: str) -> None:
        """Say which phases there are, if this is none of them."""
        if key not in self.phases:
            raise PhaseNotInCircuit(key, self.phases)

    def check_phase_at(self, place: str, phase: str) -> None:
        """Refuse a phase in which a place cannot be read: 'bench' is for parts taken out alone."""
        if is_on_bench(place) and phase != BENCH:
            raise PhaseNotInCircuit(phase, (BENCH,))
        if not is_on_bench(place):
            self.check_phase(phase)

    def key_state(self, phase: str) -> KeyState:
        """Return the key state of a phase; on the bench there is no key."""
        return KeyState.BENCH if self._has_no_key(phase) else self.network.phase(phase).key_state

    def _has_no_key(self, phase: str) -> bool:
        return phase == BENCH and phase not in self.phases

    def load_mark(self, phase: str) -> str:
        """Return the mark of what is switched on in a phase: nothing on the bench."""
        return "" if self._has_no_key(phase) else self.load_marks[phase]

    @cached_property
    def _part_names(self) -> frozenset[str]:
        return frozenset(part.name for part in self.network.parts)

    @cached_property
    def _nodes(self) -> frozenset[str]:
        return frozenset(self.network.nodes)

    def check_rig(self, place: str, rig: Rig) -> None:
        """Refuse a rig that names parts or connections the circuit does not have."""
        parts, nodes = self._part_names, self._nodes
        strangers = [name for name in rig.unplugged if name not in parts]
        if strangers:
            raise BadRig(place, f"this circuit has no part {', '.join(strangers)} to unplug.")
        strangers = [node for pair in rig.bridged for node in pair if node not in nodes]
        if strangers:
            raise BadRig(place, f"this circuit has no connection {', '.join(strangers)} to bridge.")
        if any(one == other for one, other in rig.bridged):
            raise BadRig(place, "a bridge joins two connections; both ends are the same.")
        if rig.ammeter_in and rig.ammeter_in not in parts:
            raise BadRig(place, f"this circuit has no part {rig.ammeter_in} to put an ammeter in.")
        if rig.by_drop:
            self._check_drop(place)

    def _check_drop(self, place: str) -> None:
        through = self.place_entry(place).through
        part = self.network.part(through) if through else None
        if not isinstance(part, Fuse | Resistor):
            raise BadRig(
                place,
                "a drop stands for amps only across a fuse or a shunt, whose ohms are known. Put a "
                "clamp round the wire, or log the drop at a place in mV.",
            )

    def rigged_place(self, place: str, rig: Rig) -> Place:
        """Return a place as it is read in this rig."""
        found = self.place_at(place)
        assert found is not None  # asked of places that are judged
        return replace(found, by_drop=True) if rig.by_drop else found

    def check_moves(self, place: str, rig: Rig) -> None:
        """Refuse what the circuit's record does not allow at a place.

        A reading that was taken is logged whatever it took; this is for proposing one.
        """
        self.require_proposals()
        moves = self.place_entry(place).moves
        if place in self.places and self.places[place].reads_ohms and not rig.power_removed:
            entry = self.place_entry(place)
            raise BadRig(place, f"{PowerNotRemoved(place, entry.red, entry.black).problem}.")
        may_unplug = {name for move in moves if move.kind is MoveKind.UNPLUG for name in move.names}
        refused = [name for name in rig.unplugged if name not in may_unplug]
        if refused:
            raise BadRig(place, f"unplugging {', '.join(refused)} is not among the moves here.")
        may_bridge = set(map(frozenset, self.allowed_bridges))
        for one, other in rig.bridged:
            if frozenset((one, other)) not in may_bridge:
                raise BadRig(
                    place, f"bridging {one} - {other} is not among the moves of this circuit."
                )
        lamps = [
            parse_quantity(move.watts, "W").number for move in moves if move.kind is MoveKind.LAMP
        ]
        if rig.lamp_watts is not None and rig.lamp_watts > max(lamps, default=0.0):
            allowed = f" above {max(lamps):g} W" if lamps else ""
            raise BadRig(place, f"a test lamp{allowed} is not among the moves here.")


def circuit_from_sheet(sheet: Sheet) -> CaseCircuit:
    """Return the circuit of a sheet."""
    return CaseCircuit(sheet=sheet, network=to_network(sheet))


def circuit_of(revision: Revision) -> CaseCircuit:
    """Return the circuit of a stored revision; the last ones used are kept."""
    return _circuit_of(revision.pk)


@lru_cache(maxsize=CIRCUITS_KEPT)
def _circuit_of(revision_pk: int) -> CaseCircuit:
    revision = Revision(pk=revision_pk)
    return CaseCircuit(sheet=sheet_of(revision), network=network_of(revision))


def _load_mark(network: Network, phase: Phase, moving: Sequence[str]) -> str:
    states = []
    for name in moving:
        part = phase.changes.get(name) or network.part(name)
        if not isinstance(part, SOURCES):
            states.append(f"{name}:{_state(part)}")
    return hashlib.sha256(";".join(states).encode()).hexdigest()[:MARK_LENGTH]


def _state(part: Part) -> str:
    if isinstance(part, Absent):
        return "absent"
    if isinstance(part, Switch):
        return "closed" if part.closed else "open"
    values = (getattr(part, field.name) for field in fields(part))
    return ",".join(f"{value:.2g}" for value in values if isinstance(value, float | int))
