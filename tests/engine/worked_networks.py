"""The circuits of the published worked examples; each source stands beside its test."""

from collections.abc import Callable

from circuits.engine import Network
from tests.engine.drawing import battery, current, network, resistor, source


def unbalanced_bridge() -> Network:
    """1 --150-- 2 --300-- 0, 1 --50-- 3 --250-- 0, 100 ohm from 2 to 3; 24 V on 1."""
    return network(
        source("supply", "1 - 0", 24),
        resistor("R1", "1 - 2", 150),
        resistor("R2", "1 - 3", 50),
        resistor("R3", "3 - 2", 100),
        resistor("R4", "2 - 0", 300),
        resistor("R5", "3 - 0", 250),
        zero="0",
    )


def small_bridge() -> Network:
    """1 --12-- 2 --18-- 0, 1 --18-- 3 --12-- 0, 6 ohm from 2 to 3; 10 V on 1."""
    return network(
        source("supply", "1 - 0", 10),
        resistor("R1", "1 - 2", 12),
        resistor("R2", "1 - 3", 18),
        resistor("R3", "2 - 3", 6),
        resistor("R4", "2 - 0", 18),
        resistor("R5", "3 - 0", 12),
        zero="0",
    )


def two_batteries() -> Network:
    """28 V behind 4 ohm and 7 V behind 1 ohm feed one load of 2 ohm."""
    return network(
        battery("B1", "load - 0", 28, 4),
        battery("B2", "load - 0", 7, 1),
        resistor("R2", "load - 0", 2),
        zero="0",
    )


def two_nodes() -> Network:
    """10 V --2-- a --4-- 0; a --2.5-- b --5-- 0; b --1-- -4 V."""
    return network(
        battery("B1", "a - 0", 10, 2),
        resistor("R1", "a - 0", 4),
        resistor("R2", "a - b", 2.5),
        resistor("R3", "b - 0", 5),
        battery("B2", "0 - b", 4, 1),
        zero="0",
    )


def bridge_driven_by_a_current() -> Network:
    """Drive the unbalanced bridge with the amps that 24 V would send, instead of the volts."""
    resistors = unbalanced_bridge().parts[1:]
    return network(current("drive", "0 - 1", 0.136092), *resistors, zero="0")


def series_of_parallels() -> Network:
    """24 V over (100 parallel 250) in series with (350 parallel 200)."""
    return network(
        source("supply", "plus - 0", 24),
        resistor("R1", "plus - middle", 100),
        resistor("R2", "plus - middle", 250),
        resistor("R3", "middle - 0", 350),
        resistor("R4", "middle - 0", 200),
        zero="0",
    )


def three_sources() -> Network:
    """0.5 V + 3 ohm and 2.3 V + 8 ohm push into one node, 0.6 V + 1 ohm pulls out of it."""
    return network(
        battery("V1", "a - b", 0.5, 3),
        battery("V3", "a - b", 2.3, 8),
        battery("V2", "b - a", 0.6, 1),
        zero="b",
    )


def jump_start() -> Network:
    """Live 12 V (0.01 ohm), flat 10 V (1 ohm) and a starter of 0.06 ohm, all in parallel."""
    return network(
        battery("live", "plus - minus", 12, 0.01),
        battery("flat", "plus - minus", 10, 1),
        resistor("starter", "plus - minus", 0.06),
        zero="minus",
    )


def battery_with_load(volts: float, internal_ohms: float, load_ohms: float) -> Network:
    """A battery with its inner resistance, and one load across its posts."""
    return network(
        battery("B1", "plus - minus", volts, internal_ohms),
        resistor("load", "plus - minus", load_ohms),
        zero="minus",
    )


def starter() -> Network:
    """12.0 V and 0.0100 ohm; the connection itself is made too good to matter."""
    return network(
        battery("B1", "plus - minus", 12.0, 0.0100),
        resistor("connection", "plus - motor", 1e-12),
        resistor("motor", "motor - minus", 0.0500),
        zero="minus",
    )


EXAMPLES: tuple[Callable[[], Network], ...] = (
    unbalanced_bridge,
    small_bridge,
    two_batteries,
    two_nodes,
    bridge_driven_by_a_current,
    series_of_parallels,
    three_sources,
    jump_start,
    starter,
)
