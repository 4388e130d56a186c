"""How likely each suspect is: shares that make one, that follow the evidence, and that keep word.

The identity that calibrated shares obey, E[p of the truth] = E[sum of p squared], follows from
Bayes' theorem; that what is stated at 80 % should be right at 80 % is A. P. Dawid, The well-
calibrated Bayesian, JASA 77, 1982 (value from memory).
"""

from dataclasses import replace

import numpy as np
import pytest

from circuits.engine import (
    Fault,
    Meter,
    Place,
    Reading,
    Resistor,
    predict,
    suspects,
    weigh_suspects,
)
from circuits.engine.judging.ranking import HEALTHY_SHARE, OUTSIDE_SHARE, Hypotheses
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, network, resistor

CHAIN = network(
    battery("B1", "plus - minus", volts=12.6, ohms=0.01),
    resistor("W1", "plus - a", 0.02),
    resistor("W2", "a - b", 0.02),
    resistor("H1", "b - c", 6.0),
    resistor("W3", "c - minus", 0.02),
    zero="minus",
)
PHASE = "as drawn"
SUPPLY = Place(key="supply", red="plus", black="minus")
LOAD = Place(key="load", red="b", black="c")
FEED = Place(key="feed", red="plus", black="b")
RETURN = Place(key="return", red="c", black="minus")


def read(place: Place, volts: float) -> Reading:
    return Reading(place=place, phase=PHASE, value=volts, step=0.01)


def total(hypotheses: Hypotheses) -> float:
    return float(hypotheses.probability.sum()) + hypotheses.outside


@pytest.mark.parametrize(
    "readings",
    [
        (),
        (read(LOAD, 12.48),),
        (read(LOAD, 8.0), read(FEED, 4.5)),
        (read(LOAD, 8.0), read(FEED, 0.1), read(RETURN, 0.1)),
    ],
)
def test_the_shares_and_what_is_outside_make_one(readings) -> None:
    assert total(weigh_suspects(CHAIN, readings)) == pytest.approx(1.0, abs=1e-9)


def test_before_any_reading_the_shares_are_those_of_the_kinds() -> None:
    found = weigh_suspects(CHAIN)
    likely = found.by_suspect()

    assert found.outside == OUTSIDE_SHARE
    assert likely[""] == pytest.approx(HEALTHY_SHARE)
    assert likely["resistance:W1"] == pytest.approx(likely["resistance:W3"])
    assert likely["resistance:W1"] > likely["ground-short:a"] > 0


def test_two_joints_that_no_reading_parts_are_as_likely_as_each_other() -> None:
    likely = weigh_suspects(CHAIN, [read(LOAD, 8.0), read(FEED, 4.5)]).by_suspect()

    assert likely["resistance:W1"] == pytest.approx(likely["resistance:W2"], rel=0.02)
    assert likely["resistance:W1"] + likely["resistance:W2"] > 0.9
    assert likely["resistance:W3"] < 1e-6


def test_past_cases_weigh_as_counts_between_suspects_that_the_readings_leave() -> None:
    readings = [read(LOAD, 8.0), read(FEED, 4.5)]
    likely = weigh_suspects(CHAIN, readings, cases={"resistance:W2": 9}).by_suspect()

    # One of its kind and nine cases, beside one of its kind.
    assert likely["resistance:W2"] / likely["resistance:W1"] == pytest.approx(10.0, rel=0.03)


def test_readings_that_nothing_in_the_drawing_gives_point_outside_it() -> None:
    found = weigh_suspects(CHAIN, [read(LOAD, 8.0), read(FEED, 0.1), read(RETURN, 0.1)])

    assert found.outside > 0.9


def test_a_sound_car_is_likelier_the_better_it_reads() -> None:
    far = weigh_suspects(CHAIN, [read(LOAD, 12.0)]).by_suspect()[""]
    near = weigh_suspects(CHAIN, [read(LOAD, 12.49)]).by_suspect()[""]

    assert near > far


@pytest.mark.slow
def test_what_is_stated_is_right_as_often_as_it_is_stated() -> None:
    """Faults, severities, part values and meter errors drawn as the shares assume them."""
    random = np.random.default_rng(20261127)
    prior = weigh_suspects(CHAIN)
    listed = {suspect.id for suspect in suspects(CHAIN)}
    draws = random.choice(
        len(prior.faults), size=400, p=prior.probability / prior.probability.sum()
    )
    given_to_truth, squared, tops, rights = [], [], [], []
    for number in draws.tolist():
        fault = prior.faults[number]
        logged = simulated(fault, random)
        likely = weigh_suspects(CHAIN, logged).by_suspect()
        truth = fault.suspect.id if fault is not None else ""
        assert not truth or truth in listed
        given_to_truth.append(likely[truth])
        squared.append(sum(share**2 for share in likely.values()))
        top, share = next(iter(likely.items()))
        tops.append(share)
        rights.append(top == truth)

    noise = np.std(np.array(given_to_truth) - np.array(squared)) / len(draws) ** 0.5
    gap = abs(float(np.mean(given_to_truth) - np.mean(squared)))
    assert gap <= 3 * noise + 0.03
    sure = np.array(tops) > np.median(tops)
    assert np.mean(np.array(rights)[sure]) > np.mean(np.array(rights)[~sure])


def test_what_chatters_explains_any_figure_and_therefore_each_of_them_less() -> None:
    """ngspice solved this car with 10 Ohm in W1, its parts within their tolerances, read by a meter
    off by what a meter may be. With some ohms in the battery strap the pump's relay would chatter,
    and any figure between made and open would agree; the same figures point at the wire."""
    reference = reference_circuit("C05")
    at = {place.key: place for place in reference.places}
    shown = (
        ("TP1", "cranking", 10.75),
        ("TP1", "ignition on, after prime", 12.40),
        ("TP1", "running", 13.85),
        ("TP5", "cranking", 0.77),
        ("TP2", "ignition on, after prime", -0.01),
        ("TP6", "cranking", 0.05),
        ("TP2", "running", 0.87),
    )
    readings = [
        Reading(place=at[key], phase=phase, value=volts, step=0.01) for key, phase, volts in shown
    ]
    likely = weigh_suspects(reference.network, readings, supply_places=("TP1",)).by_suspect()

    assert likely["resistance:W1"] > 10 * likely["resistance:Wg"]


def simulated(fault: Fault | None, random: np.random.Generator) -> list[Reading]:
    """Return what such a car shows at three places, its parts within their tolerances."""
    parts = tuple(
        replace(part, ohms=part.ohms * (1 + part.tolerance_fraction * random.uniform(-1, 1)))
        if isinstance(part, Resistor)
        else part
        for part in CHAIN.parts
    )
    shown = predict(CHAIN.with_parts(parts), [SUPPLY, LOAD, RETURN], fault=fault)
    meter = Meter()
    found = []
    for place in (SUPPLY, LOAD, RETURN):
        value = shown[PHASE, place.key].value
        reach = meter.reading_fraction * abs(value) + meter.counts * 0.01
        found.append(read(place, round(value + reach * random.uniform(-1, 1), 2)))
    return found
