"""The engine against ngspice on random circuits of every part kind, healthy and faulted.

Three hundred circuits are stored with ngspice's answers and judge without it; where it is
installed, fifty fresh ones are drawn in each run. Every message names the seed, and
`draw_circuit(seed)` draws that circuit again.
"""

import random
from collections import Counter
from collections.abc import Iterator
from itertools import islice

import pytest

from circuits.engine import (
    KINDS,
    Contact,
    Driver,
    DutyDriver,
    Fault,
    FaultKind,
    Network,
    RuleContact,
    Switch,
    suspects,
)
from tests.fresh import DrawsSeed, fresh_seeds
from tests.judges import ngspice
from tests.judges.agreement import differences, differing_places, needs_ngspice
from tests.judges.corpus import CIRCUITS, follow, stored_circuits
from tests.judges.drawn_circuits import DrawnCircuit, draw_circuit, draw_severity
from tests.judges.plain_faults import Faults, said
from tests.judges.standing import Standings

STORED_IN_A_TEST = 30
FRESH_CIRCUITS = 50
PAIRED_CIRCUITS, PAIRS_EACH = 15, 4
CONTACTS = (Contact, Driver, DutyDriver, RuleContact, Switch)


@pytest.mark.parametrize("begin", range(0, CIRCUITS, STORED_IN_A_TEST))
def test_stored_circuits_read_as_ngspice_read_them(begin: int) -> None:
    found: list[str] = []
    compared = 0

    for circuit in stored_circuits()[begin : begin + STORED_IN_A_TEST]:
        standings = Standings(circuit.network, circuit.at_once)
        for judged in circuit.judged:
            standing = standings.standing(circuit.at_once.index(judged.faults), judged.phase)
            at = f"seed {circuit.seed}, {said(judged.faults)} in '{judged.phase}'"
            if standing.chatters != judged.chatters:
                found.append(f"{at}: chatters for one and not for the other")
                continue
            if judged.chatters:
                continue
            ours = {name: standing.pieces[name] for name in judged.passed}
            if ours != judged.passed:
                found.append(f"{at}: contacts rest at {ours}, judged {judged.passed}")
                continue
            compared += len(judged.volts)
            found += [
                f"{at}: {difference}"
                for difference in differing_places(judged.volts, standing, curved=judged.curved)
            ]

    assert compared > 100 * STORED_IN_A_TEST
    assert not found, "\n".join(found[:20])


def test_the_stored_circuits_hold_every_kind_of_part_and_fault() -> None:
    circuits = stored_circuits()
    parts = Counter(type(part).kind for circuit in circuits for part in circuit.network.parts)
    faults = Counter(
        fault.suspect.kind for circuit in circuits for faults in circuit.at_once for fault in faults
    )
    pairs = sum(len(faults) == 2 for circuit in circuits for faults in circuit.at_once)
    made = Counter(
        judged.passed[name]
        for circuit in circuits
        for judged in circuit.judged
        for name in judged.passed
    )
    healthy = sum(not judged.faults for circuit in circuits for judged in circuit.judged)

    assert len(circuits) == CIRCUITS
    assert not {kind for kind in KINDS if parts[kind] < 20}, parts
    assert not {kind for kind in FaultKind if faults[kind] < 5}, faults
    assert pairs > 0.9 * CIRCUITS
    assert min(made[0], made[1]) > 500, "contacts that rest out, and contacts that rest in"
    assert healthy > CIRCUITS
    assert sum(judged.chatters for circuit in circuits for judged in circuit.judged) > 5
    assert sum(len(judged.volts) for circuit in circuits for judged in circuit.judged) > 50_000


@needs_ngspice
@fresh_seeds
def test_fresh_circuits_read_as_ngspice_reads_them(draw_seed: DrawsSeed) -> None:
    first_seed = draw_seed()
    drawn = [draw_circuit(seed) for seed in range(first_seed, first_seed + FRESH_CIRCUITS)]
    followed = [(circuit, pair) for circuit in drawn for pair in follow(circuit)]
    answers = ngspice.solve_all([case for _, (_, case) in followed])

    found = [
        f"seed {circuit.seed}, {each}: {difference}"
        for (circuit, (each, case)), answer in zip(followed, answers, strict=True)
        for difference in differences(answer, case, each.standing)
    ]

    assert len(followed) > 5 * FRESH_CIRCUITS
    assert not found, "\n".join(found[:20])


def pairs_on_one_part(network: Network, dice: random.Random) -> Iterator[Faults]:
    """Yield an added resistance with another fault of its part: a path across it, a value moved.

    Not with a path across a contact: it may lie before or behind the resistance.
    """
    listed = [each for each in suspects(network) if not each.members]
    contacts = {part.name for part in network.parts if isinstance(part, CONTACTS)}
    for added in dice.sample(listed, k=len(listed)):
        others = [
            each
            for each in listed
            if each.target == added.target and each.kind is not FaultKind.RESISTANCE
            if each.kind is not FaultKind.BYPASS or each.target not in contacts
        ]
        if added.kind is FaultKind.RESISTANCE and others:
            both = added, dice.choice(others)
            yield tuple(Fault(suspect=each, severity=draw_severity(each, dice)) for each in both)


@needs_ngspice
@fresh_seeds
def test_two_faults_of_one_part_read_as_ngspice_reads_them(draw_seed: DrawsSeed) -> None:
    first_seed = draw_seed()
    drawn = []
    for seed in range(first_seed, first_seed + PAIRED_CIRCUITS):
        network = draw_circuit(seed).network
        pairs = islice(pairs_on_one_part(network, random.Random(seed)), PAIRS_EACH)
        drawn.append(DrawnCircuit(seed, network, tuple(pairs)))
    followed = [(circuit, pair) for circuit in drawn for pair in follow(circuit)]
    answers = ngspice.solve_all([case for _, (_, case) in followed])

    found = [
        f"seed {circuit.seed}, {each}: {difference}"
        for (circuit, (each, case)), answer in zip(followed, answers, strict=True)
        for difference in differences(answer, case, each.standing)
    ]

    assert sum(len(each.faults) > 1 for _, (each, _) in followed) > PAIRED_CIRCUITS
    assert not found, "\n".join(found[:20])


def test_two_fans_that_are_cut_off_together_stand_at_no_volts() -> None:
    """Between them nothing has a slope: the last of Newton's steps was rounding, and 0.2 V."""
    drawn = draw_circuit(92150042)
    standings = Standings(drawn.network, ((), *drawn.faults))

    cut_off = [standings.standing(number, "phase 1").volts["n16"] for number in range(5)]

    assert cut_off == pytest.approx([0.0] * 5, abs=1e-3)
