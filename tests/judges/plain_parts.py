"""A part as its description says what it does: from its values to volts and amps.

Nothing here asks the engine how a part behaves; its laws are read anew, from the sources below.

References
----------
.. [1] Thermistors: IEC 60539-1 (B formula); ln R straight over 1 / T between points of a table;
   Steinhart-Hart through three points, Deep-Sea Research 15 (1968); platinum by IEC 60751.
.. [2] CAN: ISO 11898-2, lines biased through the input ohms of each node. LIN: ISO 17987-4, a
   pull-up in series with a diode.
.. [3] Lead batteries: rest volts 12.65 V full and 11.89 V flat, 2.5 times the ohms when flat.
"""

import math
from bisect import bisect_right
from collections.abc import Iterator

import numpy as np

from circuits.engine import (
    Absent,
    Battery,
    BetaCurve,
    CanNode,
    Clamp,
    Coil,
    Contact,
    CurrentLoad,
    Diode,
    DutyDriver,
    FanMotor,
    Generator,
    Lamp,
    LinNode,
    Motor,
    Part,
    PlatinumCurve,
    Potentiometer,
    PowerLoad,
    RuleContact,
    Selector,
    SteinhartHartCurve,
    Supply,
    Switch,
    TableCurve,
    ThermalCurve,
    Thermistor,
    ThreeWireSensor,
)
from tests.judges.elements import (
    COLLAPSE_VOLTS,
    Fan,
    Filament,
    Joint,
    Moved,
    Piece,
    Straight,
    TakesPower,
)

COPPER_PER_KELVIN = 0.00393
KELVIN = 273.15


def elements_of(part: Part) -> Iterator[Piece]:
    """Yield what a part is made of; nothing where it conducts nothing."""
    match part:
        case Absent():
            return
        case Battery() | Supply() | Generator():
            yield _source(part)
        case Switch() | Contact() | RuleContact():
            yield from _contact(part)
        case CurrentLoad() | Motor() | Diode() | Clamp() | LinNode():
            yield _bent(part)
        case Lamp() | PowerLoad() | FanMotor():
            yield _curved(part)
        case Potentiometer():
            yield from _wiper(part)
        case CanNode():
            siemens = 1 / part.input_ohms
            for name, line in ((part.name, part.first), (f"{part.name}.low", part.second)):
                yield Straight(name, line, part.third, (siemens,), (-part.bias_volts * siemens,))
        case _:
            ohms = _plain_ohms(part)
            if math.isfinite(ohms):
                yield Straight(part.name, part.first, part.second, (1 / ohms,))


def _source(part: Battery | Supply | Generator) -> Straight:
    siemens: tuple[float, ...]
    if isinstance(part, Battery):
        volts = part.polarity * part.open_circuit_volts * (1 - part.lost_charge_fraction * _EMPTIER)
        weaker = 1 + 1.5 * part.lost_charge_fraction
        giving, taking = part.internal_ohms, part.charging_ohms or part.internal_ohms
        # The wrong way round, amps that enter at its first end discharge it. A share of that is
        # nothing that happens on a car, but the line towards it is straight.
        turned = (1 - part.polarity) / 2
        giving, taking = giving + turned * (taking - giving), taking + turned * (giving - taking)
        siemens = (1 / (giving * weaker), 1 / (taking * weaker))
        return _piecewise(part, siemens, tuple(-volts * each for each in siemens), (volts,))
    inner = 1 / part.internal_ohms
    if isinstance(part, Supply):
        return _piecewise(part, (inner,), (-part.volts * inner,))
    at_limit = part.volts - part.max_amps * part.internal_ohms
    return _piecewise(
        part,
        (0.0, inner, 0.0),
        (-part.max_amps, -part.volts * inner, 0.0),
        (at_limit, part.volts),
    )


# The share of its volts that a flat battery has lost, see [3].
_EMPTIER = (12.65 - 11.89) / 12.65


def _contact(part: Switch | Contact | RuleContact) -> Iterator[Straight | Moved]:
    if isinstance(part, Switch):
        if part.closed:
            yield _piecewise(part, (1 / part.closed_ohms,))
    elif isinstance(part, Contact):
        pull_in_amps = part.pull_in_volts / part.coil_ohms
        windings = [part.coil]
        if part.pull_winding:
            pull_in_amps += part.pull_in_volts / part.pull_winding_ohms
            windings.append(part.pull_winding)
        yield Moved(
            part.name,
            part.first,
            part.second,
            part.made_ohms,
            rising=pull_in_amps,
            falling=part.drop_out_volts / part.coil_ohms,
            made_when_passed=not part.normally_closed,
            windings=tuple(windings),
        )
    elif part.enabled:
        yield Moved(
            part.name,
            part.first,
            part.second,
            part.made_ohms,
            rising=max(part.closes_volts, part.opens_volts),
            falling=min(part.closes_volts, part.opens_volts),
            made_when_passed=part.closes_volts > part.opens_volts,
            red=part.sense_red,
            black=part.sense_black,
        )


def _bent(part: CurrentLoad | Motor | Diode | Clamp | LinNode) -> Straight:
    match part:
        case CurrentLoad():
            return _consumer(part.name, part.first, part.second, part.amps)
        case Motor():
            stalled = 1 / part.stalled_ohms
            stall_volts = part.base_amps / (stalled - part.amps_per_volt)
            return _piecewise(
                part, (stalled, part.amps_per_volt), (0.0, part.base_amps), (stall_volts,)
            )
        case Clamp():
            on = 1 / part.on_ohms
            return _piecewise(
                part,
                (on, 0.0, on),
                (part.clamp_volts * on, 0.0, -part.forward_volts * on),
                (-part.clamp_volts, part.forward_volts),
            )
        case _:
            on = 1 / (part.ohms if isinstance(part, LinNode) else part.on_ohms)
            return _piecewise(
                part, (0.0, on), (0.0, -part.forward_volts * on), (part.forward_volts,)
            )


def _consumer(name: str, first: str, second: str, amps: float) -> Straight:
    return Straight(
        name, first, second, (amps / COLLAPSE_VOLTS, 0.0), (0.0, amps), (COLLAPSE_VOLTS,)
    )


def _curved(part: Lamp | PowerLoad | FanMotor) -> Filament | TakesPower | Fan:
    name, first, second = part.name, part.first, part.second
    if isinstance(part, Lamp):
        amps = part.rated_watts / part.rated_volts
        return Filament(name, first, second, part.rated_volts, amps)
    if isinstance(part, PowerLoad):
        return TakesPower(name, first, second, part.watts, part.max_amps)
    return Fan(
        name,
        first,
        second,
        part.winding_ohms,
        part.back_volts,
        part.rated_amps,
        part.drive_fraction,
    )


def _wiper(part: Potentiometer) -> Iterator[Straight | Joint]:
    """Yield the track on both sides of the wiper, the wiper, and what a sensor takes for itself."""
    tap = f"{part.name} behind the wiper"
    below = part.position_fraction * part.track_ohms
    for name, first, second, ohms in (
        ("above", part.first, tap, part.track_ohms - below),
        ("below", tap, part.second, below),
        ("wiper", tap, part.third, part.wiper_ohms),
    ):
        if ohms == 0:
            yield Joint(first, second)
        else:
            yield Straight(f"{part.name}.{name}", first, second, (1 / ohms,))
    if isinstance(part, ThreeWireSensor):
        yield _consumer(f"{part.name}.supply", part.first, part.second, part.supply_amps)


def _plain_ohms(part: Part) -> float:
    match part:
        case Coil():
            return part.ohms * (1 + COPPER_PER_KELVIN * (part.celsius - 20))
        case Thermistor():
            return curve_ohms(part.curve, part.celsius) * (1 + part.off_fraction)
        case Selector():
            return part.step_ohms[part.position - 1]
        case DutyDriver():
            # On for the share d of the time: the volts at it are (1 - d) times those of an open
            # output and d times those of a closed one, V r / (r + W); as one of ohms R it has
            # V R / (R + W).
            duty, both = part.duty_fraction, part.closed_ohms + part.against_ohms
            if duty == 0:
                return math.inf
            return both * (1 - duty + duty * part.closed_ohms / both) / duty
        case _:
            # Wires, fuses, connectors, splices, grounds, resistors, leaks and inputs.
            return float(part.ohms)  # type: ignore[attr-defined]


def curve_ohms(curve: ThermalCurve, celsius: float) -> float:
    """Return the ohms of a temperature sensor, see [1]_."""
    kelvin = celsius + KELVIN
    match curve:
        case BetaCurve():
            nominal = curve.nominal_celsius + KELVIN
            return curve.nominal_ohms * math.exp(curve.beta_kelvin * (1 / kelvin - 1 / nominal))
        case TableCurve():
            upper = bisect_right([point[0] for point in curve.points], celsius)
            upper = min(max(upper, 1), len(curve.points) - 1)
            (cold, cold_ohms), (warm, warm_ohms) = curve.points[upper - 1 : upper + 1]
            beta = math.log(cold_ohms / warm_ohms) / (1 / (cold + KELVIN) - 1 / (warm + KELVIN))
            return cold_ohms * math.exp(beta * (1 / kelvin - 1 / (cold + KELVIN)))
        case SteinhartHartCurve():
            return _steinhart_hart_ohms(curve.points, kelvin)
        case PlatinumCurve():
            ratio = 1 + 3.9083e-3 * celsius - 5.775e-7 * celsius**2
            if celsius < 0:
                ratio -= 4.183e-12 * (celsius - 100) * celsius**3
            return curve.zero_ohms * ratio
    raise TypeError(f"no law is known for {curve!r}")


def _steinhart_hart_ohms(points: tuple[tuple[float, float], ...], kelvin: float) -> float:
    """Return the root of 1 / T = A + B ln R + C (ln R)**3 by halving."""
    logs = np.array([math.log(ohms) for _, ohms in points])
    inverse = [1 / (celsius + KELVIN) for celsius, _ in points]
    constant, linear, cubic = np.linalg.solve(np.stack([logs**0, logs, logs**3], axis=1), inverse)
    low, high = -20.0, 40.0
    for _ in range(200):
        middle = (low + high) / 2
        if constant + linear * middle + cubic * middle**3 < 1 / kelvin:
            low = middle
        else:
            high = middle
    return math.exp((low + high) / 2)


def _piecewise(
    part: Part,
    siemens: tuple[float, ...],
    amps: tuple[float, ...] = (0.0,),
    bends: tuple[float, ...] = (),
) -> Straight:
    return Straight(part.name, part.first, part.second, siemens, amps, bends)
