"""Worked examples of open textbooks, to the digits they print.

Sources, with the file of each chapter:

* LIEC: Tony R. Kuphaldt, Lessons in Electric Circuits, volume I (DC): DC network analysis
  (dcnet.sml), Series-parallel combination circuits (s_p.sml), Batteries and power systems
  (batt.sml).
* UP2: OpenStax, University Physics volume 2, sections 10.1 (m58453), 10.2 (m58454) and
  10.3 (m58455). CC BY 4.0.
* CP: OpenStax, College Physics, sections 20.2 (m42344), 20.4 (m42714), 21.1 (m42356),
  21.2 (m42357) and 21.5 (m42362). CC BY 4.0.

Numbers alone are taken over; wires, sources and instruments are ideal where the books have them so.
"""

import pytest

from circuits.engine import Fault, Network, find_suspect, solve
from tests.engine.drawing import battery, current, network, resistor, source
from tests.engine.solving import solved, the_solution
from tests.engine.worked_networks import (
    battery_with_load,
    bridge_driven_by_a_current,
    jump_start,
    series_of_parallels,
    small_bridge,
    starter,
    three_sources,
    two_batteries,
    two_nodes,
    unbalanced_bridge,
)

# ---------------------------------------------------------------------- bridges and dividers


def test_an_unbalanced_bridge_needs_no_resistors_in_series_or_parallel() -> None:
    """LIEC, DC network analysis: 17.655 V and 19.310 V stand at the middle of the two arms."""
    solution = the_solution(unbalanced_bridge())

    assert solution.volts["2"] == pytest.approx(17.655, abs=0.0005)
    assert solution.volts["3"] == pytest.approx(19.310, abs=0.0005)
    assert solution.amps["supply"] == pytest.approx(-0.136092, abs=5e-7)
    assert milliamps(solution.amps, "R1", "R2", "R3", "R4", "R5") == pytest.approx(
        [42.299, 93.793, 16.552, 58.851, 77.241], abs=0.0005
    )


def test_a_bridge_driven_by_its_own_amps_shows_its_own_volts() -> None:
    """LIEC, DC network analysis: 0.136092 A into the bridge make 24.000, 17.655 and 19.310 V."""
    volts = the_solution(bridge_driven_by_a_current()).volts

    assert [volts["1"], volts["2"], volts["3"]] == pytest.approx([24.0, 17.655, 19.310], abs=5e-4)


def test_the_small_bridge_has_half_a_volt_and_more_across_its_middle() -> None:
    """LIEC, DC network analysis: 5.294 V and 4.706 V, so 0.5882 V across the 6 ohm."""
    solution = the_solution(small_bridge())

    assert solution.volts["2"] == pytest.approx(5.294, abs=0.0005)
    assert solution.volts["3"] == pytest.approx(4.706, abs=0.0005)
    assert solution.drop_volts("2", "3") == pytest.approx(0.5882, abs=0.00005)


def test_a_balanced_bridge_shows_nothing_to_its_galvanometer() -> None:
    """CP 21.5: with R2 / R1 = 0.625 and R3 = 2500 ohm the unknown is 1.56 kOhm (1562.5).

    1 --R1 1000-- 2 --R3 2500-- 0 and 1 --R2 625-- 3 --unknown-- 0, galvanometer from 2 to 3.
    """
    bridge = network(
        source("supply", "1 - 0", 12),
        resistor("R1", "1 - 2", 1000),
        resistor("R2", "1 - 3", 625),
        resistor("R3", "2 - 0", 2500),
        resistor("unknown", "3 - 0", 1562.5),
        resistor("galvanometer", "2 - 3", 50),
        zero="0",
    )

    assert the_solution(bridge).amps["galvanometer"] == pytest.approx(0, abs=1e-12)
    for ohms in (1555.0, 1565.0):
        off_balance = bridge.with_part_values("unknown", ohms=ohms)
        assert abs(the_solution(off_balance).amps["galvanometer"]) > 1e-6


def test_two_pairs_in_parallel_share_the_supply_in_series() -> None:
    """LIEC, Series-parallel combination circuits: 71.429 + 127.27 ohm, 120.78 mA, 15.3725 V.

    The chapter rounds the volts of the second pair; 15.3725 V is 24 V x 127.273 / 198.701.
    """
    solution = the_solution(series_of_parallels())

    assert solution.amps["supply"] == pytest.approx(-0.12078, abs=5e-6)
    assert solution.volts["middle"] == pytest.approx(15.3725, abs=5e-5)
    upper_ohms = solution.drop_volts("plus", "middle") / -solution.amps["supply"]
    lower_ohms = solution.drop_volts("middle", "0") / -solution.amps["supply"]
    assert upper_ohms == pytest.approx(71.429, abs=0.0005)
    assert lower_ohms == pytest.approx(127.27, abs=0.005)


def test_two_nodes_between_two_batteries() -> None:
    """LIEC, DC network analysis (node voltage method): V1 = 3.809524 V, V2 = -1.547619 V."""
    volts = the_solution(two_nodes()).volts

    assert volts["a"] == pytest.approx(3.809524, abs=5e-7)
    assert volts["b"] == pytest.approx(-1.547619, abs=5e-7)


# -------------------------------------------------------------------------- several sources


def test_the_stronger_of_two_batteries_charges_the_weaker() -> None:
    """LIEC, DC network analysis: 8 V at the node; 5 A from 28 V, 4 A in the load, 1 A into 7 V."""
    solution = the_solution(two_batteries())

    assert solution.volts["load"] == pytest.approx(8)
    assert solution.amps["B1"] == pytest.approx(-5)
    assert solution.amps["R2"] == pytest.approx(4)
    assert solution.amps["B2"] == pytest.approx(1)


def test_two_batteries_look_like_one_to_the_load() -> None:
    """LIEC, Thevenin's theorem: 11.2 V behind 0.8 ohm; Norton's: 14 A beside 571.43 mOhm."""
    without_load = network(*two_batteries().parts[:2], zero="0")
    one_battery = battery_with_load(11.2, 0.8, 2)
    one_current = network(
        current("drive", "0 - load", 14), resistor("all", "load - 0", 0.57143), zero="0"
    )

    assert the_solution(without_load).volts["load"] == pytest.approx(11.2)
    assert the_solution(one_battery).volts["plus"] == pytest.approx(8)
    assert the_solution(one_current).volts["load"] == pytest.approx(8, abs=5e-5)


def test_three_sources_in_two_loops() -> None:
    """UP2 10.3: 0.20 A, 0.30 A and 0.50 A; the sources give 1.09 W and the resistors take it."""
    amps = the_solution(three_sources()).amps

    assert amps["V1"] == pytest.approx(-0.20, abs=1e-9)
    assert amps["V3"] == pytest.approx(-0.30, abs=1e-9)
    assert amps["V2"] == pytest.approx(-0.50, abs=1e-9)
    assert pytest.approx(1.09) == 0.5 * 0.20 + 2.3 * 0.30 + 0.6 * 0.50
    heat_watts = 3 * amps["V1"] ** 2 + 8 * amps["V3"] ** 2 + 1 * amps["V2"] ** 2
    assert heat_watts == pytest.approx(1.09)


def test_two_batteries_against_each_other_in_one_loop() -> None:
    """UP2 10.3: 24 V against 12 V round 60 ohm send 0.20 A.

    The text prints 12 V / (10 + 30 + 10) ohm beside it; its figure and its powers use 20 ohm for
    the third resistor, and with 10 ohm the loop of 50 ohm would carry 0.24 A.
    """

    def loop(third_ohms: float) -> Network:
        return network(
            source("V1", "a - 0", 24),
            resistor("R1", "a - b", 10),
            resistor("R2", "b - c", 30),
            source("V2", "c - d", 12),
            resistor("R3", "d - 0", third_ohms),
            zero="0",
        )

    assert the_solution(loop(20)).amps["R1"] == pytest.approx(0.20)
    assert the_solution(loop(10)).amps["R1"] == pytest.approx(0.24)


# -------------------------------------------------------------- batteries, starters, charging


@pytest.mark.parametrize(
    ("internal_ohms", "load_ohms", "amps", "volts", "watts"),
    [
        (0.100, 10.00, 1.188, 11.88, None),
        (0.100, 0.500, 20.00, 10.00, 200),
        (0.500, 0.500, 12.00, 6.00, 72.0),
    ],
)
def test_a_battery_sags_under_load(internal_ohms, load_ohms, amps, volts, watts) -> None:
    """UP2 10.1: a 12.00 V battery and its load (the first, 11.88 V, is printed as 11.90 V)."""
    solution = the_solution(battery_with_load(12.0, internal_ohms, load_ohms))

    assert solution.amps["load"] == pytest.approx(amps, abs=0.0005 if watts is None else 0.005)
    assert solution.volts["plus"] == pytest.approx(volts, abs=0.005)
    if watts is not None:
        assert solution.drop_volts("plus", "minus") * solution.amps["load"] == pytest.approx(
            watts, abs=0.05
        )


def test_a_corroded_connection_leaves_the_starter_a_third_of_its_volts() -> None:
    """CP 21.2: 12.0 V, 0.0100 ohm and a motor of 0.0500 ohm; the connection adds 0.0900 ohm.

    battery --connection--[motor 0.05 ohm]-- : 200 A, 10.0 V, 2.00 kW; then 80.0 A, 4.0 V, 320 W.
    """
    clean = the_solution(starter())
    connection = find_suspect(starter(), "resistance:connection")
    corroded = solved(starter(), Fault(suspect=connection, severity=0.0900))["as drawn"]

    for solution, amps, volts, watts in ((clean, 200, 10.0, 2000), (corroded, 80.0, 4.0, 320)):
        at_motor = solution.drop_volts("motor", "minus")
        assert solution.amps["motor"] == pytest.approx(amps, rel=1e-6)
        assert at_motor == pytest.approx(volts, rel=1e-6)
        assert at_motor * solution.amps["motor"] == pytest.approx(watts, rel=1e-6)


def test_a_lamp_in_series_with_a_starter_takes_nearly_all_the_volts() -> None:
    """CP 21.1: 30.0 W and 2.40 kW at 12.0 V, in series by mistake, take 29.6 W together."""
    solution = the_solution(
        network(
            source("B1", "plus - minus", 12.0),
            resistor("lamp", "plus - a", 12.0**2 / 30),
            resistor("starter", "a - minus", 12.0**2 / 2400),
            zero="minus",
        )
    )

    assert 12.0 * solution.amps["lamp"] == pytest.approx(29.6, abs=0.05)


def test_a_wire_ahead_of_two_branches() -> None:
    """UP2 10.2: 1.00 ohm ahead of 6.00 and 13.00 in parallel: 5.10 ohm, 2.35 A, 9.65 V.

    5.105 ohm lies on the edge of the printed digits.
    """
    solution = the_solution(
        network(
            source("B1", "plus - minus", 12.0),
            resistor("R1", "plus - a", 1.00),
            resistor("R2", "a - minus", 6.00),
            resistor("R3", "a - minus", 13.00),
            zero="minus",
        )
    )

    assert 12.0 / solution.amps["R1"] == pytest.approx(5.10, abs=0.0055)
    assert solution.amps["R1"] == pytest.approx(2.35, abs=0.005)
    assert solution.volts["a"] == pytest.approx(9.65, abs=0.005)


@pytest.mark.parametrize(
    ("amps", "terminal_volts", "charging_ohms", "watts"),
    [(10.0, 16.0, 0.400, 40.0), (8.00, 15.0, 0.375, 24.0)],
)
def test_a_battery_on_charge_shows_more_than_its_own_volts(
    amps, terminal_volts, charging_ohms, watts
) -> None:
    """UP2 10.1 (10.0 A: 0.400 ohm, 40.0 W) and CP 21.2 (8.00 A: 0.375 ohm; its watts by sum)."""
    solution = the_solution(
        network(
            battery("B1", "plus - minus", 12.0, 0.010, charging_ohms=charging_ohms),
            current("charger", "minus - plus", amps),
            zero="minus",
        )
    )

    assert solution.volts["plus"] == pytest.approx(terminal_volts)
    assert (solution.drop_volts("plus", "minus") - 12.0) * solution.amps["B1"] == pytest.approx(
        watts
    )


def test_a_flat_battery_takes_a_little_while_the_live_one_cranks() -> None:
    """Jump start, the classic loop problem (common practice, no one source; sum by hand).

    (12 / 0.01 + 10 / 1) / (1 / 0.01 + 1 / 1 + 1 / 0.06) = 10.283 V at the starter; starter
    171.4 A, live battery 171.7 A, 0.283 A into the flat one.
    """
    solution = the_solution(jump_start())

    assert solution.volts["plus"] == pytest.approx(10.283, abs=0.0005)
    assert solution.amps["starter"] == pytest.approx(171.4, abs=0.05)
    assert solution.amps["live"] == pytest.approx(-171.7, abs=0.05)
    assert solution.amps["flat"] == pytest.approx(0.283, abs=0.0005)


def test_a_shorted_battery_is_limited_by_its_inner_resistance_alone() -> None:
    """LIEC, Batteries and power systems: 10 V behind 0.2 ohm give 8.333 A into 1 ohm, 50 A shorted.

    The engine takes a dead short as nothing at all, so the 50 A are exact.
    """
    drawn = battery_with_load(10, 0.2, 1)
    short = Fault(suspect=find_suspect(drawn, "bypass:load"), severity=0.0)

    assert the_solution(drawn).amps["load"] == pytest.approx(8.333, abs=0.0005)
    assert solve(drawn, short)[0].amps["B1"] == pytest.approx(-50, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "amps", "lead_ohms", "drop_volts", "watts"),
    [
        ("starter feed", 200.0, 0.01, 2.0, 400.0),
        ("starter feed", 200.0, 0.02, 4.0, 800.0),
        ("light cord", 5.00, 0.0600, 0.300, 1.50),
        ("poor cord", 5.00, 0.300, 1.50, 7.50),
    ],
)
def test_a_lead_drops_volts_as_its_amps_ask(name, amps, lead_ohms, drop_volts, watts) -> None:
    """CP 20.2 and 20.4 for the cords; the starter feed is a battery maker's teaching figure."""
    solution = the_solution(
        network(
            source("B1", "plus - minus", 120.0),
            resistor(name, "plus - load", lead_ohms),
            current("load", "load - minus", amps),
            zero="minus",
        )
    )

    drop = solution.drop_volts("plus", "load")
    assert drop == pytest.approx(drop_volts, rel=1e-9)
    assert drop * solution.amps[name] == pytest.approx(watts, rel=1e-9)


def milliamps(amps, *names: str) -> list[float]:
    return [1000 * amps[name] for name in names]
