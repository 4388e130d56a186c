"""The reference networks carry the figures of their data file, unchanged."""

import json

import pytest

from circuits.engine import Absent, Contact, Fuse, Resistor, Switch, Wire
from tests.circuits.reference_networks import DATA, reference_circuit, reference_keys

RAW = {raw["id"]: raw for raw in json.loads(DATA.read_text(encoding="utf-8"))}


@pytest.mark.parametrize("key", reference_keys())
def test_every_resistance_of_a_phase_is_the_one_in_the_data(key):
    network = reference_circuit(key).network
    checked = 0

    for phase in network.phases:
        ours = {part.name: part for part in network.parts_in(phase)}
        for part in RAW[key]["parts_by_phase"][phase.name]:
            if part["kind"] != "R":
                continue
            match ours[part["name"]]:
                case Wire(ohms=ohms) | Fuse(ohms=ohms) | Resistor(ohms=ohms):
                    assert ohms == pytest.approx(part["ohm"], rel=1e-12)
                case Switch(closed_ohms=ohms, closed=closed):
                    assert (ohms if closed else None) == part["ohm"]
                case Contact(made_ohms=ohms):
                    assert ohms == part["rcon"]
                case Absent():
                    assert part["ohm"] is None
            checked += 1
    assert checked > 10


@pytest.mark.parametrize("key", reference_keys())
def test_every_part_is_there_in_the_phases_of_the_data_and_absent_in_the_others(key):
    network = reference_circuit(key).network

    for phase in network.phases:
        named = {part["name"] for part in RAW[key]["parts_by_phase"][phase.name]}
        for part in network.parts_in(phase):
            if part.name not in named:
                assert isinstance(part, Absent)


@pytest.mark.parametrize("key", reference_keys())
def test_every_fault_changes_the_network_in_some_phase(key):
    circuit = reference_circuit(key)

    for letter in circuit.faults:
        assert circuit.faulty(letter) != circuit.network


@pytest.mark.parametrize("key", reference_keys())
def test_every_row_has_a_figure_for_every_fault_and_phase(key):
    circuit = reference_circuit(key)
    columns = {"healthy", *circuit.faults}

    assert set(circuit.predicted) == columns
    for column in columns:
        assert set(circuit.predicted[column]) == {p.name for p in circuit.network.phases}
        for figures in circuit.predicted[column].values():
            assert set(figures) == {row.key for row in circuit.rows}


def test_a_fuse_drop_given_in_millivolts_is_kept_in_volts():
    assert reference_circuit("C15").predicted["A"]["key off"]["TP4"] == pytest.approx(
        0.00018, abs=1e-5
    )
