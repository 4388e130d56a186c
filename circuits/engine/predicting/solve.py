"""The plain questions: what a circuit does in each phase, and what a meter would show."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import REACHED, Stage, Trials
from circuits.engine.equations.wiring import Situation, unbent_input_ohms
from circuits.engine.faults import Fault
from circuits.engine.instruments import RANGE_AMPS, Ohmmeter, meter_bound
from circuits.engine.network import Network
from circuits.engine.readings import AS_IT_STANDS, Meter, Place, Rig
from circuits.engine.settling.phases import PhaseRun
from circuits.engine.settling.ranges import History, from_any_history, ranges, reaches
from circuits.engine.settling.settle import Settled


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
    """What a meter would show: the value and the range that tolerances and meter leave.

    `low` to `high` holds about 99.5 % of all sound cars, `worst_low` to `worst_high` those with
    every tolerance at its worst. Where a relay or rule is within tolerance of its threshold
    (`near_threshold`) both span its two states, and `value` is that of the parts as drawn.
    """

    value: float
    low: float
    high: float
    floating: bool
    chatters: bool
    near_threshold: bool = False
    worst_low: float = -math.inf
    worst_high: float = math.inf
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
    network: Network,
    fault: Fault | Sequence[Fault] | None = None,
    *,
    history: History = "known",
) -> tuple[PhaseSolution, ...]:
    """Return the volts and amps of a circuit in every phase, healthy or with faults in it.

    The phases are gone through in order, relays keeping their memory. Where that `history` is
    unknown a phase may have several steady states: then it comes once for each that is found.

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
        for situation, (stage, nominal) in settled.items()
        for outcome in _outcomes(stage, trial, nominal, history)
    )


def _outcomes(stage: Stage, trial: Trials, settled: Settled, history: History) -> Iterator[Settled]:
    yield settled
    if history == "unknown":
        seen = {settled.pieces.tobytes()}
        for other in from_any_history(stage, trial):
            if other.pieces.tobytes() not in seen:
                seen.add(other.pieces.tobytes())
                yield other


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
    history: History = "known",
) -> dict[tuple[str, str], Prediction]:
    """Return what a meter would show at each place in each phase, by (phase, place key).

    Values are volts, amps or ohms, as the place is read. An ohmmeter goes to its next range where
    it would show OL, unless the meter is fixed to one. Where the `history` is unknown the ranges
    span every steady state that is found.

    Raises
    ------
    BadPlace
        A place or the rig names something that is not in the circuit.
    PowerNotRemoved
        A place is read in ohms, and the rig does not say that the power is removed.

    Examples
    --------
    A lamp of 6 ohm whose feed has gained 1.1 ohm has 12.6 V * 6 / 7.15 left:

    >>> from circuits.engine import (
    ...     Battery, Fault, Network, Place, Resistor, find_suspect, predict)
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.6, internal_ohms=0.001),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.05),
    ...     Resistor(name="H1", first="in", second="minus", ohms=6.0),
    ... ))
    >>> at_lamp = Place(key="lamp", red="in", black="minus")
    >>> joint = Fault(suspect=find_suspect(lamp, "resistance:W1"), severity=1.1)
    >>> shown = predict(lamp, [at_lamp], fault=joint)["as drawn", "lamp"]
    >>> round(shown.value, 2), shown.low < shown.value < shown.high
    (10.57, True)
    """
    return _on_ranges(network, places, fault, rig, meter or Meter(), Situation.of, history)


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
    history: History = "known",
) -> _Predictions:
    all_amps = RANGE_AMPS if meter.test_amps is None else (meter.test_amps,)
    shown: _Predictions = {}
    waiting = tuple(places)
    for range_amps in all_amps:
        ohmmeter = Ohmmeter.on_range(meter, range_amps)
        found = _on_one_range(network, waiting, fault, rig, meter, ohmmeter, situation_of, history)
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
    history: History,
) -> _Predictions:
    readers: dict[Situation, list[tuple[Place, float]]] = {}
    for phase in network.phases:
        for place in places:
            situation = situation_of(phase.name, place, rig, meter.input_ohms, ohmmeter)
            readers.setdefault(situation, []).append((place, unbent_input_ohms(meter.input_ohms)))
    run, trial = run_with(network, at_once(fault))
    predictions: _Predictions = {}
    went = run.go(trial, readers)
    reach_in = reaches(run, trial, readers, went, history)
    for situation, (stage, settled) in went.items():
        middle = (settled.low + settled.high) / 2
        bounds = [
            [
                meter_bound(meter, place, float(middle[0, number]), 0.0)
                for number, place in enumerate(stage.places)
            ]
        ]
        reach = reach_in[situation]
        span = ranges(stage, trial, settled, reach, np.array(bounds))
        for number, place in enumerate(stage.places):
            value = float(middle[0, number])
            predictions[situation.phase, place.key] = Prediction(
                value=value,
                low=float(span.low[0, number]),
                high=float(span.high[0, number]),
                worst_low=float(span.worst_low[0, number]),
                worst_high=float(span.worst_high[0, number]),
                floating=bool(settled.floating[0, number]),
                chatters=bool(settled.chatters[0]),
                near_threshold=bool(reach.near_threshold[0]),
                over_range=place.reads_ohms and abs(value) >= ohmmeter.most_ohms,
            )
    return predictions
