"""Cars that ngspice solved, with faults that the world's cases had and such as none of them had.

The frozen tables hold how far readings lie from healthy, in sixteenths of a logarithm, each with an
error of its own: too coarse for the engine's joint test, which knows that tolerances are shared. So
these cars are drawn anew and read by a meter; their codes and words are the world's. One reading in
twenty-five is plainly wrong, as in the world.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cases.circuit import CaseCircuit
from cases.judging.lines import Line
from cases.search.query import Query, query_for_readings
from circuits.engine import Reading
from tests.judges.simulated import simulated_cases
from tests.search_world import world as shares
from tests.search_world.asking import library
from tests.search_world.tables import drawn_car
from tests.search_world.world import Drawn, World

#: So many faults of each circuit no case of the world has.
UNSEEN_SHARE = 0.25
#: A reading taken in the wrong place is anywhere up to this.
WILD_VOLTS = 14.0


@dataclass(frozen=True, slots=True, eq=False)
class JudgedCar:
    """A car as it is asked for, its readings judged; `is_unseen`: no case has its fault."""

    query: Query
    readings: int
    is_unseen: bool


def unseen_faults(world: World, random: np.random.Generator) -> list[frozenset[int]]:
    """Return for each circuit the places of faults that no case is to have."""
    return [
        frozenset(
            random.choice(
                len(each.faults), max(1, round(UNSEEN_SHARE * len(each.faults))), replace=False
            ).tolist()
        )
        for each in world.circuits
    ]


def without(drawn: Drawn, unseen: frozenset[int]) -> Drawn:
    """Return the cases that neither have nor claim certain faults."""
    barred = list(unseen)
    keep = ~np.isin(drawn.truth, barred) & ~np.isin(drawn.claim, barred)
    return drawn.only(np.flatnonzero(keep))


def judged_cars(
    world: World, unseen: Sequence[frozenset[int]], count: int, seed: int
) -> Iterator[JudgedCar]:
    """Yield about so many cars with one fault each."""
    random = np.random.default_rng(seed)
    counts = random.multinomial(count, world.circuit_shares)
    for number, many in enumerate(counts.tolist()):
        circuit = world.circuits[number]
        known = library()[circuit.key]
        places = [
            each for each in known.places.values() if not each.reads_ohms and not each.through
        ]
        simulated = simulated_cases(
            known.network,
            places,
            known.supply_place,
            seed=seed + number,
            count=many,
            drawn=drawn_car,
        )
        for case in simulated:
            if case.truth not in circuit.faults:
                continue  # two faults at once
            truth = circuit.faults.index(case.truth)
            query = query_for_readings(
                circuit=known,
                lines=_lines(known, case.readings, random),
                codes=world.codes_of(number, np.array([truth]))[0],
            )
            said = world.words_of(number, np.array([truth]), asked=True)[0]
            yield JudgedCar(
                query=replace(query, words=said),
                readings=len(query.slots),
                is_unseen=truth in unseen[number],
            )


def _lines(
    circuit: CaseCircuit, readings: Sequence[Reading], random: np.random.Generator
) -> list[Line]:
    """Return readings as they are logged; a supply that no place reads is noted beside others."""
    supply = circuit.supply_place.key
    noted = {each.phase: each.value for each in readings if each.place.key == supply}
    taken = [each for each in readings if each.place.key in circuit.places]
    lines = []
    for number, reading in enumerate(taken, start=1):
        value = reading.value
        if reading.place.key != supply and random.uniform() < shares.WRONG_READING:
            value = round(float(random.uniform(-WILD_VOLTS, WILD_VOLTS)), 2)
        lines.append(
            Line(
                number=number,
                place=reading.place.key,
                phase=reading.phase,
                text=f"{value:.2f} V",
                value=value,
                step=reading.step,
                supply_volts=None if supply in circuit.places else noted.get(reading.phase),
            )
        )
    return lines


def area_under_curve(positive: Sequence[float], negative: Sequence[float]) -> float:
    """Return how often a positive one has the larger number, half of it where they are level.

    That is the area under the receiver operating characteristic (Hanley and McNeil, Radiology 143,
    1982, from memory).
    """
    above = np.array(positive)[:, None] - np.array(negative)[None, :]
    return float((above > 0).mean() + (above == 0).mean() / 2)
