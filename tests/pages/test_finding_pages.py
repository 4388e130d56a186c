"""The inspection on the page of a circuit: what is open, what is accepted, and the way between."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.cast import Cast
from tests.pages.words import words_of

PAGE = "/circuits/fuel-pump/"
FINDING = "no-fuse:W1"


@pytest.fixture
def technician(cast: Cast, visit) -> Client:
    return visit(cast.technician)


def address(name):
    return f"{reverse(f'circuits:{name}', args=['fuel-pump'])}?finding={FINDING}"


def test_a_finding_is_accepted_on_a_page_of_its_own_and_opened_again(
    cast: Cast, fuel_pump, technician
) -> None:
    assert "with no fuse between them" in words_of(technician.get(PAGE))
    assert "Accept a finding" in words_of(technician.get(address("accept")))
    technician.post(address("accept"), {"reason": "in a steel tube down to the box"})
    words = words_of(technician.get(PAGE))
    assert "1 accepted as it is" in words
    assert "Tarn Ellery" in words
    assert "in a steel tube down to the box" in words
    technician.post(address("take-back"))

    assert "1 accepted as it is" not in words_of(technician.get(PAGE))


def test_without_a_reason_nothing_is_accepted_and_the_page_says_so(fuel_pump, technician) -> None:
    answer = technician.post(address("accept"), {"reason": " "})

    assert answer.status_code == 422
    assert "Say why" in words_of(answer)
    assert "1 accepted as it is" not in words_of(technician.get(PAGE))


def test_a_finding_that_is_not_there_has_no_page_and_cannot_be_taken_back(
    fuel_pump, technician
) -> None:
    gone = address("accept").replace("W1", "W9")

    assert technician.get(gone).status_code == 404
    words = words_of(technician.post(address("take-back"), follow=True))
    assert "is not accepted" in words
