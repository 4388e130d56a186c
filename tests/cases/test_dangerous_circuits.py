"""Airbags, orange cables, 48 V and more: what was read is judged, and nothing more is proposed.

Limits: UN Regulation No. 100, 60 V DC; ISO 16750-2, 32 V on a 24 V vehicle.
"""

from html import unescape
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from cases.circuit import circuit_from_sheet
from cases.documents.readings import Rig
from cases.errors import NotForProposals
from cases.judging.lines import Line
from cases.judging.verdict import judge_lines
from cases.services.exercises import open_exercise
from cases.services.searching import search_cases
from circuits.models import Revision
from circuits.services import import_text
from circuits.sheet import read_text
from tests.cases.case_files import case_file, run
from tests.cast import MONDAY, Cast, logged, shared
from tests.circuits.drawn import drawn, drawn_text
from tests.readings import readings

# Between W1 and W2 no place is listed, so they are twins until a lead goes to D.
LAMP = """
F1 fuse BP - A 10 A
W1 wire A - D 1 mm2, 2 m
W2 wire D - C 1 mm2, 2 m
H1 lamp C - BN 5 W, within 10 %
"""
BATTERY = "B1 battery BP - BN 12.6 V, 11 mOhm"
PLACES = """
TP1 V BP - BN battery | moves: volts
TP2 V C - BN  lamp    | moves: volts, bridge BP - C
TP3 V A - BN  behind the fuse | moves: volts
"""
AIRBAG = "airbag the driver's airbag is on this plug"
TEXTS = {
    "airbag": drawn_text(f"{BATTERY}\n{LAMP}", places=PLACES, hazards=AIRBAG),
    "pyrotechnic": drawn_text(f"{BATTERY} # cut by a pyrotechnic fuse\n{LAMP}", places=PLACES),
    "orange cable": drawn_text(f"{BATTERY} # orange cable\n{LAMP}", places=PLACES),
    "high volts": drawn_text(
        f"{BATTERY}\n{LAMP}", places=PLACES, hazards="high-voltage drive battery"
    ),
    "48 V net": drawn_text(
        "B1 battery BP - BN 48 V, 11 mOhm\nR1 resistor BP - A 100 Ohm, within 5 %\n"
        "R2 resistor A - C 100 Ohm, within 5 %\nR3 resistor C - BN 100 Ohm, within 5 %",
        places=PLACES,
    ),
}
DANGEROUS = {name: read_text(text) for name, text in TEXTS.items()}


def a_dark_lamp(sheet):
    line = Line(number=1, place="TP2", phase="on", text="0.5", value=0.5, step=0.1)
    return judge_lines(circuit_from_sheet(sheet), [line]).before


@pytest.mark.parametrize("sheet", DANGEROUS.values(), ids=DANGEROUS)
def test_a_reading_is_judged_and_no_next_one_is_named(sheet) -> None:
    judged = a_dark_lamp(sheet)

    assert judged.findings
    assert judged.partings == ()
    assert all(twins.between == () for twins in judged.twins)
    assert any("maker's procedure" in note and "licensed" in note for note in judged.notes)


def test_the_same_lamp_without_the_danger_gets_its_next_reading() -> None:
    judged = a_dark_lamp(drawn(f"{BATTERY}\n{LAMP}", places=PLACES))

    assert judged.partings
    assert any(twins.between for twins in judged.twins)
    assert not any("licensed" in note for note in judged.notes)


@pytest.mark.parametrize("sheet", DANGEROUS.values(), ids=DANGEROUS)
def test_no_bridge_lamp_or_meter_is_proposed(sheet) -> None:
    circuit = circuit_from_sheet(sheet)
    for rig in (Rig(bridged=(("BP", "C"),)), Rig()):
        with pytest.raises(NotForProposals, match="maker's procedure"):
            circuit.check_moves("TP2", rig)


def published(cast: Cast, hazards: str) -> Revision:
    text = drawn_text(f"{BATTERY}\n{LAMP}", places=PLACES, hazards=hazards)
    return import_text(text, note="drawn", by=cast.technician, at=MONDAY)


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_no_way_in_gives_a_sheet_or_a_next_reading(cast: Cast, text: str) -> None:
    revision = import_text(text, note="drawn", by=cast.technician, at=MONDAY)
    case = logged(cast, revision, "on\nTP2 0.5")
    key, part = revision.circuit.key, "R2" if "48 V" in text else "H1"
    client, programs = Client(), APIClient()
    client.force_login(cast.technician)
    programs.force_authenticate(cast.technician)
    pages = [
        client.get(reverse("circuits:test-sheet", args=[key]), {"part": part}),
        client.get(reverse("circuits:test-sheet", args=[key]), {"part": part, "bench": ""}),
        client.get(reverse("cases:sheet-readings", args=[case.pk]), {"part": part}),
        client.get(reverse("cases:next-reading", args=[case.pk])),
    ]
    answers = [
        programs.get(f"/api/circuits/{key}/checks/", {"part": part}),
        programs.get(f"/api/circuits/{key}/bench-checks/", {"part": part}),
        programs.get(f"/api/cases/{case.pk}/next-readings/"),
    ]

    for page in pages:
        assert page.status_code == 200
        assert "trained and licensed" in page.context["refusal"]
        assert page.context["refusal"] in unescape(page.content.decode())
        assert not any(name in page.context for name in ("checks", "bench", "form", "found"))
    for answer in answers:
        assert answer.status_code == 409
        assert "trained and licensed" in answer.data["detail"]


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_the_command_names_no_next_reading_there(tmp_path: Path, text: str) -> None:
    reading = {"number": 1, "place": "TP2", "phase": "on", "text": "0.5"}
    path = case_file(tmp_path, readings=[reading], claim=None, circuit={"text": text})
    status, table, complaint = run("next", path)

    assert (status, table) == (2, "")
    assert "trained and licensed" in complaint


def test_such_a_case_is_no_exercise(cast: Cast) -> None:
    case = logged(cast, published(cast, AIRBAG), "on\nTP2 0.5", claim="resistance:W1")
    shared(case, by=cast.technician)

    with pytest.raises(NotForProposals, match="airbag"):
        open_exercise(case=case, shop=cast.college, by=cast.trainer, at=MONDAY)


@pytest.mark.parametrize(("hazards", "proposes"), [("", True), (AIRBAG, False)])
def test_search_names_a_parting_place_unless_the_circuit_belongs_to_others(
    cast: Cast, hazards: str, proposes: bool
) -> None:
    revision = published(cast, hazards)
    for claim in ("resistance:W1", "resistance:F1"):
        logged(cast, revision, "on\nTP2 0.5", claim=claim)
    found = search_cases(
        user=cast.technician, at=MONDAY, revision=revision, readings=readings("on\nTP2 0.5")
    )

    assert found.groups
    assert bool(found.partings) == proposes


@pytest.mark.parametrize(("hazards", "proposes"), [("", True), (AIRBAG, False)])
def test_the_page_of_a_case_proposes_nothing_and_says_who_is_to_be_asked(
    cast: Cast, hazards: str, proposes: bool
) -> None:
    revision = published(cast, hazards)
    client = Client()
    client.force_login(cast.technician)
    pages = [
        client.get(reverse("cases:case", args=[logged(cast, revision, table).pk])).content.decode()
        for table in ("on\nTP2 0.5", "")
    ]

    assert ("What would part them" in pages[0]) == proposes
    assert ("The first one should be the supply" in pages[1]) == proposes
    for page in pages:
        assert ("trained and licensed" in page) == (not proposes)


def test_no_lead_is_sent_beside_an_airbag_to_part_twins_and_no_listed_place_there() -> None:
    """Only D parts W1 from W2, and TP3 parts them from the fuse: both sit beside the airbag now.

    Common practice, no source: nothing beside an airbag is probed.
    """
    beside = "near-airbag A, D: both run through the column"
    free = a_dark_lamp(drawn(f"{BATTERY}\n{LAMP}", places=PLACES))
    barred = a_dark_lamp(drawn(f"{BATTERY}\n{LAMP}", places=PLACES, hazards=beside))

    assert any("D" in twins.between for twins in free.twins)
    assert not any("D" in twins.between for twins in barred.twins)
    assert "TP3" in {parting.place for parting in free.partings}
    assert "TP3" not in {parting.place for parting in barred.partings}
    assert len(barred.findings) == len(free.findings)
