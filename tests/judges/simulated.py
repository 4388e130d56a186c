"""Cases as ngspice gives them: parts, severity and meter drawn at random, some with two faults.

A case is a car whose parts lie anywhere within their tolerances, with one fault that the drawing
knows, or none, or (outside what a single fault can explain) two. ngspice says what its places read;
a meter with an error of its own shows that, and a technician writes down a few of them. Where
modules watch places, they set their codes by what ngspice says there; now and then a code tells of
something else, an earlier repair say.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine import (
    Fault,
    Meter,
    Monitor,
    Network,
    Place,
    Reading,
    SetCondition,
    ToldCode,
    weigh_suspects,
)
from tests.engine.test_tolerance_bands import drawn_car, tolerances
from tests.judges import ngspice
from tests.judges.standing import Standings

OUTSIDE_SHARE = 0.05
STEP_VOLTS = 0.01
FEWEST, MOST = 2, 5
# How often a code tells nothing of the fault, and how often one that is not set is told to have had
# its monitor run. Common practice, no source.
CODE_DOUBT = 0.05
TOLD_PASSED_SHARE = 0.7

DrawsCar = Callable[[Network, dict[tuple[str, str], float]], Network]


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedCase:
    """What was wrong with the car, and what was read: `faults` is empty for a sound one.

    `codes` are those that were set, and those whose monitors are known to have run and passed.
    """

    faults: tuple[Fault, ...]
    readings: tuple[Reading, ...]
    codes: tuple[ToldCode, ...] = ()

    @property
    def truth(self) -> str:
        """The id of the one fault; empty for a sound car, 'outside' for two."""
        if len(self.faults) > 1:
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
    monitors: Sequence[Monitor] = (),
) -> list[SimulatedCase]:
    """Return cases, fewer than asked by those without a steady state; all `sound` where asked.

    `drawn` draws one car, each part off by so much of its tolerance. `monitors` watch volts alone:
    their codes are set by what ngspice says of these.
    """
    random = np.random.default_rng(seed)
    drawn_cars = _sound_cars if sound else _cars
    cars = list(drawn_cars(network, random, count, drawn))
    asked: list[ngspice.Case] = []
    steady = []
    for car, faults in cars:
        standings = Standings(car, [faults])
        phases = [phase.name for phase in network.phases]
        if any(standings.standing(0, phase).chatters for phase in phases):
            continue
        steady.append((faults, len(asked)))
        asked.extend(standings.case(0, phase) for phase in phases)
    answers = ngspice.solve_all(asked)
    shown = ((faults, answers[begin : begin + len(network.phases)]) for faults, begin in steady)
    cases = [
        SimulatedCase(
            faults=faults,
            readings=tuple(_readings(network, places, supply, each, random)),
            codes=tuple(_codes(network, monitors, each, random)),
        )
        for faults, each in shown
    ]
    # With every place loose there is nothing to read.
    return [case for case in cases if case.readings]


def _cars(
    network: Network, random: np.random.Generator, count: int, drawn: DrawsCar
) -> Iterator[tuple[Network, tuple[Fault, ...]]]:
    prior = weigh_suspects(network)
    shares = prior.probability / prior.probability.sum()
    names = list(tolerances(network))
    for _ in range(count):
        off = {name: float(random.uniform(-1, 1)) for name in names}
        car = drawn(network, off)
        wanted = 2 if random.uniform() < OUTSIDE_SHARE else 1
        some = [prior.faults[number] for number in random.choice(len(shares), wanted, p=shares)]
        faults = {fault.suspect.target: fault for fault in some if fault is not None}
        yield car, tuple(faults.values())


def _sound_cars(
    network: Network, random: np.random.Generator, count: int, drawn: DrawsCar
) -> Iterator[tuple[Network, tuple[Fault, ...]]]:
    names = list(tolerances(network))
    for _ in range(count):
        yield drawn(network, {name: float(random.uniform(-1, 1)) for name in names}), ()


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
