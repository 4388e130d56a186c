"""Circuits as pages: what the meter shows, healthy and with a fault; text in and out."""

import pytest
from django.test import Client
from django.urls import reverse

from circuits.models import Circuit, Revision
from tests.cast import LIBRARY, Cast, publish
from tests.pages.words import words_of

PAGE = "/circuits/fuel-pump/"


@pytest.fixture
def technician(cast: Cast, visit) -> Client:
    return visit(cast.technician)


def test_a_circuit_shows_its_parts_places_codes_and_cautions(fuel_pump, technician) -> None:
    words = words_of(technician.get(PAGE))

    for told in (
        "by K3.coil, made 8 mOhm, pulls in 7.2 V, lets go 2.0 V",
        "relay 85 (driver pin) to body ground",
        "P0627:",
        "Fuel and vapour",
        "The maker's procedure, local codes and licensed practice come first.",
    ):
        assert told in words


def test_a_chosen_fault_stands_beside_the_healthy_circuit(fuel_pump, technician) -> None:
    """By hand: 12.40 V, 0.1063 Ohm of feed and 0.0149 of ground; with 1.1 Ohm more in the feed
    and I = 3.6 A + 0.14 A/V x V the pump is left 6.79 V."""
    page = technician.get(PAGE, {"fault": "resistance:C40", "severity": "1.1"})
    words = words_of(page)

    assert "C40: 1.1 Ohm added resistance: 6 of 28 readings differ." in words
    assert "6.79 V differs from 11.71 V" in words
    assert "TP2 ignition on, prime (first 2 s) 6.79 V instead of 11.71 V" in words


def test_a_severity_in_the_wrong_unit_is_told_and_the_healthy_table_stays(
    fuel_pump, technician
) -> None:
    words = words_of(technician.get(PAGE, {"fault": "resistance:C40", "severity": "5 V"}))

    assert "Ohm is wanted here" in words
    assert "11.71 V" in words


def test_the_parts_that_the_slider_fetches_are_parts_and_say_what_is_wrong(
    fuel_pump, technician
) -> None:
    """The same address; asked by the script it sends the readings, or the curve, and no page."""
    asked = {"fault": "resistance:C40", "severity": "1.1", "place": "TP2"}
    script = {"HTTP_HX_REQUEST": "true"}
    readings = technician.get(PAGE, asked, **script).content.decode()
    curve = technician.get(PAGE, {**asked, "part": "curve"}, **script).content.decode()
    wrong = words_of(technician.get(PAGE, {**asked, "severity": "5 V"}, **script))

    assert "<html" not in readings + curve
    assert "6.79 V" in readings
    assert 'data-end="open"' in readings
    assert "viewBox" not in readings
    assert "TP2, pump connector + to pump connector -." in curve
    assert "open 0.00 V" in curve
    assert "Ohm is wanted here" in wrong


def test_next_to_nothing_does_not_differ_from_next_to_nothing(cast: Cast, technician) -> None:
    """A starting circuit while the engine runs: microvolts in both, and 0.00 V on the display."""
    publish("starting_relay.txt", by=cast.technician)
    asked = {"fault": "resistance:B1", "severity": "0.1"}
    page = words_of(technician.get("/circuits/starting-relay/", asked))

    assert "11.93 V differs from 12.53 V" in page
    assert "0.00 V differs from 0.00 V" not in page
    assert "0.000 A differs from 0.000 A" not in page


def test_a_fault_at_the_healthy_end_of_its_scale_changes_nothing(fuel_pump, technician) -> None:
    for fault in ("resistance:C40", "ground-short:PP", "drags:PUMP"):
        page = technician.get(PAGE, {"fault": fault, "severity": "healthy"})

        assert "as it should be: none of 28 readings can be told" in words_of(page)


def test_the_last_of_two_severities_counts_so_that_the_ends_work_without_script(
    fuel_pump, technician
) -> None:
    page = technician.get(f"{PAGE}?fault=resistance:C40&severity=1.1&severity=")

    assert "C40: connector open: " in words_of(page)


@pytest.mark.parametrize("severity", ["", "open"])
def test_without_a_number_a_resistance_is_an_open(severity: str, fuel_pump, technician) -> None:
    words = words_of(technician.get(PAGE, {"fault": "resistance:INERT", "severity": severity}))

    assert "INERT: switch open: " in words


def test_a_circuit_goes_out_as_text_and_comes_back_as_a_new_revision(
    cast: Cast, fuel_pump, technician
) -> None:
    text = technician.get(reverse("circuits:text", args=["fuel-pump"])).content.decode()
    changed = text.replace("1.5 mm2, 3.1 m", "1.5 mm2, 3.4 m")
    sent = {"text": changed, "note": "W3 measured at the car", "redrawn": "own", "base": 1}
    technician.post(reverse("circuits:revise", args=["fuel-pump"]), sent)
    circuit = Circuit.objects.get()

    assert [revision.number for revision in circuit.revisions.order_by("number")] == [1, 2]
    assert "3.4 m" in words_of(technician.get(PAGE))
    assert "3.1 m" in words_of(technician.get(PAGE, {"revision": "1"}))


def test_every_slip_of_a_text_is_told_with_its_line_and_nothing_is_saved(
    cast: Cast, technician
) -> None:
    text = (LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8")
    lines = text.splitlines()
    wire = next(number for number, line in enumerate(lines) if line.startswith("W2 "))
    lines[wire] = lines[wire].replace("wire", "wyre")
    lines[wire + 2] = lines[wire + 2].replace("1.5 mm2", "1.5 m")
    sent = {"text": "\n".join(lines), "note": "first drawing", "redrawn": "own"}
    answer = technician.post(reverse("circuits:import"), sent)
    words = words_of(answer)

    assert answer.status_code == 422
    assert f"Line {wire + 1}" in words
    assert "wire" in words.partition("wyre")[2][:120]
    assert f"Line {wire + 3}" in words
    assert "wyre" in answer.content.decode().partition("<textarea")[2]
    assert Revision.objects.count() == 0


def test_a_revision_without_its_reason_is_refused_and_the_text_stays(
    cast: Cast, technician
) -> None:
    text = (LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8")
    answer = technician.post(reverse("circuits:import"), {"text": text, "note": ""})

    assert answer.status_code == 422
    assert "K3.con" in answer.content.decode().partition("<textarea")[2]
    assert Circuit.objects.count() == 0


@pytest.mark.parametrize("number", ["99", "0", "x", "٣", "-1"])
def test_a_revision_that_is_not_there_is_a_404(number: str, fuel_pump, technician) -> None:
    assert technician.get(PAGE, {"revision": number}).status_code == 404


@pytest.mark.parametrize("words", ["pump", "fuel tolvane", "inertia"])
def test_circuits_are_found_by_words_of_title_system_and_make(
    words: str, fuel_pump, technician
) -> None:
    listed = technician.get(reverse("circuits:list"), {"words": words})

    assert "Fuel pump with relay" in words_of(listed)
    none = technician.get(reverse("circuits:list"), {"words": f"{words} zebra"})
    assert "No circuit has" in words_of(none)


def test_the_text_form_is_explained_with_a_whole_circuit(fuel_pump, technician) -> None:
    words = words_of(technician.get(reverse("circuits:text-form")))

    assert "[connections]" in words
    assert "pulls in 7.2 V" in words
