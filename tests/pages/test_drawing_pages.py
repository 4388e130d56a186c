"""The drawing's page: a phase at a time, a fault beside healthy, paths, parts moved."""

import pytest
from django.test import Client

from circuits.nudges import nudges_of
from tests.cast import Cast, publish
from tests.pages.words import words_of

PAGE = "/circuits/fuel-pump/drawing/"


@pytest.fixture
def technician(cast: Cast, visit) -> Client:
    return visit(cast.technician)


def test_the_first_phase_is_shown_and_every_other_is_a_link(fuel_pump, technician) -> None:
    page = technician.get(PAGE)
    html = page.content.decode()

    assert html.count('<svg xmlns="http://www.w3.org/2000/svg"') == 1
    for phase in ("at+rest", "prime", "after", "crank", "run"):
        assert f'href="?phase={phase}"' in html
    assert html.count('aria-current="true"') == 1
    assert "K3.con contact, K30 to K87 closed, 5.24 A from K30 to K87" in words_of(page)


def test_a_phase_called_rest_is_not_the_circuit_at_rest(cast, technician) -> None:
    """At rest nothing is solved, so there is no table of volts; in a phase there is."""
    publish("horn.txt", by=cast.technician)
    page = "/circuits/horn/drawing/"
    in_phase = technician.get(page, {"phase": "rest"})
    at_rest = technician.get(page, {"phase": "at rest"})

    assert "Connections in phase" in words_of(in_phase)
    assert 'aria-current="true">At rest<' not in in_phase.content.decode()
    assert "Connections in phase" not in words_of(at_rest)
    assert 'aria-current="true">At rest<' in at_rest.content.decode()


def test_a_fault_is_drawn_beside_healthy_and_told_in_the_table(fuel_pump, technician) -> None:
    page = technician.get(
        PAGE, {"phase": "prime", "fault": "resistance:C40", "severity": "1.1", "pin": "K87"}
    )
    words = words_of(page)

    assert page.content.decode().count('<svg xmlns="http://www.w3.org/2000/svg"') == 2
    assert "With C40: 1.1 Ohm added resistance" in words
    assert "PP pump + band 2, 6.86 V band 4, 11.78 V" in words


def test_a_path_is_told_by_phase_with_its_complaints(fuel_pump, technician) -> None:
    words = words_of(technician.get(PAGE, {"pin": "K87"}))

    assert "K3.con → F15 → W1 → SUP" in words
    assert "Broken here: K3.con open or absent." in words
    assert "Fuse F15 : PUMP" in words
    assert "PUMP in phase prime: 5.24 A becomes nothing" in words


def test_a_wrong_pin_is_told(fuel_pump, technician) -> None:
    words = words_of(technician.get(PAGE, {"pin": "K88"}))

    assert "Nothing is connected at 'K88'. Did you mean" in words
    assert "'K87'" in words


def test_the_file_is_the_drawing_of_the_page(fuel_pump, technician) -> None:
    page = technician.get(PAGE, {"phase": "crank"}).content.decode()
    file = technician.get("/circuits/fuel-pump/drawing.svg", {"phase": "crank"})

    assert file["Content-Type"] == "image/svg+xml"
    assert file.content.decode() in page


def test_the_ways_of_a_pin_are_striped_beside_healthy_with_the_fault_and_in_the_file(
    fuel_pump, technician
) -> None:
    asked = {"phase": "prime", "fault": "resistance:C40", "pin": "K87"}
    page = technician.get(PAGE, asked).content.decode()
    with_fault, healthy = page.split('<section aria-labelledby="healthy-head">')
    file = technician.get("/circuits/fuel-pump/drawing.svg", asked).content.decode()

    for each in (with_fault, healthy, file):
        assert 'class="d-way-supply"' in each
        assert 'class="d-way-back"' in each
    assert file in with_fault


def test_a_part_is_moved_and_put_back(fuel_pump, technician) -> None:
    before = technician.get(PAGE).content
    moved = technician.post(
        f"{PAGE}nudge/", {"part": "PUMP", "right": "8", "down": ""}, follow=True
    )

    assert "PUMP is moved." in words_of(moved)
    assert nudges_of(fuel_pump.circuit) == {"PUMP": (8, 0)}
    assert technician.get(PAGE).content != before

    back = technician.post(f"{PAGE}nudge/", {"all-back": "yes"}, follow=True)

    assert "Put back: 1 part." in words_of(back)
    assert nudges_of(fuel_pump.circuit) == {}


def test_a_move_without_reason_is_refused_in_words(fuel_pump, technician) -> None:
    refused = technician.post(f"{PAGE}nudge/", {"part": "PUNP", "right": "900"}, follow=True)

    assert "Nothing was moved." in words_of(refused)
    assert nudges_of(fuel_pump.circuit) == {}


def test_the_circuits_page_shows_it_at_rest(fuel_pump, technician) -> None:
    html = technician.get("/circuits/fuel-pump/").content.decode()

    assert html.count('<svg xmlns="http://www.w3.org/2000/svg"') == 1
    assert 'href="/circuits/fuel-pump/drawing/"' in html
