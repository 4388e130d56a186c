"""Where relays and rules come to rest, against a slow solver that shares nothing with the engine.

It finds the volts as the lowest point of a convex function and moves contacts event by event (see
`settling`). The engine must name the same state for every contact, and chatter where that does.
Where several contacts ask at once the order of the parts decides; every other order is tried as
well, and the engine's state must be one in which some order ends.
"""

import pytest

from circuits.engine import Fault, FaultKind, Suspect, suspects
from tests.circuits.reference_networks import reference_circuit, reference_keys
from tests.fresh import DrawsSeed, fresh_seeds
from tests.judges.corpus import Followed, follow
from tests.judges.drawn_circuits import DrawnCircuit, draw_circuit
from tests.judges.plain_faults import Faults
from tests.judges.settling import all_ends

FRESH_CIRCUITS = 40
CLOSE_VOLTS = 1e-6


def disagreements(followed: Followed) -> list[str]:
    """Say where engine and slow solver part ways."""
    standing, rest = followed.standing, followed.rest
    if not followed.states_agree:
        if followed.may_rest_in_several_ways:
            return []
        ours = {name: standing.pieces[name] for name in rest.passed}
        return [f"{followed}: {ours}, judged {dict(rest.passed)}, chatters {rest.chatters}"]
    if rest.chatters or followed.may_rest_in_several_ways:
        return []
    return [
        f"{followed}: {node} is at {volts:.9f} V, judged {rest.volts[node]:.9f} V"
        for node, volts in standing.volts.items()
        if node in rest.tied and not abs(volts - rest.volts[node]) <= CLOSE_VOLTS
    ]


def without_an_end(followed: Followed, before: dict[str, int]) -> list[str]:
    """Say if no order of moving the contacts ends where the engine does."""
    ends = all_ends(followed.circuit, before)
    if followed.standing.chatters:
        return [f"{followed}: chatters, and yet {end} is at rest" for end in ends]
    ours = {name: followed.standing.pieces[name] for name in followed.rest.passed}
    return [] if ours in ends else [f"{followed}: {ours} is no end, but {ends} are"]


def severity(suspect: Suspect) -> float:
    if suspect.kind is FaultKind.RESISTANCE:
        return 4.0
    if suspect.least:
        return suspect.least
    if suspect.is_path:
        return 15.0
    return 0.5 * suspect.most if suspect.graded else suspect.most


@pytest.mark.parametrize("key", reference_keys())
def test_contacts_of_the_reference_circuits_rest_where_they_must(key: str) -> None:
    network = reference_circuit(key).network
    faults = tuple((Fault(suspect=each, severity=severity(each)),) for each in suspects(network))
    followed = [each for each, _ in follow(DrawnCircuit(0, network, faults))]

    found = [said for each in followed for said in disagreements(each)]

    assert len(followed) > 1.5 * len(faults)
    assert not found, "\n".join(found[:20])


@fresh_seeds
def test_contacts_of_fresh_circuits_rest_where_they_must(draw_seed: DrawsSeed) -> None:
    first_seed = draw_seed()
    found: list[str] = []
    judged = moved = 0

    for seed in range(first_seed, first_seed + FRESH_CIRCUITS):
        before: dict[str, int] = {}
        faults: Faults = ()
        for followed, _ in follow(draw_circuit(seed)):
            if followed.faults != faults:
                faults, before = followed.faults, {}
            judged += 1
            found += [f"seed {seed}, {said}" for said in disagreements(followed)]
            changed = [n for n, has in followed.rest.passed.items() if has != before.get(n, 0)]
            moved += len(changed)
            if len(changed) > 1 and not followed.may_rest_in_several_ways:
                found += [f"seed {seed}, {said}" for said in without_an_end(followed, before)]
            before = dict(followed.rest.passed)

    assert judged > 5 * FRESH_CIRCUITS
    assert moved > FRESH_CIRCUITS
    assert not found, "\n".join(found[:20])


@pytest.mark.parametrize(
    "seed",
    [
        # The judge stopped where a diode bends, with 29 microvolts left across a seized fan.
        680925669,
        # Rounding said which way the volts of an open consumer with a leak across it ran off.
        706945554,
        # Between a diode at its bend and a fan at rest there are no volts to agree on.
        258515300,
        # A bus that hung loose by a diode at its bend chattered, a billionth of a volt off.
        42000286,
    ],
)
def test_a_circuit_that_engine_and_judge_once_read_differently_reads_the_same(seed: int) -> None:
    found = [said for followed, _ in follow(draw_circuit(seed)) for said in disagreements(followed)]

    assert not found, "\n".join(found)
