"""The circuit that every speed is told for, and its entries: each single fault in each phase.

The circuit is our own, drawn in `reference_circuit.txt`: a battery and a generator, four relays, a
module with a rule, a motor, lamps on a shared ground; 150 single faults, four phases. An entry is
one fault halfway along its line (1 ohm added, a path of 1 ohm, half of what can be lost) in one
phase, read at every listed place.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from circuits.engine import (
    FanMotor,
    Fault,
    FaultKind,
    Lamp,
    Meter,
    Motor,
    Network,
    Part,
    Place,
    PowerLoad,
    Reading,
    Resistor,
    Suspect,
    find_suspect,
    predict,
    suspects,
)
from circuits.engine.equations.stage import Trials
from circuits.engine.equations.wiring import Situation
from circuits.engine.settling.phases import PhaseRun
from circuits.sheet import engine_places, read_text, to_network
from tests.judges.elements import Floats
from tests.judges.ngspice import Case
from tests.judges.plain import PlainCircuit
from tests.judges.standing import Standings

DRAWING = Path(__file__).with_name("reference_circuit.txt")
HALFWAY = 0.5
DRAWN_KINDS = (
    FaultKind.RESISTANCE,
    FaultKind.BYPASS,
    FaultKind.GROUND_SHORT,
    FaultKind.SUPPLY_SHORT,
    FaultKind.LOW_VOLTS,
    FaultKind.LIMITED,
    FaultKind.DRAGS,
    FaultKind.DRAWS_MORE,
)
METER_OHMS = 10e6
# What stands where an element is not there, so that one list of elements serves every entry.
NOTHING_SIEMENS = 1e-12

Ends = tuple[str, str, str]


@cache
def reference() -> tuple[Network, tuple[Place, ...]]:
    """Return the circuit and its places."""
    sheet = read_text(DRAWING.read_text(encoding="utf-8"))
    return to_network(sheet), engine_places(sheet)


def with_curved_loads(network: Network) -> Network:
    """Return a circuit with filaments for its lamps, a driven fan and a module that takes a power.

    What they draw at their rated volts is what the straight loads drew.
    """

    def curved(part: Part) -> Part:
        ends: dict[str, Any] = {"name": part.name, "first": part.first, "second": part.second}
        match part:
            case Resistor(name="L.right" | "L.left"):
                return Lamp(**ends, rated_watts=21.0)
            case Resistor(name="FAN"):
                return FanMotor(**ends, winding_ohms=0.055, back_volts=11.24, rated_amps=20.0)
            case Motor(name="PUMP"):
                return PowerLoad(**ends, watts=65.0, max_amps=12.0)
            case _:
                return part

    return network.with_parts(
        changed for part in network.parts if (changed := curved(part)) is not part
    )


def drawn_suspects(network: Network) -> list[Suspect]:
    """Return the faults that a plain solver can be given as well: ohms, paths, volts, amps."""
    return [suspect for suspect in suspects(network) if suspect.kind in DRAWN_KINDS]


def halfway_faults(network: Network) -> list[Fault]:
    return [
        Fault(suspect=each, severity=each.severity_at(HALFWAY)) for each in drawn_suspects(network)
    ]


def seats(network: Network, places: Sequence[Place]) -> dict[Situation, list[tuple[Place, float]]]:
    """Return every place in every phase, read with a usual meter."""
    return {
        Situation(phase=phase.name): [(place, METER_OHMS) for place in places]
        for phase in network.phases
    }


def entries(network: Network, places: Sequence[Place], run: PhaseRun | None = None) -> int:
    """Settle and read every entry; return how many there are."""
    run = run or PhaseRun(network, drawn_suspects(network))
    count = len(run.suspects)
    halfway = np.full(count, HALFWAY)
    trials = Trials.of_singles(np.arange(count), halfway, 1 - halfway)
    went = run.go(trials, seats(network, places))
    return sum(len(settled.low) for _, settled in went.values())


def entry_count(network: Network) -> int:
    return len(drawn_suspects(network)) * len(network.phases)


def one_case(network: Network, places: Sequence[Place]) -> list[Reading]:
    """Return what a technician logs of a pump that runs weakly: 0.9 ohm too many in its plug."""
    asked = [(phase, key) for phase in ("on", "run") for key in ("TP1", "TP4", "TP5", "TP6", "TP8")]
    asked += [("crank", "TP1"), ("crank", "TP11"), ("crank", "TP12")]
    return logged(network, places, {"resistance:C40": 0.9}, asked)


def logged(
    network: Network,
    places: Sequence[Place],
    severities: Mapping[str, float],
    asked: Sequence[tuple[str, str]],
) -> list[Reading]:
    """Return what a meter shows with some faults, by suspect id, at places in phases."""
    there = [
        Fault(suspect=find_suspect(network, suspect_id), severity=severity)
        for suspect_id, severity in severities.items()
    ]
    shown = predict(network, places, fault=there)
    place_of = {place.key: place for place in places}
    return [
        Reading(
            place=place_of[key],
            phase=phase,
            value=round(shown[phase, key].value, 2),
            step=0.01,
            meter=Meter(),
        )
        for phase, key in asked
    ]


@dataclass(frozen=True, slots=True)
class EntryTable:
    """Every entry as values of the same elements: what a plain solver would be given.

    The states are the engine's; each element has siemens and amps at zero volts, (entries, E).
    """

    zero: str
    nodes: tuple[str, ...]
    ends: tuple[Ends, ...]
    siemens: Floats
    amps: Floats
    phases: tuple[str, ...]
    #: What the engine finds at the nodes (entries, N), NaN where they hang loose.
    volts: Floats

    def __len__(self) -> int:
        return len(self.siemens)

    def first(self, count: int) -> "EntryTable":
        return replace(
            self,
            siemens=self.siemens[:count],
            amps=self.amps[:count],
            phases=self.phases[:count],
            volts=self.volts[:count],
        )

    def systems(self) -> tuple[Floats, Floats]:
        """Return the node equations of every entry, (entries, N, N) and (entries, N, 1)."""
        number = {node: index for index, node in enumerate(self.nodes)}
        incidence = np.zeros((len(self.ends), len(self.nodes)))
        for row, (_, first, second) in enumerate(self.ends):
            for node, sign in ((first, 1.0), (second, -1.0)):
                if node != self.zero:
                    incidence[row, number[node]] += sign
        matrices = np.matmul(incidence.T, self.siemens[:, :, None] * incidence)
        return matrices, (-self.amps @ incidence)[:, :, None]

    def furthest_from_engine(self, volts: Floats) -> float:
        """Return by how much volts (entries, N) differ from the engine's, where it has any."""
        return float(np.nanmax(np.abs(volts - self.volts)))


def entry_table(network: Network) -> EntryTable:
    """Draw every fault in every phase, contacts and pieces standing as the engine has them."""
    faults = halfway_faults(network)
    standings = Standings(network, [(fault,) for fault in faults])
    asked = [(number, phase.name) for phase in network.phases for number in range(len(faults))]
    laws = [_laws(standings.case(number, phase)) for number, phase in asked]
    ends = tuple(dict.fromkeys(end for law in laws for end in law))
    table = np.array([[law.get(end, (NOTHING_SIEMENS, 0.0)) for end in ends] for law in laws])
    nodes = tuple(node for node in network.nodes if node != network.zero)
    volts = np.full((len(asked), len(nodes)), np.nan)
    for row, (number, phase) in enumerate(asked):
        standing = standings.standing(number, phase)
        if not standing.chatters:
            volts[row] = [standing.volts.get(node, np.nan) for node in nodes]
    return EntryTable(
        zero=network.zero,
        nodes=nodes,
        ends=ends,
        siemens=table[:, :, 0],
        amps=table[:, :, 1],
        phases=tuple(phase for _, phase in asked),
        volts=volts,
    )


def _laws(case: Case) -> dict[Ends, tuple[float, float]]:
    """Return siemens and amps at zero volts of every element, by its name and ends.

    An added resistance is taken into its element, so that every entry has the same nodes.
    """
    circuit = case.circuit
    found: dict[Ends, tuple[float, float]] = {}
    for element in circuit.straight:
        piece = case.pieces.get(element.name, 0)
        law = (element.siemens_of_piece[piece], element.amps_at_zero[piece])
        found[element.name, element.first, element.second] = law
    for moved in circuit.moved:
        ohms = moved.ohms(case.pieces)
        found[moved.name, moved.first, moved.second] = (1 / ohms, 0.0)
    return {
        end: (max(siemens, NOTHING_SIEMENS), amps)
        for end, (siemens, amps) in _without_inner_nodes(circuit, found).items()
    }


def _without_inner_nodes(
    circuit: PlainCircuit, found: dict[Ends, tuple[float, float]]
) -> dict[Ends, tuple[float, float]]:
    series = next((each for each in circuit.straight if each.second.endswith("the fault")), None)
    if series is None:
        # A path is an element of its own between each two places that one joins.
        return {
            (f"{name} {first} {second}" if name.startswith("fault ") else name, first, second): law
            for (name, first, second), law in found.items()
        }
    added_ohms = 1 / found.pop((series.name, series.first, series.second))[0]
    result = {}
    for (name, first, second), (siemens, amps) in found.items():
        if first != series.second:
            result[name, first, second] = siemens, amps
            continue
        weaker = 1 + siemens * added_ohms
        result[name, series.first, second] = siemens / weaker, amps / weaker
    return result
