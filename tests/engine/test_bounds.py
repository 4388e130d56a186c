"""The least and the most that a meter caught: bounds of the steady figure, and no more.

A meter's minimum and maximum functions keep single moments; that a dip or a peak may go beyond
what the circuit settles to is common practice, no source. The figures follow from Ohm's law.
"""

from dataclasses import replace

import pytest

from circuits.engine import (
    Bound,
    Finding,
    KeyState,
    Network,
    Outcome,
    Reading,
    closure_of,
    judge,
)
from tests.engine.drawing import battery, network, resistor, volts_place

AT_LAMP = volts_place("lamp", "in - out")
AT_FEED = volts_place("feed", "plus - in")
AT_GROUND = volts_place("ground", "out - minus")
AT_POSTS = volts_place("posts", "plus - minus")


def lamp() -> Network:
    """12.6 V, 0.05 Ohm to a lamp of 6 Ohm, 0.05 Ohm back: a sound lamp stands at 12.39 V."""
    return network(
        battery("B1", "plus - minus", 12.6, 0.001),
        resistor("W1", "plus - in", 0.05),
        resistor("H1", "in - out", 6.0),
        resistor("W2", "out - minus", 0.05),
        zero="minus",
    )


def read(place, value: float, bound: Bound = Bound.EXACT) -> Reading:
    return Reading(place=place, phase="as drawn", value=value, step=0.01, bound=bound)


def feed(*readings: Reading) -> tuple[Finding, Finding]:
    verdict = judge(lamp(), readings, claim="resistance:W1")
    assert verdict.claim is not None
    return verdict.healthy, verdict.claim


def test_a_dip_below_what_is_steady_accuses_nobody() -> None:
    healthy, claim = feed(read(AT_LAMP, 6.3, Bound.FROM_BELOW))

    assert healthy.misfit == pytest.approx(0.0, abs=1e-9)
    assert healthy.distance == (0.0,)
    assert claim.outcome is Outcome.CANNOT_SAY


def test_a_least_that_is_high_enough_excludes_what_would_read_lower() -> None:
    """Never below 12.0 V, so no more than 12.6 * 6 / 12.0 - 6.1 = 0.2 Ohm can lie in the feed,
    with some room for the tolerances of the lamp, the battery and the meter."""
    _, claim = feed(read(AT_LAMP, 12.0, Bound.FROM_BELOW))
    _, steady = feed(read(AT_LAMP, 12.0))

    assert claim.severity_low is not None
    assert claim.severity_high is not None
    assert claim.severity_low < 0.01
    assert 0.2 < claim.severity_high < 0.5
    assert claim.severity_high == pytest.approx(steady.severity_high, rel=0.1)


def test_a_most_bounds_it_from_above_and_says_so() -> None:
    """Never above 6.3 V: a sound lamp would stand at 12.39 V all the time; an open feed passes."""
    healthy, claim = feed(read(AT_LAMP, 6.3, Bound.FROM_ABOVE))

    assert not healthy.passes
    assert claim.outcome is Outcome.FITS
    assert claim.severity_high == float("inf")
    assert "was logged as 6.30 V at its highest" in claim.because


def test_a_bound_that_lies_open_leaves_the_other_readings_as_they_are() -> None:
    """The drop and the lamp share the lamp's tolerance: what the drop says of it must not be
    held against a dip."""
    drop = read(AT_FEED, 0.12)
    alone, _ = feed(drop)
    beside, _ = feed(drop, read(AT_LAMP, 5.0, Bound.FROM_BELOW))
    both, _ = feed(drop, read(AT_LAMP, 5.0, Bound.FROM_BELOW), read(AT_GROUND, 2, Bound.FROM_ABOVE))

    assert beside.misfit == pytest.approx(alone.misfit, rel=1e-6)
    assert both.misfit == pytest.approx(alone.misfit, rel=1e-6)


def test_a_bound_that_is_reached_counts_like_a_steady_figure() -> None:
    steady, _ = feed(read(AT_FEED, 0.11), read(AT_LAMP, 13.4))
    bound, _ = feed(read(AT_FEED, 0.11), read(AT_LAMP, 13.4, Bound.FROM_BELOW))

    assert bound.misfit == pytest.approx(steady.misfit, rel=1e-6)
    assert not bound.passes


def test_a_least_at_the_supply_is_not_taken_for_the_supply() -> None:
    """At rest 12.4 V are a battery half charged; the least of a while may be any moment's."""
    phase = replace(lamp().phases[0], key_state=KeyState.OFF)
    at_rest = replace(lamp(), phases=(phase,))
    least = judge(at_rest, [read(AT_POSTS, 12.4, Bound.FROM_BELOW)], supply_places=("posts",))
    steady = judge(at_rest, [read(AT_POSTS, 12.4)], supply_places=("posts",))

    assert least.notes == ()
    assert least.healthy.predicted[0] == pytest.approx(12.598, abs=0.001)
    assert steady.healthy.predicted[0] == pytest.approx(12.4, abs=0.001)


def test_no_sum_is_made_of_a_least() -> None:
    taken = [read(AT_POSTS, 12.6), read(AT_FEED, 0.1), read(AT_GROUND, 0.1), read(AT_LAMP, 9.0)]
    dip = [*taken[:3], read(AT_LAMP, 9.0, Bound.FROM_BELOW)]

    assert closure_of(lamp(), taken, 3) is not None
    assert closure_of(lamp(), dip, 3) is None
