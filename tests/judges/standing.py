"""Where the engine says a circuit stands: every node, every part, every piece, for many faults."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine import Fault, FaultKind, Network, Part, Place
from circuits.engine.laws import FloatArray
from circuits.engine.moves import BoolArray
from circuits.engine.phases import PhaseRun
from circuits.engine.settle import Settled
from circuits.engine.stage import Stage, Trials
from circuits.engine.wiring import Situation
from tests.judges.ngspice import Case
from tests.judges.plain import plain_circuit

NO_INPUT_CURRENT = math.inf


@dataclass(frozen=True, slots=True)
class Standing:
    """The engine's answer for one fault in one phase; places that hang loose have no volts."""

    volts: Mapping[str, float]
    amps: Mapping[str, float]
    pieces: Mapping[str, int]
    chatters: bool


class Standings:
    """Take faults (None is the healthy circuit) through all phases of a network at once."""

    def __init__(self, network: Network, faults: Sequence[Fault | None]) -> None:
        self.network = network
        self.faults = tuple(faults)
        suspects = tuple(dict.fromkeys(f.suspect if f is not None else None for f in faults))
        run = PhaseRun(network, suspects)
        shares = [f.suspect.share(f.severity) if f is not None else (0.0, 1.0) for f in faults]
        self.trials = Trials.of_singles(
            np.array([suspects.index(f.suspect if f is not None else None) for f in faults]),
            np.array([share for share, _ in shares]),
            np.array([rest for _, rest in shares]),
        )
        self.nodes = [node for node in network.nodes if node != network.zero]
        self.parts = [part.name for part in network.parts]
        seats = [
            *(Place(key=node, red=node, black=network.zero) for node in self.nodes),
            *(Place(key=f"amps {name}", through=name) for name in self.parts),
        ]
        readers = {
            Situation(phase=phase.name): [(place, NO_INPUT_CURRENT) for place in seats]
            for phase in network.phases
        }
        self._settled = {
            situation.phase: outcome
            for situation, outcome in run.go(self.trials, readers, all_phases=True).items()
        }
        self._read: dict[str, tuple[FloatArray, BoolArray]] = {}

    def standing(self, number: int, phase: str) -> Standing:
        """Return the answer for the fault of this number.

        Of a trial that chatters it is the answer in the last state of its round.
        """
        stage, settled = self._settled[phase]
        if phase not in self._read:
            self._read[phase] = stage.read(self.trials, settled.pieces, settled.bend.copy())
        values, loose = (array[number] for array in self._read[phase])
        nodes = len(self.nodes)
        volts = {
            node: float(value)
            for node, value, hangs_loose in zip(
                self.nodes, values[:nodes], loose[:nodes], strict=True
            )
            if not hangs_loose
        }
        return Standing(
            volts={self.network.zero: 0.0, **volts},
            amps=dict(zip(self.parts, values[nodes:].tolist(), strict=True)),
            pieces=pieces_of(stage, settled, number),
            chatters=bool(settled.chatters[number]),
        )

    def case(self, number: int, phase: str) -> Case:
        """Return the same fault for ngspice, contacts and pieces as they stand here."""
        standing = self.standing(number, phase)
        fault = self.faults[number]
        start_volts = dict(standing.volts)
        if fault is not None and fault.suspect.kind is FaultKind.RESISTANCE:
            part = self.network.part(fault.suspect.target)
            start_volts |= _volts_behind(part, fault.severity, standing)
        return Case(
            plain_circuit(self.network, self.network.phase(phase), fault),
            standing.pieces,
            start_volts,
        )


def pieces_of(stage: Stage, settled: Settled, number: int) -> dict[str, int]:
    return dict(zip(stage.control_names(), settled.pieces[number].tolist(), strict=True))


def _volts_behind(part: Part, ohms: float, standing: Standing) -> dict[str, float]:
    """Return the volts of the place between a fault's resistance and its part."""
    if math.isinf(ohms):
        before = standing.volts.get(part.second)
    else:
        before = standing.volts.get(part.first)
        if before is not None:
            before -= ohms * standing.amps[part.name]
    return {} if before is None else {f"{part.name} behind the fault": before}
