"""Loops and nodes close: G. Kirchhoff, Annalen der Physik 64, 1845."""

import pytest

from circuits.engine import (
    Fault,
    Place,
    Reading,
    Rig,
    closure_of,
    find_suspect,
    predict,
)
from tests.engine.drawing import battery, network, resistor

PHASE = "as drawn"
TWO_LAMPS = network(
    battery("B1", "plus - minus", volts=12.6, ohms=0.02),
    resistor("W1", "plus - in", 0.1),
    resistor("H1", "in - out", 6.0),
    resistor("H2", "in - out", 3.0),
    resistor("W2", "out - minus", 0.1),
    zero="minus",
)


def volts(red: str, black: str) -> Place:
    return Place(key=f"{red} - {black}", red=red, black=black)


def amps(part: str, *, against: bool = False) -> Place:
    return Place(key=f"round {part}", through=part, reversed_clamp=against)


def read(places: list[Place], fault: Fault | None = None) -> list[Reading]:
    shown = predict(TWO_LAMPS, places, fault=fault)
    return [
        Reading(place=place, phase=PHASE, value=shown[PHASE, place.key].value, step=0.001)
        for place in places
    ]


LOOP = [volts("plus", "minus"), volts("plus", "in"), volts("minus", "out"), volts("in", "out")]


@pytest.mark.parametrize("fault", [None, "resistance:W1", "resistance:H1", "ground-short:in"])
@pytest.mark.parametrize("number", range(4))
def test_a_loop_closes_whatever_is_broken(fault: str | None, number: int) -> None:
    suspect = find_suspect(TWO_LAMPS, fault) if fault else None
    taken = read(LOOP, Fault(suspect=suspect, severity=0.8) if suspect else None)
    closure = closure_of(TWO_LAMPS, taken, number)

    assert closure is not None
    assert closure.value == pytest.approx(taken[number].value, abs=1e-6)
    assert closure.closes(taken[number])


def test_a_loop_that_does_not_close_is_told() -> None:
    taken = read(LOOP)
    wrong = Reading(place=LOOP[3], phase=PHASE, value=taken[3].value + 1.0, step=0.001)
    closure = closure_of(TWO_LAMPS, [*taken[:3], wrong], 3)

    assert closure is not None
    assert not closure.closes(wrong)


@pytest.mark.parametrize("against", [False, True])
def test_currents_close_at_a_node_whichever_way_the_clamp_points(against: bool) -> None:
    places = [amps("W1", against=against), amps("H1"), amps("H2", against=against)]
    taken = read(places)
    for number in range(3):
        closure = closure_of(TWO_LAMPS, taken, number)

        assert closure is not None
        assert closure.value == pytest.approx(taken[number].value, abs=1e-6)


def test_a_branch_that_was_not_clamped_leaves_the_node_open() -> None:
    assert closure_of(TWO_LAMPS, read([amps("W1"), amps("H1")]), 0) is None


def test_readings_of_another_rig_or_phase_close_nothing() -> None:
    taken = read(LOOP)
    other = Reading(
        place=LOOP[1],
        phase=PHASE,
        value=taken[1].value,
        step=0.001,
        rig=Rig(unplugged=frozenset({"H1"})),
    )

    assert closure_of(TWO_LAMPS, [taken[0], other, taken[2], taken[3]], 3) is None
