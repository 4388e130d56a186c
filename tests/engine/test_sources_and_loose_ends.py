"""Sources with limits, motors that stand still, and what hangs loose or gets tied."""

import math

import pytest

from circuits.engine import CurrentLoad, Fault, find_suspect
from tests.engine.drawing import battery, generator, motor, network, resistor, source, switch
from tests.engine.solving import solved, the_solution


@pytest.mark.parametrize(
    ("load_ohms", "volts", "amps"),
    [
        (1.0, 14.2 / 1.004, 14.2 / 1.004),
        (0.1, 12.0, 120.0),
        (0.05, 6.0, 120.0),
    ],
)
def test_a_generator_holds_its_volts_up_to_its_limit(load_ohms, volts, amps) -> None:
    """14.2 V behind 4 mOhm, at most 120 A: 0.1 ohm would take 136 A, so it gets 120 A and 12 V."""
    solution = the_solution(
        network(
            generator("G1", "stud - case", 14.2, 0.004, 120),
            resistor("load", "stud - case", load_ohms),
            zero="case",
        )
    )

    assert solution.volts["stud"] == pytest.approx(volts)
    assert solution.amps["G1"] == pytest.approx(-amps)


def test_a_generator_takes_nothing_back() -> None:
    solution = the_solution(
        network(
            generator("G1", "stud - case", 12.8, 0.004, 120),
            battery("B1", "stud - case", 13.2, 0.01),
            resistor("load", "stud - case", 10),
            zero="case",
        )
    )

    assert solution.amps["G1"] == pytest.approx(0, abs=1e-12)
    assert solution.volts["stud"] == pytest.approx(13.2 * 10 / 10.01)


@pytest.mark.parametrize(
    ("feed_ohms", "volts", "amps"),
    [
        # turning: V = 12 - R (3.6 + 0.14 V)
        (0.1063, (12 - 0.1063 * 3.6) / (1 + 0.1063 * 0.14), None),
        (1.10, (12 - 1.10 * 3.6) / (1 + 1.10 * 0.14), None),
        # it would need 2.36 V to turn: standing it is 0.6 ohm, 12 x 0.6 / 3.6 = 2.0 V, 3.33 A
        (3.0, 2.0, 10 / 3),
    ],
)
def test_a_motor_starved_of_volts_stands_still(feed_ohms, volts, amps) -> None:
    """12 V --feed--[motor 3.6 A + 0.14 A/V, standing 0.6 ohm]--."""
    solution = the_solution(
        network(
            source("B1", "plus - minus", 12),
            resistor("feed", "plus - pump", feed_ohms),
            motor("pump", "pump - minus", 3.6, 0.14, 0.6),
            zero="minus",
        )
    )

    assert solution.volts["pump"] == pytest.approx(volts)
    assert solution.amps["pump"] == pytest.approx(3.6 + 0.14 * volts if amps is None else amps)


def test_a_battery_gives_and_takes_through_different_ohms() -> None:
    def with_charger(volts: float) -> float:
        solution = the_solution(
            network(
                battery("B1", "plus - minus", 12.6, 0.010, charging_ohms=0.040),
                source("charger", "clamp - minus", volts),
                resistor("lead", "clamp - plus", 0.010),
                zero="minus",
            )
        )
        return solution.amps["B1"]

    assert with_charger(13.6) == pytest.approx(1.0 / 0.050)
    assert with_charger(11.6) == pytest.approx(-1.0 / 0.020)


@pytest.mark.parametrize("open_side", ["feed", "ground"])
def test_a_consumer_behind_an_open_switch_draws_nothing_whichever_side_is_open(open_side) -> None:
    """plus --feed switch--[consumer 10 A]--ground switch-- minus, one of them open.

    With the ground side open the consumer used to draw its 10 A into the loose end.
    """
    solution = the_solution(
        network(
            battery("B1", "plus - minus", 12.6, 0.01),
            switch("feed", "plus - in", closed=open_side != "feed"),
            CurrentLoad(name="consumer", first="in", second="out", amps=10.0),
            switch("ground", "out - minus", closed=open_side != "ground"),
            zero="minus",
        )
    )

    assert solution.amps["consumer"] == pytest.approx(0, abs=1e-9)
    assert solution.volts["plus"] == pytest.approx(12.6)


def test_a_generator_cut_off_from_everything_gives_nothing() -> None:
    """stud --[open]-- battery: nothing to feed; the case hangs on the engine alone."""
    solution = the_solution(
        network(
            battery("B1", "plus - minus", 12.6, 0.01),
            switch("cable", "plus - stud", closed=False),
            generator("G1", "stud - case", 14.2, 0.004, 120),
            resistor("strap", "case - minus", 0.001),
            zero="minus",
        )
    )

    assert solution.amps["G1"] == pytest.approx(0, abs=1e-9)
    assert solution.volts["stud"] == pytest.approx(14.2)


def test_what_lies_behind_an_open_with_nothing_else_on_it_hangs_loose() -> None:
    """plus --[wire, open]-- end --[switch open]-- minus, and a load that is fed otherwise."""
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        resistor("wire", "plus - end", 0.01),
        switch("S1", "end - minus", closed=False),
        resistor("load", "plus - minus", 10),
        zero="minus",
    )
    wire_open = Fault(suspect=find_suspect(drawn, "resistance:wire"), severity=math.inf)

    assert solved(drawn)["as drawn"].volts["end"] == pytest.approx(12.6 * 10 / 10.01)
    assert solved(drawn, wire_open)["as drawn"].volts["end"] is None


def test_a_short_to_a_loose_end_ties_it() -> None:
    """plus --[switch open]-- end --[switch open]-- minus, with a short from the end to supply."""
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        switch("S1", "plus - end", closed=False),
        switch("S2", "end - minus", closed=False),
        zero="minus",
    )
    short = Fault(suspect=find_suspect(drawn, "supply-short:end"), severity=5.0)

    assert solved(drawn)["as drawn"].volts["end"] is None
    assert solved(drawn, short)["as drawn"].volts["end"] == pytest.approx(12.6)


def test_a_leak_to_ground_on_its_ground_side_feeds_a_consumer() -> None:
    """plus --[consumer 3 A]-- end --[switch open]-- minus; 2 ohm from the end to ground.

    The leak carries the 3 A: 6 V stand across it.
    """
    drawn = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        CurrentLoad(name="consumer", first="plus", second="end", amps=3.0),
        switch("S1", "end - minus", closed=False),
        zero="minus",
    )
    leak = Fault(suspect=find_suspect(drawn, "ground-short:end"), severity=2.0)

    leaking = solved(drawn, leak)["as drawn"]

    assert leaking.amps["consumer"] == pytest.approx(3.0)
    assert leaking.volts["end"] == pytest.approx(6.0, abs=1e-6)


def test_what_hangs_loose_has_no_volts_but_its_differences_are_known() -> None:
    """A loose battery with a lamp across it, tied to the car at no point."""
    solution = the_solution(
        network(
            battery("B1", "plus - minus", 12.6, 0.01),
            resistor("load", "plus - minus", 10),
            battery("B2", "a - b", 12.0, 0.5),
            resistor("lamp", "a - b", 5.5),
            zero="minus",
        )
    )

    assert solution.volts["a"] is None
    assert solution.volts["b"] is None
    assert solution.amps["lamp"] == pytest.approx(2.0)
    assert solution.volts["plus"] == pytest.approx(12.6 * 10 / 10.01)
