"""Two faults at once: the fast way against both drawn into the circuit one after the other."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from circuits.engine import (
    ContradictoryNetwork,
    Diode,
    Fault,
    Network,
    Suspect,
    find_suspect,
    solve,
    suspects,
    with_fault,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, network, resistor, switch
from tests.engine.solving import check_same
from tests.engine.test_random_networks import CIRCUITS, CLOSE_VOLTS, circuits, faults


def drawn_with(drawn: Network, one: Fault, other: Fault) -> Network:
    return with_fault(with_fault(drawn, one), other)


def both_drawable(one: Suspect, other: Suspect) -> bool:
    """Whether each can be drawn as a part of its own; two at one place would share its name."""
    return one.target != other.target


def named(drawn: Network, suspect_id: str, severity: float) -> Fault:
    return Fault(suspect=find_suspect(drawn, suspect_id), severity=severity)


LAMPS = network(
    battery("B1", "plus - minus", 12.6, 0.01),
    resistor("W1", "plus - a", 0.1),
    resistor("W2", "plus - a", 0.1),
    resistor("R1", "a - minus", 6.0),
    switch("S1", "plus - b", closed=False),
    resistor("R2", "b - c", 2.0),
    switch("S2", "c - minus", closed=False),
    zero="minus",
)


@CIRCUITS
@given(data=st.data())
def test_two_faults_at_once_are_both_drawn_in(data: st.DataObject) -> None:
    drawn = data.draw(circuits())
    one, other = data.draw(faults(drawn)), data.draw(faults(drawn))
    assume(both_drawable(one.suspect, other.suspect))
    # A place that only an idle diode holds is loose or at the diode's volts, as one likes.
    has_diode = any(isinstance(part, Diode) for part in drawn.parts)
    assume(not (has_diode and math.inf in (one.severity, other.severity)))
    try:
        found = solve(drawn, (one, other))
        plain = solve(drawn_with(drawn, one, other))
    except ContradictoryNetwork:
        assume(False)
    for fast, slow in zip(found, plain, strict=True):
        if not (fast.chatters or slow.chatters):
            check_same(fast, slow, close_volts=CLOSE_VOLTS)


@pytest.mark.parametrize("ohms", [0.1, 3.0, math.inf])
def test_both_of_two_parallel_feeds_gone_leave_the_load_without_volts(ohms: float) -> None:
    both = [named(LAMPS, f"resistance:{wire}", ohms) for wire in ("W1", "W2")]

    (found,) = solve(LAMPS, both)
    (plain,) = solve(drawn_with(LAMPS, *both))

    check_same(found, plain)
    assert found.amps["R1"] == pytest.approx(12.6 / (6.01 + (0.1 + ohms) / 2), rel=1e-9)


def test_a_loose_piece_joined_to_supply_and_to_ground_carries_current() -> None:
    joined = [named(LAMPS, "supply-short:b", 0.5), named(LAMPS, "ground-short:c", 0.5)]

    (found,) = solve(LAMPS, joined)

    # 12.6 V over 3 ohm in all, beside the 6.05 ohm of the lamp, behind 0.01 ohm.
    inside = 1 / (1 / 3 + 1 / 6.05)
    plus = 12.6 * inside / (inside + 0.01)
    assert found.amps["R2"] == pytest.approx(plus / 3, rel=1e-9)


def test_a_loose_piece_cut_off_from_its_only_path_hangs_loose() -> None:
    cut = [named(LAMPS, "supply-short:b", 0.0), named(LAMPS, "resistance:R2", math.inf)]

    (found,) = solve(LAMPS, cut)

    assert found.volts["c"] is None
    assert found.volts["b"] == pytest.approx(found.volts["plus"])


def test_an_open_with_nothing_behind_it_loosens_only_what_is_behind_it() -> None:
    stub = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("S1", "minus - b"),
        resistor("R1", "b - c", 1.0),
        zero="minus",
    )

    (found,) = solve(
        stub, [named(stub, "resistance:R1", math.inf), named(stub, "ground-short:b", 1.0)]
    )

    assert found.volts["b"] == 0.0
    assert found.volts["c"] is None


def test_a_weak_battery_behind_a_bad_post_has_both_faults_on_one_part() -> None:
    weak = [named(LAMPS, "low-volts:B1", 2.6), named(LAMPS, "resistance:B1", 0.04)]

    (found,) = solve(LAMPS, weak)

    assert found.amps["R1"] == pytest.approx(10.0 / (0.05 + 0.05 + 6.0), rel=1e-9)


def test_every_pair_of_faults_of_a_small_circuit_is_both_drawn_in() -> None:
    listed = suspects(LAMPS)
    for number, one in enumerate(listed):
        for other in listed[:number]:
            if not both_drawable(one, other):
                continue
            pair = (
                Fault(suspect=one, severity=min(0.7, one.most)),
                Fault(suspect=other, severity=min(1.3, other.most)),
            )
            (found,), (plain,) = solve(LAMPS, pair), solve(drawn_with(LAMPS, *pair))
            check_same(found, plain)


@pytest.mark.parametrize(
    ("key", "one", "other"),
    [("C14", "resistance:LINK", "resistance:MOT"), ("C04", "resistance:W1", "resistance:FAN")],
)
def test_electronics_behind_two_opens_let_go_of_their_current(
    key: str, one: str, other: str
) -> None:
    """battery -/ open /- consumers of constant current -/ open /- : no way is left for their amps.

    What is cut off from every source reads no more than the batteries give. Two of 15 V in series
    are the most in these cars.
    """
    drawn = reference_circuit(key).network
    opened = [named(drawn, suspect_id, math.inf) for suspect_id in (one, other)]

    for phase in solve(drawn, opened):
        assert all(abs(volts) < 30 for volts in phase.volts.values() if volts is not None)
