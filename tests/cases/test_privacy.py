"""What leaves a shop with a case, and what never does."""

import pytest
from django.contrib.auth.models import AnonymousUser

from cases.documents.cases import CaseFacts, Repair, VainPart
from cases.errors import NotShared, NotYourCase, OwnersOnly
from cases.models import Case, Outcome
from cases.privacy import REMOVED, scrubber_for
from cases.services.cases import edit_case, log_case, record_repair, withdraw_case
from cases.services.exchange import document_of
from cases.services.readings import add_reading
from cases.services.sharing import (
    share_case,
    share_preview,
    shared_view,
    summaries,
    take_back_share,
)
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    MONDAY,
    Cast,
    facts,
    logged,
    one_reading,
    searched_words,
    shared,
)

TELLTALES = (
    "TEST 042",
    "test042",
    "1G4AH59H45G118341",
    "Tarn",
    "Ellery",
    "tarn",
    "Odile",
    "Brackwater",
    "Pettigrove",
    "0161 555 0142",
    "driver@post.example",
)


@pytest.fixture
def telling_case(cast: Cast, fuel_pump: Revision) -> Case:
    """A case with personal things in every free text."""
    case = log_case(
        shop=cast.shop,
        facts=facts(
            complaint="Mrs Pettigrove says it cuts out; ring 0161 555 0142. Plate test042.",
            conditions="Tarn drove TEST-042 to Odile Brackwater's; mail driver@post.example",
            parts_in_vain=(VainPart(part="pump, fitted by Ellery"),),
        ),
        revision=fuel_pump,
        by=cast.technician,
        at=MONDAY,
    )
    reading = one_reading("TP2", "prime", "6.79", note="taken by Tarn, VIN 1G4AH59H45G118341")
    add_reading(case=case, reading=reading, by=cast.technician, at=MONDAY)
    return Case.objects.get(pk=case.pk)


def test_nothing_personal_leaves_with_a_shared_case(cast: Cast, telling_case: Case) -> None:
    case = shared(telling_case, by=cast.technician)
    document = document_of(shared_view(case, cast.outsider, at=MONDAY)).model_dump_json()
    [line] = summaries(
        Case.objects.visible_to(cast.outsider).with_facts(), cast.outsider, at=MONDAY
    )

    for telltale in TELLTALES:
        assert telltale.lower() not in document.lower()
        assert telltale.lower() not in line.complaint.lower()
    assert REMOVED in document
    assert "cuts out" in document


def test_at_home_everything_stays_readable(cast: Cast, telling_case: Case) -> None:
    document = document_of(shared_view(telling_case, cast.owner, at=MONDAY))

    assert document.vehicle.plate == "TEST 042"
    assert document.author == "tarn"
    assert "Mrs Pettigrove" in document.complaint
    assert document.readings[0].by == "tarn"


def test_what_search_keeps_of_a_text_holds_nothing_personal(cast: Cast, telling_case: Case) -> None:
    words = searched_words(telling_case)

    assert words.isdisjoint({"tarn", "ellery", "odile", "brackwater", "pettigrove", "test042"})
    assert "stall" in words


def test_readings_and_trade_words_are_not_taken_for_personal_things(
    cast: Cast, telling_case: Case
) -> None:
    text = (
        "K3 pulls in at 7.2 V; 12.40 V unplugged, 10.79 V cranking, R 4700 Ohm, 0.42 mV on F15. "
        "In a row: 12.40 12.35 6.79 0.07 and 0,42 0,19; 30 A, 10 000 Ohm, 125000 km, 2024-11-03."
    )

    assert scrubber_for(telling_case).clean(text) == text


@pytest.mark.parametrize(
    "number",
    ["0161 555 0142", "+44 161 555 0142", "(0161) 555-0142", "555-010-0142", "01615550142"],
)
def test_telephone_numbers_are_taken_out(cast: Cast, telling_case: Case, number: str) -> None:
    assert scrubber_for(telling_case).clean(f"ring {number}.") in (
        f"ring {REMOVED}.",
        f"ring ({REMOVED}.",
    )


def test_the_preview_shows_what_would_leave(cast: Cast, telling_case: Case) -> None:
    preview = share_preview(case=telling_case, by=cast.technician, at=MONDAY)
    case = shared(telling_case, by=cast.technician)
    seen = shared_view(case, cast.outsider, at=MONDAY)

    assert document_of(preview) == document_of(seen)
    with pytest.raises(NotYourCase):
        share_preview(case=telling_case, by=cast.outsider, at=MONDAY)


def test_a_case_is_invisible_until_shared_and_again_when_taken_back(
    cast: Cast, telling_case: Case
) -> None:
    for stranger in (cast.outsider, cast.learner, AnonymousUser()):
        assert not Case.objects.visible_to(stranger).exists()
    share_case(case=telling_case, by=cast.technician, at=MONDAY)

    assert Case.objects.visible_to(cast.outsider).get() == telling_case
    assert not Case.objects.visible_to(AnonymousUser()).exists()

    take_back_share(case=telling_case, by=cast.owner, at=MONDAY)

    assert not Case.objects.visible_to(cast.outsider).exists()
    with pytest.raises(NotShared):
        take_back_share(case=telling_case, by=cast.owner, at=MONDAY)


def test_a_withdrawn_case_is_seen_at_home_alone(cast: Cast, telling_case: Case) -> None:
    shared(telling_case, by=cast.technician)
    withdraw_case(case=telling_case, reason="wrong drawing", by=cast.technician, at=MONDAY)

    assert not Case.objects.visible_to(cast.outsider).exists()
    assert Case.objects.visible_to(cast.owner).get() == telling_case


def test_only_who_logged_a_case_or_an_owner_shares_and_withdraws_it(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, by=cast.owner)

    with pytest.raises(OwnersOnly):
        share_case(case=case, by=cast.technician, at=MONDAY)
    with pytest.raises(OwnersOnly):
        withdraw_case(case=case, reason="x", by=cast.technician, at=MONDAY)


def test_an_outsider_changes_nothing_of_a_shared_case(cast: Cast, telling_case: Case) -> None:
    case = shared(telling_case, by=cast.technician)
    reading = one_reading("TP2", "prime", "6.79")

    with pytest.raises(NotYourCase):
        add_reading(case=case, reading=reading, by=cast.outsider, at=MONDAY)
    with pytest.raises(NotYourCase):
        edit_case(case=case, facts=facts(), by=cast.outsider, at=MONDAY)
    with pytest.raises(NotYourCase):
        share_case(case=case, by=cast.outsider, at=MONDAY)
    with pytest.raises(NotYourCase):
        take_back_share(case=case, by=cast.outsider, at=MONDAY)
    assert case.readings.count() == 1


def test_a_list_costs_the_same_for_two_cases_as_for_fifty(
    cast: Cast, fuel_pump: Revision, django_assert_num_queries
) -> None:
    """One for the reader's shops, one for the cases, one each for codes and vain parts, one for
    the people whose names are taken out."""
    first = logged(cast, fuel_pump)

    def read() -> int:
        listed = Case.objects.visible_to(cast.outsider).with_facts()
        return len(summaries(listed, cast.outsider, at=MONDAY))

    for wanted in (2, 50):
        while Case.objects.count() < wanted:
            logged(cast, fuel_pump)
        Case.objects.update(shared_at=MONDAY)
        with django_assert_num_queries(5):
            assert read() == wanted
    assert first.number == 1


def test_a_case_page_costs_the_same_whatever_was_logged(
    cast: Cast, fuel_pump: Revision, django_assert_num_queries
) -> None:
    few = shared(logged(cast, fuel_pump, "prime\nTP2 6.79"), by=cast.technician)
    many = shared(logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT), by=cast.technician)

    def view(case: Case) -> int:
        found = Case.objects.visible_to(cast.outsider).with_facts().get(pk=case.pk)
        return len(shared_view(found, cast.outsider, at=MONDAY).readings)

    view(few)  # the circuit is kept from here on
    with django_assert_num_queries(8):
        assert view(few) == 1
    with django_assert_num_queries(8):
        assert view(many) == 4


def test_facts_given_again_are_the_facts(cast: Cast) -> None:
    assert CaseFacts.model_validate(facts().model_dump()) == facts()


def test_the_repair_text_is_scrubbed_too(cast: Cast, telling_case: Case) -> None:
    repair = Repair(outcome=Outcome.FIXED, part_replaced="C40, by Tarn Ellery for Mrs Pettigrove")
    record_repair(case=telling_case, repair=repair, by=cast.technician, at=MONDAY)
    preview = share_preview(
        case=Case.objects.get(pk=telling_case.pk), by=cast.technician, at=MONDAY
    )

    assert preview.part_replaced == f"C40, by {REMOVED} {REMOVED} for {REMOVED}"
