"""What is kept of a circuit for its next case: never what belongs to another one."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pytest

from circuits.engine import Meter, Network, Reading, Suspect, judge, suspects
from circuits.engine.equations.wiring import Situation
from circuits.engine.settling import kept
from circuits.engine.settling.chart import Chart
from circuits.engine.settling.phases import PhaseRun
from tests.engine.relay_lamp import LAMP, RELAY

AS_DRAWN = {Situation(phase="as drawn"): [(LAMP, 10e6)]}


@pytest.fixture(autouse=True)
def _nothing_kept() -> Iterator[None]:
    kept.forget_charts()
    yield
    kept.forget_charts()


def chart_of(network: Network, listed: Sequence[Suspect] | None = None) -> Chart:
    chart = PhaseRun(network, suspects(network) if listed is None else listed).chart(AS_DRAWN)
    assert chart is not None
    return chart


def at_volts(volts: float) -> Network:
    return RELAY.with_part_values("B1", open_circuit_volts=volts)


def lines_of(chart: Chart) -> list[tuple[object, ...]]:
    """Return each stretch with the state on it."""
    stretches, (pieces,) = chart.stretches, chart.pieces.values()
    return list(
        zip(
            stretches.suspect.tolist(),
            stretches.low.tolist(),
            stretches.high.tolist(),
            pieces.tolist(),
            strict=True,
        )
    )


def test_a_circuit_set_to_the_same_supply_again_is_the_same_circuit() -> None:
    assert chart_of(at_volts(12.1)) is chart_of(at_volts(12.1))


def test_a_lower_battery_has_a_chart_of_its_own() -> None:
    """At 7.0 V the relay of 7.2 V pulls in at no severity at all; at 12.6 V it does when healthy.

    By hand: volts of the winding with nothing added are those of the battery, but for a few mV.
    """
    usual, low = chart_of(RELAY), chart_of(at_volts(7.0))

    assert usual is not low
    situation = Situation(phase="as drawn")
    contact = PhaseRun(RELAY, ()).stage(situation, ()).control_names().index("K1.con")
    assert usual.pieces[situation][:, contact].any()
    assert not low.pieces[situation][low.stretches.low == 0.0][:, contact].any()


def test_other_suspects_have_a_chart_of_their_own() -> None:
    listed = suspects(RELAY)

    assert chart_of(RELAY, listed) is not chart_of(RELAY, listed[1:])


def test_a_kept_chart_is_the_one_that_would_be_drawn_again() -> None:
    first = chart_of(RELAY)
    second = chart_of(RELAY)
    kept.forget_charts()
    anew = chart_of(RELAY)

    assert second is first
    assert anew is not first
    assert lines_of(anew) == lines_of(first)


def test_a_second_case_of_a_circuit_gets_the_verdict_that_it_would_get_alone() -> None:
    """Other readings, same circuit: what was kept of the first case says nothing of the second."""
    first, second = (
        Reading(place=LAMP, phase="as drawn", value=volts, step=0.01, meter=Meter())
        for volts in (12.5, 6.3)
    )
    judge(RELAY, [first])
    after_another = judge(RELAY, [second])
    kept.forget_charts()
    alone = judge(RELAY, [second])

    assert after_another == alone


def test_only_the_last_charts_are_kept() -> None:
    first = chart_of(at_volts(9.0))
    for volts in np.linspace(10.0, 14.0, kept.MOST_KEPT):
        chart_of(at_volts(float(volts)))

    assert chart_of(at_volts(9.0)) is not first
    assert chart_of(replace(at_volts(14.0))) is chart_of(at_volts(14.0))
