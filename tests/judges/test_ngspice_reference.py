"""The engine against ngspice on the reference circuits: every fault of theirs, and every suspect.

ngspice is given the parts as their descriptions say (see `plain`) and the contacts where the
engine has them; where they should be, `test_states` judges.
"""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from circuits.engine import (
    Contact,
    Fault,
    FaultKind,
    Network,
    Phase,
    Place,
    Rig,
    Suspect,
    Switch,
    suspects,
)
from circuits.engine.phases import PhaseRun
from circuits.engine.stage import Trials
from circuits.engine.wiring import Situation
from tests.circuits.reference_networks import (
    reference_circuit,
    reference_keys,
)
from tests.judges import ngspice
from tests.judges.agreement import close_volts, differences, needs_ngspice
from tests.judges.plain import plain_circuit
from tests.judges.standing import NO_INPUT_CURRENT, Standings, pieces_of

pytestmark = needs_ngspice

METER_OHMS = 10e6
NOTHING_MOVES = Trials.of_singles(np.array([0]), np.array([0.0]), np.array([1.0]))


def severities(suspect: Suspect) -> tuple[float, ...]:
    """Return a severity that shows and the one at the end of the line."""
    if suspect.kind is FaultKind.RESISTANCE:
        return 0.35, math.inf
    if suspect.is_path:
        return 20.0, 0.0
    if not suspect.graded:
        return (suspect.most,)
    return 0.3 * suspect.most, suspect.most


@pytest.mark.parametrize("key", reference_keys())
def test_every_suspect_reads_at_every_place_as_ngspice_reads_it(key: str) -> None:
    network = reference_circuit(key).network
    faults = [
        Fault(suspect=suspect, severity=severity)
        for suspect in suspects(network)
        for severity in severities(suspect)
    ]

    compared, found = against_ngspice(network, [None, *faults])

    assert compared > 12 * len(faults), "places, in all phases"
    assert not found, "\n".join(found[:20])


@pytest.mark.parametrize("key", reference_keys())
def test_every_fault_of_the_tables_reads_at_every_place_as_ngspice_reads_it(key: str) -> None:
    circuit = reference_circuit(key)

    results = [against_ngspice(circuit.faulty(letter), [None]) for letter in circuit.faults]

    assert sum(compared for compared, _ in results) > 12 * len(circuit.faults)
    assert not [difference for _, found in results for difference in found]


def against_ngspice(network: Network, faults: list[Fault | None]) -> tuple[int, list[str]]:
    """Return how many places were compared, and where the two differ."""
    standings = Standings(network, faults)
    asked = [(number, phase.name) for number in range(len(faults)) for phase in network.phases]
    cases = [standings.case(number, phase) for number, phase in asked]
    answers = ngspice.solve_all(cases)
    found = [
        f"{faults[number] or 'healthy'} in '{phase}': {difference}"
        for (number, phase), case, answer in zip(asked, cases, answers, strict=True)
        for difference in differences(answer, case, standings.standing(number, phase))
    ]
    return sum(len(answer.volts) for answer in answers), found


@pytest.mark.parametrize("key", reference_keys())
def test_every_row_of_the_tables_reads_with_its_rig_as_ngspice_reads_it(key: str) -> None:
    """With a 10 MOhm meter across the leads, a plug out, a test lamp in, a clamp round the wire."""
    circuit = reference_circuit(key)
    asked = [
        (network, phase, row.place, row.rig(network))
        for network in (circuit.network, *(circuit.faulty(letter) for letter in circuit.faults))
        for phase in network.phases
        for row in circuit.rows
    ]

    found = rigged_against_ngspice(asked)

    assert len(asked) >= 72
    assert not found, "\n".join(found[:20])


@pytest.mark.parametrize("key", reference_keys())
def test_a_place_reads_as_ngspice_reads_it_whatever_is_unplugged_bridged_or_loaded(
    key: str,
) -> None:
    """Every part out in turn, every switch and contact bridged, a lamp at every pair of leads."""
    circuit = reference_circuit(key)
    network = circuit.network
    volts_places = [row.place for row in circuit.rows if not row.place.reads_amps]
    rigs = [
        *(Rig(unplugged=frozenset({part.name})) for part in network.parts),
        *(
            Rig(bridged=((part.first, part.second),))
            for part in network.parts
            if isinstance(part, Switch | Contact)
        ),
        *(Rig(lamp_watts=watts) for watts in (5.0, 21.0) for _ in volts_places),
    ]
    asked = [
        (network, phase, place, rig)
        for phase in network.phases
        # Each rig with another place: all of them with all would tell no more.
        for rig, place in zip(rigs, itertools.cycle(volts_places), strict=False)
    ]

    found = rigged_against_ngspice(asked)

    assert len(asked) > 15 * len(network.phases)
    assert not found, "\n".join(found[:20])


Asked = tuple[Network, Phase, Place, Rig]


def rigged_against_ngspice(asked: Sequence[Asked]) -> list[str]:
    """Say where the engine's meter shows something else than ngspice makes of it."""
    readings = list(rigged_readings(asked))
    answers = ngspice.solve_all([reading.case for reading in readings])
    found = []
    for reading, answer in zip(readings, answers, strict=True):
        judged = shown_by(reading.place, answer)
        close = close_volts(judged, curved=bool(reading.case.circuit.curved))
        if not abs(reading.shown - judged) <= close:
            found.append(f"{reading.at}: {reading.shown:.9f}, judged {judged:.9f}")
    return found


@dataclass(frozen=True, slots=True)
class RiggedReading:
    """What the engine's meter shows, and the same circuit with meter and rig drawn in."""

    at: str
    place: Place
    shown: float
    case: ngspice.Case


def rigged_readings(asked: Sequence[Asked]) -> Iterator[RiggedReading]:
    """Yield what the engine shows at each place; readings of one network are settled at once."""
    for network, of_network in itertools.groupby(asked, key=lambda each: each[0]):
        nodes = [node for node in network.nodes if node != network.zero]
        everywhere = [(Place(key=n, red=n, black=network.zero), NO_INPUT_CURRENT) for n in nodes]
        situations = [
            (phase, place, rig, Situation.of(phase.name, place, rig, METER_OHMS))
            for _, phase, place, rig in of_network
        ]
        seats = {situation: [*everywhere] for *_, situation in situations}
        for _, place, _, situation in situations:
            seats[situation].append((place, METER_OHMS))
        went = PhaseRun(network, (None,)).go(NOTHING_MOVES, seats)
        for phase, place, rig, situation in situations:
            stage, settled = went[situation]
            values = settled.low[0]
            plain = plain_circuit(network, phase, rig=rig, lamp_leads=(place.red, place.black))
            if not place.reads_amps:
                plain = plain.with_resistor("meter", place.red, place.black, METER_OHMS)
            start = {
                node: float(value)
                for node, value, loose in zip(nodes, values, settled.floating[0], strict=False)
                if not loose
            }
            start[network.zero] = 0.0
            pieces = pieces_of(stage, settled, 0)
            if not place.reads_amps and place.black not in plain.tied_nodes(pieces, start):
                # What hangs loose may touch ground at one place: that makes no circuit.
                plain = plain.with_resistor("touch", place.black, network.zero, 1.0)
            yield RiggedReading(
                at=f"{place.key} in '{phase.name}', {rig}",
                place=place,
                shown=float(values[seats[situation].index((place, METER_OHMS))]),
                case=ngspice.Case(plain, pieces, start, ammeter=place.through),
            )


def shown_by(place: Place, answer: ngspice.Answer) -> float:
    """Return the reading that ngspice makes of a place."""
    if place.reads_amps:
        assert answer.amps is not None
        return -answer.amps if place.reversed_clamp else answer.amps
    return answer.volts[place.red] - answer.volts[place.black]
