"""Beyond likeness: doubts, prediction, narrowing, other makes."""

from datetime import timedelta
from typing import Any

from cases.models import Case
from cases.search.results import Speaks, Term
from cases.search.scope import Narrowing
from cases.services.cases import claim_fault, log_case
from cases.services.readings import add_readings
from cases.services.searching import search_cases
from circuits.models import Revision
from circuits.services import import_text
from tests.cases.found import ASKED, keys, speaking
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    LIBRARY,
    MONDAY,
    SOUND_READINGS,
    Cast,
    facts,
    logged,
    one_reading,
    repaired,
    shared,
)
from tests.readings import readings


def test_a_minimum_is_no_likeness_to_a_steady_reading(cast: Cast, fuel_pump: Revision) -> None:
    """6.79 V is what the pump had while running; the least of a dip may be that in any car."""
    logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, codes=())
    dip = [one_reading("TP2", "prime", "6.79", statistic="minimum")]
    result = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=dip)

    assert result.nothing_similar or all(
        reason.points == 0
        for hit in result.hits
        for reason in hit.reasons
        if reason.term is Term.READING
    )


def test_cases_that_looked_like_a_fault_and_were_not_speak_against_it(
    cast: Cast, fuel_pump: Revision
) -> None:
    """Two vehicles came back with the feed's readings after the ground was claimed and mended."""
    ask: dict[str, Any] = {"revision": fuel_pump, "readings": ASKED}
    first = logged(cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT, codes=())
    before = search_cases(user=cast.technician, at=MONDAY, **ask)
    back = log_case(
        shop=cast.shop,
        facts=facts(codes=()),
        revision=fuel_pump,
        comeback_of=first,
        by=cast.technician,
        at=MONDAY,
    )
    add_readings(case=back, readings=readings(FEED_READINGS), by=cast.technician, at=MONDAY)
    claim_fault(case=back, suspect=FEED_FAULT, by=cast.technician, at=MONDAY)
    after = search_cases(user=cast.technician, at=MONDAY, **ask)
    against = [
        reason
        for hit in after.hits
        if hit.case.pk == first.pk
        for reason in hit.reasons
        if "turned out not to be this fault" in reason.words
    ]

    assert all("turned out" not in reason.words for reason in before.hits[0].reasons)
    assert len(against) == 1
    assert against[0].points < 0


def test_an_empty_base_ranks_the_faults_of_the_circuit_by_prediction(
    cast: Cast, fuel_pump: Revision
) -> None:
    """5.5 V are lost on the way to the pump: a joint of the feed or of the ground, nothing else."""
    result = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=ASKED)
    likely = {fault.suspect: fault for fault in result.predicted}

    assert result.nothing_similar
    assert FEED_FAULT in likely or GROUND_FAULT in likely
    assert all(fault.cases == 0 for fault in result.predicted)
    assert all(name.startswith("resistance:") for name in likely)


def test_a_search_is_narrowed_by_standing_shop_vehicle_and_age(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    feed, ground = twins
    repaired(feed, SOUND_READINGS, by=cast.technician)
    other = logged(
        cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, by=cast.outsider, shop=cast.other_shop
    )
    shared(other, by=cast.outsider)

    def found(**narrow: Any) -> set[str]:
        result = search_cases(
            user=cast.technician,
            at=MONDAY,
            revision=fuel_pump,
            readings=ASKED,
            narrowing=Narrowing(**narrow),
        )
        return set(keys(result))

    assert found() == {feed.key, ground.key, other.key}
    assert found(standings=frozenset({"verified"})) == {feed.key}
    assert found(shop="corder") == {other.key}
    assert found(shop="no-such-shop") == set()
    assert found(vehicle="tolvane JUNIVER") == {feed.key, ground.key, other.key}
    assert found(vehicle="Tolvane Other") == set()
    assert found(opened_since=MONDAY + timedelta(days=1)) == set()


def test_the_same_symptom_is_found_in_another_circuit_in_proportion_to_its_supply(
    cast: Cast, fuel_pump: Revision
) -> None:
    """The pump with 1.1 Ohm in its feed, drawn once more for a vehicle of another make."""
    logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, codes=())
    text = (LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8")
    other = import_text(
        text.replace("key: fuel-pump", "key: other-pump").replace("make: Tolvane", "make: Ostrel"),
        note="the same in another make",
        by=cast.technician,
        at=MONDAY,
    )
    plain = search_cases(user=cast.technician, at=MONDAY, revision=other, readings=ASKED)
    result = search_cases(
        user=cast.technician, at=MONDAY, revision=other, readings=ASKED, other_makes=True
    )

    assert plain.nothing_similar
    assert keys(result) == ["kestrel-1"]
    assert any(
        "6.80 V here, 6.79 V there" in words for words in speaking(result.hits[0], Speaks.FOR)
    )
