"""Faults that move several things at once: a return fitted elsewhere, and compounds with a name."""

import math
from dataclasses import replace

import pytest

from circuits.engine import (
    Compound,
    Fault,
    Network,
    UnknownSuspect,
    Wire,
    find_suspect,
    predict,
    solve,
    suspects,
    with_fault,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, network, resistor
from tests.engine.solving import check_same

SENSOR = reference_circuit("C02")

CAMPER = replace(
    network(
        battery("B1", "plus - minus", 12.6, 0.01),
        resistor("W1", "plus - lamp", 0.1),
        resistor("H1", "lamp - ground", 2.0),
        resistor("G1", "ground - minus", 0.02),
        zero="minus",
    ),
    compounds=(
        Compound(
            name="damp connector",
            words="connector full of water",
            faults=(("resistance:W1", 0.8), ("ground-short:lamp", 5.0)),
        ),
        Compound(
            name="old battery",
            words="battery at the end of its days",
            faults=(("low-volts:B1", 0.6), ("resistance:B1", 0.04)),
        ),
    ),
)


def at(circuit: Network, suspect_id: str, severity: float) -> Fault:
    return Fault(suspect=find_suspect(circuit, suspect_id), severity=severity)


def test_a_return_bolted_to_the_battery_post_goes_round_the_sensor() -> None:
    """Every reading of the table in which an inverter's minus is fitted to the post."""
    fault = at(SENSOR.network, "return-elsewhere:W8", 1.0)

    for row in SENSOR.rows:
        shown = predict(SENSOR.network, [row.place], fault=fault, rig=row.rig(SENSOR.network))
        for (phase, _), prediction in shown.items():
            expected = SENSOR.predicted["E"][phase][row.key]
            assert prediction.value == pytest.approx(expected, rel=1e-3, abs=2e-3), row.key


def test_a_return_fitted_elsewhere_is_its_own_wire_between_other_ends() -> None:
    fault = at(SENSOR.network, "return-elsewhere:W8", 1.0)

    for found, moved in zip(solve(SENSOR.network, fault), solve(SENSOR.faulty("E")), strict=True):
        assert found.volts["AFT"] == pytest.approx(moved.volts["AFT"], abs=1e-9)
        assert found.amps["SHUNT"] == pytest.approx(moved.amps["SHUNT"], abs=1e-9)


@pytest.mark.parametrize("compound", ["damp connector", "old battery"])
@pytest.mark.parametrize("severity", [0.25, 1.0])
def test_a_named_fault_is_all_of_its_faults_in_proportion(compound: str, severity: float) -> None:
    fault = at(CAMPER, f"named:{compound}", severity)

    (found,) = solve(CAMPER, fault)
    (drawn,) = solve(with_fault(CAMPER, fault))

    check_same(found, drawn)


def test_half_of_a_named_fault_is_half_the_ohms_and_twice_the_path() -> None:
    whole = at(CAMPER, "named:damp connector", 0.5)

    added, path = whole.suspect.members_at(0.5)

    assert (added.severity, path.severity) == (0.4, 10.0)


def test_a_named_fault_goes_together_with_another() -> None:
    pair = (at(CAMPER, "named:old battery", 1.0), at(CAMPER, "resistance:G1", math.inf))

    (found,) = solve(CAMPER, pair)

    assert found.volts["plus"] == pytest.approx(12.0)
    assert found.amps["H1"] == pytest.approx(0.0, abs=1e-12)


def test_a_named_fault_of_what_is_not_there_is_refused() -> None:
    wrong = replace(CAMPER, compounds=(Compound(name="x", words="x", faults=(("open:W9", 1.0),)),))

    with pytest.raises(UnknownSuspect, match="open:W9"):
        suspects(wrong)


def test_a_named_fault_may_hold_a_return_that_was_fitted_elsewhere() -> None:
    drawn = Network(
        parts=(
            battery("B1", "plus - minus", 12.6, 0.01),
            resistor("G1", "body - minus", 0.5),
            resistor("R1", "plus - low", 6.0),
            Wire(name="W1", first="low", second="body", wire_mm2=1.5, metres=1.0),
        ),
        zero="minus",
        body="body",
        compounds=(
            Compound(
                name="add-on",
                words="lamp of another kind, fitted to the post",
                faults=(("return-elsewhere:W1", 1.0), ("wrong-high:R1", 0.5)),
            ),
        ),
    )
    fault = at(drawn, "named:add-on", 1.0)

    (found,) = solve(drawn, fault)

    # 9 ohm and the wire's 12.7 mohm behind 12.6 V and 10 mohm; G1 carries nothing.
    assert found.volts["low"] == pytest.approx(12.6 * 0.0127 / 9.0227, rel=1e-6)
    check_same(found, solve(with_fault(drawn, fault))[0])
