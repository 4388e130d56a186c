"""Minutes to the final group, by ways of choosing the next reading, on cars that are certain.

A car has its parts as drawn and one fault of the drawing, or none; a reading differs from another
one where the meter can tell them apart. So each place sorts the cars into classes, a way of
choosing is a tree of readings, and the minutes that it takes on average over all cars, each by how
common its fault is, can be reckoned without drawing any. The final group of a car are the faults
that are left once everything has been measured; it is reached when it makes up 95 % of what is
still possible.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np

from cases.circuit import CaseCircuit
from cases.documents.readings import Rig
from cases.judging.next_reading import minutes_for
from circuits.engine import (
    Candidate,
    Fault,
    Hypotheses,
    Network,
    Part,
    next_readings,
    sweep,
    weigh_suspects,
)
from circuits.engine.equations.wiring import IntArray
from circuits.engine.instruments import meter_bound
from circuits.engine.judging.next_reading import AMPS_STEP, PICKED_UP_VOLTS, VOLTS_STEP
from circuits.engine.laws import FloatArray
from circuits.engine.readings import Meter

REACHED_SHARE = 0.95
#: Of each fault's severities between its ends so many stand for all, at these quantiles.
QUANTILES = (0.33, 0.66)

Cars = tuple[int, ...]


@dataclass(frozen=True)
class Search:
    """Cars with how likely each is (N,), and the class (K, N) into which each reading sorts it."""

    network: Network
    faults: tuple[Fault | None, ...]
    probability: FloatArray
    candidates: tuple[Candidate, ...]
    classes: IntArray

    @cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(fault.suspect.id if fault is not None else "" for fault in self.faults)

    @cached_property
    def final_groups(self) -> tuple[frozenset[str], ...]:
        """The faults that everything measured leaves of each car."""
        together: dict[bytes, set[str]] = {}
        for car, name in enumerate(self.names):
            together.setdefault(self.classes[:, car].tobytes(), set()).add(name)
        return tuple(
            frozenset(together[self.classes[:, car].tobytes()]) for car in range(len(self.names))
        )

    @property
    def all_cars(self) -> Cars:
        return tuple(range(len(self.faults)))

    def share(self, cars: Cars) -> float:
        return float(self.probability[list(cars)].sum())

    def is_found(self, cars: Cars) -> bool:
        shares: dict[frozenset[str], float] = {}
        for car in cars:
            group = self.final_groups[car]
            shares[group] = shares.get(group, 0.0) + float(self.probability[car])
        return max(shares.values()) >= REACHED_SHARE * sum(shares.values())

    def sorted_by(self, cars: Cars, reading: int) -> list[Cars]:
        """Return the cars by what a reading shows."""
        shown: dict[int, list[int]] = {}
        for car in cars:
            shown.setdefault(int(self.classes[reading, car]), []).append(car)
        return [tuple(each) for each in shown.values()]

    def telling(self, cars: Cars) -> Iterator[int]:
        """Yield the readings that show more than one thing among cars."""
        for reading in range(len(self.candidates)):
            if len(set(self.classes[reading, list(cars)].tolist())) > 1:
                yield reading

    def twins(self, cars: Cars) -> list[tuple[str, ...]]:
        """Return the faults that no reading parts, as a verdict tells them."""
        shown: dict[str, set[bytes]] = {}
        for car in cars:
            shown.setdefault(self.names[car], set()).add(self.classes[:, car].tobytes())
        alike: dict[frozenset[bytes], list[str]] = {}
        for name, classes in shown.items():
            alike.setdefault(frozenset(classes), []).append(name)
        return [tuple(names) for names in alike.values() if len(names) > 1]

    def minutes(self, reading: int) -> float:
        return self.candidates[reading].minutes


def search_of(circuit: CaseCircuit, phase: str) -> Search:
    """Return the search in one phase of a circuit, whose parts are all as they are drawn."""
    network = _as_drawn(circuit.network)
    candidates = tuple(
        Candidate(
            place=place,
            phase=phase,
            minutes=minutes_for(circuit.entries[key], Rig(), network.phase(phase).key_state),
        )
        for key, place in circuit.places.items()
        if not place.reads_ohms
    )
    faults, probability = _cars(network)
    shown = sweep(network, [each.place for each in candidates], faults)
    row = shown.phases.index(phase)
    classes = []
    for candidate in candidates:
        column = shown.places.index(candidate.place.key)
        step = AMPS_STEP if candidate.place.through else VOLTS_STEP
        values = shown.values[:, row, column]
        reach = np.array([meter_bound(Meter(), candidate.place, v, step) for v in values.tolist()])
        reach = reach + step / 2 + np.where(shown.floating[:, row, column], PICKED_UP_VOLTS, 0.0)
        classes.append(_told_apart(values, reach))
    return Search(network, faults, probability, candidates, np.array(classes))


def _as_drawn(network: Network) -> Network:
    def exact(part: Part) -> Part:
        off: Any = {field.name: 0.0 for field in fields(part) if "tolerance" in field.name}
        return replace(part, **off)

    phases = tuple(
        replace(phase, changes={name: exact(part) for name, part in phase.changes.items()})
        for phase in network.phases
    )
    return replace(network, parts=tuple(map(exact, network.parts)), phases=phases)


def _cars(network: Network) -> tuple[tuple[Fault | None, ...], FloatArray]:
    """Return faults at a few severities each, with how likely they are before any reading."""
    faults: list[Fault | None] = []
    probability: list[float] = []
    prior = weigh_suspects(network)
    suspects = {fault.suspect.id: fault.suspect for fault in prior.faults if fault is not None}
    for name, share in prior.by_suspect().items():
        some: list[Fault | None] = [None]
        if name:
            grid = np.sort(suspects[name].severity_grid())
            inner = grid[np.isfinite(grid) & (grid > 0)]
            chosen = [inner[round(q * (len(inner) - 1))] for q in QUANTILES if len(inner)]
            ends = np.setdiff1d(grid, inner).tolist()
            some = [
                Fault(suspect=suspects[name], severity=float(severity))
                for severity in dict.fromkeys([*chosen, *ends])
            ]
        faults += some
        probability += [share / len(some)] * len(some)
    return tuple(faults), np.array(probability) / sum(probability)


def _told_apart(values: FloatArray, reach: FloatArray) -> IntArray:
    """Return the class of each value: those run together whose meter's bands meet."""
    found = np.zeros(len(values), dtype=np.intp)
    number, end = -1, -np.inf
    for at in np.argsort(values - reach, kind="stable").tolist():
        number += values[at] - reach[at] > end
        end = max(end, values[at] + reach[at])
        found[at] = number
    return found


# ------------------------------------------------------------------------ ways of choosing


def minutes_by_ranking(search: Search) -> float:
    """Return the minutes that the ranking of next readings takes, always its first proposal."""

    def choose(cars: Cars) -> int:
        left = Hypotheses(
            network=search.network,
            faults=tuple(search.faults[car] for car in cars),
            probability=search.probability[list(cars)] / search.share(cars),
            outside=0.0,
        )
        telling = list(search.telling(cars))
        for told in next_readings(left, search.candidates, twins=search.twins(cars)):
            number = search.candidates.index(told.candidate)
            # What a certain car cannot show again was read before: nobody reads it twice.
            if number in telling:
                return number
        return telling[0]

    return _minutes_by(search, search.all_cars, choose)


def _minutes_by(search: Search, cars: Cars, choose: Callable[[Cars], int]) -> float:
    if search.is_found(cars):
        return 0.0
    reading = choose(cars)
    after = search.sorted_by(cars, reading)
    return search.minutes(reading) * search.share(cars) + sum(
        _minutes_by(search, each, choose) for each in after
    )


def least_minutes(search: Search) -> float:
    """Return the minutes of the best tree there is, found by trying all of them."""
    known: dict[Cars, float] = {}

    def least(cars: Cars) -> float:
        if search.is_found(cars):
            return 0.0
        if cars not in known:
            known[cars] = min(
                search.minutes(reading) * search.share(cars)
                + sum(least(each) for each in search.sorted_by(cars, reading))
                for reading in search.telling(cars)
            )
        return known[cars]

    return least(search.all_cars)


def minutes_in_order(search: Search, *, skipping: bool = False) -> float:
    """Return the minutes of the best fixed order of readings, the same for every car.

    What is still to be measured depends on which readings were taken, not on their order, so the
    best order is built up from the best ones of fewer readings. With `skipping` a reading that can
    tell nothing any more is left out, which no list on paper can do.
    """
    count = len(search.candidates)
    cost = np.full(1 << count, np.inf)
    cost[0] = 0.0
    for taken in range(1 << count):
        done = [reading for reading in range(count) if taken >> reading & 1]
        left = [cars for cars in _sorted_by_all(search, done) if not search.is_found(cars)]
        unfound = sum(search.share(cars) for cars in left)
        telling = [(search.share(cars), set(search.telling(cars))) for cars in left]
        for reading in range(count):
            if taken >> reading & 1:
                continue
            asked = sum(share for share, some in telling if reading in some)
            more = search.minutes(reading) * (asked if skipping else unfound)
            cost[taken | 1 << reading] = min(cost[taken | 1 << reading], cost[taken] + more)
    return float(cost[-1])


def _sorted_by_all(search: Search, readings: Sequence[int]) -> list[Cars]:
    shown: dict[bytes, list[int]] = {}
    for car in search.all_cars:
        shown.setdefault(search.classes[list(readings), car].tobytes(), []).append(car)
    return [tuple(cars) for cars in shown.values()]
