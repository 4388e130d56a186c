"""What the suspects that fit would read elsewhere: who is whose twin, and what parts them."""

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from circuits.engine.equations.stage import Trials
from circuits.engine.equations.wiring import Situation
from circuits.engine.faults import Fault
from circuits.engine.instruments import WIDE_RANGE_AMPS, Ohmmeter
from circuits.engine.judging.verdict import Finding, Parting, Twins
from circuits.engine.laws import FloatArray
from circuits.engine.network import Network
from circuits.engine.parts import FaultKind, Fuse, Part
from circuits.engine.readings import AS_IT_STANDS, Meter, Place, Reading
from circuits.engine.settling.phases import PhaseRun
from circuits.engine.settling.tolerances import sensitivities

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
        values, variance = self._read(run, trials, (*self.places, *amps))
        listed = len(self.places)
        self.phases = [phase.name for phase in self.network.phases]
        self.values, self.amps = values[:, :, :listed], values[:, :, listed:]
        share = self.meter.reading_fraction * np.abs(self.values)
        counts = self.meter.counts * np.array([place.usual_step for place in self.places])
        self.uncertainty = np.sqrt(variance[:, :, :listed] + (share**2 + counts**2) / 3)

    def _read(
        self, run: PhaseRun, trials: Trials, places: Sequence[Place]
    ) -> tuple[FloatArray, FloatArray]:
        """Return what all places show and its variance by tolerances, (phases, faults, places)."""
        ohmmeter = Ohmmeter.on_range(self.meter, WIDE_RANGE_AMPS)
        readers: dict[Situation, list[tuple[Place, float]]] = {}
        where: dict[Situation, list[tuple[int, int]]] = {}
        for row, phase in enumerate(self.network.phases):
            for column, place in enumerate(places):
                situation = Situation.of(
                    phase.name,
                    place,
                    AS_IT_STANDS.for_place(place),
                    self.meter.input_ohms,
                    ohmmeter,
                )
                readers.setdefault(situation, []).append((place, self.meter.input_ohms))
                where.setdefault(situation, []).append((row, column))
        shape = (len(self.network.phases), len(trials), len(places))
        values, variance = np.empty(shape), np.empty(shape)
        went = run.go(trials, readers)
        for situation, seats in where.items():
            stage, outcome = went[situation]
            row, columns = seats[0][0], [column for _, column in seats]
            spread = sensitivities(stage, trials, outcome)
            values[row][:, columns] = (outcome.low + outcome.high) / 2
            variance[row][:, columns] = (spread**2).sum(axis=2) / 3
        return values, variance

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
