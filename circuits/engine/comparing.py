"""What the suspects that fit would read elsewhere: who is whose twin, and what parts them."""

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from circuits.engine.faults import Fault
from circuits.engine.laws import FloatArray
from circuits.engine.network import Network
from circuits.engine.parts import FaultKind, Fuse, Part
from circuits.engine.phases import PhaseRun
from circuits.engine.readings import Meter, Place, Reading
from circuits.engine.solve import SQRT_3
from circuits.engine.stage import Trials
from circuits.engine.tolerances import sensitivities
from circuits.engine.verdict import Finding, Parting, Twins
from circuits.engine.wiring import Situation

# Two predictions closer than this, in standard uncertainties, are the same to a technician.
SAME_READING = 0.5
# A fuse opens in the end at 1.35 times its rating (conventional trip of ISO 8820-3).
FUSE_TRIP_RATIO = 1.35


class Comparison:
    """What the suspects that fit would read at every listed place, side by side."""

    def __init__(
        self,
        network: Network,
        readings: Sequence[Reading],
        fitting: Sequence[Finding],
        places: Sequence[Place],
    ) -> None:
        self.network = network
        self.fitting = tuple(fitting)
        self.places = tuple(places) or tuple({r.place.key: r.place for r in readings}.values())
        self.faults = [
            Fault(suspect=finding.suspect, severity=finding.severity)
            for finding in fitting
            if finding.suspect is not None and finding.severity is not None
        ]
        self.meter = Meter()
        self._settle()

    def _settle(self) -> None:
        suspects_tried = [fault.suspect for fault in self.faults]
        run = PhaseRun(self.network, suspects_tried)
        shares = np.array([fault.suspect.share(fault.severity) for fault in self.faults])
        shares = shares.reshape(-1, 2)
        trials = Trials.of_singles(np.arange(len(self.faults)), shares[:, 0], shares[:, 1])
        amps = [Place(key=f"amps {part.name}", through=part.name) for part in self.network.parts]
        seats = [(place, self.meter.input_ohms) for place in (*self.places, *amps)]
        readers = {Situation(phase=phase.name): seats for phase in self.network.phases}
        settled = run.go(trials, readers)
        listed = len(self.places)
        self.phases = [situation.phase for situation in settled]
        values = [(outcome.low + outcome.high) / 2 for _, outcome in settled.values()]
        spreads = [
            sensitivities(stage, trials, outcome.pieces, outcome.bend)
            for stage, outcome in settled.values()
        ]
        # (phases, faults, places)
        self.values = np.array([value[:, :listed] for value in values])
        self.amps = np.array([value[:, listed:] for value in values])
        model = np.array([(spread[:, :listed] ** 2).sum(axis=2) / 3 for spread in spreads])
        own = self.meter.reading_fraction * np.abs(self.values) / SQRT_3
        self.uncertainty = np.sqrt(model + own**2 + self._step_uncertainty() ** 2)

    def _step_uncertainty(self) -> float:
        """Return the uncertainty of two counts on a display that steps 10 mV or 10 mA."""
        return float(self.meter.counts * 0.01 / SQRT_3)

    def _apart(self, one: int, other: int) -> FloatArray:
        """Return how far two faults lie apart (phases, places), in combined uncertainty."""
        uncertainty = np.hypot(self.uncertainty[:, one], self.uncertainty[:, other])
        apart = np.abs(self.values[:, one] - self.values[:, other]) / uncertainty
        return np.asarray(apart, dtype=np.float64)

    def watts(self) -> dict[str, float]:
        """Return the heat in each fault that is an added resistance, in its hottest phase."""
        names = [part.name for part in self.network.parts]
        heat = {}
        for number, fault in enumerate(self.faults):
            if fault.suspect.kind is FaultKind.RESISTANCE and math.isfinite(fault.severity):
                amps = np.abs(self.amps[:, number, names.index(fault.suspect.target)]).max()
                heat[fault.suspect.id] = float(amps**2 * fault.severity)
        return heat

    def overloads(self) -> dict[str, tuple[str, ...]]:
        """Return for each suspect the fuses that would not have stood its current."""
        fuses = [part for part in self.network.parts if isinstance(part, Fuse)]
        names = [part.name for part in self.network.parts]
        found = {}
        for number, fault in enumerate(self.faults):
            words = []
            for fuse in fuses:
                amps = float(np.abs(self.amps[:, number, names.index(fuse.name)]).max())
                if amps > FUSE_TRIP_RATIO * fuse.rated_amps:
                    words.append(f"{fuse.name} ({fuse.rated_amps:g} A) would carry {amps:.0f} A")
            if words:
                found[fault.suspect.id] = tuple(words)
        return found

    def twins(self) -> tuple[Twins, ...]:
        """Group the suspects that no listed place can part."""
        groups: list[list[int]] = []
        for number in range(len(self.faults)):
            for group in groups:
                if self._apart(group[0], number).max(initial=0.0) < SAME_READING:
                    group.append(number)
                    break
            else:
                groups.append([number])
        return tuple(
            Twins(
                suspect_ids=tuple(self.faults[number].suspect.id for number in group),
                between=self._between(group),
            )
            for group in groups
        )

    def _between(self, group: Sequence[int]) -> tuple[str, ...]:
        """Return the connections where two parts of a group meet: a lead there parts them."""
        ends: dict[str, int] = {}
        parts: list[Part] = [
            self.network.part(self.faults[number].suspect.target)
            for number in group
            if self.faults[number].suspect.kind is FaultKind.RESISTANCE
        ]
        for part in parts:
            for node in (part.first, part.second):
                ends[node] = ends.get(node, 0) + 1
        return tuple(node for node, count in ends.items() if count > 1)

    def partings(self, twins: Sequence[Twins]) -> tuple[Parting, ...]:
        """Return for each two groups the listed reading that parts them best."""
        number_of = {fault.suspect.id: number for number, fault in enumerate(self.faults)}
        found = []
        for one, other in combinations(twins, 2):
            first, second = number_of[one.suspect_ids[0]], number_of[other.suspect_ids[0]]
            apart = self._apart(first, second)
            if not apart.size:
                continue
            phase, place = np.unravel_index(int(np.argmax(apart)), apart.shape)
            found.append(
                Parting(
                    first=one.suspect_ids[0],
                    second=other.suspect_ids[0],
                    phase=self.phases[int(phase)],
                    place=self.places[int(place)].key,
                    first_value=float(self.values[phase, first, place]),
                    second_value=float(self.values[phase, second, place]),
                    distance=float(apart[phase, place]),
                )
            )
        return tuple(found)
