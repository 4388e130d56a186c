"""What no circuit may depend on: names, order, scale; and a fault of no severity is none."""

import random
from collections.abc import Callable
from dataclasses import replace

import pytest

from circuits.engine import (
    Battery,
    Fault,
    IdealCurrent,
    IdealSource,
    Network,
    Part,
    Suspect,
    solve,
    suspects,
)
from tests.engine.solving import check_same, the_solution
from tests.engine.worked_networks import EXAMPLES


@pytest.mark.parametrize("example", EXAMPLES)
def test_names_and_order_of_places_change_no_volts(example: Callable[[], Network]) -> None:
    drawn = example()
    shuffle = random.Random(7)
    new_names = [f"X{number}" for number in range(len(drawn.nodes))]
    shuffle.shuffle(new_names)
    renamed = dict(zip(drawn.nodes, new_names, strict=True))
    parts = [
        replace(part, first=renamed[part.first], second=renamed[part.second])
        for part in drawn.parts
    ]
    shuffle.shuffle(parts)

    before = the_solution(drawn)
    after = the_solution(Network(parts=tuple(parts), zero=renamed[drawn.zero]))

    for node, volts in before.volts.items():
        assert after.volts[renamed[node]] == pytest.approx(volts, rel=1e-12, abs=1e-12)
    for part, amps in before.amps.items():
        assert after.amps[part] == pytest.approx(amps, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("example", EXAMPLES)
def test_twice_the_source_gives_twice_everything(
    example: Callable[[], Network],
) -> None:
    """Superposition (LIEC, DC network analysis): without relays or diodes a circuit is linear."""
    drawn = example()

    before = the_solution(drawn)
    after = the_solution(drawn.with_parts([doubled(part) for part in drawn.parts]))

    for node, volts in before.volts.items():
        assert volts is not None
        assert after.volts[node] == pytest.approx(2 * volts, rel=1e-12, abs=1e-12)
    for part, amps in before.amps.items():
        assert after.amps[part] == pytest.approx(2 * amps, rel=1e-12, abs=1e-12)


def doubled(part: Part) -> Part:
    match part:
        case Battery():
            return replace(part, open_circuit_volts=2 * part.open_circuit_volts)
        case IdealSource():
            return replace(part, volts=2 * part.volts)
        case IdealCurrent():
            return replace(part, amps=2 * part.amps)
        case _:
            return part


@pytest.mark.parametrize("example", EXAMPLES)
def test_a_fault_of_no_severity_is_a_healthy_circuit(example: Callable[[], Network]) -> None:
    drawn = example()
    healthy = the_solution(drawn)
    listed = suspects(drawn)

    assert len(listed) >= 3
    for suspect in listed:
        (solution,) = solve(drawn, Fault(suspect=suspect, severity=no_severity(suspect)))
        check_same(solution, healthy)


def no_severity(suspect: Suspect) -> float:
    """Return the severity of a sound part: no added ohms, a path of endless ohms, no volts lost."""
    return float("inf") if suspect.is_path else 0.0
