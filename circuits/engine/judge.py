"""Could this circuit, with the claimed fault, have shown these readings? And which other could?

Every suspect is tried over its whole range of severity, healthy among them. At each severity the
readings are compared with the prediction jointly: what the parts' tolerances and the meter allow
is put into one covariance, because a tolerance moves all the readings that its part touches
together (JCGM 100:2008, 5.2). The misfit is the chi-square of what is left; a suspect fits if the
best of its severities passes at 99.5 %. Where healthy passes as well, the readings cannot say.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import combinations

import numpy as np

from circuits.engine.chi_square import chi_square_limit
from circuits.engine.faults import Fault, FaultKind, Suspect, UnknownSuspect, suspects
from circuits.engine.laws import FloatArray
from circuits.engine.network import KeyState, Network, Phase
from circuits.engine.parts import Battery, Part, Supply
from circuits.engine.readings import AS_IT_STANDS, Meter, Place, Reading
from circuits.engine.settle import Trials
from circuits.engine.solve import SQRT_3, PhaseRun, predict
from circuits.engine.wiring import IntArray, Situation, unbent_input_ohms

# What a wire that hangs loose shows is what the meter picks up. Common practice, no source.
PICKED_UP_VOLTS = 0.05
# A rested battery between half and full charge is a supply, not a fault (12.24 to 12.65 V for
# half to full in the usual open-circuit table of a flooded battery).
MOST_REST_SHIFT_FRACTION = 0.03
REFINING_ROUNDS = 3
REFINING_POINTS = 9
MINIMA_TO_REFINE = 2
# Two predictions closer than this, in standard uncertainties, are the same to a technician.
SAME_READING = 0.5
MOST_ELEMENTS = 4_000_000


class Outcome(StrEnum):
    """What the readings allow a claim."""

    FITS = "fits"
    DOES_NOT_FIT = "does not fit"
    CANNOT_SAY = "cannot say"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What the readings say of one suspect; `suspect` is None for the healthy circuit.

    `severity`, `severity_low` and `severity_high` are in the suspect's unit; infinite added ohms
    are an open. `predicted` and `distance` have one entry for each reading, the distance being
    logged minus predicted in combined standard uncertainties. `deciding` is the number of the
    reading that decided, `watts` the heat in the fault at the best severity.
    """

    suspect: Suspect | None
    outcome: Outcome
    misfit: float
    misfit_limit: float
    severity: float | None
    severity_low: float | None
    severity_high: float | None
    predicted: tuple[float, ...]
    distance: tuple[float, ...]
    deciding: int | None
    because: str
    watts: float | None = None

    @property
    def id(self) -> str:
        return self.suspect.id if self.suspect is not None else "healthy"

    @property
    def passes(self) -> bool:
        return self.misfit <= self.misfit_limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Twins:
    """Suspects that no listed place can part, and the places between them that would."""

    suspect_ids: tuple[str, ...]
    between: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """The listed reading that parts two groups of suspects best."""

    first: str
    second: str
    phase: str
    place: str
    first_value: float
    second_value: float
    distance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the readings allow: the claim, healthy, and every other suspect, best first."""

    claim: Finding | None
    healthy: Finding
    findings: tuple[Finding, ...]
    twins: tuple[Twins, ...]
    partings: tuple[Parting, ...]
    readings: tuple[Reading, ...]
    notes: tuple[str, ...]

    @property
    def outcome(self) -> Outcome | None:
        return self.claim.outcome if self.claim is not None else None

    @property
    def nothing_fits(self) -> bool:
        return not self.healthy.passes and not any(finding.passes for finding in self.findings)

    @property
    def fitting(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.passes)


def judge(
    network: Network,
    readings: Sequence[Reading],
    *,
    claim: str | None = None,
    supply_places: Sequence[str] = (),
    places: Sequence[Place] = (),
) -> Verdict:
    """Return what the readings allow.

    Parameters
    ----------
    claim
        The id of the claimed fault, or none for an open case.
    supply_places
        Keys of the places that read the supply itself: what was logged there shifts the source
        before anything is judged, so that a car at 11.6 V is not called faulty.
    places
        The circuit's listed places: what no reading there can part are twins.

    Raises
    ------
    UnknownSuspect
        The claim is not a fault of this circuit.
    BadPlace, BadPhase
        A reading names something that is not in the circuit.
    ValueError
        There is no reading to judge.
    """
    if not readings:
        raise ValueError("there is no reading to judge; log at least one")
    listed = suspects(network)
    if claim is not None and claim not in {suspect.id for suspect in listed}:
        raise UnknownSuspect.among(claim, [suspect.id for suspect in listed])
    shifted, notes = _shift_supply(network, readings, supply_places)
    bench = _Bench(shifted, readings, listed)
    healthy, findings = bench.findings()
    fitting = [finding for finding in findings if finding.passes]
    comparison = _Comparison(shifted, readings, fitting, places)
    watts = comparison.watts()
    findings = [replace(finding, watts=watts.get(finding.id)) for finding in findings]
    findings.sort(key=lambda finding: (not finding.passes, finding.misfit))
    twins = comparison.twins()
    return Verdict(
        claim=next((finding for finding in findings if finding.id == claim), None),
        healthy=healthy,
        findings=tuple(findings),
        twins=twins,
        partings=comparison.partings(twins),
        readings=tuple(readings),
        notes=tuple(notes),
    )


# --------------------------------------------------------------------------------- supply


def _shift_supply(
    network: Network, readings: Sequence[Reading], supply_places: Sequence[str]
) -> tuple[Network, list[str]]:
    """Set the source to what was logged at the supply, in the phases where it was."""
    notes: list[str] = []
    logged = {
        reading.phase: reading
        for reading in readings
        if reading.place.key in supply_places and reading.rig == AS_IT_STANDS
    }
    if not logged:
        return network, notes
    at_supply = predict(network, list({r.place.key: r.place for r in logged.values()}.values()))
    rest_shift: float | None = None
    phases: list[Phase] = []
    for phase in network.phases:
        reading = logged.get(phase.name)
        if reading is None:
            phases.append(phase)
            continue
        shift = reading.value - at_supply[phase.name, reading.place.key].value
        if phase.key_state is KeyState.OFF and rest_shift is None:
            rest_shift = shift
        changes = {
            part.name: replace(part, volts=part.volts + shift)
            for part in network.parts_in(phase)
            if isinstance(part, Supply)
        }
        if changes:
            notes.append(
                f"the supply in '{phase.name}' is taken as it was logged, {reading.value:g} V "
                f"at {reading.place.key}"
            )
        phases.append(replace(phase, changes={**phase.changes, **changes}))
    shifted = replace(network, phases=tuple(phases))
    if rest_shift is not None:
        shifted = _shift_batteries(shifted, rest_shift, notes)
    return shifted, notes


def _shift_batteries(network: Network, shift: float, notes: list[str]) -> Network:
    batteries = [part for part in network.parts if isinstance(part, Battery)]
    if len(batteries) != 1:
        return network
    battery = batteries[0]
    most = MOST_REST_SHIFT_FRACTION * battery.open_circuit_volts
    if abs(shift) > most:
        notes.append(
            f"{battery.name} was logged {shift:+.2f} V from its usual rest volts; that is more "
            "than its charge explains, so it is judged and not taken as given"
        )
        return network
    volts = battery.open_circuit_volts + shift
    notes.append(f"{battery.name} is taken at {volts:.2f} V, as it was logged at rest")
    return network.with_part_values(battery.name, open_circuit_volts=volts)


# ----------------------------------------------------------------------------- trying all


@dataclass(frozen=True, slots=True)
class _Tried:
    """Trials with their severities and what came of them."""

    move: IntArray  # (E,)
    severity: FloatArray  # (E,)
    misfit: FloatArray  # (E,)
    predicted: FloatArray  # (E, m)
    distance: FloatArray  # (E, m)
    weight: FloatArray  # (E, m), what each reading adds to the misfit

    def joined(self, other: "_Tried") -> "_Tried":
        return _Tried(
            *(
                np.concatenate([getattr(self, name), getattr(other, name)])
                for name in self.__slots__
            )
        )


class _Bench:
    """Tries suspects at severities against the readings of one case."""

    def __init__(
        self, network: Network, readings: Sequence[Reading], listed: Sequence[Suspect]
    ) -> None:
        self.network = network
        self.readings = tuple(readings)
        self.suspects = (None, *listed)
        self.run = PhaseRun(network, self.suspects)
        self.readers: dict[Situation, list[tuple[Place, float]]] = {}
        self.where: list[tuple[Situation, int]] = []
        for reading in readings:
            situation = Situation.of_reading(reading)
            seats = self.readers.setdefault(situation, [])
            seat = (reading.place, unbent_input_ohms(reading.meter.input_ohms))
            if seat not in seats:
                seats.append(seat)
            self.where.append((situation, seats.index(seat)))
        self.logged = np.array([reading.value for reading in readings])
        self.meter_variance = np.array([meter_variance(reading) for reading in readings])
        self.limit = chi_square_limit(len(self.readings))

    def findings(self) -> tuple[Finding, list[Finding]]:
        """Return what the readings say of healthy and of every suspect."""
        move, severity = self._grid()
        tried = self._try(move, severity)
        for _ in range(REFINING_ROUNDS):
            move, severity = self._closer(tried)
            if not move.size:
                break
            tried = tried.joined(self._try(move, severity))
        healthy_row = int(np.flatnonzero(tried.move == 0)[0])
        healthy = self._finding(tried, np.array([healthy_row]), None)
        findings = []
        for number, suspect in enumerate(self.suspects):
            if suspect is None:
                continue
            rows = np.flatnonzero(tried.move == number)
            rows = rows[np.argsort(tried.severity[rows], kind="stable")]
            findings.append(self._finding(tried, rows, healthy))
        return healthy, findings

    def _grid(self) -> tuple[IntArray, FloatArray]:
        moves, severities = [np.array([0])], [np.array([0.0])]
        for number, suspect in enumerate(self.suspects):
            if suspect is None:
                continue
            grid = suspect.severity_grid()
            moves.append(np.full(len(grid), number))
            severities.append(grid)
        return np.concatenate(moves), np.concatenate(severities)

    def _closer(self, tried: _Tried) -> tuple[IntArray, FloatArray]:
        """Return finer severities around the best ones of each suspect."""
        moves, severities = [], []
        for number in range(1, len(self.suspects)):
            rows = np.flatnonzero(tried.move == number)
            rows = rows[np.argsort(tried.severity[rows], kind="stable")]
            misfit, severity = tried.misfit[rows], tried.severity[rows]
            usable = np.isfinite(severity) & (severity > 0)
            misfit, severity = misfit[usable], severity[usable]
            padded = np.pad(misfit, 1, constant_values=np.inf)
            minima = np.flatnonzero((misfit <= padded[:-2]) & (misfit <= padded[2:]))
            for minimum in minima[np.argsort(misfit[minima])][:MINIMA_TO_REFINE]:
                low = severity[max(minimum - 1, 0)]
                high = severity[min(minimum + 1, len(severity) - 1)]
                if high / low < 1.0005:
                    continue
                finer = np.geomspace(low, high, REFINING_POINTS + 2)[1:-1]
                moves.append(np.full(len(finer), number))
                severities.append(finer)
        if not moves:
            return np.array([], dtype=np.intp), np.array([])
        return np.concatenate(moves), np.concatenate(severities)

    def _try(self, move: IntArray, severity: FloatArray) -> _Tried:
        count = len(self.readings)
        most = max(1, MOST_ELEMENTS // (count * (count + 80)))
        parts = [
            self._try_some(move[begin : begin + most], severity[begin : begin + most])
            for begin in range(0, len(move), most)
        ]
        tried = parts[0]
        for part in parts[1:]:
            tried = tried.joined(part)
        return tried

    def _try_some(self, move: IntArray, severity: FloatArray) -> _Tried:
        shares = np.array(
            [
                self._share(number, amount)
                for number, amount in zip(move.tolist(), severity.tolist(), strict=True)
            ]
        ).reshape(-1, 2)
        trials = Trials(move.astype(np.intp), shares[:, 0], shares[:, 1])
        predicted, spread, variance, half_span = self._predict(trials)
        miss = self.logged - predicted
        # A chattering relay lets the meter show anything between its two states.
        miss = np.sign(miss) * np.maximum(np.abs(miss) - half_span, 0.0)
        covariance = np.einsum("eip,ejp->eij", spread, spread) / 3
        diagonal = np.arange(len(self.readings))
        covariance[:, diagonal, diagonal] += variance
        pulled = np.linalg.solve(covariance, miss[:, :, None])[:, :, 0]
        weight = miss * pulled
        uncertainty = np.sqrt(covariance[:, diagonal, diagonal])
        return _Tried(
            move=move,
            severity=severity,
            misfit=weight.sum(axis=1),
            predicted=predicted,
            distance=miss / uncertainty,
            weight=weight,
        )

    def _share(self, number: int, severity: float) -> tuple[float, float]:
        suspect = self.suspects[number]
        return suspect.share(severity) if suspect is not None else (0.0, 1.0)

    def _predict(self, trials: Trials) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return predictions (E, m), tolerance spreads (E, m, P), variances and half spans."""
        settled = self.run.go(trials, self.readers)
        names = _tolerance_columns(settled)
        shape = (len(trials), len(self.readings))
        predicted, half_span = np.empty(shape), np.empty(shape)
        variance = np.broadcast_to(self.meter_variance, shape).copy()
        spread = np.zeros((*shape, len(names)))
        spreads = {
            situation: settled[situation][0].sensitivities(trials, settled[situation][1].pieces)
            for situation in self.readers
        }
        for number, (situation, seat) in enumerate(self.where):
            stage, outcome = settled[situation]
            low, high = outcome.low[:, seat], outcome.high[:, seat]
            predicted[:, number] = (low + high) / 2
            half_span[:, number] = (high - low) / 2
            variance[:, number] += np.where(outcome.floating[:, seat], PICKED_UP_VOLTS**2, 0.0)
            columns = [names[_column(stage_name, situation)] for stage_name in stage.tolerance_names()]
            spread[:, number, columns] = spreads[situation][:, seat]
        return predicted, spread, variance, half_span

    # ------------------------------------------------------------------------- findings

    def _finding(self, tried: _Tried, rows: IntArray, healthy: Finding | None) -> Finding:
        best = int(rows[np.argmin(tried.misfit[rows])])
        suspect = self.suspects[int(tried.move[best])]
        passing = rows[tried.misfit[rows] <= self.limit]
        outcome = Outcome.DOES_NOT_FIT
        if passing.size:
            undecided = healthy is not None and healthy.passes
            outcome = Outcome.CANNOT_SAY if undecided else Outcome.FITS
        severity = low = high = None
        if suspect is not None:
            severity = float(tried.severity[best])
            if passing.size:
                low, high = float(tried.severity[passing[0]]), float(tried.severity[passing[-1]])
        deciding = self._deciding(tried.weight[best], outcome, healthy)
        return Finding(
            suspect=suspect,
            outcome=outcome,
            misfit=float(tried.misfit[best]),
            misfit_limit=self.limit,
            severity=severity,
            severity_low=low,
            severity_high=high,
            predicted=tuple(tried.predicted[best].tolist()),
            distance=tuple(tried.distance[best].tolist()),
            deciding=deciding,
            because=self._because(tried, best, outcome, deciding, healthy),
        )

    def _deciding(
        self, weight: FloatArray, outcome: Outcome, healthy: Finding | None
    ) -> int | None:
        """Return the reading that excludes the suspect, or that excludes healthy in its favour."""
        if outcome is Outcome.DOES_NOT_FIT:
            return int(np.argmax(weight))
        if outcome is Outcome.FITS and healthy is not None:
            return int(np.argmax(np.abs(healthy.distance)))
        return None

    def _because(
        self,
        tried: _Tried,
        row: int,
        outcome: Outcome,
        deciding: int | None,
        healthy: Finding | None,
    ) -> str:
        if outcome is Outcome.CANNOT_SAY:
            return "a healthy circuit reads the same, so these readings neither support nor exclude it"
        if deciding is None:
            return "every reading lies where a healthy circuit would put it"
        reading = self.readings[deciding]
        logged = _show(reading.value, reading)
        at = f"{reading.place.key} in '{reading.phase}'"
        predicted = _show(float(tried.predicted[row, deciding]), reading)
        if outcome is Outcome.DOES_NOT_FIT:
            return f"{at} was logged as {logged}; at its best it would read {predicted}"
        assert healthy is not None
        sound = _show(healthy.predicted[deciding], reading)
        return f"{at} was logged as {logged}; it would read {predicted}, a healthy circuit {sound}"


def _show(value: float, reading: Reading) -> str:
    unit = "A" if reading.place.reads_amps else "V"
    if abs(value) < 0.1 and (value or reading.step < 0.01):
        return f"{value * 1000:.3g} m{unit}"
    return f"{value:.2f} {unit}" if abs(value) < 100 else f"{value:.1f} {unit}"


def meter_variance(reading: Reading) -> float:
    """Return the variance that the meter brings: percent and counts, and the display's step.

    Both are bounds of a rectangular distribution (JCGM 100:2008, 4.3.7): a / sqrt(3), and half a
    step / sqrt(3) for the last digit.
    """
    meter = reading.meter
    share = meter.reading_fraction * abs(reading.value)
    counts = meter.counts * reading.step
    return ((share + counts) ** 2 + (reading.step / 2) ** 2) / 3


_Column = tuple[str, str, str]


def _column(name: tuple[str, str, bool], situation: Situation) -> _Column:
    branch, value, phase_bound = name
    return branch, value, situation.phase if phase_bound else ""


def _tolerance_columns(settled: Mapping[Situation, tuple[object, object]]) -> dict[_Column, int]:
    """Number the tolerances of all situations; one of the same part counts once."""
    columns: dict[_Column, int] = {}
    for situation, (stage, _) in settled.items():
        for name in stage.tolerance_names():  # type: ignore[attr-defined]
            columns.setdefault(_column(name, situation), len(columns))
    return columns


# ---------------------------------------------------------------------------- comparing


class _Comparison:
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
        trials = Trials(np.arange(len(self.faults)), shares[:, 0], shares[:, 1])
        amps = [
            Place(key=f"amps {part.name}", through=part.name) for part in self.network.parts
        ]
        seats = [(place, self.meter.input_ohms) for place in (*self.places, *amps)]
        readers = {Situation(phase=phase.name): seats for phase in self.network.phases}
        settled = run.go(trials, readers)
        listed = len(self.places)
        self.phases = [situation.phase for situation in settled]
        values = [(outcome.low + outcome.high) / 2 for _, outcome in settled.values()]
        spreads = [
            stage.sensitivities(trials, outcome.pieces) for stage, outcome in settled.values()
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
        return np.abs(self.values[:, one] - self.values[:, other]) / uncertainty

    def watts(self) -> dict[str, float]:
        """Return the heat in each fault that is an added resistance, in its hottest phase."""
        names = [part.name for part in self.network.parts]
        heat = {}
        for number, fault in enumerate(self.faults):
            if fault.suspect.kind is FaultKind.RESISTANCE and math.isfinite(fault.severity):
                amps = np.abs(self.amps[:, number, names.index(fault.suspect.target)]).max()
                heat[fault.suspect.id] = float(amps**2 * fault.severity)
        return heat

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
