"""Codes as evidence on the page of a case: who sets them, who does not, what they share.

The codes of a sensor shorted inside are those of a nodal solver apart from ours.
"""

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from cases.documents.cases import CodeFacts
from cases.models import Case
from cases.services.readings import add_readings
from circuits.models import Revision
from tests.cast import Cast, logged, publish, shared
from tests.pages.words import typed_rows, words_of
from tests.readings import readings

SHORTED_SENSOR_CODES = tuple(
    CodeFacts(code=code, module="Engine module") for code in ("P0642", "P0192", "P0532", "P0107")
)
LOW_SUPPLY = """
        on
    TP1 0.466
"""


@pytest.fixture
def sensor_supply(cast: Cast) -> Revision:
    return publish("sensor_supply.txt", by=cast.technician)


@pytest.fixture
def technician(cast: Cast, visit) -> Client:
    return visit(cast.technician)


def page_of(client: Client, case: Case) -> str:
    answer = client.get(reverse("cases:case", args=(case.pk,)))
    assert isinstance(answer, HttpResponse)
    return words_of(answer)


def test_the_page_says_which_faults_set_a_code_and_what_the_codes_share(
    cast: Cast, sensor_supply, technician
) -> None:
    case = logged(cast, sensor_supply, LOW_SUPPLY, codes=SHORTED_SENSOR_CODES)
    words = page_of(technician, case)

    assert "What the codes say" in words
    assert "P0642 sensor supply A low set, Engine module" in words
    assert "Sets if V5 - MG below 4.70 V for 0.5 s." in words
    of_the_supply = words.partition("P0642 sensor supply A low")[2].partition("P0192 rail")[0]
    explain, _, leave = of_the_supply.partition("Fit the readings and do not set it:")
    assert "AC_ins: resistor shorted" in explain
    assert "W1: wire with high resistance or open" in leave
    assert "W1: wire" not in explain
    assert "P0642, P0192, P0532 and P0107 have one cause if it is one of these" in words
    assert "splice S5, 5 V supply splice : S5: short or leakage to ground" in words


def test_a_code_that_nothing_explains_is_told(cast: Cast, fuel_pump, technician) -> None:
    table = """
        prime
    TP1 12.35
    TP2 6.79
    TP3 5.49
    TP4 0.07
    """
    case = logged(cast, fuel_pump, table, codes=(CodeFacts(code="P0627"),))
    words = page_of(technician, case)

    assert "No fault that fits the readings sets it." in words
    assert "The readings exclude those that would:" in words


def test_codes_are_shown_before_anything_is_read(cast: Cast, sensor_supply, technician) -> None:
    words = page_of(technician, logged(cast, sensor_supply, codes=SHORTED_SENSOR_CODES[:1]))

    assert "No verdict yet: there is no reading to judge by." in words
    assert "These may set it, by their severity or by tolerance:" in words


def test_an_fmi_has_a_field_of_its_own_and_comes_back_in_it(
    cast: Cast, sensor_supply, technician
) -> None:
    sent = {
        "shop": str(cast.shop.pk),
        "make": "Ardwen",
        "complaint": "Lorry will not crank.",
        "circuit": "sensor-supply",
        **typed_rows("codes", [{"code": "spn 168", "fmi": "18"}]),
        **typed_rows("readings", []),
    }
    technician.post(reverse("cases:new"), sent)
    case = Case.objects.get(complaint="Lorry will not crank.")
    edit = reverse("cases:edit", args=(case.pk,))
    page = technician.get(edit).content.decode()

    assert case.codes.get().code == "SPN 168 FMI 18"
    assert 'value="SPN 168"' in page
    assert 'value="18"' in page
    for told, words in (
        ({"code": "SPN 168 FMI 4", "fmi": "5"}, "The code has another FMI behind it"),
        ({"code": "SPN 168", "fmi": "4", "failure_type": "11"}, "a failure type or an FMI"),
        ({"code": "SPN 168", "fmi": "32"}, "31"),
        ({"code": "", "fmi": "0"}, "Write the code this belongs to"),
    ):
        refused = technician.post(edit, {**sent, **typed_rows("codes", [told])})
        assert words in words_of(refused)


def test_monitors_that_passed_are_typed_and_mended_on_the_form(
    cast: Cast, sensor_supply, technician
) -> None:
    sent = {
        "shop": str(cast.shop.pk),
        "make": "Ardwen",
        "complaint": "Engine light.",
        "circuit": "sensor-supply",
        "monitors_passed": "p0532 P0107; spn 168 fmi 18, P0532",
        **typed_rows("codes", [{"code": "p0192"}]),
        **typed_rows("readings", []),
    }
    technician.post(reverse("cases:new"), sent)
    case = Case.objects.get(complaint="Engine light.")

    assert case.monitors_passed == ["P0532", "P0107", "SPN 168 FMI 18"]
    assert "P0107 manifold-pressure signal low not set, and its monitor ran" in page_of(
        technician, case
    )
    bad_ground = readings("idle\n TP1 4.16\n TP6 0.832")
    add_readings(case=case, readings=bad_ground, by=cast.technician, at=timezone.now())
    assert "no fault that is left would have set it:" in page_of(technician, case)
    edit = reverse("cases:edit", args=(case.pk,))
    assert 'value="P0532, P0107, SPN 168 FMI 18"' in technician.get(edit).content.decode()
    refused = technician.post(edit, {**sent, "monitors_passed": "P0192"})
    assert "P0192 is set, so its monitor did not pass" in words_of(refused)
    assert technician.post(edit, {**sent, "monitors_passed": ""}).status_code == 302
    case.refresh_from_db()
    assert case.monitors_passed == []


def test_a_code_too_long_to_be_one_is_refused_with_how_to_mend_it(
    cast: Cast, sensor_supply, technician
) -> None:
    case = logged(cast, sensor_supply)
    passed = "all of them were run and passed"
    sent = {"make": "Ardwen", "complaint": "x", "monitors_passed": passed}
    refused = technician.post(
        reverse("cases:edit", args=(case.pk,)), {**sent, **typed_rows("codes", [])}
    )

    assert "put a comma between two codes" in words_of(refused)


def test_another_shop_sees_the_codes_of_a_shared_case(cast: Cast, sensor_supply, visit) -> None:
    case = logged(cast, sensor_supply, LOW_SUPPLY, codes=SHORTED_SENSOR_CODES)
    shared(case, by=cast.technician)

    assert "Codes set together" in page_of(visit(cast.outsider), case)
