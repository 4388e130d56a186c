"""Readings beside the car in order, seat by seat: as a verdict finds them by its joint test.

The judge here is the verdict itself, which weighs all readings of a log together.
"""

from dataclasses import replace

import numpy as np
import pytest

from circuits.engine import Bound, Place, Reading, SoundCar, judge
from circuits.engine.judging import sound_car
from tests.circuits.reference_networks import reference_circuit

# Straight, with relays and a module; with filaments and motors, whose laws are curved.
CIRCUITS = ("C01", "C05", "C12")
READINGS = 5


def drawn_logs(network, places: list[Place], supply: Place) -> list[list[Reading]]:
    """Return logs with figures that need not make sense, without and with a supply, and bounds."""
    random = np.random.default_rng(808)
    phases = [phase.name for phase in network.phases]
    plain = [
        Reading(place=place, phase=phase, value=round(random.normal(6, 4), 2), step=0.01)
        for place, phase in (
            (places[random.integers(len(places))], phases[random.integers(len(phases))])
            for _ in range(READINGS)
        )
    ]
    at_supply = Reading(place=supply, phase=plain[0].phase, value=12.21, step=0.01)
    bounded = [replace(plain[0], bound=Bound.FROM_BELOW), *plain[1:]]
    cold = [replace(plain[0], celsius=-15.0), *plain[1:]]
    return [plain, [at_supply, *plain], [replace(at_supply, value=11.4), *plain], bounded, cold]


def test_what_is_kept_of_seats_and_supplies_is_bounded_and_stays_right(monkeypatch) -> None:
    """Every log has a temperature and a supply of its own, as over years; the first comes again."""
    monkeypatch.setattr(sound_car, "SEATS_KEPT", 2)
    monkeypatch.setattr(sound_car, "SUPPLIES_KEPT", 2)
    network = reference_circuit("C01").network
    place = next(each for each in reference_circuit("C01").places if not each.reads_ohms)
    supply = Place(key="supply", red=network.supply, black=network.zero)
    phase = network.phases[0].name
    car = SoundCar(network, ["supply"], [place])
    logs = [
        [
            Reading(place=supply, phase=phase, value=12.0 + number / 10, step=0.01),
            Reading(place=place, phase=phase, value=6.0, step=0.01, celsius=float(number)),
        ]
        for number in (0, 1, 2, 3, 4, 5, 0)
    ]
    seated = [list(map(car.seated, log)) for log in logs]
    found = [car.beside(log) for log in seated]

    assert found[0] == found[-1] == car.beside(seated[0])
    for log, beside in zip(logs, found, strict=True):
        healthy = judge(network, log, supply_places=["supply"], rivals=False).healthy
        distance = [each.distance for each in beside if each is not None]
        assert distance == pytest.approx(healthy.distance, rel=1e-6)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_readings_lie_beside_the_car_in_order_as_a_verdict_says(circuit) -> None:
    reference = reference_circuit(circuit)
    network = reference.network
    places = [place for place in reference.places if not place.reads_ohms]
    supply = Place(key="supply", red=network.supply, black=network.zero)
    car = SoundCar(network, ["supply"], places)
    for log in drawn_logs(network, places, supply):
        healthy = judge(network, log, supply_places=["supply"], rivals=False).healthy
        beside = [each for each in car.beside(list(map(car.seated, log))) if each is not None]

        assert [each.predicted for each in beside] == pytest.approx(healthy.predicted, abs=1e-9)
        assert [each.distance for each in beside] == pytest.approx(healthy.distance, rel=1e-6)
