"""A network in one situation, compiled to arrays: who is joined to whom, and by which laws.

A situation is a phase with what was done to the car for one reading: parts unplugged, places
bridged, a lamp or a hungry meter across the leads.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from circuits.engine.errors import BadPlace
from circuits.engine.laws import OPEN, Branch, Curve, FloatArray, Law, Wobble
from circuits.engine.network import Network, Phase
from circuits.engine.parts import Lamp, Part, Resistor
from circuits.engine.readings import Place, Reading, Rig

IntArray = NDArray[np.intp]

# A fused jumper lead with its clips. Common practice, no source.
BRIDGE_OHMS = 0.02
# A meter that draws more than this is part of the circuit and may move a relay; one that draws
# less only bends the reading.
HUNGRY_METER_OHMS = 1e6
# Pieces per branch that the arrays have room for: a generator has three.
MOST_PIECES = 3
ZERO_NODE = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What draws current across the leads of a reading: a test lamp, or a hungry meter."""

    red: str
    black: str
    lamp_watts: float | None = None
    meter_ohms: float | None = None

    def parts(self) -> Iterable[Part]:
        red, black = self.red, self.black
        if self.lamp_watts is not None:
            yield Lamp(name="test lamp", first=red, second=black, rated_watts=self.lamp_watts)
        if self.meter_ohms is not None:
            yield Resistor(name="meter", first=red, second=black, ohms=self.meter_ohms)


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """A phase as it stands for one reading; equal situations share one solve."""

    phase: str
    unplugged: frozenset[str] = frozenset()
    bridged: tuple[tuple[str, str], ...] = ()
    load: Load | None = None

    @classmethod
    def of_reading(cls, reading: Reading) -> "Situation":
        return cls.of(reading.phase, reading.place, reading.rig, reading.meter.input_ohms)

    @classmethod
    def of(cls, phase: str, place: Place, rig: Rig, input_ohms: float) -> "Situation":
        load = None
        hungry = input_ohms < HUNGRY_METER_OHMS
        if not place.reads_amps and (rig.lamp_watts is not None or hungry):
            load = Load(
                red=place.red,
                black=place.black,
                lamp_watts=rig.lamp_watts,
                meter_ohms=input_ohms if hungry else None,
            )
        return cls(phase=phase, unplugged=rig.unplugged, bridged=rig.bridged, load=load)


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
            # The first branch of a part is its terminal: what a clamp round its wire sees.
            branch = next(
                index
                for index, branch in enumerate(self.branches)
                if branch.name in (place.through, f"{place.through}.terminal")
            )
            return self.amps_row(branch) * (-1 if place.reversed_clamp else 1)
        return self.volts_row(self.node(place.red), self.node(place.black))


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
    branches = (
        *_part_branches(network, phase, situation.unplugged),
        *_added_branches(network, situation),
    )
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
    )
    _fill_controls(wiring)
    return wiring


def law_array(pieces_of_branches: Iterable[tuple[Law, ...]]) -> FloatArray:
    """Return laws as (branches, MOST_PIECES, 3); spare pieces repeat the last one."""
    return np.array(
        [
            [pieces[min(piece, len(pieces) - 1)] for piece in range(MOST_PIECES)]
            for pieces in pieces_of_branches
        ],
        dtype=float,
    ).reshape(-1, MOST_PIECES, 3)


def _part_branches(network: Network, phase: Phase, unplugged: frozenset[str]) -> tuple[Branch, ...]:
    names = {part.name for part in network.parts}
    for name in sorted(unplugged - names):
        raise BadPlace(name, "is said to be unplugged, but there is no such part in this circuit")
    branches: list[Branch] = []
    for part in network.parts_in(phase):
        if part.name in unplugged:
            branches.append(
                Branch(name=part.name, first=part.first, second=part.second, pieces=(OPEN,))
            )
        else:
            branches.extend(part.branches())
    return tuple(branches)


def _added_branches(network: Network, situation: Situation) -> Iterable[Branch]:
    nodes = set(network.nodes)
    for red, black in situation.bridged:
        for node in (red, black):
            if node not in nodes:
                raise BadPlace(node, "is said to be bridged, but no part is connected there")
        yield Branch(
            name=f"bridge {red} - {black}",
            first=red,
            second=black,
            pieces=(Law.resistance(BRIDGE_OHMS),),
        )
    if situation.load is not None:
        for part in situation.load.parts():
            yield from part.branches()


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
