"""The plain questions: what a circuit does in each phase, and what a meter would show."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine.faults import Fault
from circuits.engine.instruments import RANGE_AMPS, Ohmmeter, meter_bound
from circuits.engine.moves import BoolArray
from circuits.engine.network import Network
from circuits.engine.phases import PhaseRun
from circuits.engine.readings import AS_IT_STANDS, Meter, Place, Rig
from circuits.engine.settle import Settled
from circuits.engine.stage import REACHED, Stage, Trials
from circuits.engine.tolerances import sensitivities
from circuits.engine.wiring import Situation, unbent_input_ohms

# A 99.5 % interval of a normal quantity reaches this many standard uncertainties either side.
COVERAGE_FACTOR = 2.807
SQRT_3 = np.sqrt(3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseSolution:
    """The circuit in one phase: volts against the zero node, amps from first end to second."""

    phase: str
    volts: Mapping[str, float | None]
    amps: Mapping[str, float]
    contacts: Mapping[str, bool]
    chatters: bool

    def drop_volts(self, red: str, black: str) -> float:
        """Return the volts from `red` to `black`; NaN if either floats."""
        return _or_nan(self.volts[red]) - _or_nan(self.volts[black])


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """What a meter would show: the value and the range that tolerances and meter leave."""

    value: float
    low: float
    high: float
    floating: bool
    chatters: bool
    #: Ohms beyond the meter's range: the display shows OL.
    over_range: bool = False


def at_once(fault: Fault | Sequence[Fault] | None) -> tuple[Fault, ...]:
    """Return the faults that are there together: none, one or several."""
    if fault is None:
        return ()
    return (fault,) if isinstance(fault, Fault) else tuple(fault)


def run_with(network: Network, faults: Sequence[Fault]) -> tuple[PhaseRun, Trials]:
    """Return a run with one trial, which has these faults at once."""
    listed = (None, *(fault.suspect for fault in faults))
    shares = [(0.0, 1.0), *(fault.suspect.share(fault.severity) for fault in faults)]
    share, rest = np.array([shares]).transpose(2, 0, 1)
    return PhaseRun(network, listed), Trials(np.arange(len(listed))[None], share, rest)


def solve(
    network: Network, fault: Fault | Sequence[Fault] | None = None
) -> tuple[PhaseSolution, ...]:
    """Return the volts and amps of a circuit in every phase, healthy or with faults in it.

    >>> from circuits.engine import Battery, Network, Resistor, solve
    >>> starter = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.0, internal_ohms=0.01),
    ...     Resistor(name="M1", first="plus", second="minus", ohms=0.05),
    ... ))
    >>> round(solve(starter)[0].amps["M1"], 1)
    200.0

    Raises
    ------
    ContradictoryNetwork
        Sources fight in a loop without resistance; the reasons name the parts.
    """
    run, trial = run_with(network, at_once(fault))
    settled = run.go(trial, {}, all_phases=True)
    return tuple(
        _phase_solution(network, situation.phase, stage, outcome, trial)
        for situation, (stage, outcome) in settled.items()
    )


def _phase_solution(
    network: Network, phase: str, stage: Stage, settled: Settled, trial: Trials
) -> PhaseSolution:
    wiring = stage.wiring
    unknowns = stage.unknowns(trial, settled.pieces)[0]
    loose = _loose_nodes(stage, settled, trial)
    volts: dict[str, float | None] = {network.zero: 0.0}
    for node in network.nodes:
        number = wiring.node_index.get(node)
        if number is None:
            continue
        volts[node] = None if loose[number] else float(unknowns[number])
    amps = {}
    for part in network.parts:
        names = (f"{part.name}.terminal", part.name)
        branch = next(wiring.branch_index[name] for name in names if name in wiring.branch_index)
        amps[part.name] = float(unknowns[wiring.node_count + branch])
    contacts = {
        wiring.branches[branch].name: bool(wiring.laws[branch, settled.pieces[0, row], 0] != 0.0)
        for row, branch in enumerate(wiring.controlled)
        if wiring.remembers[row]
    }
    return PhaseSolution(
        phase=phase,
        volts=volts,
        amps=amps,
        contacts=contacts,
        chatters=bool(settled.chatters[0]),
    )


def _loose_nodes(stage: Stage, settled: Settled, trial: Trials) -> BoolArray:
    """Return which nodes hang loose: cut off as drawn or by an open, and not joined by a path."""
    view = stage.view(settled.pieces[0])
    grip = stage.hold(view, trial)
    nodes = stage.wiring.node_count
    island = view.factor.island
    with_zero = np.stack([island[:-1], np.full(nodes, island[-1])], axis=1)
    cut_off = grip.left_free(view.factor.response[:, :nodes], REACHED)[0]
    loose: BoolArray = ~grip.together(with_zero)[0] | cut_off
    return loose


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else value


def predict(
    network: Network,
    places: Sequence[Place],
    *,
    fault: Fault | Sequence[Fault] | None = None,
    rig: Rig = AS_IT_STANDS,
    meter: Meter | None = None,
) -> dict[tuple[str, str], Prediction]:
    """Return what a meter would show at each place in each phase, by (phase, place key).

    An ohmmeter goes to its next range where it would show OL, unless the meter is fixed to one.

    Raises
    ------
    BadPlace
        A place or the rig names something that is not in the circuit.
    PowerNotRemoved
        A place is read in ohms, and the rig does not say that the power is removed.
    """
    return _on_ranges(network, places, fault, rig, meter or Meter(), Situation.of)


def ohms_on_live_parts(
    network: Network,
    places: Sequence[Place],
    *,
    fault: Fault | Sequence[Fault] | None = None,
    rig: Rig = AS_IT_STANDS,
    meter: Meter | None = None,
) -> dict[tuple[str, str], Prediction]:
    """Return the figures that an ohmmeter would show on a circuit that still has its power.

    They are no resistances; they explain a reading that somebody took all the same. An ohmmeter
    is never to be put on live parts: it may be damaged, and it drives a current into modules.

    Examples
    --------
    A joint of 8 mOhm that carries 19.5 A:

    >>> from circuits.engine import IdealCurrent, Network, Place, Resistor, ohms_on_live_parts
    >>> live = Network(zero="minus", parts=(
    ...     Resistor(name="joint", first="plus", second="minus", ohms=0.008),
    ...     IdealCurrent(name="load", first="minus", second="plus", amps=19.5),
    ... ))
    >>> place = Place(key="TP1", red="plus", black="minus", reads_ohms=True)
    >>> round(ohms_on_live_parts(live, [place])["as drawn", "TP1"].value)
    156
    """
    return _on_ranges(network, places, fault, rig, meter or Meter(), Situation.as_rigged)


_SituationOf = Callable[[str, Place, Rig, float, Ohmmeter | None], Situation]
_Predictions = dict[tuple[str, str], Prediction]


def _on_ranges(
    network: Network,
    places: Sequence[Place],
    fault: Fault | Sequence[Fault] | None,
    rig: Rig,
    meter: Meter,
    situation_of: _SituationOf,
) -> _Predictions:
    ranges = RANGE_AMPS if meter.test_amps is None else (meter.test_amps,)
    shown: _Predictions = {}
    waiting = tuple(places)
    for range_amps in ranges:
        ohmmeter = Ohmmeter.on_range(meter, range_amps)
        found = _on_one_range(network, waiting, fault, rig, meter, ohmmeter, situation_of)
        shown |= {
            seat: each
            for seat, each in found.items()
            if seat not in shown or shown[seat].over_range
        }
        beyond = {key for (_, key), each in shown.items() if each.over_range}
        waiting = tuple(place for place in places if place.key in beyond)
        if not waiting:
            break
    return shown


def _on_one_range(
    network: Network,
    places: Sequence[Place],
    fault: Fault | Sequence[Fault] | None,
    rig: Rig,
    meter: Meter,
    ohmmeter: Ohmmeter,
    situation_of: _SituationOf,
) -> _Predictions:
    readers: dict[Situation, list[tuple[Place, float]]] = {}
    for phase in network.phases:
        for place in places:
            situation = situation_of(phase.name, place, rig, meter.input_ohms, ohmmeter)
            readers.setdefault(situation, []).append((place, unbent_input_ohms(meter.input_ohms)))
    run, trial = run_with(network, at_once(fault))
    predictions: _Predictions = {}
    for situation, (stage, settled) in run.go(trial, readers).items():
        spread = sensitivities(stage, trial, settled.pieces, settled.bend)[0]
        # Bounds of a rectangular tolerance, combined as the GUM does (JCGM 100, 4.3.7 and 5.1).
        model = np.sqrt((spread**2).sum(axis=1)) / SQRT_3
        for number, place in enumerate(stage.places):
            low, high = float(settled.low[0, number]), float(settled.high[0, number])
            middle = (low + high) / 2
            own = meter_bound(meter, place, middle, 0.0) / SQRT_3
            reach = COVERAGE_FACTOR * float(np.hypot(model[number], own))
            predictions[situation.phase, place.key] = Prediction(
                value=middle,
                low=low - reach,
                high=high + reach,
                floating=bool(settled.floating[0, number]),
                chatters=bool(settled.chatters[0]),
                over_range=place.reads_ohms and abs(middle) >= ohmmeter.most_ohms,
            )
    return predictions
