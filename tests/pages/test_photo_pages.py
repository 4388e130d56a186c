"""Photos beside a case: tags with what was read there, and no way to a reading that is not due."""

from django.test import Client
from django.urls import reverse

from cases.models import Case
from cases.services.photos import tag_photo
from tests.cases.photographs import photographed
from tests.cast import FEED_FAULT, FEED_READINGS, Cast, logged, publish, shared
from tests.pages.words import words_of

FORM_AT = '"{}?place={}"'


def _tagged(cast: Cast, circuit, *places: str, is_shared: bool = False):
    photo = photographed(cast, circuit, is_shared=is_shared)
    tag_photo(photo=photo, tags=dict.fromkeys(places, (0.25, 0.5)), by=cast.technician)
    return photo


def _case_page(visitor: Client, case: Case):
    return visitor.get(reverse("cases:case", args=[case.pk]))


def test_a_tag_on_the_case_page_says_what_was_read_and_leads_to_its_form(
    cast: Cast, fuel_pump, visit
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    _tagged(cast, fuel_pump.circuit, "TP2")
    page = _case_page(visit(cast.technician), case)
    first = next(reading for reading in case.readings.all() if reading.place_key == "TP2")
    way = FORM_AT.format(reverse("cases:add-readings", args=[case.pk]), "TP2")

    assert way in page.content.decode()
    assert f": {first.text} V, " in words_of(page)


def test_a_photo_without_tags_or_of_places_that_are_gone_is_not_beside_the_case(
    cast: Cast, fuel_pump, visit
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS)
    photographed(cast, fuel_pump.circuit)
    gone = _tagged(cast, fuel_pump.circuit, "TP2")
    gone.tags.update(place="TP99")

    assert "of the real part: touch" not in words_of(_case_page(visit(cast.technician), case))


def test_another_shop_sees_shared_photos_beside_a_shared_case_and_logs_nothing(
    cast: Cast, fuel_pump, visit
) -> None:
    case = shared(logged(cast, fuel_pump, FEED_READINGS), by=cast.technician)
    _tagged(cast, fuel_pump.circuit, "TP4")
    _tagged(cast, fuel_pump.circuit, "TP2", is_shared=True)
    page = _case_page(visit(cast.outsider), case).content.decode()

    assert 'data-tag="TP2"' in page
    assert 'data-tag="TP4"' not in page
    assert "?place=" not in page


def test_no_tag_beside_an_airbag_or_on_a_circuit_of_others_leads_to_a_reading(
    cast: Cast, visit, fuel_pump
) -> None:
    """Same photo, three circuits: free, with one place beside an airbag, and given over whole.

    Common practice, no source: nothing is probed beside an airbag, nor at a circuit of airbags.
    """
    free = publish("horn.txt", by=cast.technician)
    beside = publish("horn.txt", by=cast.technician, key="horn-b", swap=("HB, CC", "H85, HB, CC"))
    whole = publish("horn.txt", by=cast.technician, key="horn-c", swap=("near-airbag", "airbag"))
    ways = {}
    for revision in (free, beside, whole):
        case = logged(cast, revision)
        _tagged(cast, revision.circuit, "TP2", "TP6")
        page = _case_page(visit(cast.technician), case).content.decode()
        ways[revision.circuit.key] = [
            place for place in ("TP2", "TP6") if f'?place={place}"' in page
        ]

    assert ways == {"horn": ["TP2", "TP6"], "horn-b": ["TP2"], "horn-c": []}
