"""Solve with a check: every solve in these tests obeys Kirchhoff, and every part its own law.

Three things make volts and amps the solution of a circuit: at every node as many amps arrive as
leave (Kirchhoff's current law), the volts round every loop cancel (they do, being differences of
node volts), and every part obeys its own law. The first and the last are checked here, part by
part as a textbook states them, and with them the balance of power.
"""

import math
from collections.abc import Iterable

import pytest

from circuits.engine import (
    Absent,
    Battery,
    CanNode,
    Clamp,
    Coil,
    Contact,
    CurrentLoad,
    Diode,
    DutyDriver,
    FanMotor,
    Fault,
    Generator,
    IdealCurrent,
    IdealSource,
    Lamp,
    LinNode,
    Motor,
    Network,
    Part,
    PhaseSolution,
    Potentiometer,
    PowerLoad,
    RuleContact,
    Selector,
    Supply,
    Switch,
    ThreeEnded,
    ThreeWireSensor,
    Wire,
    solve,
    temperature_factor,
    with_fault,
)
from tests.engine.plain_solver import battery_values

NODE_AMPS = 1e-9
PART_VOLTS = 1e-6
# A curved law is followed until its amps are this close.
CURVED_AMPS = 1e-8


def solved(network: Network, fault: Fault | None = None) -> dict[str, PhaseSolution]:
    """Return the solution of each phase by its name, checked.

    With a fault the network is solved twice, with the fault moved into the solution and with it
    drawn into the network; the second solve is checked part by part, the first against it.
    """
    if fault is None:
        solutions = solve(network)
        for solution in solutions:
            check(network, solution)
    else:
        solutions = solve(network, fault)
        for solution, drawn in zip(
            solutions, solved(with_fault(network, fault)).values(), strict=True
        ):
            check_same(solution, drawn)
    return {solution.phase: solution for solution in solutions}


def the_solution(network: Network) -> PhaseSolution:
    """Return the checked solution of a circuit that has a single phase."""
    (solution,) = solved(network).values()
    return solution


def check(network: Network, solution: PhaseSolution) -> None:
    """Assert that a solution obeys Kirchhoff's current law and the law of every part."""
    parts = network.parts_in(network.phase(solution.phase))
    check_node_amps(parts, solution)
    for part in parts:
        check_part(part, solution)
        if isinstance(part, Contact) and not solution.chatters:
            check_relay(part, solution)
    check_power(parts, solution)


def check_node_amps(parts: Iterable[Part], solution: PhaseSolution) -> None:
    """Assert that at every node, 0 V and loose ones too, as many amps arrive as leave."""
    left_over: dict[str, float] = {}
    biggest = 1.0
    for part in parts:
        for node, amps in end_amps(part, solution).items():
            left_over[node] = left_over.get(node, 0.0) - amps
            biggest = max(biggest, abs(amps))
    for node, amps in left_over.items():
        assert abs(amps) < NODE_AMPS * biggest, f"{amps} A too many at {node} in {solution.phase}"


def end_amps(part: Part, solution: PhaseSolution) -> dict[str, float]:
    """Return the amps that enter a part at each of its ends; a third end by the part's own law."""
    amps = solution.amps[part.name]
    if not isinstance(part, ThreeEnded) or floats(part, solution):
        return {part.first: amps, part.second: -amps}
    first, second, third = (solution.volts[node] for node in part.ends)
    assert first is not None
    assert second is not None
    assert third is not None
    match part:
        case CanNode():
            high = (first - third - part.bias_volts) / part.input_ohms
            low = (second - third - part.bias_volts) / part.input_ohms
            assert amps == pytest.approx(high, abs=1e-12), part.name
            return {part.first: high, part.second: low, part.third: -high - low}
        case Potentiometer():
            return _potentiometer_amps(part, first, second, third, amps)
    raise AssertionError(f"no law is written here for {type(part).__name__}")


def _potentiometer_amps(
    part: Potentiometer, first: float, second: float, third: float, amps: float
) -> dict[str, float]:
    """Work a star of three resistances out: its middle is the mean of its ends by siemens."""
    siemens = (
        1 / ((1 - part.position_fraction) * part.track_ohms),
        1 / (part.position_fraction * part.track_ohms),
        1 / part.wiper_ohms,
    )
    volts = (first, second, third)
    middle = sum(s * v for s, v in zip(siemens, volts, strict=True)) / sum(siemens)
    above, below, wiper = (s * (v - middle) for s, v in zip(siemens, volts, strict=True))
    drawn = part.supply_amps if isinstance(part, ThreeWireSensor) else 0.0
    drawn *= min(first - second, 1.0)
    assert amps == pytest.approx(above + drawn, rel=1e-6, abs=1e-9), part.name
    return {part.first: above + drawn, part.second: below - drawn, part.third: wiper}


def check_relay(part: Contact, solution: PhaseSolution) -> None:
    """Assert that a contact stands where its windings' amps pull or leave it."""
    pull_amps = abs(sum(solution.amps[name] for name in (part.coil, part.pull_winding) if name))
    pull_in_amps = part.pull_in_volts / part.coil_ohms
    if part.pull_winding:
        pull_in_amps += part.pull_in_volts / part.pull_winding_ohms
    if solution.contacts[part.name] != part.normally_closed:
        assert pull_amps >= part.drop_out_volts / part.coil_ohms - NODE_AMPS, part.name
    else:
        assert pull_amps <= pull_in_amps + NODE_AMPS, part.name


def check_power(parts: Iterable[Part], solution: PhaseSolution) -> None:
    """Assert that the sources give as many watts as the rest takes."""
    watts = [
        math.fsum(
            solution.drop_volts(node, part.second) * amps
            for node, amps in end_amps(part, solution).items()
        )
        for part in parts
        if not floats(part, solution)
    ]
    given = -math.fsum(each for each in watts if each < 0)
    taken = math.fsum(each for each in watts if each > 0)
    assert given == pytest.approx(taken, rel=1e-9, abs=1e-9)


def floats(part: Part, solution: PhaseSolution) -> bool:
    return any(solution.volts[node] is None for node in part.ends)


def check_same(one: PhaseSolution, other: PhaseSolution, *, close_volts: float = 1e-6) -> None:
    """Assert that two solutions agree at every place and part that both have."""
    assert one.contacts == {name: other.contacts[name] for name in one.contacts}
    assert one.chatters == other.chatters
    for node, volts in one.volts.items():
        assert volts == pytest.approx(other.volts[node], rel=1e-9, abs=close_volts), node
    biggest = max(1.0, *(abs(amps) for amps in one.amps.values()))
    for part, amps in one.amps.items():
        assert amps == pytest.approx(other.amps[part], abs=close_volts * biggest), part


# ------------------------------------------------------------- the law of every kind of part


def check_part(part: Part, solution: PhaseSolution) -> None:
    """Assert that a part's volts and amps obey the law of its kind."""
    amps = solution.amps[part.name]
    if (solution.volts[part.first] is None) != (solution.volts[part.second] is None):
        assert abs(amps) < NODE_AMPS, f"{part.name} carries current to a place that hangs loose"
        return
    if floats(part, solution) or isinstance(part, ThreeEnded):
        return
    volts = solution.drop_volts(part.first, part.second)
    expected = _expected_volts(part, amps, volts, solution)
    if expected is None:
        expected_amps = _expected_amps(part, volts)
        assert amps == pytest.approx(expected_amps, rel=1e-9, abs=CURVED_AMPS), part.name
    else:
        assert volts == pytest.approx(expected, rel=1e-9, abs=PART_VOLTS), part.name


def _expected_volts(part: Part, amps: float, volts: float, solution: PhaseSolution) -> float | None:
    """Return the volts that the part's amps ask for, or None where volts ask for amps."""
    match part:
        case Contact() | RuleContact():
            made = solution.contacts.get(part.name, False)
            return part.made_ohms * amps if made else None
        case Switch():
            return part.closed_ohms * amps if part.closed else None
        case Coil():
            return part.ohms * temperature_factor(part.celsius) * amps
        case Battery():
            volts, leaving_ohms, entering_ohms = battery_values(part)
            return volts + (entering_ohms if amps > 0 else leaving_ohms) * amps
        case Supply():
            return part.volts + part.internal_ohms * amps
        case IdealSource():
            return part.volts
        case Clamp() if volts > part.forward_volts:
            return part.forward_volts + part.on_ohms * amps
        case Clamp() if volts < -part.clamp_volts:
            return -part.clamp_volts + part.on_ohms * amps
        case LinNode():
            on = volts > part.forward_volts
            return part.forward_volts + part.ohms * amps if on else None
        case Selector():
            return part.ohms * amps if math.isfinite(part.ohms) else None
        case DutyDriver():
            off_fraction = 1 - part.duty_fraction
            averaged = part.closed_ohms + off_fraction * part.against_ohms
            return averaged * amps / part.duty_fraction if part.duty_fraction else None
        case Generator() if -part.max_amps + NODE_AMPS < amps < -NODE_AMPS:
            return part.volts + part.internal_ohms * amps
        case Diode() if volts > part.forward_volts:
            return part.forward_volts + part.on_ohms * amps
        case Wire():
            return part.ohms * amps
        case _:
            return getattr(part, "ohms", 0.0) * amps if hasattr(part, "ohms") else None


def _expected_amps(part: Part, volts: float) -> float:
    match part:
        case Contact() | RuleContact() | Switch() | Absent() | Diode():
            return 0.0
        case Clamp() | LinNode() | Selector() | DutyDriver():
            return 0.0
        case IdealCurrent():
            return part.amps
        case Generator():
            return 0.0 if volts >= part.volts - PART_VOLTS else -part.max_amps
        case CurrentLoad():
            return part.amps * min(volts, 1.0)
        case Motor():
            turning = part.base_amps + part.amps_per_volt * volts
            return turning if turning < volts / part.stalled_ohms else volts / part.stalled_ohms
        case Lamp():
            rated_amps = part.rated_watts / part.rated_volts
            hot = rated_amps * (abs(volts) / part.rated_volts) ** 0.55
            cold = 12 * rated_amps * abs(volts) / part.rated_volts
            return math.copysign(min(hot, cold), volts)
        case PowerLoad():
            if volts < 1:
                return min(part.watts, part.max_amps) * volts
            return min(part.watts / volts, part.max_amps)
        case FanMotor():
            return _fan_amps(part, volts)
        case _:
            raise AssertionError(f"no law is written here for {type(part).__name__}")


def _fan_amps(fan: FanMotor, volts: float) -> float:
    """Return the amps of a fan: drive * V = Ra * Im + k * w with Im = c * w**2, by bisection."""
    slow, fast = 0.0, 10.0
    for _ in range(200):
        speed = (slow + fast) / 2
        winding_amps = fan.rated_amps * speed**2
        if fan.winding_ohms * winding_amps + fan.back_volts * speed < fan.drive_fraction * volts:
            slow = speed
        else:
            fast = speed
    return fan.drive_fraction * fan.rated_amps * slow**2
