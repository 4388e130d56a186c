"""Codes as evidence: set conditions tested under each fault, and what an absent code says.

The volts are those of a divider, worked by hand: 12.6 V over a feed of W1 + R, a load of 6 Ohm and
a ground of W2 (any textbook of circuits). That a code not set says nothing unless its monitor ran
is the readiness rule of SAE J1979 (value from memory).
"""

import math

import pytest

from circuits.engine import (
    Fault,
    FaultKind,
    KeyState,
    Monitor,
    Network,
    Phase,
    Place,
    Reading,
    SetCondition,
    ToldCode,
    Watch,
    code_chances,
    find_suspect,
    weigh_suspects,
)
from tests.engine.drawing import battery, network, resistor, switch

OPEN = math.inf
PRESENT = 0.02
CHAIN = network(
    battery("B1", "plus - minus", volts=12.6, ohms=0.01),
    resistor("W1", "plus - in", 0.05),
    resistor("H1", "in - out", 6.0),
    resistor("W2", "out - minus", 0.05),
    zero="minus",
)
LOAD = Place(key="load", red="in", black="out")
FEED = Place(key="feed", red="in", black="minus")


def below(place: Place, volts: float, **more) -> SetCondition:
    return SetCondition(test=Watch(place=place, above=False, limit=volts), **more)


def monitor(*conditions: SetCondition) -> Monitor:
    return Monitor(code="B1000", conditions=conditions)


def at(drawn: Network, *faults: tuple[str, float]) -> list[Fault | None]:
    named = [Fault(suspect=find_suspect(drawn, name), severity=ohms) for name, ohms in faults]
    return [None, *named]


def chances(drawn: Network, watched: Monitor, *faults: tuple[str, float]):
    found = code_chances(drawn, [watched], at(drawn, *faults))
    return found.sets[:, 0].tolist(), found.passes[:, 0].tolist()


def test_a_code_sets_where_its_pin_lies_beyond_the_limit() -> None:
    # 6 Ohm more: 12.6 x 6 / 12.11 = 6.24 V at the load; half an ohm more: 11.44 V.
    sets, passes = chances(
        CHAIN, monitor(below(LOAD, 9.0)), ("resistance:W1", 6.0), ("resistance:W1", 0.5)
    )

    assert sets == pytest.approx([0.0, 1.0, 0.0], abs=1e-6)
    assert passes == pytest.approx([1.0, 0.0, 1.0], abs=1e-6)


def test_a_fault_that_puts_the_pin_on_the_limit_may_set_the_code_or_not() -> None:
    # 12.6 x 6 / 8.4 = 9.00 V with 2.29 Ohm more.
    sets, _ = chances(CHAIN, monitor(below(LOAD, 9.0)), ("resistance:W1", 2.29))

    assert sets[1] == pytest.approx(0.5, abs=0.05)


def test_an_open_ground_sets_no_code_of_a_module_that_compares_with_another_ground() -> None:
    feed, load = monitor(below(FEED, 9.0)), monitor(below(LOAD, 9.0))

    assert chances(CHAIN, feed, ("resistance:W2", OPEN))[0][1] < 1e-6
    assert chances(CHAIN, load, ("resistance:W2", OPEN))[0][1] > 1 - 1e-6


PHASED = Network(
    zero="minus",
    parts=(
        battery("B1", "plus - minus", volts=12.6, ohms=0.01),
        switch("S1", "plus - fed", closed_ohms=0.01),
        resistor("W1", "fed - in", 0.05),
        resistor("H1", "in - minus", 6.0),
    ),
    phases=(
        Phase(
            name="off",
            key_state=KeyState.OFF,
            changes={"S1": switch("S1", "plus - fed", closed=False)},
        ),
        Phase(name="on", key_state=KeyState.ON),
        Phase(name="run", key_state=KeyState.RUN),
    ),
)
PIN = Place(key="pin", red="in", black="minus")
ENABLED = (Watch(place=Place(key="fed", red="fed", black="minus"), above=True, limit=10.0),)


def test_a_code_sets_in_its_phases_alone() -> None:
    anywhere, when_on = monitor(below(PIN, 9.0)), monitor(below(PIN, 9.0, phases=("on", "run")))

    assert chances(PHASED, anywhere)[0] == pytest.approx([1.0])
    assert chances(PHASED, when_on)[0] == pytest.approx([0.0], abs=1e-6)


def test_an_enabling_condition_keeps_the_monitor_from_running() -> None:
    enabled = monitor(below(PIN, 9.0, enabling=ENABLED))
    sets, passes = chances(PHASED, enabled, ("resistance:W1", OPEN), ("resistance:S1", OPEN))

    # A wire behind the supply that enables it sets the code; with the supply gone nobody looks.
    assert sets == pytest.approx([0.0, 1.0, 0.0], abs=1e-6)
    assert passes == pytest.approx([1.0, 0.0, 1.0], abs=1e-6)


def test_a_monitor_that_ran_nobody_knows_when_passes_as_often_as_its_phases_let_it() -> None:
    in_two = monitor(below(PIN, 9.0, phases=("off", "run")))

    # Healthy: set with the switch open, not while running.
    assert chances(PHASED, in_two)[1] == pytest.approx([0.5], abs=1e-6)


def test_a_pin_that_hangs_loose_may_show_anything() -> None:
    loose = network(
        battery("B1", "plus - minus", volts=12.6, ohms=0.01),
        resistor("W1", "plus - pin", 0.05),
        resistor("H1", "plus - minus", 6.0),
        zero="minus",
    )
    low = monitor(below(Place(key="pin", red="pin", black="minus"), 9.0))

    assert chances(loose, low, ("resistance:W1", OPEN))[0] == pytest.approx([0.0, 0.5], abs=1e-6)


def read(place: Place, volts: float) -> Reading:
    return Reading(place=place, phase="as drawn", value=volts, step=0.01)


def told(condition: SetCondition, *, is_set: bool = True, kinds=frozenset()) -> ToldCode:
    return ToldCode(monitor=monitor(condition), is_set=is_set, doubt=PRESENT, kinds=kinds)


def test_a_code_parts_two_joints_that_the_reading_leaves() -> None:
    taken = [read(LOAD, 6.24)]
    low_feed = below(FEED, 9.0)
    plain = weigh_suspects(CHAIN, taken).by_suspect()
    with_code = weigh_suspects(CHAIN, taken, codes=[told(low_feed)]).by_suspect()
    passed = weigh_suspects(CHAIN, taken, codes=[told(low_feed, is_set=False)]).by_suspect()

    assert plain["resistance:W1"] == pytest.approx(plain["resistance:W2"], rel=0.05)
    # Bayes: one is made by the doubt alone, the other for sure.
    odds = plain["resistance:W1"] / plain["resistance:W2"]
    assert with_code["resistance:W1"] / with_code["resistance:W2"] == pytest.approx(
        odds / PRESENT, rel=0.02
    )
    assert passed["resistance:W2"] / passed["resistance:W1"] == pytest.approx(
        1 / odds / PRESENT, rel=0.02
    )


def test_codes_alone_rank_before_anything_is_read() -> None:
    likely = weigh_suspects(CHAIN, codes=[told(below(FEED, 9.0))]).by_suspect()

    # The feed and the battery's own joints lie above the pin, the ground below it does not.
    assert set(list(likely)[:2]) == {"resistance:W1", "resistance:B1"}
    assert likely["resistance:W2"] < 0.05 * likely["resistance:W1"]


def test_a_code_that_no_fault_sets_points_outside_the_drawing() -> None:
    above = SetCondition(test=Watch(place=LOAD, above=True, limit=20.0))
    before = weigh_suspects(CHAIN, [read(LOAD, 6.24)])
    after = weigh_suspects(CHAIN, [read(LOAD, 6.24)], codes=[told(above)])

    # Bayes: every drawn fault by the doubt alone, what is not drawn by one in two.
    odds = (1 - before.outside) / before.outside * after.outside / (1 - after.outside)
    assert odds == pytest.approx((PRESENT + (1 - PRESENT) / 2) / PRESENT, rel=0.01)
    assert float(after.probability.sum()) + after.outside == pytest.approx(1.0)


def test_a_failure_type_weighs_its_kind_and_excludes_none() -> None:
    low = below(FEED, 9.0)
    shorts = frozenset({FaultKind.GROUND_SHORT, FaultKind.BYPASS})
    plain = weigh_suspects(CHAIN, codes=[told(low)]).by_suspect()
    short = weigh_suspects(CHAIN, codes=[told(low, kinds=shorts)]).by_suspect()

    assert short["ground-short:in"] > plain["ground-short:in"]
    assert 0 < short["resistance:W1"] < plain["resistance:W1"]


def test_a_code_that_cannot_be_tested_and_means_no_kind_changes_nothing() -> None:
    silent = ToldCode(monitor=None, is_set=True, doubt=PRESENT)
    likely = weigh_suspects(CHAIN, [read(LOAD, 6.24)], codes=[silent]).by_suspect()

    assert likely == weigh_suspects(CHAIN, [read(LOAD, 6.24)]).by_suspect()
