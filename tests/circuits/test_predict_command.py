"""`manage.py predict`: from a file without a database, or from a stored circuit.

The figures are those of the reference fuel-pump circuit (solved apart from our engine): 6.79 V at
the pump with 1.1 ohm too many in its connector, 12.40 V with the pump unplugged.
"""

import json
import math
import os
import subprocess
import sys
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from xml.etree import ElementTree

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command

from circuits.engine import suspects
from circuits.services import import_text
from circuits.sheet import read_text, to_json, to_network

ROOT = Path(__file__).parents[2]
PUMP = ROOT / "circuits" / "library" / "fuel_pump.txt"


def run(*arguments):
    """Return exit status, standard output and standard error of the command."""
    out, err = StringIO(), StringIO()
    status: int | str | None = 0
    try:
        call_command("predict", *map(str, arguments), stdout=out, stderr=err)
    except SystemExit as left:
        status = left.code
    return status, out.getvalue(), err.getvalue()


def readings(printed, place):
    found = next(row for row in json.loads(printed)["places"] if row["key"] == place)
    return {reading["phase"]: reading for reading in found["readings"]}


def test_a_file_is_predicted_as_a_table_for_people():
    status, out, err = run(PUMP)

    assert (status, err) == (0, "")
    assert "Fuel pump with relay" in out
    assert "ignition on, prime (first 2 s)" in out
    row = next(line for line in out.splitlines() if "TP2" in line)
    assert "11.71 V" in row
    assert "the maker's procedure comes first" in out


def test_a_fault_stands_beside_healthy_and_what_parts_them_is_marked():
    status, out, _ = run(
        PUMP, "--phase", "prime", "--fault", "resistance:C40", "--severity", "1.1 Ohm"
    )
    row = next(line for line in out.splitlines() if "TP2" in line)

    assert status == 0
    assert row.endswith("6.79 V *")
    assert "cranking" not in out


def test_json_carries_its_schema_and_base_units():
    _, out, _ = run(PUMP, "--json", "--fault", "resistance:C40", "--severity", "1.1")
    pump = readings(out, "TP2")["prime"]

    assert json.loads(out)["schema"] == "copperlog-prediction/1"
    assert json.loads(out)["fault"]["severity"] == 1.1
    assert pump["faulty"]["value"] == pytest.approx(6.79, abs=0.005)
    assert pump["faulty"]["shown"] == "6.79 V"
    assert pump["healthy"]["low"] < 11.71 < pump["healthy"]["high"]
    assert pump["tells_apart"] is True


def test_an_open_is_the_end_of_added_resistance_and_json_stays_plain():
    _, out, _ = run(PUMP, "--json", "--fault", "resistance:C40")

    assert json.loads(out)["fault"] == {
        "suspect": "resistance:C40",
        "unit": "ohm",
        "severity": "Infinity",
        "words": "C40: connector open",
    }
    assert not math.isnan(readings(out, "TP3")["prime"]["faulty"]["value"])


def test_an_unplugged_pump_hides_the_fault_and_a_lamp_shows_it():
    fault = ("--fault", "resistance:C40", "--severity", "1.1")
    _, unplugged, _ = run(PUMP, "--json", *fault, "--unplug", "PUMP")
    _, lamp, _ = run(PUMP, "--json", *fault, "--unplug", "PUMP", "--lamp", "21 W")

    assert readings(unplugged, "TP2")["prime"]["faulty"]["value"] == pytest.approx(12.4, abs=0.005)
    assert readings(lamp, "TP2")["prime"]["faulty"]["value"] == pytest.approx(10.4, abs=0.01)


def test_every_fault_stands_in_one_table_from_mild_to_worst():
    status, out, err = run(PUMP, "--all-faults", "--phase", "prime")
    rows = [line.split("  ") for line in out.splitlines()]
    named = [row[1] for row in rows if len(row) > 3]
    healthy = next(line for line in out.splitlines() if line.startswith("  healthy "))
    opened = next(line for line in out.splitlines() if "C40: connector open" in line)

    assert (status, err) == (0, "")
    assert "11.71 V" in healthy
    assert "*" not in healthy
    assert "0.00 V *" in opened
    for fault in ("C40: 10 Ohm added resistance", "PUMP: drags, ", "PP: dead short to ground"):
        assert any(name.startswith(fault) for name in named), fault


def test_every_fault_travels_as_json_with_a_schema_of_its_own():
    """Each fault of the circuit is there at its end, and agrees with itself asked for alone."""
    network = to_network(read_text(PUMP.read_text(encoding="utf-8")))
    _, out, _ = run(PUMP, "--all-faults", "--json", "--phase", "prime", "--place", "TP2")
    document = json.loads(out)
    ends = {
        entry["fault"]["suspect"]: entry["readings"][0]["value"] for entry in document["faults"]
    }
    _, alone, _ = run(PUMP, "--json", "--fault", "ground-short:PP", "--place", "TP2")

    assert document["schema"] == "copperlog-all-faults/1"
    assert set(ends) == {suspect.id for suspect in suspects(network)}
    assert [place["key"] for place in document["places"]] == ["TP2"]
    assert len(document["faults"]) > 3 * len(ends)
    assert ends["ground-short:PP"] == pytest.approx(
        readings(alone, "TP2")["prime"]["faulty"]["value"]
    )


def test_a_plot_is_written_whole_for_the_places_and_phases_asked_for(tmp_path):
    file = tmp_path / "pump.svg"
    fault = ("--fault", "resistance:C40", "--severity", "1.1")
    status, out, _ = run(PUMP, *fault, "--place", "TP2", "--phase", "prime", "--plot", file)
    drawn = file.read_text(encoding="utf-8")
    words = "".join(ElementTree.fromstring(drawn).itertext())

    assert status == 0
    assert f"{file} shows TP2 with C40" in out
    assert "maker's procedure comes first" in out
    assert "ignition on, prime (first 2 s): 6.79 V, healthy 11.71 V" in words
    assert "cranking" not in words
    assert [path.name for path in tmp_path.iterdir()] == ["pump.svg"]


def test_a_plot_without_places_shows_those_that_tell_the_fault(tmp_path):
    file = tmp_path / "pump.svg"
    _, out, _ = run(PUMP, "--fault", "resistance:C40", "--plot", file)

    assert "shows TP2, TP3," in out
    assert "TP1" not in out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--place", "TP22"), "There is no place 'TP22'; this circuit has TP1, TP2"),
        (("--plot", "x.svg"), "say which with --fault"),
        (("--plot", "x.png", "--fault", "resistance:C40"), "ends in .svg"),
        (("--plot", "/none/x.svg", "--fault", "resistance:C40"), "cannot be written: No such"),
        (("--plot", "x.svg", "--fault", "bypass:INERT"), "no place of this circuit shows it"),
        (("--all-faults", "--severity", "1"), "belongs to a --fault"),
        (("--phase", "prim"), "this circuit has prime, after, crank, run"),
        (("--phase", "prim"), "There is no phase 'prim'"),
        (("--fault", "resistance:C4"), "did you mean resistance:C40"),
        (("--fault", "resistance:C40", "--severity", "1,100"), "Write 1.1 or 1100."),
        (("--fault", "resistance:C40", "--severity", "short"), "or open"),
        (("--fault", "low-volts:SUP"), "not a fault this circuit can have"),
        (("--fault", "drags:PUMP", "--severity", "9999 A"), "runs from 0 to"),
        (("--severity", "1.1"), "belongs to a --fault"),
        (("--unplug", "PMUP"), "PMUP"),
        (("--lamp", "21 V"), "W is wanted"),
    ],
)
def test_bad_input_ends_with_two_and_says_how_to_mend_it(arguments, says):
    status, out, err = run(PUMP, *arguments)

    assert (status, out) == (2, "")
    assert says in err


def test_a_missing_file_and_a_bad_file_end_with_two(tmp_path):
    bad = tmp_path / "bad.txt"
    bad.write_text(PUMP.read_text(encoding="utf-8").replace("90 Ohm", "90 V"), encoding="utf-8")

    assert run(tmp_path / "none.txt")[0] == 2
    status, _, err = run(bad)
    assert status == 2
    assert "K3.coil" in err
    assert err.startswith("line ")


def test_a_mistake_of_ours_ends_with_seventy(monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr("circuits.management.commands.predict.predicted_table", broken)
    status, _, err = run(PUMP)

    assert status == 70
    assert "mistake of ours" in err


@pytest.mark.django_db
def test_a_stored_circuit_and_a_json_file_give_the_same(tmp_path):
    writer = User.objects.create_user("brandt")
    import_text(PUMP.read_bytes(), note="n", by=writer, at=datetime(2026, 3, 4, tzinfo=UTC))
    as_json = tmp_path / "pump.json"
    as_json.write_text(to_json(read_text(PUMP.read_text(encoding="utf-8"))), encoding="utf-8")
    expected = run(PUMP)

    assert run("fuel-pump") == expected
    assert run(as_json) == expected
    status, _, err = run("fuel-pmp")
    assert status == 2
    assert "Did you mean fuel-pump?" in err


@pytest.mark.slow
def test_a_file_needs_no_database(tmp_path):
    """With an address at which no database listens, a file is predicted all the same."""
    environment = {
        **os.environ,
        "DATABASE_URL": "postgres://nobody@127.0.0.1:1/none",
        "COPPERLOG_DATA": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "api.settings",
    }
    ran = subprocess.run(
        [sys.executable, "-m", "django", "predict", str(PUMP), "--phase", "prime"],
        cwd=ROOT,
        env={**environment, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )

    assert ran.returncode == 0, ran.stderr
    assert "11.71 V" in ran.stdout
