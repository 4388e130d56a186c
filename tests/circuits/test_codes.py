"""Codes set where their condition is met.

The expectations are those of the reference circuits' own sums (a nodal solver apart from ours);
the codes are read from SAE J2012 in meaning, their thresholds are this drawing's own.
"""

import math
from pathlib import Path

import pytest

from circuits.codes.conditions import codes_set
from circuits.engine import Fault, find_suspect
from circuits.sheet import read_text, to_network, write_text

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
OPEN = math.inf


def codes(stem, suspect=None, severity=None):
    sheet = read_text((LIBRARY / f"{stem}.txt").read_text(encoding="utf-8"))
    network = to_network(sheet)
    fault = None
    if suspect:
        fault = Fault(suspect=find_suspect(network, suspect), severity=severity)
    found = codes_set(sheet, network, fault=fault)
    return {phase: " ".join(code.code for code in met) for phase, met in found.items() if met}


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("*.txt")), ids=lambda path: path.stem)
def test_a_healthy_circuit_sets_no_code(path):
    assert codes(path.stem) == {}


@pytest.mark.parametrize(
    ("stem", "suspect", "severity", "expected"),
    [
        ("starting_relay", "resistance:S2_clutch", OPEN, {"crank": "P0615"}),
        ("starting_relay", "resistance:W3", 0.028, {}),
        (
            "fuel_pump",
            "resistance:DRV",
            OPEN,
            {"prime": "P0627", "crank": "P0627", "run": "P0627"},
        ),
        ("fuel_pump", "resistance:INERT", OPEN, {}),
        (
            "sensor_supply",
            "bypass:AC_ins",
            3.0,
            {"on": "P0642 P0192 P0532", "idle": "P0642 P0192 P0532 P0107"},
        ),
        (
            "sensor_supply",
            "ground-short:S5",
            0.5,
            {"on": "P0642 P0192 P0532 P0107", "idle": "P0642 P0192 P0532 P0107"},
        ),
        ("sensor_supply", "resistance:Ws_RP", OPEN, {"on": "P0192", "idle": "P0192"}),
        ("sensor_supply", "resistance:G1", 100.0, {}),
        ("sensor_supply", "supply-short:S5", 2.0, {"on": "P0643 P0108", "idle": "P0643"}),
        ("coolant_sensor", "resistance:W1", OPEN, dict.fromkeys(("cold", "mild", "hot"), "P0118")),
        ("coolant_sensor", "bypass:NTC", 6800.0, {}),
        ("truck_starting", "resistance:LINK", 0.009, {"crank": "SPN 168 FMI 18"}),
        ("truck_starting", "resistance:ISO", 0.012, {"crank": "SPN 168 FMI 18"}),
        ("truck_starting", "resistance:W3", 0.011, {}),
        ("power_steering", "resistance:F70", 0.045, {"lock": "C1A41"}),
        ("power_steering", "limited:G1", 85.0, {}),
    ],
)
def test_a_fault_sets_the_codes_whose_condition_it_meets(stem, suspect, severity, expected):
    assert codes(stem, suspect, severity) == expected


def test_an_enabling_condition_keeps_a_code_from_setting():
    text = (LIBRARY / "power_steering.txt").read_text(encoding="utf-8")
    sheet = read_text(text.replace("while EPS above 30 A", "while EPS above 80 A"))
    network = to_network(sheet)
    fault = Fault(suspect=find_suspect(network, "resistance:F70"), severity=0.045)

    assert not any(codes_set(sheet, network, fault=fault).values())


def test_a_condition_is_written_as_it_was_read():
    text = (LIBRARY / "power_steering.txt").read_text(encoding="utf-8")

    assert "  if SP - SM below 10.5 V for 0.2 s while EPS above 30 A\n" in write_text(
        read_text(text)
    )
