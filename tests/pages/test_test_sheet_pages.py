"""Test sheets as pages: chosen by part, refused in words, the maker's procedure first."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.cast import Cast
from tests.pages.words import words_of

PAGE = "/circuits/fuel-pump/test-sheet/"
FIRST = "The maker's procedure, local codes and licensed practice come first."


@pytest.fixture
def technician(cast: Cast, visit) -> Client:
    return visit(cast.technician)


def test_a_part_is_chosen_and_its_checks_come_with_both_leads(fuel_pump, technician) -> None:
    words = words_of(technician.get(PAGE, {"part": "PUMP"}))

    assert words_of(technician.get(PAGE)).count("Choose a part") == 1
    assert "1. Source" in words
    assert "PP, pump +" in words
    assert "resistance or open:" in words
    assert "petrol vapour at the pump" in words
    assert FIRST in words


def test_the_bench_sheet_names_pins_fuse_and_limit(fuel_pump, technician) -> None:
    words = words_of(technician.get(PAGE, {"part": "K3", "bench": "1"}))

    assert "12 V on IG (+) and K85 (-), fused 1 A" in words
    assert FIRST in words


def test_a_part_that_is_not_there_is_told(fuel_pump, technician) -> None:
    words = words_of(technician.get(PAGE, {"part": "K99"}))

    assert "There is no part 'K99'" in words
    assert FIRST in words


def test_the_circuit_leads_to_its_test_sheets(fuel_pump, technician) -> None:
    page = technician.get("/circuits/fuel-pump/").content.decode()

    assert reverse("circuits:test-sheet", args=["fuel-pump"]) in page


def test_modules_and_fuses_can_be_chosen_and_stay_chosen(fuel_pump, cast: Cast, visit) -> None:
    address = reverse("circuits:test-sheet", args=["fuel-pump"])
    for part in ("engine module E08", "F15"):
        page = visit(cast.technician).get(address, {"part": part})

        assert f"<option selected>{part}</option>" in page.content.decode()
        assert page.content.decode().count(" selected") == 1
        assert "No sheet is given here" not in words_of(page)
