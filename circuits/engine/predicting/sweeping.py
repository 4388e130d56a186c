"""What meters show along a whole row of faults at once: severity curves, tables of all faults."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import IntArray, Situation, unbent_input_ohms
from circuits.engine.faults import Fault, Scales, Suspect
from circuits.engine.instruments import WIDE_RANGE_AMPS, Ohmmeter
from circuits.engine.laws import FloatArray
from circuits.engine.network import Network
from circuits.engine.predicting.solve import Prediction
from circuits.engine.readings import AS_IT_STANDS, Meter, Place, Rig
from circuits.engine.settling.phases import PhaseRun, Went
from circuits.engine.settling.ranges import ranges, reaches

# How many sensitivities to hold at once; longer rows of faults go through in portions.
MOST_ELEMENTS = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class States:
    """How one part with several ways of behaving stands at each of E faults.

    `piece` counts the thresholds it has passed, `made` says whether it ties its two ends together
    (a contact that is closed, a diode that conducts), `remembers` whether it has hysteresis, as
    relays and rules have.
    """

    remembers: bool
    piece: IntArray  # (E,)
    made: BoolArray  # (E,)

    def joined(self, other: "States") -> "States":
        piece, made = (self.piece, other.piece), (self.made, other.made)
        return replace(self, piece=np.concatenate(piece), made=np.concatenate(made))

    def taken(self, order: IntArray) -> "States":
        return replace(self, piece=self.piece[order], made=self.made[order])


_ARRAYS = (
    "values",
    "low",
    "high",
    "worst_low",
    "worst_high",
    "floating",
    "chatters",
    "near_threshold",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """What meters show at R places in P phases under E faults, in the order they were asked for.

    Values are in volts, amps or ohms. `low` to `high` is the range that part tolerances and the
    meter leave, about 99.5 %; where a circuit chatters it spans both states. `states` holds, by
    phase and place, the parts that have several ways of behaving, by their names. Ohms are read
    with the power removed, and on one range for all faults: above `most` (infinite but for ohms)
    the display shows OL.
    """

    faults: tuple[Fault | None, ...]
    phases: tuple[str, ...]
    places: tuple[str, ...]
    values: FloatArray  # (E, P, R)
    low: FloatArray  # (E, P, R)
    high: FloatArray  # (E, P, R)
    worst_low: FloatArray  # (E, P, R)
    worst_high: FloatArray  # (E, P, R)
    floating: BoolArray  # (E, P, R)
    chatters: BoolArray  # (E, P, R)
    near_threshold: BoolArray  # (E, P, R)
    most: tuple[float, ...]
    states: Mapping[tuple[str, str], Mapping[str, States]]

    def joined(self, other: "Sweep") -> "Sweep":
        """Return this row of faults with another of the same places and phases behind it."""
        arrays: dict[str, Any] = {
            name: np.concatenate([getattr(self, name), getattr(other, name)]) for name in _ARRAYS
        }
        states = {
            seat: {name: state.joined(other.states[seat][name]) for name, state in row.items()}
            for seat, row in self.states.items()
        }
        return replace(self, faults=self.faults + other.faults, states=states, **arrays)

    def taken(self, order: Sequence[int]) -> "Sweep":
        """Return the faults of these numbers, in this order."""
        chosen = np.array(order, dtype=np.intp)
        states = {
            seat: {name: state.taken(chosen) for name, state in row.items()}
            for seat, row in self.states.items()
        }
        arrays: dict[str, Any] = {name: getattr(self, name)[chosen] for name in _ARRAYS}
        faults = tuple(self.faults[number] for number in order)
        return replace(self, faults=faults, states=states, **arrays)

    def predictions(self, number: int) -> dict[tuple[str, str], Prediction]:
        """Return what `predict` would say of one of the faults, by (phase, place key)."""
        return {
            (phase, place): Prediction(
                value=float(self.values[number, row, column]),
                low=float(self.low[number, row, column]),
                high=float(self.high[number, row, column]),
                worst_low=float(self.worst_low[number, row, column]),
                worst_high=float(self.worst_high[number, row, column]),
                floating=bool(self.floating[number, row, column]),
                chatters=bool(self.chatters[number, row, column]),
                near_threshold=bool(self.near_threshold[number, row, column]),
                over_range=abs(float(self.values[number, row, column])) >= self.most[column],
            )
            for row, phase in enumerate(self.phases)
            for column, place in enumerate(self.places)
        }


def sweep(
    network: Network,
    places: Sequence[Place],
    faults: Sequence[Fault | None],
    *,
    rig: Rig = AS_IT_STANDS,
    meter: Meter | None = None,
) -> Sweep:
    """Return what meters show at the places in every phase, under each fault of a row.

    None among the faults is the healthy circuit. Faults of one circuit share its factorisations,
    so a hundred of them cost a few times what one does. The same as `predict`, fault by fault.

    >>> from circuits.engine import Battery, Fault, Network, Place, Resistor, find_suspect, sweep
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.6, internal_ohms=0.001),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.05),
    ...     Resistor(name="H1", first="in", second="minus", ohms=6.0),
    ... ))
    >>> wire = find_suspect(lamp, "resistance:W1")
    >>> rising = [None, *(Fault(suspect=wire, severity=ohms) for ohms in (0.5, 6.0, 60.0))]
    >>> shown = sweep(lamp, [Place(key="lamp", red="in", black="minus")], rising)
    >>> shown.values[:, 0, 0].round(2).tolist()
    [12.49, 11.54, 6.27, 1.14]

    Raises
    ------
    BadPlace
        A place or the rig names something that is not in the circuit.
    """
    listed = dict.fromkeys(fault.suspect if fault is not None else None for fault in faults)
    return Sweeper(network, places, tuple(listed), rig=rig, meter=meter).sweep(faults)


class Sweeper:
    """A circuit with some suspects, made ready for any number of sweeps along their severities.

    The arguments are those of `sweep`; None among the suspects is the healthy circuit.
    """

    def __init__(
        self,
        network: Network,
        places: Sequence[Place],
        suspects: Sequence[Suspect | None],
        *,
        rig: Rig = AS_IT_STANDS,
        meter: Meter | None = None,
    ) -> None:
        self._numbers = {suspect: number for number, suspect in enumerate(suspects)}
        self._run = PhaseRun(network, suspects)
        self._scales = Scales(suspects)
        self._seats = _Seats(network, places, rig, meter or Meter())
        self._portion = max(1, MOST_ELEMENTS // max(1, 2 * len(places) * len(network.parts)))

    def sweep(self, faults: Sequence[Fault | None]) -> Sweep:
        """Return what meters show at the places in every phase, under each fault of a row.

        Raises
        ------
        KeyError
            A fault is of none of the suspects.
        """
        found = self._sweep_some(faults[: self._portion])
        for begin in range(self._portion, len(faults), self._portion):
            found = found.joined(self._sweep_some(faults[begin : begin + self._portion]))
        return found

    def _sweep_some(self, faults: Sequence[Fault | None]) -> Sweep:
        number = np.array(
            [self._numbers[fault.suspect if fault is not None else None] for fault in faults],
            dtype=np.intp,
        )
        severity = np.array([fault.severity if fault is not None else 0.0 for fault in faults])
        trials = Trials.of_singles(number, *self._scales.shares(number, severity))
        return _shown(self._run, self._seats, faults, trials)


class _Seats:
    """Which places are read in which situation; `where` leads from there to (phase, place)."""

    def __init__(self, network: Network, places: Sequence[Place], rig: Rig, meter: Meter) -> None:
        self.phases = tuple(phase.name for phase in network.phases)
        self.places = tuple(place.key for place in places)
        self.meter = meter
        ohmmeter = Ohmmeter.on_range(meter, WIDE_RANGE_AMPS)
        self.most = tuple(ohmmeter.most_ohms if each.reads_ohms else math.inf for each in places)
        self.readers: dict[Situation, list[tuple[Place, float]]] = {}
        self.where: dict[Situation, list[tuple[int, int]]] = {}
        for row, phase in enumerate(network.phases):
            for column, place in enumerate(places):
                situation = Situation.of(
                    phase.name, place, rig.for_place(place), meter.input_ohms, ohmmeter
                )
                seat = (place, unbent_input_ohms(meter.input_ohms))
                self.readers.setdefault(situation, []).append(seat)
                self.where.setdefault(situation, []).append((row, column))


def _shown(run: PhaseRun, seats: _Seats, faults: Sequence[Fault | None], trials: Trials) -> Sweep:
    went = run.go(trials, seats.readers)
    reach_in = reaches(run, trials, seats.readers, went)
    shape = (len(faults), len(seats.phases), len(seats.places))
    values, low, high, worst_low, worst_high = (np.zeros(shape) for _ in range(5))
    floating, chatters, near_threshold = (np.zeros(shape, dtype=bool) for _ in range(3))
    for situation, where in seats.where.items():
        stage, settled = went[situation]
        middle = (settled.low + settled.high) / 2
        bounds = seats.meter.reading_fraction * np.abs(middle)
        reach = reach_in[situation]
        span = ranges(stage, trials, settled, reach, bounds)
        for seat, (row, column) in enumerate(where):
            values[:, row, column] = middle[:, seat]
            low[:, row, column], high[:, row, column] = span.low[:, seat], span.high[:, seat]
            worst_low[:, row, column] = span.worst_low[:, seat]
            worst_high[:, row, column] = span.worst_high[:, seat]
            near_threshold[:, row, column] = reach.near_threshold
            floating[:, row, column] = settled.floating[:, seat]
            chatters[:, row, column] = settled.chatters
    return Sweep(
        faults=tuple(faults),
        phases=seats.phases,
        places=seats.places,
        values=values,
        low=low,
        high=high,
        worst_low=worst_low,
        worst_high=worst_high,
        floating=floating,
        chatters=chatters,
        near_threshold=near_threshold,
        most=seats.most,
        states=_states(went, seats),
    )


def _states(went: Went, seats: _Seats) -> dict[tuple[str, str], dict[str, States]]:
    found: dict[tuple[str, str], dict[str, States]] = {}
    for situation, readers in seats.readers.items():
        stage, settled = went[situation]
        states = _states_of(stage, settled.pieces)
        found.update({(situation.phase, place.key): states for place, _ in readers})
    return found


def _states_of(stage: Stage, pieces: IntArray) -> dict[str, States]:
    wiring = stage.wiring
    return {
        name: States(
            remembers=bool(wiring.remembers[row]),
            piece=pieces[:, row],
            made=wiring.laws[wiring.controlled[row], pieces[:, row], 0] != 0.0,
        )
        for row, name in enumerate(stage.control_names())
    }
