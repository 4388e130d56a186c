"""Set the circuit to the temperature that was noted with a reading, before anything is judged.

Copper resists more when hot, and with it every wire and winding; a thermistor is there to. A part
whose temperature is its own (a coolant sensor at 90 C, a winding that has warmed itself) is drawn
at that temperature. What is drawn at 20 C, the temperature of all tables, was not thought about:
it follows the surroundings.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from circuits.engine.copper import REFERENCE_CELSIUS
from circuits.engine.network import Network
from circuits.engine.parts import Part
from circuits.engine.readings import Reading


def at_ambient(network: Network, celsius: float | None) -> Network:
    """Return the network with the parts that follow the surroundings at this temperature.

    None leaves it as it is drawn.

    Examples
    --------
    The winding of a relay, 88 ohm at 20 C, on a hot day under a closed bonnet:

    >>> from circuits.engine import Battery, Coil, Network, at_ambient, solve
    >>> relay = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.0, internal_ohms=0.001),
    ...     Coil(name="K1", first="plus", second="minus", ohms=88.0),
    ... ))
    >>> round(12 / solve(at_ambient(relay, 90.0))[0].amps["K1"])
    112
    """
    if celsius is None:
        return network

    at_that: dict[str, Any] = {"celsius": celsius}

    def moved(part: Part) -> Part:
        if getattr(part, "celsius", None) != REFERENCE_CELSIUS:
            return part
        return replace(part, **at_that)

    phases = tuple(
        replace(phase, changes={name: moved(part) for name, part in phase.changes.items()})
        for phase in network.phases
    )
    return replace(network, parts=tuple(map(moved, network.parts)), phases=phases)


def noted_celsius(network: Network, reading: Reading) -> float | None:
    """Return the temperature noted with a reading, or None where it makes no difference."""
    follows = at_ambient(network, reading.celsius) != network
    return reading.celsius if follows else None


def temperature_notes(network: Network, readings: Sequence[Reading]) -> list[str]:
    """Say which readings are judged at a temperature of their own."""
    by_celsius: dict[float, list[str]] = {}
    for reading in readings:
        celsius = noted_celsius(network, reading)
        if celsius is not None:
            words = f"{reading.place.key} in '{reading.phase}'"
            by_celsius.setdefault(celsius, []).append(words)
    return [
        f"copper and what else follows the surroundings is taken at {celsius:g} °C, as it was "
        f"noted, for {', '.join(dict.fromkeys(words))}"
        for celsius, words in by_celsius.items()
    ]
