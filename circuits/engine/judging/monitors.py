"""What modules watch: how likely a fault sets a code, or lets the code's monitor run and pass.

A code is a measurement that a module made: at this pin it was under so many volts, in this phase,
while that held. So its set condition is tested under every fault, at every severity. The module's
own threshold is taken as exact, the parts as their tolerances leave them, and a phase as lasting
long enough. A code that is not set says something only where its monitor ran.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine.faults import Fault
from circuits.engine.laws import FloatArray
from circuits.engine.network import Network
from circuits.engine.parts import FaultKind
from circuits.engine.predicting.sweeping import Sweep, sweep
from circuits.engine.readings import Place
from circuits.engine.settling.ranges import COVERAGE_FACTOR

#: What a pin that hangs loose shows nobody knows; no more does anybody of one that chatters.
NOBODY_KNOWS = 0.5
# A module resolves about so much; it keeps a range without tolerances from being a sharp line.
LEAST_SPREAD = 1e-4
#: How often the byte tells another kind of fault than the one there is, beside the one it means:
#: a module sees its pin alone. Common practice, no source.
OTHER_KIND = 0.2
#: Of faults that no drawing holds, so many set a code and so many pass its monitor.
OUTSIDE_CHANCE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """A comparison: what a place shows is above, or below, a limit in volts or amps."""

    place: Place
    above: bool
    limit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SetCondition:
    """When a code sets: a test that holds while others hold, in some phases; none means all."""

    test: Watch
    enabling: tuple[Watch, ...] = ()
    phases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Monitor:
    """What a module watches to set one code: any of the conditions will do.

    Examples
    --------
    A module sets its code where its pin lies below 10 V. An open feed must set it, a hot joint in
    the feed may not:

    >>> from circuits.engine import Battery, Fault, Monitor, Network, Place, Resistor
    >>> from circuits.engine import SetCondition, Watch, code_chances, find_suspect
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.6, internal_ohms=0.001),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.05),
    ...     Resistor(name="H1", first="in", second="minus", ohms=6.0),
    ... ))
    >>> pin = Place(key="pin", red="in", black="minus")
    >>> low = Monitor(code="B1000", conditions=(
    ...     SetCondition(test=Watch(place=pin, above=False, limit=10.0)),))
    >>> wire = find_suspect(lamp, "resistance:W1")
    >>> feeds = [None, *(Fault(suspect=wire, severity=ohms) for ohms in (0.1, float("inf")))]
    >>> code_chances(lamp, [low], feeds).sets[:, 0].round(3).tolist()
    [0.0, 0.0, 1.0]
    """

    code: str
    conditions: tuple[SetCondition, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeChances:
    """How likely each of E faults sets each of M codes, and how likely its monitor passes.

    `sets` goes by the phase that does it most: all of them are gone through. `passes` goes by
    phases of which nobody noted in which one the monitor ran: a fault that sets the code in one
    phase of three lets it pass twice in three. It is 1 where the monitor cannot run at all.
    """

    sets: FloatArray  # (E, M)
    passes: FloatArray  # (E, M)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldCode:
    """What a case tells of a code: that it is set, or that its monitor ran and set none.

    Attributes
    ----------
    monitor
        What its module watches; None where nobody says it in terms of the circuit.
    is_set
        Whether the code is there; if not, its monitor ran and passed.
    doubt
        How often such an entry says nothing of the fault: left by an earlier repair, say.
    kinds
        What kinds of fault its failure type means; empty where it means no kind.
    """

    monitor: Monitor | None
    is_set: bool
    doubt: float
    kinds: frozenset[FaultKind] = frozenset()

    @property
    def speaks(self) -> bool:
        return self.monitor is not None or (self.is_set and bool(self.kinds))


def code_chances(
    network: Network, monitors: Sequence[Monitor], faults: Sequence[Fault | None]
) -> CodeChances:
    """Return how likely each fault sets the codes of some monitors, or lets them pass.

    Raises
    ------
    BadPlace
        A monitor watches something that is not in the circuit.
    """
    watched = {
        (place.red, place.black, place.through, place.reversed_clamp): place
        for monitor in monitors
        for condition in monitor.conditions
        for place in (watch.place for watch in (condition.test, *condition.enabling))
    }
    if not watched or not faults:
        nothing = np.zeros((len(faults), len(monitors)))
        return CodeChances(sets=nothing, passes=1.0 - nothing)
    # Two comparisons may look at one spot under names of their own.
    shown = sweep(network, tuple(watched.values()), faults)
    seats = {spot: number for number, spot in enumerate(watched)}
    columns = [_chances(shown, seats, monitor) for monitor in monitors]
    return CodeChances(
        sets=np.stack([sets for sets, _ in columns], axis=1),
        passes=np.stack([passes for _, passes in columns], axis=1),
    )


def told_log_likelihood(
    network: Network, told: Sequence[ToldCode], faults: Sequence[Fault | None]
) -> tuple[FloatArray, float]:
    """Return the log-likelihood of the told codes under each fault (E,), and of none drawn."""
    heard = [each for each in told if each.speaks]
    monitors = [each.monitor for each in heard if each.monitor is not None]
    chances = code_chances(network, monitors, faults)
    total = np.zeros(len(faults))
    outside = 0.0
    column = 0
    for each in heard:
        if each.monitor is None:
            chance = np.array([fault is not None for fault in faults], dtype=np.float64)
        else:
            chance = (chances.sets if each.is_set else chances.passes)[:, column]
            column += 1
        if each.is_set:
            chance = chance * _of_kind(each.kinds, faults)
        total += np.log(each.doubt + (1 - each.doubt) * chance)
        outside += math.log(each.doubt + (1 - each.doubt) * OUTSIDE_CHANCE)
    return total, outside


def is_of_kind(fault: Fault, kinds: frozenset[FaultKind]) -> bool:
    """Return whether a fault, or one that it is made of, is of one of some kinds; none: of any."""
    own = {fault.suspect.kind, *(member.suspect.kind for member in fault.suspect.members)}
    return not kinds or not kinds.isdisjoint(own)


def _of_kind(kinds: frozenset[FaultKind], faults: Sequence[Fault | None]) -> FloatArray:
    return np.array(
        [1.0 if fault is not None and is_of_kind(fault, kinds) else OTHER_KIND for fault in faults]
    )


_Seats = dict[tuple[str, str, str, bool], int]


def _chances(shown: Sweep, seats: _Seats, monitor: Monitor) -> tuple[FloatArray, FloatArray]:
    """Return how likely each fault sets a code (E,), and how likely its monitor passes (E,)."""
    sets = np.zeros(len(shown.faults))
    passes = np.ones(len(shown.faults))
    for condition in monitor.conditions:
        runs, clean, can_run = (np.zeros(len(shown.faults)) for _ in range(3))
        for row, phase in enumerate(shown.phases):
            if condition.phases and phase not in condition.phases:
                continue
            enabled = np.ones(len(shown.faults))
            for watch in condition.enabling:
                enabled = enabled * _holds(shown, seats, watch, row)
            met = _holds(shown, seats, condition.test, row)
            sets = np.maximum(sets, enabled * met)
            can_run = np.maximum(can_run, enabled)
            runs += enabled
            clean += enabled * (1 - met)
        share = np.divide(clean, runs, out=np.ones_like(clean), where=runs > 0)
        passes = np.minimum(passes, can_run * share + 1 - can_run)
    return sets, passes


def _holds(shown: Sweep, seats: _Seats, watch: Watch, row: int) -> FloatArray:
    """Return how likely a comparison holds in a phase under each fault (E,)."""
    place = watch.place
    column = seats[place.red, place.black, place.through, place.reversed_clamp]
    value, low, high = (array[:, row, column] for array in (shown.values, shown.low, shown.high))
    beyond = watch.limit >= value
    spread = np.where(beyond, high - value, value - low) / COVERAGE_FACTOR
    spread = np.maximum(spread, LEAST_SPREAD * max(abs(watch.limit), 1.0))
    deviations = np.clip((watch.limit - value) / spread, -8.0, 8.0)
    below = np.array([math.erfc(-each / math.sqrt(2)) / 2 for each in deviations.tolist()])
    between = shown.chatters[:, row, column] & (low <= watch.limit) & (watch.limit <= high)
    below[between | shown.floating[:, row, column]] = NOBODY_KNOWS
    return 1 - below if watch.above else below
