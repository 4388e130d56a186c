"""Batteries by charge and temperature, the limit of 60 V, and generators that are told their volts.

Open-circuit volts: the BCI-style table of a flooded battery (12.65, 12.45, 12.24, 12.06, 11.89 V
at 100, 75, 50, 25, 0 %). What is from memory says so.
"""

from dataclasses import replace

import pytest

from circuits.engine import (
    BadPart,
    Battery,
    Clamp,
    Fault,
    Generator,
    IdealSource,
    Lamp,
    Network,
    Supply,
    find_suspect,
    inner_ohms_factor,
    rest_volts,
    solve,
    suspects,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, generator, network, resistor
from tests.engine.solving import solved


@pytest.mark.parametrize(
    ("charge", "volts"), [(1.0, 12.65), (0.75, 12.45), (0.5, 12.24), (0.25, 12.06), (0.0, 11.89)]
)
def test_a_rested_battery_shows_its_charge(charge: float, volts: float) -> None:
    assert rest_volts(charge) == pytest.approx(volts)


def test_agm_rests_a_little_higher_and_the_cold_moves_rest_volts_little() -> None:
    """0.1 to 0.2 V (common practice); 0.2 mV per kelvin and cell (value from memory)."""
    assert 0.1 <= rest_volts(0.5, is_agm=True) - rest_volts(0.5) <= 0.2
    assert rest_volts(0.5, 27.0) - rest_volts(0.5, -18.0) == pytest.approx(0.054)


@pytest.mark.parametrize(("cold_cranking_amps", "milliohms"), [(400, 13.5), (600, 9.0), (850, 6.4)])
def test_a_battery_that_passes_the_cold_test_is_drawn_so(
    cold_cranking_amps: float, milliohms: float
) -> None:
    """SAE J537: at -18 C the rated amps and still 7.2 V; (12.6 - 7.2) / CCA is what it has inside.

    At 25 C half of that (value from memory), well below the limit of the load test with half of
    the amps at 9.6 V: (12.6 - 9.6) / (CCA / 2).
    """
    cold_ohms = milliohms / 1000
    drawn = Battery.at_charge(
        0.94,
        -18.0,
        name="B1",
        first="plus",
        second="0",
        internal_ohms=cold_ohms / inner_ohms_factor(0.94, -18.0),
    )
    starter = resistor("M1", "plus - 0", 7.2 / cold_cranking_amps)
    (solution,) = solved(network(drawn, starter, zero="0")).values()

    assert solution.volts["plus"] == pytest.approx(7.2, abs=0.1)
    assert drawn.internal_ohms / 2 < 3.0 / (cold_cranking_amps / 2)


def test_volts_that_are_given_stand_and_the_cold_still_moves_the_ohms() -> None:
    drawn = Battery.at_charge(
        celsius=-18.0,
        name="B1",
        first="a",
        second="b",
        open_circuit_volts=12.6,
        internal_ohms=0.005,
        charging_ohms=0.02,
    )

    assert drawn.open_circuit_volts == 12.6
    assert drawn.internal_ohms == pytest.approx(0.010)
    assert drawn.charging_ohms == pytest.approx(0.040)


@pytest.mark.parametrize(
    ("charge", "celsius", "says"),
    [
        (1.2, 20.0, "a state of charge of 120% is not 0 to 100 %"),
        (0.5, -60.0, "-60 °C is no temperature at which a battery works; .* from -40 to 80"),
        (None, 20.0, "neither its volts nor its state of charge"),
    ],
)
def test_a_charge_or_temperature_that_cannot_be_is_refused(charge, celsius, says: str) -> None:
    with pytest.raises(BadPart, match=says):
        Battery.at_charge(charge, celsius, name="B1", first="a", second="b", internal_ohms=0.005)


@pytest.mark.parametrize(
    "make",
    [
        lambda ends: Battery(**ends, open_circuit_volts=60.5, internal_ohms=0.01),
        lambda ends: Supply(**ends, volts=-61.0, internal_ohms=0.01),
        lambda ends: Generator(**ends, volts=400.0, internal_ohms=0.01, max_amps=10.0),
        lambda ends: Generator(
            **ends, volts=14.0, internal_ohms=0.01, max_amps=10.0, fallback_volts=61.0
        ),
        lambda ends: Clamp(**ends, clamp_volts=200.0, on_ohms=1.0),
        lambda ends: Lamp(**ends, rated_watts=60.0, rated_volts=230.0),
    ],
)
def test_nothing_above_60_volts_is_worked_out(make) -> None:
    """60 V DC is the upper end of voltage class A of ISO 6469-3."""
    with pytest.raises(BadPart, match=r"S1: .* V is above 60 V DC; .* licensed for high voltage"):
        make({"name": "S1", "first": "a", "second": "b"})


# ------------------------------------------------------------------------------------- faults


def two_in_series() -> Network:
    return network(
        battery("B1", "plus - mid", 12.6, 0.010),
        battery("B2", "mid - 0", 12.6, 0.010, charging_ohms=0.040),
        resistor("R1", "plus - 0", 24.0),
        zero="0",
    )


def fault(drawn: Network, name: str, severity: float | None = None) -> Fault:
    suspect = find_suspect(drawn, name)
    return Fault(suspect=suspect, severity=suspect.most if severity is None else severity)


def test_of_two_batteries_in_series_one_the_wrong_way_round_leaves_nothing() -> None:
    (solution,) = solved(two_in_series(), fault(two_in_series(), "reversed:B2")).values()

    assert solution.volts["mid"] == pytest.approx(-12.6)
    assert solution.volts["plus"] == pytest.approx(0.0, abs=1e-9)
    assert solution.amps["R1"] == pytest.approx(0.0, abs=1e-9)


def test_a_reversed_battery_beside_a_sound_one_is_discharged_through_its_giving_ohms() -> None:
    """(12.6 + 12.6) V / (10 + 11 mOhm) = 1200 A, and (10 x 12.6 - 11 x 12.6) / 21 = -0.6 V."""
    drawn = network(
        battery("B1", "plus - 0", 12.6, 0.010, charging_ohms=0.050),
        battery("B2", "plus - 0", 12.6, 0.011, charging_ohms=0.060),
        zero="0",
    )
    (solution,) = solved(drawn, fault(drawn, "reversed:B1")).values()

    assert solution.amps["B1"] == pytest.approx(1200.0)
    assert solution.volts["plus"] == pytest.approx(-0.6)


def test_a_flat_battery_has_the_volts_of_an_empty_one_and_more_ohms_inside() -> None:
    """12.65 V become 11.89 V; 10 mOhm become 25 (value from memory): 475.6 A into nothing."""
    drawn = network(
        battery("B1", "plus - 0", 12.65, 0.010), resistor("R1", "plus - 0", 1e-9), zero="0"
    )
    (solution,) = solved(drawn, fault(drawn, "discharged:B1")).values()

    assert solution.amps["R1"] == pytest.approx(11.89 / 0.025, rel=1e-6)


def test_a_generator_without_its_command_falls_back_to_volts_of_its_own() -> None:
    """A reference table: 13.6 V held at the stud, whatever was commanded before."""
    circuit = reference_circuit("C02")
    phases = tuple(
        replace(
            phase,
            changes={
                name: replace(part, fallback_volts=13.6) if isinstance(part, Generator) else part
                for name, part in phase.changes.items()
            },
        )
        for phase in circuit.network.phases
    )
    parts = tuple(
        replace(part, fallback_volts=13.6) if isinstance(part, Generator) else part
        for part in circuit.network.parts
    )
    drawn = replace(circuit.network, parts=parts, phases=phases)

    shown = solve(drawn, fault(drawn, "falls-back:G1"))
    expected = solve(circuit.faulty("A"))

    for ours, theirs in zip(shown, expected, strict=True):
        for node, volts in theirs.volts.items():
            assert ours.volts[node] == pytest.approx(volts, abs=1e-9), (ours.phase, node)
    assert [round(solution.volts["BP"] or 0.0, 2) for solution in shown] == [
        *(12.62, 13.22, 13.22, 12.83)
    ]


def test_with_a_phase_lost_a_generator_is_down_to_about_two_thirds() -> None:
    drawn = network(
        generator("G1", "plus - 0", 14.2, 0.004, 120.0), resistor("R1", "plus - 0", 0.05), zero="0"
    )
    suspect = find_suspect(drawn, "lost-phase:G1")
    (solution,) = solved(drawn, Fault(suspect=suspect, severity=1 / 3)).values()

    assert solution.amps["R1"] == pytest.approx(80.0)
    assert suspect.severity_grid().min() == pytest.approx(0.2)
    assert "a phase lost, 33.3 % less output" in suspect.describe(1 / 3)


def test_a_sensor_supply_has_no_phase_to_lose_and_is_told_nothing() -> None:
    drawn = network(
        generator("REF", "5V - 0", 5.0, 0.3, 0.15), resistor("R1", "5V - 0", 500.0), zero="0"
    )
    kinds = {str(suspect.kind) for suspect in suspects(drawn) if suspect.target == "REF"}

    assert kinds == {"resistance", "low-volts", "limited"}


def test_an_ideal_source_of_a_textbook_may_have_more_volts() -> None:
    drawn = network(
        IdealSource(name="B1", first="a", second="0", volts=180.0),
        resistor("R1", "a - 0", 90.0),
        zero="0",
    )

    assert solve(drawn)[0].amps["R1"] == pytest.approx(2.0)
