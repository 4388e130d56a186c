"""The reference circuits against their tables, which another solver made and ngspice confirmed.

Closeness: 0.1 % and 0.5 mV, or 2 mA. Rows in millivolts, where a fuse is read for its current, are
held to 0.5 microvolt; the row in milliamps to 0.02 mA, for in the tables a regulated source that
is fed backwards leaks a hundredth of a milliamp, where ours takes nothing.
"""

from collections import Counter

import pytest

from circuits.engine import predict
from tests.circuits.reference_networks import (
    ReferenceCircuit,
    ReferenceRow,
    reference_circuit,
    reference_keys,
)
from tests.engine.solving import solved

CLOSE_FRACTION = 0.001
CLOSE_VOLTS = 0.0005
CLOSE_AMPS = 0.002
CLOSE_MILLIAMP_ROW = 0.00002

#: With the rear fuse open, relay and rear feed hang loose on both sides: a meter from 30 to 87 has
#: no circuit. The solver of the tables let an open leak 5 gigaohm and shows what that leak makes.
HANGS_LOOSE = {("C03", "A", phase, "TP7"): 0.0 for phase in ("key off", "ignition on", "cranking")}

#: Columns x phases x rows of each circuit, so that no comparison can go missing unseen.
FIGURES = {
    "C01": 192,
    "C02": 168,
    "C03": 252,
    "C04": 147,
    "C05": 252,
    "C07": 180,
    "C09": 126,
    "C10": 72,
    "C12": 108,
    "C14": 192,
    "C15": 168,
}


def columns(circuit: ReferenceCircuit) -> tuple[str, ...]:
    return ("healthy", *circuit.faults)


def close(row: ReferenceRow, expected: float) -> float:
    in_thousandths = row.per_base_unit == 1000
    if row.place.reads_amps:
        last_digits = CLOSE_MILLIAMP_ROW if in_thousandths else CLOSE_AMPS
    else:
        last_digits = CLOSE_VOLTS / row.per_base_unit
    return CLOSE_FRACTION * abs(expected) + last_digits


ALL_COLUMNS = [
    pytest.param(key, letter, id=f"{key} {letter}")
    for key in reference_keys()
    for letter in columns(reference_circuit(key))
]


@pytest.mark.parametrize(("key", "letter"), ALL_COLUMNS)
def test_every_place_reads_what_its_table_says(key: str, letter: str) -> None:
    circuit = reference_circuit(key)
    network = circuit.faulty(letter)
    compared = 0

    for row in circuit.rows:
        shown = predict(network, [row.place], rig=row.rig(network))
        for phase in network.phases:
            expected = circuit.predicted[letter][phase.name][row.key]
            reading = shown[phase.name, row.key]
            loose = (key, letter, phase.name, row.key) in HANGS_LOOSE
            if loose:
                expected = HANGS_LOOSE[key, letter, phase.name, row.key]
                assert reading.floating
            assert reading.value == pytest.approx(expected, abs=close(row, expected)), (
                f"{row.label} in {phase.name}"
            )
            assert not reading.chatters
            compared += 1

    assert compared == FIGURES[key] / len(columns(circuit))


def test_no_figure_of_the_tables_is_left_out() -> None:
    counted = Counter(
        {
            key: sum(
                len(rows)
                for phases in reference_circuit(key).predicted.values()
                for rows in phases.values()
            )
            for key in reference_keys()
        }
    )

    assert counted == FIGURES
    assert counted.total() == 1857


@pytest.mark.parametrize(("key", "letter"), ALL_COLUMNS)
def test_every_solve_obeys_kirchhoff_and_the_law_of_every_part(key: str, letter: str) -> None:
    network = reference_circuit(key).faulty(letter)

    assert len(solved(network)) == len(network.phases)
