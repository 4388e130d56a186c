"""What people type at the bench finds the past cases that it should."""

from collections.abc import Callable

import pytest

from cases.circuit import circuit_of
from cases.demo.stories import read_cases
from cases.judging.lines import Line
from cases.models import Case
from cases.search.evidence import fault_named
from cases.search.query import query_for_readings
from cases.search.results import SearchResult, Speaks, Term, Transfer
from cases.search.scope import scope_of
from cases.search.similar import find_similar, parted
from circuits.services import circuit_by_key, latest_revision
from circuits.units import parse_reading
from tests.cases.demo.conftest import TODAY, person


def _line(number: int, place: str, phase: str, text: str) -> Line:
    quantity = parse_reading(text, "V")
    assert quantity is not None
    return Line(
        number=number,
        place=place,
        phase=phase,
        text=text,
        value=quantity.value,
        step=quantity.step or 0.0,
    )


def _search(
    username: str,
    *readings: tuple[str, str, str],
    circuit: str = "",
    system: str = "",
    words: str = "",
) -> SearchResult:
    drawn = latest_revision(circuit_by_key(circuit)) if circuit else None
    query = query_for_readings(
        circuit=circuit_of(drawn) if drawn is not None else None,
        system=system,
        lines=[_line(number, *reading) for number, reading in enumerate(readings, start=1)],
        words=words,
    )
    return parted(query, find_similar(query, scope_of(person(username)), at=TODAY))


def _stories(result: SearchResult) -> list[int]:
    """Return the numbers of the stories found, best first."""
    by_plate = {(story.shop, story.vehicle.plate): story.story for story in read_cases()}
    listed = Case.objects.select_related("shop", "vehicle").in_bulk(
        [hit.case.pk for hit in result.hits]
    )
    found = (listed[hit.case.pk] for hit in result.hits)
    return [by_plate[case.shop.slug, case.vehicle.plate] for case in found]


PUMP = (("TP1", "prime", "12.35 V"), ("TP2", "prime", "6.8 V"))


@pytest.mark.parametrize("username", ["tamsin", "della", "ottilie"])
def test_low_volts_at_the_pump_find_the_feed_and_the_ground_and_say_what_parts_them(
    case_of: Callable[[int], Case], username: str
) -> None:
    """Battery 12.35 V, pump 6.8 V at prime: 5.5 V are lost, on the feed side or on the ground
    side; either drop, read by itself, decides."""
    result = _search(username, *PUMP, circuit="fuel-pump")

    assert set(_stories(result)[:2]) == {18, 19}
    both = {"resistance:C40", "resistance:body"}
    fits = {group.fault.suspect for group in result.groups if group.fault.transfer is Transfer.FITS}
    assert both <= fits
    parting = [place for place in result.partings if {place.first, place.second} == both]
    assert {place.place for place in parting} == {"TP3", "TP4"}
    assert {place.phase for place in parting} == {"prime"}


def test_the_unplugged_reading_is_no_likeness_to_a_plugged_one(
    case_of: Callable[[int], Case],
) -> None:
    """12.40 V on the unplugged harness says nothing of 6.8 V at the plugged pump."""
    result = _search("tamsin", *PUMP, circuit="fuel-pump")

    reasons = [
        reason
        for hit in result.hits
        if hit.case.pk == case_of(17).pk
        for reason in hit.reasons
        if reason.term is Term.READING
    ]
    assert all(reason.speaks is Speaks.SILENT and reason.points == 0 for reason in reasons)


def test_lights_that_go_funny_find_the_lighting_cases(demo: None) -> None:
    """Neither complaint says 'funny' or 'brake': 'lights' alone finds them."""
    found = _stories(_search("tamsin", words="lights go funny when I brake"))

    assert {24, 25} <= set(found)


def test_the_word_strap_finds_the_engine_strap(demo: None) -> None:
    assert _stories(_search("della", words="strap"))[0] == 2


def test_a_24_volt_job_is_not_answered_by_the_volts_of_a_12_volt_car(demo: None) -> None:
    """Both are starting circuits; 15.21 V and 16.25 V while cranking are compared with the truck
    alone, and nothing read on a car speaks for or against it."""
    readings = (("TP3", "crank", "16.25 V"), ("TP6", "crank", "15.21 V"))
    result = _search("sten", *readings, circuit="truck-starting", words="slow since the frost")

    assert _stories(result)[0] == 41
    cars = {"starting-relay"}
    for group in result.groups:
        for hit in group.hits if fault_named(group.key)[0] in cars else ():
            readings_compared = [
                reason
                for reason in hit.reasons
                if reason.term is Term.READING and reason.speaks is not Speaks.SILENT
            ]
            assert readings_compared == []
            assert hit.fault.transfer is Transfer.NOT_COMPARED


def test_an_open_case_with_no_reading_finds_the_fan_by_its_words(
    case_of: Callable[[int], Case],
) -> None:
    """Nothing is measured yet, so no reading speaks; the words and the circuit have to do."""
    result = _search("mina", circuit="cooling-fan", words="fan laboured, temperature climbs")

    assert 16 in _stories(result)
    assert all(reason.term is not Term.READING for hit in result.hits for reason in hit.reasons)


def test_what_was_not_shared_is_found_in_its_own_shop_alone(demo: None) -> None:
    words = "click nothing try again ten times"

    assert 3 in _stories(_search("brandt", words=words))
    for outsider in ("della", "ottilie", "edda", "noor"):
        assert 3 not in _stories(_search(outsider, words=words))


def test_reasons_add_up_to_the_score(demo: None) -> None:
    result = _search("tamsin", *PUMP, circuit="fuel-pump", words="loses power on the motorway")

    assert result.hits
    for hit in result.hits:
        assert sum(reason.points for reason in hit.reasons) == pytest.approx(hit.score, abs=1e-6)
