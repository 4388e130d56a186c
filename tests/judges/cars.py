"""One car of many: every part somewhere within its tolerance, of whatever kind it is.

What may be off, and by how much, is the tolerance that stands with each part; what becomes of a
part that is off is written down here anew and not asked of the engine.
"""

from collections.abc import Iterator
from dataclasses import replace

from circuits.engine import (
    Absent,
    Battery,
    Coil,
    Connector,
    CurrentLoad,
    Diode,
    FanMotor,
    Generator,
    Ground,
    Lamp,
    Network,
    Part,
    PowerLoad,
    RuleContact,
    SenseInput,
    Supply,
)
from tests.engine.test_tolerance_bands import drawn_part, tolerances


def may_be_off(network: Network) -> Iterator[tuple[str, str]]:
    """Name what may be off: sources have two values that have nothing to do with one another."""
    yield from tolerances(network)
    for part in network.parts:
        if isinstance(part, Battery | Generator):
            yield part.name, "volts"


def car_of_any_parts(network: Network, off: dict[tuple[str, str], float]) -> Network:
    """Return one car; `off` runs from -1 to 1 of each tolerance, by part and what is off."""
    phases = tuple(
        replace(
            phase,
            changes={part.name: _drawn(part, off, phase.name) for part in network.parts_in(phase)},
        )
        for phase in network.phases
    )
    return replace(network, phases=phases)


def _drawn(part: Part, off: dict[tuple[str, str], float], phase: str) -> Part:
    share = 1 + getattr(part, "tolerance_fraction", 0.0) * off.get((part.name, "value"), 0.0)
    match part:
        case Absent():
            return part
        case Battery():
            volts = part.open_circuit_volts + part.volts_tolerance * off[part.name, "volts"]
            charging = part.charging_ohms
            return replace(
                part,
                open_circuit_volts=volts,
                internal_ohms=part.internal_ohms * share,
                charging_ohms=None if charging is None else charging * share,
            )
        case Supply(volts_tolerance=float(tolerance)):
            return replace(
                part,
                volts=part.volts + tolerance * off[part.name, phase],
                internal_ohms=part.internal_ohms
                * (1 + part.tolerance_fraction * off[part.name, "ohms"]),
            )
        case Generator():
            return replace(
                part,
                volts=part.volts + part.volts_tolerance * off[part.name, "volts"],
                max_amps=part.max_amps * share,
            )
        case Coil() | Connector() | Ground() | SenseInput():
            return replace(part, ohms=part.ohms * share)
        case RuleContact():
            return replace(part, made_ohms=part.made_ohms * share)
        case CurrentLoad():
            return replace(part, amps=part.amps * share)
        case Lamp():
            return replace(part, rated_watts=part.rated_watts * share)
        case PowerLoad():
            return replace(part, watts=part.watts * share, max_amps=part.max_amps * share)
        case FanMotor():
            # Its amps at a speed: with more of them and as much less winding the speed stays.
            return replace(
                part, rated_amps=part.rated_amps * share, winding_ohms=part.winding_ohms / share
            )
        case Diode():
            return replace(part, forward_volts=part.forward_volts * share)
        case _:
            return drawn_part(part, off, phase)
