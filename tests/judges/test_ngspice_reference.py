"""The engine against ngspice on the reference circuits: every fault of theirs, and every suspect.

ngspice is given the parts as their descriptions say (see `plain`) and the contacts where the
engine has them; where they should be, `test_states` judges.
"""

import itertools
import math

import pytest

from circuits.engine import (
    Contact,
    Fault,
    FaultKind,
    Network,
    Rig,
    Suspect,
    Switch,
    suspects,
)
from tests.circuits.reference_networks import (
    reference_circuit,
    reference_keys,
)
from tests.judges import ngspice
from tests.judges.agreement import differences, needs_ngspice
from tests.judges.plain_faults import Faults, said
from tests.judges.rigged import rigged_against_ngspice
from tests.judges.standing import Standings

pytestmark = needs_ngspice


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

    compared, found = against_ngspice(network, [(), *((fault,) for fault in faults)])

    assert compared > 12 * len(faults), "places, in all phases"
    assert not found, "\n".join(found[:20])


@pytest.mark.parametrize("key", reference_keys())
def test_every_fault_of_the_tables_reads_at_every_place_as_ngspice_reads_it(key: str) -> None:
    circuit = reference_circuit(key)

    results = [against_ngspice(circuit.faulty(letter), [()]) for letter in circuit.faults]

    assert sum(compared for compared, _ in results) > 12 * len(circuit.faults)
    assert not [difference for _, found in results for difference in found]


def against_ngspice(network: Network, faults: list[Faults]) -> tuple[int, list[str]]:
    """Return how many places were compared, and where the two differ."""
    standings = Standings(network, faults)
    asked = [(number, phase.name) for number in range(len(faults)) for phase in network.phases]
    cases = [standings.case(number, phase) for number, phase in asked]
    answers = ngspice.solve_all(cases)
    found = [
        f"{said(faults[number])} in '{phase}': {difference}"
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
