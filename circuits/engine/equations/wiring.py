"""A network in one situation, compiled to arrays: who is joined to whom, and by which laws.

A situation is a phase with what was done to the car for one reading: parts unplugged, places
bridged, power removed, an ammeter put in, a lamp, a hungry meter or an ohmmeter across the leads.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from circuits.engine.errors import BadPlace, PowerNotRemoved
from circuits.engine.instruments import (
    AMMETER_NODE,
    OHMMETER_TIP,
    RANGE_AMPS,
    Load,
    Ohmmeter,
    ohmmeter_of,
)
from circuits.engine.laws import OPEN, Branch, Curve, FloatArray, Law, Wobble
from circuits.engine.network import Network
from circuits.engine.parts import (
    Battery,
    CanNode,
    Driver,
    DutyDriver,
    Fuse,
    Generator,
    IdealCurrent,
    IdealSource,
    Part,
    Resistor,
    RuleContact,
    Supply,
)
from circuits.engine.readings import Meter, Place, Reading, Rig

IntArray = NDArray[np.intp]

# A fused jumper lead with its clips. Common practice, no source.
BRIDGE_OHMS = 0.02
# A meter that draws more than this is part of the circuit and may move a relay; one that draws
# less only bends the reading.
HUNGRY_METER_OHMS = 1e6
# Pieces per branch that the arrays have room for: a generator has three.
MOST_PIECES = 3
ZERO_NODE = -1


# What gives volts or amps of its own, and what a module moves: dead when the power is removed.
SOURCES = (Battery, Supply, Generator, IdealSource, IdealCurrent)
MODULE_OUTPUTS = (Driver, DutyDriver, RuleContact)


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """A phase as it stands for one reading; equal situations share one solve."""

    phase: str
    unplugged: frozenset[str] = frozenset()
    bridged: tuple[tuple[str, str], ...] = ()
    load: Load | None = None
    power_removed: bool = False
    ammeter_in: str = ""
    burden_ohms: float = 0.0

    @classmethod
    def of_reading(cls, reading: Reading) -> "Situation":
        ohmmeter = ohmmeter_of(reading) if reading.place.reads_ohms else None
        return cls.of(reading.phase, reading.place, reading.rig, reading.meter.input_ohms, ohmmeter)

    @classmethod
    def of(
        cls,
        phase: str,
        place: Place,
        rig: Rig,
        input_ohms: float,
        ohmmeter: Ohmmeter | None = None,
    ) -> "Situation":
        """Return the situation of a reading; without an ohmmeter a common one reads the ohms.

        Raises
        ------
        PowerNotRemoved
            Ohms are to be read, and the rig does not say that the power is removed.
        """
        if place.reads_ohms and not rig.power_removed:
            raise PowerNotRemoved(place.key, place.red, place.black)
        return cls.as_rigged(phase, place, rig, input_ohms, ohmmeter)

    @classmethod
    def as_rigged(
        cls,
        phase: str,
        place: Place,
        rig: Rig,
        input_ohms: float,
        ohmmeter: Ohmmeter | None = None,
    ) -> "Situation":
        """Return the situation of a reading that nobody should take, such as ohms on live parts."""
        if place.reads_ohms and ohmmeter is None:
            ohmmeter = Ohmmeter.on_range(Meter(), RANGE_AMPS[0])
        hungry = not place.reads_ohms and input_ohms < HUNGRY_METER_OHMS
        lamp = rig.lamp_watts is not None or rig.led_amps is not None
        load = None
        if not place.reads_amps and (lamp or hungry or place.reads_ohms):
            load = Load(
                red=place.red,
                black=place.black,
                lamp_watts=rig.lamp_watts,
                lamp_volts=rig.lamp_volts,
                led_amps=rig.led_amps,
                meter_ohms=input_ohms if hungry else None,
                ohmmeter=ohmmeter if place.reads_ohms else None,
            )
        return cls(
            phase=phase,
            unplugged=rig.unplugged,
            bridged=rig.bridged,
            load=load,
            power_removed=rig.power_removed,
            ammeter_in=rig.ammeter_in,
            burden_ohms=rig.burden_ohms if rig.ammeter_in else 0.0,
        )


def unbent_input_ohms(input_ohms: float) -> float:
    """Return what bends a reading: a hungry meter already stands in the circuit as a part."""
    return math.inf if input_ohms < HUNGRY_METER_OHMS else input_ohms


@dataclass(frozen=True, slots=True)
class Wiring:
    """The arrays of one situation. N nodes beside the zero node, B branches, n = N + B unknowns.

    The unknowns are the node volts, then the branch amps. `laws[b, p]` is the law of branch b in
    piece p. The K controlled branches are `controlled`; their watched quantities are the rows of
    `watched` (K, n), their thresholds `rising` and `falling` (K, 2), padded with infinity.
    """

    node_index: dict[str, int]
    branches: tuple[Branch, ...]
    branch_index: dict[str, int]
    ends: IntArray  # (B, 2) node indices, ZERO_NODE for the zero node
    laws: FloatArray  # (B, pieces, 3)
    resting_pieces: IntArray  # (B,)
    controlled: IntArray  # (K,)
    watched: FloatArray  # (K, n)
    rising: FloatArray  # (K, 2)
    falling: FloatArray  # (K, 2)
    remembers: NDArray[np.bool_]  # (K,)
    either_way: NDArray[np.bool_]  # (K,)
    #: (K, K) which controls watch the same thing: the contacts of one relay move together
    together: NDArray[np.bool_]
    curved: tuple[tuple[int, Curve], ...]
    wobbles: tuple[tuple[int, Wobble], ...] = field(default=())
    #: The parts that are out: unplugged, or sources where the power is removed
    out: frozenset[str] = frozenset()
    #: The ohms that each part read by its drop should have
    shunt_ohms: dict[str, float] = field(default_factory=dict)
    test_amps: float | None = None

    @property
    def node_count(self) -> int:
        return len(self.node_index)

    @property
    def size(self) -> int:
        return self.node_count + len(self.branches)

    def node(self, name: str) -> int:
        return self.node_index.get(name, ZERO_NODE)

    def volts_row(self, red: int, black: int) -> FloatArray:
        row = np.zeros(self.size)
        if red != ZERO_NODE:
            row[red] += 1
        if black != ZERO_NODE:
            row[black] -= 1
        return row

    def amps_row(self, branch: int) -> FloatArray:
        row = np.zeros(self.size)
        row[self.node_count + branch] = 1
        return row

    def place_row(self, place: Place) -> FloatArray:
        """Return the row that turns the unknowns into what is read at a place."""
        if place.reads_amps:
            sign = -1 if place.reversed_clamp else 1
            return sign * self._amps_row_of(place)
        if place.reads_ohms:
            if self.test_amps is None:
                raise BadPlace(place.key, "ohms take a reading of their own, with an ohmmeter")
            tip = self.volts_row(self.node(OHMMETER_TIP), self.node(place.black))
            return tip / self.test_amps
        return self.volts_row(self.node(place.red), self.node(place.black))

    def _amps_row_of(self, place: Place) -> FloatArray:
        # The first branch of a part is its terminal: what a clamp round its wire sees.
        branch = next(
            index
            for index, branch in enumerate(self.branches)
            if branch.name in (place.through, f"{place.through}.terminal")
        )
        if not place.by_drop:
            return self.amps_row(branch)
        if place.through not in self.shunt_ohms:
            raise BadPlace(
                place.key,
                f"{place.through} is no shunt: its drop stands for amps only where its ohms are "
                "known. Name a fuse or a resistor, or put a clamp round the wire",
            )
        return self.volts_row(*self.ends[branch]) / self.shunt_ohms[place.through]


def wire_up(network: Network, situation: Situation) -> Wiring:
    """Compile a network in a situation.

    Raises
    ------
    BadPhase
        The network has no such phase.
    BadPlace
        The situation unplugs, bridges or loads something that is not there.
    """
    phase = network.phase(situation.phase)
    _check_names(network, situation)
    parts = network.parts_in(phase)
    out = situation.unplugged
    if situation.power_removed:
        out |= {part.name for part in parts if isinstance(part, SOURCES)}
    branches = (
        *_part_branches(parts, out, situation),
        *_added_branches(network, situation),
    )
    ohmmeter = situation.load.ohmmeter if situation.load is not None else None
    node_index = {
        node: index
        for index, node in enumerate(
            dict.fromkeys(
                node
                for branch in branches
                for node in (branch.first, branch.second)
                if node != network.zero
            )
        )
    }
    branch_index = {branch.name: index for index, branch in enumerate(branches)}
    controlled = np.array(
        [index for index, branch in enumerate(branches) if branch.control is not None],
        dtype=np.intp,
    )
    ends = np.array(
        [[node_index.get(node, ZERO_NODE) for node in (b.first, b.second)] for b in branches],
        dtype=np.intp,
    )
    wiring = Wiring(
        node_index=node_index,
        branches=branches,
        branch_index=branch_index,
        ends=ends,
        laws=law_array(branch.pieces for branch in branches),
        resting_pieces=np.array([branch.piece for branch in branches], dtype=np.intp),
        controlled=controlled,
        watched=np.zeros((len(controlled), len(node_index) + len(branches))),
        rising=np.full((len(controlled), MOST_PIECES - 1), np.inf),
        falling=np.full((len(controlled), MOST_PIECES - 1), np.inf),
        remembers=np.zeros(len(controlled), dtype=bool),
        either_way=np.zeros(len(controlled), dtype=bool),
        together=np.eye(len(controlled), dtype=bool),
        curved=tuple(
            (index, branch.curve)
            for index, branch in enumerate(branches)
            if branch.curve is not None
        ),
        wobbles=tuple(
            (index, wobble) for index, branch in enumerate(branches) for wobble in branch.wobbles
        ),
        out=out,
        shunt_ohms={part.name: part.ohms for part in parts if isinstance(part, Fuse | Resistor)},
        test_amps=ohmmeter.test_amps if ohmmeter is not None else None,
    )
    _fill_controls(wiring)
    return wiring


def law_array(pieces_of_branches: Iterable[tuple[Law, ...]]) -> FloatArray:
    """Return laws as (branches, MOST_PIECES, 3); spare pieces repeat the last one."""
    padded = (
        (*pieces, *[pieces[-1]] * (MOST_PIECES - len(pieces))) for pieces in pieces_of_branches
    )
    terms = chain.from_iterable(chain.from_iterable(padded))
    return np.fromiter(terms, dtype=float).reshape(-1, MOST_PIECES, 3)


def _check_names(network: Network, situation: Situation) -> None:
    names = {part.name for part in network.parts}
    for name in sorted(situation.unplugged - names):
        raise BadPlace(name, "is said to be unplugged, but there is no such part in this circuit")
    if situation.ammeter_in and situation.ammeter_in not in names:
        raise BadPlace(
            situation.ammeter_in,
            "is said to have an ammeter in series, but there is no such part in this circuit",
        )
    nodes = set(network.nodes)
    for node in (node for pair in situation.bridged for node in pair):
        if node not in nodes:
            raise BadPlace(node, "is said to be bridged, but no part is connected there")


def _part_branches(
    parts: Iterable[Part], out: frozenset[str], situation: Situation
) -> Iterator[Branch]:
    for part in parts:
        # Modules without power let go of what they switch.
        is_dead = situation.power_removed and isinstance(part, MODULE_OUTPUTS)
        if situation.power_removed and isinstance(part, CanNode):
            part = replace(part, bias_volts=0.0)
        if part.name == situation.ammeter_in:
            part = replace(part, first=AMMETER_NODE)
        if part.name in out or is_dead:
            yield from (_cut(branch) for branch in part.branches())
        else:
            yield from part.branches()


def _cut(branch: Branch) -> Branch:
    """Return a branch without current between the same ends: a part of three ends has several."""
    return Branch(name=branch.name, first=branch.first, second=branch.second, pieces=(OPEN,))


def _added_branches(network: Network, situation: Situation) -> Iterator[Branch]:
    for red, black in situation.bridged:
        yield Branch(
            name=f"bridge {red} - {black}",
            first=red,
            second=black,
            pieces=(Law.resistance(BRIDGE_OHMS),),
        )
    if situation.ammeter_in:
        yield Branch(
            name="ammeter",
            first=network.part(situation.ammeter_in).first,
            second=AMMETER_NODE,
            pieces=(Law.resistance(situation.burden_ohms),),
        )
    if situation.load is not None:
        yield from situation.load.branches()


def _fill_controls(wiring: Wiring) -> None:
    for row, branch_number in enumerate(wiring.controlled):
        control = wiring.branches[branch_number].control
        assert control is not None
        if control.branches:
            wiring.watched[row] = sum(
                wiring.amps_row(wiring.branch_index[branch]) for branch in control.branches
            )
        else:
            wiring.watched[row] = wiring.volts_row(
                wiring.node(control.red), wiring.node(control.black)
            )
        wiring.rising[row, : len(control.rising)] = control.rising
        wiring.falling[row, : len(control.falling)] = control.falling
        wiring.remembers[row] = control.remembers
        wiring.either_way[row] = control.either_way
    wiring.together[:] = (wiring.watched[:, None] == wiring.watched[None]).all(axis=2)
