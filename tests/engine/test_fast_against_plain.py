"""The fast way to a fault against the plain one.

The fast way solves the healthy circuit once and moves one law of it along a line for each fault
and severity. The plain way draws the fault into the circuit, as one more part between two places,
and solves that circuit for itself. Both must show the same meter readings.
"""

import math
from collections.abc import Iterator

import numpy as np
import pytest

from circuits.engine import (
    Fault,
    FaultKind,
    IdealSource,
    Network,
    Place,
    Resistor,
    Suspect,
    predict,
    suspects,
    with_fault,
)
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import Situation
from circuits.engine.settling.phases import PhaseRun
from circuits.engine.settling.settle import Settled
from tests.circuits.reference_networks import ReferenceCircuit, reference_circuit, reference_keys

METER_OHMS = 10e6
# Rounding of the two ways, on volts of some tens and amps of some hundreds.
CLOSE = 1e-6

Seats = dict[Situation, list[tuple[Place, float]]]
Went = dict[Situation, tuple[Stage, Settled]]


def severities(suspect: Suspect) -> tuple[float, ...]:
    if suspect.kind is FaultKind.RESISTANCE:
        return (3.0, math.inf)
    if suspect.is_path:
        return (200.0, 0.0)
    return (0.3 * suspect.most,) if suspect.graded else (suspect.most,)


def seats_of(circuit: ReferenceCircuit, unplugged_too: frozenset[str] = frozenset()) -> Seats:
    """Return every place of a circuit, by phase and rig, read with a 10 MOhm meter."""
    seats: Seats = {}
    for phase in circuit.network.phases:
        for row in circuit.rows:
            rig = row.rig(circuit.network)
            situation = Situation.of(phase.name, row.place, rig, METER_OHMS)
            if rig.unplugged & {name.removeprefix("fault at ") for name in unplugged_too}:
                situation = Situation(
                    phase=situation.phase,
                    unplugged=rig.unplugged | unplugged_too,
                    load=situation.load,
                )
            seats.setdefault(situation, []).append((row.place, METER_OHMS))
    return seats


def fast_way(circuit: ReferenceCircuit, faults: list[Fault]) -> Went:
    """Take all faults through all phases at once."""
    listed = list(dict.fromkeys(fault.suspect for fault in faults))
    shares = np.array([fault.suspect.share(fault.severity) for fault in faults])
    trials = Trials.of_singles(
        np.array([listed.index(fault.suspect) for fault in faults]), shares[:, 0], shares[:, 1]
    )
    return PhaseRun(circuit.network, listed).go(trials, seats_of(circuit))


def plain_way(circuit: ReferenceCircuit, fault: Fault) -> Went:
    """Draw one fault into the circuit and take it through all phases as if healthy."""
    drawn = drawn_with(circuit.network, fault)
    # A short inside a part leaves with the part when that is unplugged.
    inside = fault.suspect.kind is FaultKind.BYPASS
    also_out = frozenset({f"fault at {fault.suspect.target}"}) if inside else frozenset()
    return go_healthy(drawn, seats_of(circuit, also_out))


def drawn_with(network: Network, fault: Fault) -> Network:
    """Return the network with the fault drawn in; a dead short as volts that are always nought."""
    drawn = with_fault(network, fault)
    if not (fault.suspect.is_path and fault.severity == 0):
        return drawn
    path = drawn.part(f"fault at {fault.suspect.target}")
    if not isinstance(path, Resistor):
        return drawn
    joint = IdealSource(name=path.name, first=path.first, second=path.second, volts=0.0)
    return drawn.with_parts([joint])


def go_healthy(network: Network, seats: Seats) -> Went:
    nothing_moves = Trials.of_singles(np.array([0]), np.array([0.0]), np.array([1.0]))
    return PhaseRun(network, (None,)).go(nothing_moves, seats)


def all_faults(network: Network) -> list[Fault]:
    """Return every suspect, opens and dead shorts among them; paths take turns with severities."""
    found: list[Fault] = []
    for number, suspect in enumerate(suspects(network)):
        amounts = severities(suspect)
        if suspect.is_path:
            amounts = (amounts[number % 2],)
        found.extend(Fault(suspect=suspect, severity=amount) for amount in amounts)
    return found


def differences(number: int, fault: Fault, fast: Went, plain: Went) -> Iterator[str]:
    """Say where the two ways differ for one fault; `number` is its row among the fast ones."""
    for (situation, (stage, quick)), (plain_stage, slow) in zip(
        fast.items(), plain.values(), strict=True
    ):
        at = f"{fault.suspect.id} at {fault.severity:g} in {situation}"
        names = stage.control_names()
        pieces = dict(zip(names, quick.pieces[number].tolist(), strict=True))
        plain_pieces = dict(zip(plain_stage.control_names(), slow.pieces[0].tolist(), strict=True))
        remembering = [n for n, keeps in zip(names, stage.wiring.remembers, strict=True) if keeps]
        for name in remembering:
            if pieces[name] != plain_pieces[name]:
                yield f"{at}: {name} stands at {pieces[name]}, drawn at {plain_pieces[name]}"
        if quick.chatters[number] != slow.chatters[0]:
            yield f"{at}: one chatters, the other does not"
        for seat, place in enumerate(stage.places):
            if quick.floating[number, seat] != slow.floating[0, seat]:
                yield f"{at}: {place.key} floats in one and not in the other"
            for ours, other in (
                (quick.low[number, seat], slow.low[0, seat]),
                (quick.high[number, seat], slow.high[0, seat]),
            ):
                if not abs(ours - other) <= CLOSE * max(1.0, abs(other)):
                    yield f"{at}: {place.key} reads {ours}, drawn {other}"


@pytest.mark.parametrize("key", reference_keys())
def test_a_fault_moved_into_the_solution_reads_as_one_drawn_into_the_circuit(key: str) -> None:
    circuit = reference_circuit(key)
    faults = all_faults(circuit.network)
    fast = fast_way(circuit, faults)

    found = [
        difference
        for number, fault in enumerate(faults)
        for difference in differences(number, fault, fast, plain_way(circuit, fault))
    ]

    assert len(faults) > 30
    assert not found, "\n".join(found[:20])


@pytest.mark.parametrize("key", ["C05", "C09", "C10", "C14"])
def test_a_fault_moved_into_the_solution_leaves_the_bands_of_one_drawn_into_the_circuit(
    key: str,
) -> None:
    """The drawn fault itself is exact, as a severity is.

    Left out are those that move a value of which the tolerance is a share: drawn, that share grows
    or shrinks with the value.
    """
    circuit = reference_circuit(key)
    listed = suspects(circuit.network)
    absolute = {FaultKind.RESISTANCE, FaultKind.LOW_VOLTS}

    for suspect in listed:
        if not suspect.is_path and suspect.kind not in absolute:
            continue
        fault = Fault(suspect=suspect, severity=severities(suspect)[0])
        drawn = with_exact_fault(circuit.network, fault)
        fast = predict(circuit.network, circuit.places, fault=fault)
        plain = predict(drawn, circuit.places)
        for place, prediction in fast.items():
            half_width = (prediction.high - prediction.low) / 2
            expected = (plain[place].high - plain[place].low) / 2
            assert half_width == pytest.approx(expected, rel=1e-5, abs=1e-6), (fault, place)
    assert len(listed) > 20


def with_exact_fault(network: Network, fault: Fault) -> Network:
    drawn = with_fault(network, fault)
    name = f"fault at {fault.suspect.target}"
    if name in {part.name for part in drawn.parts}:
        return drawn.with_part_values(name, tolerance_fraction=0.0)
    return drawn
