"""Cases as ngspice gives them: parts, severity and meter drawn at random, some outside the model.

A case is a car whose parts lie anywhere within their tolerances, with one fault that the drawing
knows, or none; or, outside what a single fault of the drawing can explain, with two, or with a path
between two connections that no drawing has. ngspice says what its places read;
a meter with an error of its own shows that, and a technician writes down a few of them. Where
modules watch places, they set their codes by what ngspice says there; now and then a code tells of
something else, an earlier repair say.
"""

import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from circuits.engine import (
    Fault,
    Meter,
    Monitor,
    Network,
    Place,
    Reading,
    Resistor,
    SetCondition,
    ToldCode,
    weigh_suspects,
)
from tests.engine.test_tolerance_bands import drawn_car, tolerances
from tests.judges import ngspice
from tests.judges.standing import Standings

OUTSIDE_SHARE = 0.05
# Half of what is outside are two faults, the other half a path that the drawing does not know.
STRANGE_PATH_SHARE = 0.5
STRANGE_PATH = "a path that no drawing has"
LEAST_PATH_OHMS, MOST_PATH_OHMS = 0.1, 1000.0
STEP_VOLTS = 0.01
FEWEST, MOST = 2, 5
# How often a code tells nothing of the fault, and how often one that is not set is told to have had
# its monitor run. Common practice, no source.
CODE_DOUBT = 0.05
TOLD_PASSED_SHARE = 0.7

DrawsCar = Callable[[Network, dict[tuple[str, str], float]], Network]
NamesTolerances = Callable[[Network], Iterable[tuple[str, str]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedCase:
    """What was wrong with the car, and what was read: `faults` is empty for a sound one.

    `is_strange`: it has a path that no drawing has, and no fault. `codes` are those that were set,
    and those whose monitors are known to have run and passed.
    """

    faults: tuple[Fault, ...]
    readings: tuple[Reading, ...]
    codes: tuple[ToldCode, ...] = ()
    is_strange: bool = False

    @property
    def truth(self) -> str:
        """The id of the one fault; empty for a sound car, 'outside' for what no fault explains."""
        if self.is_strange or len(self.faults) > 1:
            return "outside"
        return self.faults[0].suspect.id if self.faults else ""


def simulated_cases(
    network: Network,
    places: Sequence[Place],
    supply: Place,
    *,
    seed: int,
    count: int,
    sound: bool = False,
    drawn: DrawsCar = drawn_car,
    may_be_off: NamesTolerances = tolerances,
    monitors: Sequence[Monitor] = (),
) -> list[SimulatedCase]:
    """Return cases, fewer than asked by those without a steady state; all `sound` where asked.

    `drawn` draws one car, each part off by so much of the tolerances that `may_be_off` names.
    `monitors` watch volts alone: their codes are set by what ngspice says of these.
    """
    random = np.random.default_rng(seed)
    cars = _sound_cars if sound else _cars
    phases = [phase.name for phase in network.phases]
    asked: list[ngspice.Case] = []
    steady: list[_Car] = []
    for car in cars(network, random, count, drawn, may_be_off):
        standings = Standings(car.network, [car.faults])
        if not any(standings.standing(0, phase).chatters for phase in phases):
            steady.append(car)
            asked.extend(standings.case(0, phase) for phase in phases)
    answers = ngspice.solve_all(asked)
    cases = []
    for number, car in enumerate(steady):
        shown = answers[number * len(phases) : (number + 1) * len(phases)]
        cases.append(
            SimulatedCase(
                faults=car.faults,
                readings=tuple(_readings(network, places, supply, shown, random)),
                codes=tuple(_codes(network, monitors, shown, random)),
                is_strange=car.is_strange,
            )
        )
    # With every place loose there is nothing to read.
    return [case for case in cases if case.readings]


class _Car(NamedTuple):
    network: Network
    faults: tuple[Fault, ...] = ()
    is_strange: bool = False


def _cars(
    network: Network,
    random: np.random.Generator,
    count: int,
    drawn: DrawsCar,
    may_be_off: NamesTolerances,
) -> Iterator[_Car]:
    prior = weigh_suspects(network)
    shares = prior.probability / prior.probability.sum()
    for car in _sound_cars(network, random, count, drawn, may_be_off):
        chance = random.uniform()
        if chance < OUTSIDE_SHARE * STRANGE_PATH_SHARE:
            yield _with_strange_path(car.network, random)
            continue
        wanted = 2 if chance < OUTSIDE_SHARE else 1
        some = [prior.faults[number] for number in random.choice(len(shares), wanted, p=shares)]
        faults = {fault.suspect.target: fault for fault in some if fault is not None}
        yield _Car(car.network, tuple(faults.values()))


def _sound_cars(
    network: Network,
    random: np.random.Generator,
    count: int,
    drawn: DrawsCar,
    may_be_off: NamesTolerances,
) -> Iterator[_Car]:
    names = list(may_be_off(network))
    for _ in range(count):
        yield _Car(drawn(network, {name: float(random.uniform(-1, 1)) for name in names}))


def _with_strange_path(car: Network, random: np.random.Generator) -> _Car:
    """Return a car with a path between two connections that no fault of the drawing joins.

    Paths to ground, to the supply and across a part are faults that the drawing knows.
    """
    nodes = [node for node in car.nodes if node not in (car.zero, car.supply)]
    joined = {frozenset((part.first, part.second)) for part in car.parts}
    pairs = [pair for pair in itertools.combinations(nodes, 2) if frozenset(pair) not in joined]
    first, second = pairs[int(random.integers(len(pairs)))]
    ohms = float(np.exp(random.uniform(np.log(LEAST_PATH_OHMS), np.log(MOST_PATH_OHMS))))
    path = Resistor(name=STRANGE_PATH, first=first, second=second, ohms=ohms)
    return _Car(replace(car, parts=(*car.parts, path)), is_strange=True)


def _readings(
    network: Network,
    places: Sequence[Place],
    supply: Place,
    answers: Sequence[ngspice.Answer],
    random: np.random.Generator,
) -> Iterator[Reading]:
    spots = [
        (row, place)
        for row, answer in enumerate(answers)
        for place in places
        if place != supply
        and {place.red, place.black, supply.red, supply.black}
        <= answer.volts.keys() | {network.zero}
    ]
    many = min(int(random.integers(FEWEST, MOST + 1)), len(spots))
    taken = [spots[at] for at in random.choice(len(spots), many, replace=False)]
    rows = dict.fromkeys(row for row, _ in taken)
    for row, place in [*((row, supply) for row in rows), *taken]:
        volts = {network.zero: 0.0, **answers[row].volts}
        yield _shown(volts[place.red] - volts[place.black], place, network, row, random)


def _shown(
    volts: float, place: Place, network: Network, row: int, random: np.random.Generator
) -> Reading:
    meter = Meter()
    reach = meter.reading_fraction * abs(volts) + meter.counts * STEP_VOLTS
    shown = volts + reach * random.uniform(-1, 1)
    return Reading(
        place=place,
        phase=network.phases[row].name,
        value=round(shown / STEP_VOLTS) * STEP_VOLTS,
        step=STEP_VOLTS,
    )


def _codes(
    network: Network,
    monitors: Sequence[Monitor],
    answers: Sequence[ngspice.Answer],
    random: np.random.Generator,
) -> Iterator[ToldCode]:
    for monitor in monitors:
        is_set = any(_is_met(network, each, answers, random) for each in monitor.conditions)
        if random.uniform() < CODE_DOUBT:
            is_set = random.uniform() < 0.5
        if is_set or random.uniform() < TOLD_PASSED_SHARE:
            yield ToldCode(monitor=monitor, is_set=is_set, doubt=CODE_DOUBT)


def _is_met(
    network: Network,
    condition: SetCondition,
    answers: Sequence[ngspice.Answer],
    random: np.random.Generator,
) -> bool:
    """Return whether a condition is met in one of its phases; a loose pin shows anything."""
    place = condition.test.place
    for phase, answer in zip(network.phases, answers, strict=True):
        if condition.phases and phase.name not in condition.phases:
            continue
        volts = {network.zero: 0.0, **answer.volts}
        if not {place.red, place.black} <= volts.keys():
            return bool(random.uniform() < 0.5)
        shown = volts[place.red] - volts[place.black]
        if (shown > condition.test.limit) == condition.test.above:
            return True
    return False
