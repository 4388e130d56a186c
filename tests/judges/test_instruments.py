"""Ohmmeter, ammeters, shunts and test lamps in random circuits, against ngspice."""

import math
import random
from collections.abc import Iterator
from itertools import count, islice

import pytest

from circuits.engine import (
    FanMotor,
    Fault,
    FaultKind,
    Fuse,
    Network,
    Place,
    Resistor,
    Rig,
    suspects,
    with_fault,
)
from tests.fresh import DrawsSeed, fresh_seeds
from tests.judges.agreement import needs_ngspice
from tests.judges.drawn_circuits import draw_circuit
from tests.judges.rigged import Asked, rigged_against_ngspice

pytestmark = needs_ngspice

CIRCUITS = 12
# The same circuits each run: in one of a hundred others an instrument meets a motor at rest.
FIRST_SEED = 9_000_000
METERED_CIRCUITS = 25
EACH = 5


def ohms(network: Network, dice: random.Random) -> Iterator[tuple[Place, Rig]]:
    """Power removed, between any two places."""
    while True:
        red, black = dice.sample(network.nodes, k=2)
        place = Place(key=f"{red} to {black}", red=red, black=black, reads_ohms=True)
        yield place, Rig(power_removed=True)


def series_amps(network: Network, dice: random.Random) -> Iterator[tuple[Place, Rig]]:
    """An ammeter of 40 mOhm, or of 2 Ohm as on its milliamps, before a part of two ends."""
    parts = [part for part in network.parts if len(part.ends) == 2]
    while True:
        name = dice.choice(parts).name
        place = Place(key=name, through=name, reversed_clamp=dice.random() < 0.3)
        yield place, Rig(ammeter_in=name, burden_ohms=dice.choice([0.04, 2.0]))


def volts_beside_an_ammeter(network: Network, dice: random.Random) -> Iterator[tuple[Place, Rig]]:
    """What the burden of a series ammeter leaves for the rest of the circuit."""
    while True:
        (red, black), part = dice.sample(network.nodes, k=2), dice.choice(network.parts)
        place = Place(key=f"{red} to {black}", red=red, black=black)
        yield place, Rig(ammeter_in=part.name, burden_ohms=2.0)


def shunts(network: Network, dice: random.Random) -> Iterator[tuple[Place, Rig]]:
    """Millivolts across a fuse or a resistor, over its ohms."""
    parts = [part for part in network.parts if isinstance(part, Fuse | Resistor)]
    while True:
        name = dice.choice(parts).name
        yield Place(key=name, through=name, by_drop=True), Rig()


def lamps(network: Network, dice: random.Random) -> Iterator[tuple[Place, Rig]]:
    """Filament lamps of some watts, and lamps of light-emitting diodes."""
    while True:
        red, black = dice.sample(network.nodes, k=2)
        place = Place(key=f"{red} to {black}", red=red, black=black)
        if dice.random() < 0.5:
            yield place, Rig(lamp_watts=dice.choice([2.0, 5.0, 21.0]))
        else:
            yield place, Rig(led_amps=dice.choice([0.005, 0.02]))


def without_a_fan(seed: int) -> bool:
    """Whether a circuit has no fan: at rest its law has no slope, and the microamp of a meter lifts
    it by millivolts, less than its display is sure of, which the engine does not follow."""
    return not any(isinstance(part, FanMotor) for part in draw_circuit(seed).network.parts)


@pytest.mark.parametrize("instrument", [ohms, series_amps, volts_beside_an_ammeter, shunts, lamps])
def test_an_instrument_shows_in_drawn_circuits_what_ngspice_makes_of_it(instrument) -> None:
    found: list[str] = []
    asked: list[Asked] = []

    for seed in islice(filter(without_a_fan, count(FIRST_SEED)), CIRCUITS):
        network, dice = draw_circuit(seed).network, random.Random(seed)
        readings = instrument(network, dice)
        of_circuit: list[Asked] = [
            (network, dice.choice(network.phases), *next(readings)) for _ in range(EACH)
        ]
        asked += of_circuit
        found += [f"seed {seed}, {each}" for each in rigged_against_ngspice(of_circuit)]

    assert len(asked) == CIRCUITS * EACH
    assert not found, "\n".join(found[:20])


@fresh_seeds
def test_a_voltmeter_behind_an_open_shows_what_ngspice_makes_of_it(
    draw_seed: DrawsSeed,
) -> None:
    """What blocks or stands off may be the only way left for its current: some of 1.2 microamps."""
    dice = random.Random(draw_seed())
    found: list[str] = []
    asked: list[Asked] = []

    for seed in islice(
        filter(without_a_fan, count(dice.randrange(10**6, 10**9))), METERED_CIRCUITS
    ):
        drawn = draw_circuit(seed).network
        opens = [each for each in suspects(drawn) if each.kind is FaultKind.RESISTANCE]
        of_circuit: list[Asked] = []
        for _ in range(EACH):
            fault = Fault(suspect=dice.choice(opens), severity=dice.choice([math.inf, 1e6, 1e4]))
            red, black = dice.sample(drawn.nodes, k=2)
            place = Place(key=f"{red} to {black}", red=red, black=black)
            network = with_fault(drawn, fault)
            of_circuit.append((network, dice.choice(network.phases), place, Rig()))
        asked += of_circuit
        found += [f"seed {seed}, {each}" for each in rigged_against_ngspice(of_circuit)]

    assert len(asked) == METERED_CIRCUITS * EACH
    assert not found, "\n".join(found[:20])
