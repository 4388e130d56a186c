"""Lamps, fans and electronics in any order: every load obeys its own law, and none makes volts."""

import numpy as np
import pytest

from circuits.engine import (
    Battery,
    FanMotor,
    Fault,
    Lamp,
    Network,
    Part,
    PowerLoad,
    Resistor,
    find_suspect,
    solve,
)

BATTERY_VOLTS = 12.6
NODES = ("plus", "minus", "a", "b", "c")


def some_load(random: np.random.Generator, name: str) -> Part:
    first, second = (str(node) for node in random.choice(NODES, 2, replace=False))
    match int(random.integers(3)):
        case 0:
            watts = float(random.choice([5, 21, 55]))
            return Lamp(name=name, first=first, second=second, rated_watts=watts)
        case 1:
            return PowerLoad(
                name=name,
                first=first,
                second=second,
                watts=float(random.uniform(1, 400)),
                max_amps=float(random.uniform(2, 70)),
            )
        case _:
            return FanMotor(
                name=name,
                first=first,
                second=second,
                winding_ohms=0.055,
                back_volts=11.2,
                rated_amps=32.0,
                drive_fraction=float(random.uniform(0.1, 1)),
            )


def some_circuit(seed: int) -> Network:
    """Return a battery with one to five loads and one to four resistors between five places."""
    random = np.random.default_rng(seed)
    parts: list[Part] = [
        Battery(
            name="B1",
            first="plus",
            second="minus",
            open_circuit_volts=BATTERY_VOLTS,
            internal_ohms=0.011,
        )
    ]
    parts += [some_load(random, f"L{number}") for number in range(random.integers(1, 6))]
    for number in range(random.integers(1, 5)):
        first, second = (str(node) for node in random.choice(NODES, 2, replace=False))
        ohms = float(10 ** random.uniform(-3, 4))
        parts.append(Resistor(name=f"R{number}", first=first, second=second, ohms=ohms))
    return Network(parts=tuple(parts), zero="minus")


@pytest.mark.parametrize("first_seed", range(0, 300, 50))
def test_loads_in_any_order_obey_their_laws_and_stay_within_the_battery(first_seed: int) -> None:
    """Two lamps in a row with a fan behind them, electronics that starve each other, and worse."""
    for seed in range(first_seed, first_seed + 50):
        network = some_circuit(seed)
        solution = solve(network)[0]
        volts = {node: value for node, value in solution.volts.items() if value is not None}

        assert max(volts.values()) <= BATTERY_VOLTS + 1e-6, seed
        assert min(volts.values()) >= -1e-6, seed
        for part in network.parts:
            if not isinstance(part, Lamp | PowerLoad | FanMotor):
                continue
            if part.first in volts and part.second in volts:
                drop = np.array(volts[part.first] - volts[part.second])
                assert solution.amps[part.name] == pytest.approx(
                    float(part.curve().amps(drop)), abs=1e-6
                ), seed


def test_a_fan_with_a_dry_bearing_draws_what_its_torque_asks() -> None:
    """battery 13.33 V --[fan, 32 A at rated speed, torque x 1.7 = 54.4 A]-- : more amps, slower.

    The fan's own equations, d V = Ra Im + k w and Im = c w**2, solved for c = 54.4 by hand:
    0.055 x 54.4 w**2 + 11.24 w = 13.33 gives w = 0.9471 and Im = 48.80 A at full drive.
    """
    fan = FanMotor(
        name="FAN",
        first="plus",
        second="minus",
        winding_ohms=0.055,
        back_volts=11.24,
        rated_amps=32.0,
    )
    stiff = Battery(
        name="B1", first="plus", second="minus", open_circuit_volts=13.33, internal_ohms=1e-6
    )
    network = Network(parts=(stiff, fan), zero="minus")
    drags = find_suspect(network, "drags:FAN")

    faulty = solve(network, Fault(suspect=drags, severity=22.4))[0]

    assert faulty.amps["FAN"] == pytest.approx(48.80, abs=0.01)
