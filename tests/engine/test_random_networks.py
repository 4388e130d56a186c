"""Circuits drawn at random, judged by a second solver that shares nothing with the engine."""

import math
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st

from circuits.engine import (
    Absent,
    CurrentLoad,
    Diode,
    Fault,
    Network,
    Part,
    PhaseSolution,
    Suspect,
    Switch,
    solve,
    suspects,
    with_fault,
)
from tests.engine.drawing import (
    battery,
    coil,
    contact,
    generator,
    motor,
    phases,
    resistor,
    switch,
)
from tests.engine.plain_solver import PlainSolution, TooClose, solve_plainly
from tests.engine.solving import solved

NODES = ("minus", "plus", "a", "b", "c", "d")
OHMS = st.sampled_from([0.0023, 0.017, 0.31, 1.3, 6.1, 47.0, 330.0, 5600.0])
# Where a forced current runs off, digits are lost down to some ten microvolts behind kilohms.
CLOSE_VOLTS = 5e-5
CIRCUITS = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)


@st.composite
def two_ends(draw) -> str:
    first, second = draw(st.lists(st.sampled_from(NODES), min_size=2, max_size=2, unique=True))
    return f"{first} - {second}"


@st.composite
def circuits(draw) -> Network:
    """A battery, wires and switches that may leave places loose, some loads, up to two relays.

    Two phases that differ in which switches are closed.
    """
    parts: list[Part] = [battery("B1", "plus - minus", 12.6, 0.011, charging_ohms=0.03)]
    for number, node in enumerate(NODES[2:]):
        towards = draw(st.sampled_from(NODES[: number + 2]))
        if draw(st.booleans()):
            parts.append(resistor(f"W{number}", f"{towards} - {node}", draw(OHMS)))
        else:
            parts.append(switch(f"S{number}", f"{towards} - {node}", closed=draw(st.booleans())))
    for number in range(draw(st.integers(1, 3))):
        parts.append(resistor(f"R{number}", draw(two_ends()), draw(OHMS)))
    for kind in draw(st.lists(st.sampled_from(sorted(LOADS)), max_size=2, unique=True)):
        parts.append(LOADS[kind](kind, draw(two_ends())))
    for number in range(draw(st.integers(0, 2))):
        winding = coil(f"K{number}.coil", draw(two_ends()), 87.0)
        parts.append(winding)
        parts.append(
            contact(
                f"K{number}.con",
                draw(two_ends()),
                of=winding,
                pull_in_volts=7.3,
                drop_out_volts=2.1,
                made_ohms=0.0061,
                normally_closed=draw(st.booleans()),
            )
        )
    switched = [part for part in parts if isinstance(part, Switch)]
    turned = tuple(
        replace(part, closed=not part.closed) for part in switched if draw(st.booleans())
    )
    return Network(parts=tuple(parts), zero="minus", phases=phases(first=(), second=turned))


LOADS = {
    "battery": lambda name, ends: battery(name, ends, 11.9, 0.023, charging_ohms=0.05),
    "consumer": lambda name, ends: CurrentLoad(
        name=name, first=ends.split(" - ")[0], second=ends.split(" - ")[1], amps=3.7
    ),
    "diode": lambda name, ends: Diode(
        name=name,
        first=ends.split(" - ")[0],
        second=ends.split(" - ")[1],
        forward_volts=0.71,
        on_ohms=0.019,
    ),
    "generator": lambda name, ends: generator(name, ends, 14.3, 0.0041, 83.0),
    "motor": lambda name, ends: motor(name, ends, 3.6, 0.14, 0.61),
}


@st.composite
def faults(draw, network: Network) -> Fault:
    suspect = draw(st.sampled_from(suspects(network)))
    return Fault(suspect=suspect, severity=draw(st.sampled_from(severities(suspect))))


def severities(suspect: Suspect) -> list[float]:
    if suspect.is_path:
        return [0.13, 17.0, 2.9e3]
    if suspect.unit == "ohm":
        return [0.07, 5.3, 870.0, math.inf]
    if not suspect.graded:
        return [suspect.most]
    return [0.09 * suspect.most, 0.61 * suspect.most]


def plainly(network: Network) -> list[PlainSolution]:
    try:
        return solve_plainly(network)
    except TooClose:
        assume(False)
        raise


def assert_same(ours: PhaseSolution, theirs: PlainSolution, parts: tuple[Part, ...]) -> None:
    assert ours.chatters == theirs.chatters
    if ours.chatters:
        return
    assert {name: made for name, made in theirs.contacts.items() if name in ours.contacts} == (
        ours.contacts
    )
    for node, volts in ours.volts.items():
        expected = theirs.volts[node]
        assert (volts is None) == (expected is None), f"{node} hangs loose in one and not the other"
        assert volts == pytest.approx(expected, rel=1e-6, abs=CLOSE_VOLTS), node
    biggest = max(1.0, *(abs(amps) for amps in theirs.amps.values()))
    for part in parts:
        assert ours.amps[part.name] == pytest.approx(theirs.amps[part.name], abs=1e-6 * biggest), (
            part.name
        )


@CIRCUITS
@given(network=circuits())
def test_volts_amps_and_relays_are_those_of_the_second_solver(network: Network) -> None:
    expected = plainly(network)

    found = solved(network)

    for ours, theirs in zip(found.values(), expected, strict=True):
        event("chatters" if ours.chatters else "settles")
        event("has a loose end" if None in ours.volts.values() else "all tied")
        assert_same(ours, theirs, network.parts)


@CIRCUITS
@given(data=st.data(), network=circuits())
def test_under_a_fault_too(data: st.DataObject, network: Network) -> None:
    """The fault is moved into our solution, and drawn into the circuit for the second solver."""
    fault = data.draw(faults(network))
    expected = plainly(with_fault(network, fault))

    found = solve(network, fault)

    for ours, theirs in zip(found, expected, strict=True):
        event(f"{fault.suspect.kind}")
        assert_same(ours, theirs, network.parts)


def test_the_second_solver_knows_a_sum_by_hand() -> None:
    """12.6 V behind 11 mOhm over 1.3 ohm and a closed switch of 10 mOhm: 9.539 A."""
    (solution, _) = solve_plainly(
        Network(
            parts=(
                battery("B1", "plus - minus", 12.6, 0.011),
                switch("S1", "plus - a"),
                resistor("R1", "a - minus", 1.3),
                Absent(name="nothing", first="plus", second="loose"),
            ),
            zero="minus",
            phases=phases(first=(), second=()),
        )
    )

    assert solution.amps["R1"] == pytest.approx(12.6 / 1.321)
    assert solution.volts["loose"] is None
