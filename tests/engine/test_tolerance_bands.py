"""The tolerance bands of a prediction against draws of every part's value.

The engine finds its bands from the slope of each reading with each tolerance. Here the slopes are
not asked: every part of the fuel-pump circuit is drawn at random inside its tolerance, the drawn
circuit is solved for itself, and the spread of a few hundred such cars is compared with the band.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from circuits.engine import (
    Contact,
    Fault,
    Fuse,
    Meter,
    Motor,
    Network,
    Part,
    Reading,
    Resistor,
    Supply,
    Switch,
    Wire,
    find_suspect,
    judge,
    predict,
)
from circuits.engine.settling.ranges import COVERAGE_FACTOR
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, network, resistor, volts_place

CARS = 250
# Meters without error or load, so that the parts alone make the spread.
PERFECT = Meter(input_ohms=float("inf"), reading_fraction=0.0, counts=0.0)
# Below this a reading stands still, for all that is known of the parts.
STILL_VOLTS = 1e-6


def even_draws(count: int, cars: int, seed: int) -> np.ndarray:
    """Return draws (cars, count) from -1 to 1, each column spread evenly and shuffled.

    A Latin hypercube (McKay, Beckman, Conover 1979) with its columns made uncorrelated (Iman,
    Conover 1982): a few hundred draws then stand for many thousand independent ones.
    """
    random = np.random.default_rng(seed)
    even = (np.arange(cars) + 0.5) / cars * 2 - 1
    columns = np.array([random.permutation(even) for _ in range(count)]).T
    scores = columns @ np.linalg.inv(np.linalg.cholesky(np.cov(columns.T)).T)
    return even[np.argsort(np.argsort(scores, axis=0), axis=0)]


def tolerances(network: Network) -> Iterator[tuple[str, str]]:
    """Name what may be off: once for a part, in each phase for the volts of a stand-in supply."""
    for part in network.parts:
        match part:
            case Supply():
                yield part.name, "ohms"
                for phase in network.phases:
                    yield part.name, phase.name
            case _:
                yield part.name, "value"


def drawn_part(part: Part, off: dict[tuple[str, str], float], phase: str) -> Part:
    """Return a part as one car may have it; `off` runs from -1 to 1 of the tolerance."""
    share = 1 + getattr(part, "tolerance_fraction", 0.0) * off.get((part.name, "value"), 0.0)
    match part:
        case Supply():
            # 5 % of its volts, drawn anew in each phase: it stands for the rest of the car.
            return replace(
                part,
                volts=part.volts * (1 + 0.05 * off[part.name, phase]),
                internal_ohms=part.internal_ohms * (1 + 0.20 * off[part.name, "ohms"]),
            )
        case Wire():
            return Resistor(
                name=part.name, first=part.first, second=part.second, ohms=part.ohms * share
            )
        case Fuse():
            return replace(part, cold_ohms=part.ohms * share)
        case Switch():
            return replace(part, closed_ohms=part.closed_ohms * share)
        case Contact():
            return replace(part, made_ohms=part.made_ohms * share)
        case Motor():
            return replace(
                part,
                base_amps=part.base_amps * share,
                amps_per_volt=part.amps_per_volt * share,
                stalled_ohms=part.stalled_ohms / share,
            )
        case Resistor():
            return replace(part, ohms=part.ohms * share)
        case _:
            raise TypeError(f"nothing is drawn here for {type(part).__name__}")


def drawn_car(network: Network, off: dict[tuple[str, str], float]) -> Network:
    phases = tuple(
        replace(
            phase,
            changes={
                part.name: drawn_part(part, off, phase.name) for part in network.parts_in(phase)
            },
        )
        for phase in network.phases
    )
    return replace(network, phases=phases)


@pytest.fixture(scope="module")
def spread_of_cars():
    """Return (phase, place) -> what the drawn cars read there."""
    circuit = reference_circuit("C05")
    names = list(tolerances(circuit.network))
    shown: dict[tuple[str, str], list[float]] = {}
    for draw in even_draws(len(names), CARS, seed=20):
        car = drawn_car(circuit.network, dict(zip(names, draw.tolist(), strict=True)))
        for key, prediction in predict(car, circuit.places, meter=PERFECT).items():
            shown.setdefault(key, []).append(prediction.value)
    return {key: np.array(values) for key, values in shown.items()}


@pytest.fixture(scope="module")
def predicted():
    circuit = reference_circuit("C05")
    return predict(circuit.network, circuit.places, meter=PERFECT)


def test_bands_are_as_wide_as_the_spread_of_drawn_cars(spread_of_cars, predicted) -> None:
    """Standard deviations agree within 5 %; the engine's is its band over the coverage factor."""
    compared = 0

    for key, values in spread_of_cars.items():
        band = predicted[key]
        uncertainty = (band.high - band.low) / 2 / COVERAGE_FACTOR
        if values.std() < STILL_VOLTS:
            assert uncertainty < STILL_VOLTS
            continue
        assert uncertainty == pytest.approx(values.std(ddof=1), rel=0.05), key
        compared += 1
    assert compared >= 20


def test_bands_stand_about_the_middle_of_the_drawn_cars(spread_of_cars, predicted) -> None:
    for key, values in spread_of_cars.items():
        middle = (predicted[key].high + predicted[key].low) / 2
        assert middle == pytest.approx(values.mean(), abs=0.1 * values.std() + STILL_VOLTS), key


def test_about_one_car_in_two_hundred_lies_outside_a_band(spread_of_cars, predicted) -> None:
    """The coverage factor 2.807 is for 99.5 %; sums of rectangular draws have shorter tails."""
    outside = inside = 0

    for key, values in spread_of_cars.items():
        band = predicted[key]
        beyond = (values < band.low - STILL_VOLTS) | (values > band.high + STILL_VOLTS)
        outside += int(beyond.sum())
        inside += int((~beyond).sum())
    assert outside <= 0.005 * (inside + outside)


def test_a_wrong_part_is_as_well_made_as_the_right_one() -> None:
    """A resistor of 0.6 ohm in the place of one of 6 ohm is off by a tenth of its own ohms."""
    drawn = network(
        battery("B1", "plus - minus", 12.0, 1.0), resistor("R1", "plus - minus", 6.0), zero="minus"
    )
    wrong = find_suspect(drawn, "wrong-low:R1")
    place = volts_place("R1", "plus - minus")
    meter = Meter(reading_fraction=0.0)

    fitted = drawn.with_part_values("R1", ohms=0.6)
    expected = predict(fitted, [place], meter=meter)["as drawn", "R1"]
    found = predict(drawn, [place], fault=Fault(suspect=wrong, severity=0.9), meter=meter)[
        "as drawn", "R1"
    ]

    assert found.value == pytest.approx(expected.value, rel=1e-9)
    assert found.high - found.low == pytest.approx(expected.high - expected.low, rel=1e-9)


def test_a_finding_tells_how_far_tolerances_let_its_prediction_lie() -> None:
    """Across a battery of 12.6 V, known to 0.1 V, that nothing loads: a bound of 0.1 V has a
    standard uncertainty of 0.1 / sqrt(3) (JCGM 100:2008, 4.3.7), and 99.5 % of a normal quantity
    lie within 2.807 of them: 0.162 V. The meter is not in it."""
    unloaded = network(
        battery("B1", "plus - minus", 12.6, 0.01),
        resistor("R1", "plus - minus", 1e6),
        zero="minus",
    )
    read = Reading(
        place=volts_place("posts", "plus - minus"), phase="as drawn", value=12.55, step=0.01
    )
    verdict = judge(unloaded, [read])

    assert verdict.healthy.model_reach[0] == pytest.approx(0.162, abs=0.001)
