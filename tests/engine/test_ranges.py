"""How far a reading may be off: at worst, about a bent law, beside a threshold, from any history.

Sums and signs are done by hand (Ohm's law); slopes about a bent law are held to two solves of the
circuit with the part drawn a little larger and smaller.
"""

from dataclasses import replace

import numpy as np
import pytest

from circuits.engine import (
    Fault,
    Lamp,
    Meter,
    Network,
    Place,
    PowerLoad,
    Prediction,
    find_suspect,
    predict,
    solve,
    sweep,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import coil, contact, network, phases, resistor, source

PERFECT = Meter(input_ohms=float("inf"), reading_fraction=0.0, counts=0.0)


def read(drawn: Network, red: str, black: str, **asked) -> Prediction:
    place = Place(key="TP", red=red, black=black)
    (prediction,) = predict(drawn, [place], meter=PERFECT, **asked).values()
    return prediction


def test_at_worst_two_resistors_are_off_the_opposite_way() -> None:
    """12 V over R1 = R2 = 1 ohm, 10 % each: each moves the middle by 12 / 4 * 10 % = 0.3 V."""
    drawn = network(
        source("B1", "plus - minus", 12.0),
        resistor("R1", "plus - middle", 1.0),
        resistor("R2", "middle - minus", 1.0),
        zero="minus",
    )

    found = read(drawn, "middle", "minus")

    assert found.worst_high - found.value == pytest.approx(0.6)
    assert found.value - found.worst_low == pytest.approx(0.6)
    # 2.807 * sqrt(2) * 0.3 / sqrt(3): half a millivolt short of 0.69 V, beyond the worst case
    # of two rectangular values; with many parts it lies well inside.
    assert found.high - found.value == pytest.approx(2.807 * 0.3 * np.sqrt(2 / 3))


@pytest.mark.parametrize("load", ["lamp", "electronics"])
def test_a_wire_before_a_bent_load_moves_it_by_its_slope(load: str) -> None:
    """The band of one wire is half the difference of two solves with the wire at its edges."""
    bent: Lamp | PowerLoad = Lamp(name="H1", first="in", second="minus", rated_watts=55.0)
    if load == "electronics":
        bent = PowerLoad(name="H1", first="in", second="minus", watts=55.0, max_amps=20.0)
    drawn = network(
        source("B1", "plus - minus", 12.0),
        resistor("W1", "plus - in", 0.4),
        replace(bent, tolerance_fraction=0.0),
        zero="minus",
    )
    edge = 1e-4

    found = read(drawn.with_part_values("W1", tolerance_fraction=edge), "in", "minus")
    more, less = (
        read(drawn.with_part_values("W1", ohms=0.4 * (1 + sign * edge)), "in", "minus").value
        for sign in (1, -1)
    )

    assert found.worst_high - found.value == pytest.approx(abs(more - less) / 2, rel=1e-5)


def relay_fed_by(volts: float, *, tolerance_fraction: float) -> Network:
    """source --W1 10 ohm-- coil 90 ohm; its contact lights H1; pulls in at 7.2 V on the coil."""
    winding = coil("K1", "in - minus", 90.0)
    return network(
        source("B1", "plus - minus", volts),
        replace(resistor("W1", "plus - in", 10.0), tolerance_fraction=tolerance_fraction),
        replace(winding, tolerance_fraction=0.0),
        contact("K1.con", "plus - out", of=winding, pull_in_volts=7.2, drop_out_volts=2.0),
        resistor("H1", "out - minus", 100.0),
        zero="minus",
    )


@pytest.mark.parametrize(("volts", "value"), [(8.02, 8.02), (7.98, 0.0)])
def test_a_relay_within_tolerance_of_its_threshold_may_be_in_either_state(
    volts: float, value: float
) -> None:
    """At 8.0 V the coil gets 7.2 V; a wire that may be off by 10 % moves that by 0.9 % or 65 mV."""
    found = read(relay_fed_by(volts, tolerance_fraction=0.1), "out", "minus")

    assert found.near_threshold
    assert found.value == pytest.approx(value, abs=0.01)
    assert found.low < 0.1
    assert found.high > 7.9


@pytest.mark.parametrize("volts", [8.5, 7.5])
def test_a_relay_clear_of_its_threshold_has_one_state(volts: float) -> None:
    found = read(relay_fed_by(volts, tolerance_fraction=0.1), "out", "minus")

    assert not found.near_threshold
    assert found.high - found.low < 0.1


def test_a_relay_that_may_have_pulled_in_before_is_carried_in_both_states() -> None:
    """Near its threshold with the switch on; afterwards 6 V hold it where it then was."""
    drawn = relay_fed_by(8.02, tolerance_fraction=0.1)
    later = phases(first=(), then=source("B1", "plus - minus", 6.0))

    found = predict(
        replace(drawn, phases=later), [Place(key="TP", red="out", black="minus")], meter=PERFECT
    )

    assert found["then", "TP"].near_threshold
    assert found["then", "TP"].low < 0.1 < 5.9 < found["then", "TP"].high


def held_relay() -> Network:
    """Between 2.0 V and 7.2 V a relay stays as it is: 5 V on its coil."""
    winding = coil("K1", "plus - minus", 90.0)
    return network(
        source("B1", "plus - minus", 5.0),
        winding,
        contact("K1.con", "plus - out", of=winding, pull_in_volts=7.2, drop_out_volts=2.0),
        resistor("H1", "out - minus", 100.0),
        zero="minus",
    )


def test_without_its_history_a_held_relay_is_found_in_both_states() -> None:
    known, unknown = solve(held_relay()), solve(held_relay(), history="unknown")

    assert [each.contacts["K1.con"] for each in known] == [False]
    assert sorted(each.contacts["K1.con"] for each in unknown) == [False, True]
    found = read(held_relay(), "out", "minus", history="unknown")
    assert found.low < 0.1 < 4.9 < found.high


def test_a_clutch_switch_at_100_ohm_lets_the_start_relay_hold_but_not_pull_in() -> None:
    """Circuit C03: what cranked yesterday may crank on; what let go never starts again."""
    drawn = reference_circuit("C03").network
    suspect = find_suspect(drawn, "resistance:W7")
    fault = Fault(suspect=suspect, severity=100.0)

    states = {
        (each.phase, tuple(sorted(each.contacts.items())))
        for each in solve(drawn, fault, history="unknown")
    }

    assert len(states) > len(drawn.phases)
    assert len(solve(drawn, fault)) == len(drawn.phases)


def test_a_sweep_has_the_same_ranges_as_single_predictions() -> None:
    drawn = relay_fed_by(8.02, tolerance_fraction=0.1)
    place = Place(key="TP", red="out", black="minus")
    fault = Fault(suspect=find_suspect(drawn, "resistance:W1"), severity=0.2)

    swept = sweep(drawn, [place], [None, fault], meter=PERFECT)

    for number, single in enumerate((None, fault)):
        expected = predict(drawn, [place], fault=single, meter=PERFECT)
        (ours,), (theirs,) = swept.predictions(number).values(), expected.values()
        assert ours.near_threshold == theirs.near_threshold
        for name in ("value", "low", "high", "worst_low", "worst_high"):
            assert getattr(ours, name) == pytest.approx(getattr(theirs, name), abs=1e-9), name
