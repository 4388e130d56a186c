"""Assumed rules and healthy vehicles from the pages, from programs and from the command.

Common practice, no source.
"""

from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from circuits.on_vehicles.references import references_of
from circuits.services import import_text
from tests.api.rest import program_of
from tests.cast import MONDAY
from tests.measuring import keep, with_alternative
from tests.pages.words import words_of

URL = "/api/circuits/trailer-converter/rules/"


@pytest.fixture
def converter(cast):
    return import_text(with_alternative(), note="Drawn.", by=cast.technician, at=MONDAY)


def test_what_healthy_vehicles_showed_narrows_what_the_page_and_the_command_say(
    cast, fuel_pump, visit
) -> None:
    for reading in ("12.34", "12,35", "12.34 V", "12.35"):
        keep(fuel_pump, reading, by=cast.technician)
    client = visit(cast.owner)
    page = words_of(client.get(reverse("circuits:circuit", args=["fuel-pump"])))
    answer = program_of(cast.owner).get("/api/circuits/fuel-pump/readings/").data
    out = StringIO()
    call_command("predict", "fuel-pump", stdout=out)
    place = next(place for place in answer["places"] if place["key"] == "TP1")
    reading = next(each for each in place["readings"] if each["phase"] == "prime")

    assert "seen on 4 healthy vehicles: 12.34 V to 12.35 V" in page
    assert "seen on 4 healthy vehicles: 12.34 V to 12.35 V" in out.getvalue()
    assert reading["seen"]["narrowed"]
    assert reading["healthy"]["high"] - reading["healthy"]["low"] < 0.2


def test_a_rule_is_settled_from_its_page(cast, converter, visit) -> None:
    client = visit(cast.technician)
    page = reverse("circuits:rules", args=["trailer-converter"])
    form = {"rule": "QB", "at": "TP4 tail", "base": "1"}
    shown = words_of(client.get(reverse("circuits:circuit", args=["trailer-converter"])))
    neither = client.post(page, {**form, "reading": "6 V"})
    done = client.post(page, {**form, "reading": "0.01 V"}, follow=True)

    assert "QB is assumed" in shown
    assert neither.status_code == 422
    assert words_of(neither).count("fits neither") == 2  # above the form, and at its field
    assert "measured: TP4 0.01 V" in words_of(done)
    assert "QB is assumed" not in words_of(done)


def test_references_are_kept_and_taken_back_from_their_page(cast, fuel_pump, visit) -> None:
    client = visit(cast.technician)
    page = reverse("circuits:references", args=["fuel-pump"])
    form = {"place": "TP1", "phase": "prime", "reading": "12.34", "vehicle": "Tolvane Juniver"}
    refused = client.post(page, {**form, "vehicle": "1G4AH59H45G118341"})
    kept = client.post(page, {**form, "meter_percent": "1", "meter_counts": "3"}, follow=True)
    (line,) = references_of(fuel_pump, cast.technician)
    client.post(
        reverse("circuits:take-back-reference", args=["fuel-pump"]),
        {"reference": line.reference.pk},
    )

    assert "leave the VIN out" in words_of(refused)
    assert (refused.status_code, kept.status_code) == (422, 200)
    assert (line.reference.meter_fraction, line.reference.meter_counts) == (0.01, 3)
    assert references_of(fuel_pump, cast.technician) == []


def test_programs_settle_rules_and_keep_references(cast, converter) -> None:
    owner, outsider = program_of(cast.owner), program_of(cast.outsider)
    (rule,) = owner.get(URL).data["rules"]
    asked = {"rule": "QB", "place": "TP4", "phase": "tail", "reading": "0.0 V", "base": 1}
    references = URL.replace("rules", "references")
    kept = owner.post(
        references,
        {"place": "TP1", "phase": "tail", "reading": "12.3", "vehicle": "Marrowby Trundel"},
    )
    number = kept.data["references"][0]["number"]

    assert (rule["rule"], rule["partings"][0]["place"]) == ("QB", "TP4")
    assert owner.post(URL, {**asked, "reading": "6 V"}).data["code"] == "rule_unsettled"
    assert owner.post(URL, asked).status_code == 201
    assert owner.post(URL, asked).status_code == 404
    assert kept.status_code == 201
    assert outsider.delete(f"{references}{number}/").status_code == 404
    assert owner.delete(f"{references}{number}/").data["references"] == []
