"""Selectors, duty-switched outputs, clamps, leaks, and buses at rest.

CAN and LIN figures: ISO 11898-2 and ISO 17987-4 and the trade's tables made of them; all else by
hand, with the sum beside it.
"""

import math
from dataclasses import replace

import pytest

from circuits.engine import (
    BadPart,
    CanNode,
    Clamp,
    Driver,
    DutyDriver,
    Fault,
    IdealCurrent,
    IdealSource,
    Leak,
    LinNode,
    Network,
    Selector,
    find_suspect,
    solve,
    suspects,
)
from tests.engine.drawing import network, phases, resistor
from tests.engine.solving import solved, the_solution


def volts(name: str, ends: str, amount: float) -> IdealSource:
    first, second = ends.split(" - ")
    return IdealSource(name=name, first=first, second=second, volts=amount)


# ---------------------------------------------------------------------------------- selectors


def test_a_resistor_pack_slows_a_blower_by_position() -> None:
    """12 V, a motor of 1 Ohm: off, 2 Ohm, 1 Ohm and straight through: 0, 4, 6 and 12 V on it."""
    pack = Selector(
        name="SW",
        first="B",
        second="M",
        step_ohms=(math.inf, 2.0, 1.0, 1e-9),
        position=1,
    )
    drawn = network(
        volts("B1", "B - 0", 12.0),
        pack,
        resistor("M1", "M - 0", 1.0),
        zero="0",
        phases=phases(**{f"step_{n}": replace(pack, position=n) for n in (1, 2, 3, 4)}),
    )

    shown = [solution.volts["M"] for solution in solved(drawn).values()]

    assert shown == pytest.approx([0.0, 4.0, 6.0, 12.0], abs=1e-6)


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"position": 0}, "no position 0; its steps are 1 to 2"),
        ({"position": 3}, "no position 3"),
        ({"step_ohms": (1.0,)}, "two steps or more"),
        ({"step_ohms": (1.0, -2.0)}, "step 2 must be above zero ohms, or open; not -2"),
    ],
)
def test_a_selector_that_cannot_be_is_refused(values, says: str) -> None:
    with pytest.raises(BadPart, match=says):
        Selector(
            **{
                **{"name": "SW", "first": "a", "second": "b", "step_ohms": (1.0, 2.0)},
                **{"position": 1},
                **values,
            }
        )


# --------------------------------------------------------------------------------------- duty


def duty(fraction: float, *, closed_ohms: float = 8.0, against_ohms: float = 1000.0) -> DutyDriver:
    return DutyDriver(
        name="DRV",
        first="CMD",
        second="0",
        closed_ohms=closed_ohms,
        against_ohms=against_ohms,
        duty_fraction=fraction,
    )


@pytest.mark.parametrize(
    ("fan_volts", "fraction", "shown"), [(12.30, 0.1, 11.1), (13.96, 0.5, 7.0), (13.33, 0.9, 1.4)]
)
def test_a_command_wire_shows_the_average_of_its_two_levels(
    fan_volts: float, fraction: float, shown: float
) -> None:
    """Pulled up to the fan's supply by 1 kOhm and down to some 0.1 V: (1 - d) of it and d x 0.1 V.

    0.9 x 12.30 + 0.01 = 11.08; 0.5 x 13.96 + 0.05 = 7.03; 0.1 x 13.33 + 0.09 = 1.42 V.
    """
    drawn = network(
        volts("FAN", "F - 0", fan_volts),
        resistor("PU", "F - CMD", 1000.0),
        duty(fraction),
        zero="0",
    )

    assert the_solution(drawn).volts["CMD"] == pytest.approx(shown, abs=0.1)
    low_volts = fan_volts * 8 / 1008
    expected = (1 - fraction) * fan_volts + fraction * low_volts
    assert the_solution(drawn).volts["CMD"] == pytest.approx(expected, rel=1e-12)


def straight(output) -> Network:
    """Two sources, five resistors, and an output that works against 90 Ohm in the middle."""
    return network(
        volts("B1", "B - 0", 14.0),
        volts("B2", "C - 0", 5.0),
        resistor("R1", "B - N", 120.0),
        resistor("R2", "C - N", 360.0),
        resistor("R3", "N - L", 50.0),
        resistor("R4", "B - L", 140.0),
        resistor("R5", "L - CMD", 20.0),
        output,
        zero="0",
    )


@pytest.mark.parametrize("fraction", [0.05, 0.5, 0.93])
def test_every_place_of_a_straight_circuit_is_the_average_of_two_solves(fraction: float) -> None:
    """On for a share d: d times the solve with the output closed, the rest with it open.

    Seen from the output: 20 Ohm, then 140 parallel to 50 + (120 parallel to 360) = 140: 90 Ohm.
    """
    switch = Driver(name="DRV", first="CMD", second="0", closed_ohms=1.5)
    averaged = the_solution(straight(duty(fraction, closed_ohms=1.5, against_ohms=90.0)))
    closed = the_solution(straight(switch))
    opened = the_solution(straight(replace(switch, closed=False)))

    assert closed.amps["DRV"] > 0.1
    for node, each in averaged.volts.items():
        low, high = closed.volts[node], opened.volts[node]
        assert low is not None
        assert high is not None
        expected = fraction * low + (1 - fraction) * high
        assert each == pytest.approx(expected, rel=1e-9, abs=1e-12), node
    for part, each in averaged.amps.items():
        expected = fraction * closed.amps[part] + (1 - fraction) * opened.amps[part]
        assert each == pytest.approx(expected, rel=1e-9, abs=1e-12), part


def test_a_command_wire_open_or_shorted_tells_by_its_two_ends() -> None:
    """Open: full supply at the pull-up, nothing at the driver. To ground: nothing at either."""
    drawn = network(
        volts("FAN", "F - 0", 13.2),
        resistor("PU", "F - FC", 1000.0),
        resistor("W1", "FC - CMD", 0.05),
        duty(0.5),
        zero="0",
    )
    wire_open = Fault(suspect=find_suspect(drawn, "resistance:W1"), severity=math.inf)
    shorted = Fault(suspect=find_suspect(drawn, "ground-short:FC"), severity=0.0)

    (cut,) = solve(drawn, wire_open)
    (short,) = solve(drawn, shorted)

    assert cut.volts["FC"] == pytest.approx(13.2)
    assert cut.volts["CMD"] == pytest.approx(0.0, abs=1e-9)
    assert short.volts["FC"] == pytest.approx(0.0, abs=1e-9)
    assert short.volts["CMD"] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("fraction", "amps"), [(0.0, 0.0), (1.0, 12.0 / 1008)])
def test_never_on_is_open_and_always_on_is_closed(fraction: float, amps: float) -> None:
    drawn = network(
        volts("B1", "F - 0", 12.0), resistor("PU", "F - CMD", 1000.0), duty(fraction), zero="0"
    )

    assert the_solution(drawn).amps["DRV"] == pytest.approx(amps, abs=1e-12)


# ------------------------------------------------------------------------------------- clamps


@pytest.mark.parametrize(
    ("amps", "across"),
    [(2.0, 0.7 + 2 * 0.5), (-3.0, -26.0 - 3 * 0.5), (1e-3, 0.7 + 1e-3 * 0.5)],
)
def test_a_clamp_conducts_both_ways_beyond_its_volts(amps: float, across: float) -> None:
    clamp = Clamp(name="Z1", first="A", second="0", clamp_volts=26.0, on_ohms=0.5)
    source = IdealCurrent(name="I1", first="0", second="A", amps=amps)
    # The megohm takes what the clamp does not.
    drawn = network(source, clamp, resistor("R1", "A - 0", 1e6), zero="0")

    assert the_solution(drawn).volts["A"] == pytest.approx(across, rel=1e-4)


@pytest.mark.parametrize("supply_volts", [-20.0, 0.5, 0.0])
def test_between_its_volts_a_clamp_takes_nothing(supply_volts: float) -> None:
    clamp = Clamp(name="Z1", first="A", second="0", clamp_volts=26.0, on_ohms=0.5)
    drawn = network(
        volts("B1", "B - 0", supply_volts), resistor("R1", "B - A", 10.0), clamp, zero="0"
    )

    assert the_solution(drawn).amps["Z1"] == 0.0


# -------------------------------------------------------------------------------------- buses


def bus(*, bias_volts: float = 2.5, parts=(), terminators: int = 2) -> Network:
    node = CanNode(
        name="ECU", first="H", second="L", third="0", input_ohms=15e3, bias_volts=bias_volts
    )
    ends = (resistor(f"RT{number}", "H - L", 120.0) for number in range(terminators))
    return network(node, *ends, *parts, zero="0")


@pytest.mark.parametrize(
    ("terminators", "ohms"), [(2, 59.9), (1, 119.5), (3, 39.95), (0, 30_000.0)]
)
def test_a_bus_without_power_has_the_ohms_of_its_terminations(
    terminators: int, ohms: float
) -> None:
    """Two of 120 Ohm and a node's 30 kOhm: 59.9 Ohm; one missing: nearly 120 (ISO 11898-2)."""
    test_amps = 1e-4
    meter = IdealCurrent(name="METER", first="L", second="H", amps=test_amps)
    solution = the_solution(bus(bias_volts=0.0, parts=(meter,), terminators=terminators))

    assert solution.drop_volts("H", "L") / test_amps == pytest.approx(ohms, rel=1e-3)


def test_a_bus_at_rest_stands_at_half_of_five_volts_and_asleep_at_nought() -> None:
    """Recessive: 2.0 to 3.0 V, both lines alike (ISO 11898-2)."""
    awake, asleep = the_solution(bus()), the_solution(bus(bias_volts=0.0))

    assert awake.volts["H"] == awake.volts["L"] == pytest.approx(2.5)
    assert asleep.volts["H"] == asleep.volts["L"] == pytest.approx(0.0, abs=1e-12)


def test_a_high_line_to_ground_takes_both_lines_along() -> None:
    """CAN-H to ground: both lines near 0 V, for 60 Ohm tie them (trade practice)."""
    fault = Fault(suspect=find_suspect(bus(), "ground-short:H"), severity=0.0)
    (solution,) = solve(bus(), fault)

    assert solution.volts["L"] == pytest.approx(2.5 * 60 / 15_060, rel=1e-6)


def lin(responders: int) -> Network:
    """A commander of 1 kOhm, responders of 30 kOhm each, and a driver that pulls the line low."""
    return network(
        volts("B1", "B - 0", 12.0),
        LinNode(name="COM", first="B", second="LIN", ohms=1000.0),
        *(
            LinNode(name=f"R{number}", first="B", second="LIN", ohms=30e3)
            for number in range(responders)
        ),
        Driver(name="DRV", first="LIN", second="0", closed_ohms=1e-6),
        zero="0",
    )


def test_fifteen_responders_lower_the_pull_up_to_667_ohms() -> None:
    """1 kOhm parallel to 30 kOhm / 15 is 667 Ohm, less a diode's volts (ISO 17987-4)."""
    assert the_solution(lin(15)).amps["DRV"] == pytest.approx((12.0 - 0.7) / (2000 / 3))


def test_a_recessive_lin_line_stays_above_six_tenths_of_its_supply() -> None:
    """ISO 17987-4: recessive 60 % and more, with the 300 kOhm of a damp plug on it as well."""
    damp = Leak(name="DAMP", first="LIN", second="0", ohms=300e3)
    resting = Driver(name="DRV", first="LIN", second="0", closed_ohms=1.0, closed=False)
    line = lin(4).with_parts([resting]).with_added(damp)
    shown = the_solution(line).volts["LIN"]

    assert shown is not None
    assert 0.6 * 12.0 < shown < 12.0 - 0.7


def test_a_known_leak_can_only_grow() -> None:
    """Damp that dries is no fault; more damp is one, as a path across what is there."""
    leak = Leak(name="DAMP", first="B", second="0", ohms=12e3)
    drawn = network(volts("B1", "B - C", 12.0), resistor("R1", "C - 0", 1.0), leak, zero="0")
    kinds = {suspect.kind for suspect in suspects(drawn) if suspect.target == "DAMP"}

    assert kinds == {"bypass"}
