"""Where the engine says a circuit stands: every node, every part, every piece, for many faults."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine import FaultKind, Network, Part, Place
from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import Situation
from circuits.engine.laws import FloatArray
from circuits.engine.settling.phases import PhaseRun
from circuits.engine.settling.settle import Settled
from tests.judges.ngspice import Case
from tests.judges.plain import plain_circuit
from tests.judges.plain_faults import Faults, single_faults

NO_INPUT_CURRENT = math.inf


@dataclass(frozen=True, slots=True)
class Standing:
    """The engine's answer for some faults in one phase; places that hang loose have no volts."""

    volts: Mapping[str, float]
    amps: Mapping[str, float]
    pieces: Mapping[str, int]
    chatters: bool


class Standings:
    """Take faults, some of them several at once, through all phases of a network."""

    def __init__(self, network: Network, at_once: Sequence[Faults]) -> None:
        self.network = network
        self.at_once = tuple(at_once)
        listed = dict.fromkeys(fault.suspect for faults in at_once for fault in faults)
        # The healthy circuit stands first and fills up where there are fewer faults.
        run = PhaseRun(network, (None, *listed))
        numbers = {suspect: number for number, suspect in enumerate(listed, start=1)}
        most = max(1, *(len(faults) for faults in at_once))
        suspect = np.zeros((len(self.at_once), most), dtype=np.intp)
        share, rest = np.zeros(suspect.shape), np.ones(suspect.shape)
        for row, faults in enumerate(self.at_once):
            for column, fault in enumerate(faults):
                suspect[row, column] = numbers[fault.suspect]
                share[row, column], rest[row, column] = fault.suspect.share(fault.severity)
        self.trials = Trials(suspect, share, rest)
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
        """Return the answer for the faults of this number.

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
        """Return the same faults for ngspice, contacts and pieces as they stand here."""
        standing, faults = self.standing(number, phase), self.at_once[number]
        start_volts = dict(standing.volts)
        for fault in single_faults(faults):
            if fault.suspect.kind is FaultKind.RESISTANCE:
                part = self.network.part(fault.suspect.target)
                start_volts |= _volts_behind(part, fault.severity, standing)
        return Case(
            plain_circuit(self.network, self.network.phase(phase), faults),
            standing.pieces,
            start_volts,
        )


def pieces_of(stage: Stage, settled: Settled, number: int) -> dict[str, int]:
    return dict(zip(stage.control_names(), settled.pieces[number].tolist(), strict=True))


def _volts_behind(part: Part, ohms: float, standing: Standing) -> dict[str, float]:
    """Return the volts of the place between a fault's resistance and its part, of two ends."""
    if len(part.ends) > 2:
        return {}
    if math.isinf(ohms):
        before = standing.volts.get(part.second)
    else:
        before = standing.volts.get(part.first)
        if before is not None:
            before -= ohms * standing.amps[part.name]
    return {} if before is None else {f"{part.name} behind the fault": before}
