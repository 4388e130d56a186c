"""The past case that matches: what counts, what never counts, and what is not given away."""

import math
from typing import Any

import numpy as np
import pytest
from django.contrib.auth.models import AnonymousUser

from cases.documents.cases import CodeFacts, Repair
from cases.errors import BadRows, CircuitNotKnown
from cases.models import Case, CaseEvidence, Outcome
from cases.search.results import Speaks, Term, Transfer
from cases.search.terms import texts_of
from cases.services.cases import record_repair, withdraw_case
from cases.services.exchange import export_case, import_case
from cases.services.searching import search_cases, similar_to
from circuits.models import Revision
from tests.cases.found import ASKED, keys, speaking
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    MONDAY,
    SOUND_READINGS,
    Cast,
    logged,
    repaired,
    searched_words,
    shared,
)
from tests.readings import readings


def test_the_pumps_volts_find_both_twins_and_say_what_parts_them(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    """6.8 V at the pump, 12.35 V at the battery: the drop may be in the feed or in the ground."""
    result = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=ASKED)

    assert set(keys(result)) == {case.key for case in twins}
    assert {group.fault.transfer for group in result.groups} == {Transfer.FITS}
    assert {parting.place for parting in result.partings} == {"TP3", "TP4"}
    assert {parting.phase for parting in result.partings} == {"prime"}
    called = "C40: connector with high resistance or open"
    assert all(called in parting.words for parting in result.partings)


def test_a_reading_that_excludes_the_old_fault_says_so(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    feed, ground = twins
    asked = [*ASKED, *readings("prime\nTP4 0.07")]
    result = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=asked)
    by_fault = {group.fault.suspect: group.fault for group in result.groups}

    assert keys(result)[0] == feed.key
    assert by_fault[FEED_FAULT].transfer is Transfer.FITS
    assert by_fault[GROUND_FAULT].transfer is Transfer.EXCLUDED
    assert "in 'prime' was logged as" in by_fault[GROUND_FAULT].because
    against = next(hit for hit in result.hits if hit.case.pk == ground.pk)
    assert any(
        "TP4" in words and "5.07 V there" in words for words in speaking(against, Speaks.AGAINST)
    )


def test_reasons_add_up_to_the_score(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    repaired(twins[0], SOUND_READINGS, by=cast.technician)
    result = search_cases(
        user=cast.technician,
        at=MONDAY,
        revision=fuel_pump,
        readings=[*ASKED, *readings("run\nTP7 4.6")],
        words="loses power when I corner, strap?",
        codes=["P0087"],
    )

    assert len(result.hits) == 2
    for hit in result.hits:
        assert math.fsum(reason.points for reason in hit.reasons) == pytest.approx(
            hit.score, abs=1e-6
        )


def test_what_an_old_case_did_not_measure_counts_for_nothing(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    asked = [*ASKED, *readings("prime\nTP5 12.25\nTP7 4.6")]
    result = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=asked)
    few = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=ASKED)

    for hit in result.hits:
        silent = speaking(hit, Speaks.SILENT)
        assert len(silent) == 2
        assert all("not measured there" in words for words in silent)
    # Asking for more that the old case lacks makes it less alike, never more.
    assert result.hits[0].score < few.hits[0].score


def test_no_shared_reading_gives_no_points_for_readings(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    result = search_cases(
        user=cast.technician,
        at=MONDAY,
        revision=fuel_pump,
        readings=readings("run\nTP5 14.0"),
    )

    assert result.nothing_similar
    assert result.compared == 2


def test_agreement_on_what_every_sound_car_reads_is_no_likeness(
    cast: Cast, fuel_pump: Revision
) -> None:
    """Both have 12.35 V at the battery, and so has every other car."""
    logged(cast, fuel_pump, "prime\nTP1 12.35\nTP5 0.00", claim="resistance:K3.con", codes=())
    result = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=ASKED)

    assert result.nothing_similar


def test_a_healthy_reading_does_not_find_a_faulty_case(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    result = search_cases(
        user=cast.technician, at=MONDAY, revision=fuel_pump, readings=readings(SOUND_READINGS)
    )

    assert result.nothing_similar


def test_the_battery_of_the_day_is_taken_out_of_the_comparison(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    """At 11.80 V the same joint leaves the pump 6.44 V (6.79 x 11.80 / 12.35 to a tenth)."""
    weak = readings("prime\nTP1 11.80\nTP2 6.44")
    result = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=weak)

    assert set(keys(result)) == {case.key for case in twins}
    alike = [reason for reason in result.hits[0].reasons if reason.term is Term.READING]
    assert math.fsum(reason.points for reason in alike) > 5


def test_words_find_a_complaint_and_a_slip_of_the_keys_still_does(
    cast: Cast, twins: tuple[Case, Case]
) -> None:
    feed, ground = twins
    for complaint in ("Wipers dead.", "Horn sounds by itself."):
        logged(cast, None, complaint=complaint, codes=())
    for typed in ("corner", "cornr"):
        result = search_cases(user=cast.technician, at=MONDAY, words=typed)

        assert keys(result) == [ground.key]
    assert search_cases(user=cast.technician, at=MONDAY, words="cornr").spelled == {
        "cornr": ("corner",)
    }
    assert feed.key in keys(search_cases(user=cast.technician, at=MONDAY, words="motorway"))


def test_a_shared_code_counts_by_how_rare_it_is(cast: Cast, fuel_pump: Revision) -> None:
    common = [logged(cast, fuel_pump, codes=(CodeFacts(code="P0087"),)) for _ in range(4)]
    rare = logged(cast, fuel_pump, codes=(CodeFacts(code="P0627"), CodeFacts(code="P0087")))
    result = search_cases(user=cast.technician, at=MONDAY, codes=["p0627", "p0087"])

    assert keys(result)[0] == rare.key
    points = {reason.words[:5]: reason.points for reason in result.hits[0].reasons}
    assert points["P0627"] > points["P0087"]
    assert len(common) == 4


def test_how_well_a_case_stands_moves_it_up_or_down(cast: Cast, fuel_pump: Revision) -> None:
    plain = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, codes=())
    good = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, codes=())
    repaired(good, SOUND_READINGS, by=cast.technician)
    bad = logged(cast, fuel_pump, FEED_READINGS, claim=GROUND_FAULT, codes=())
    result = search_cases(
        user=cast.technician, at=MONDAY, revision=fuel_pump, readings=readings(FEED_READINGS)
    )

    assert keys(result) == [good.key, plain.key, bad.key]
    assert [hit.standing for hit in result.hits] == ["verified", "consistent", "doubtful"]


def test_a_copied_case_is_one_observation_however_often_it_is_copied(
    cast: Cast, fuel_pump: Revision
) -> None:
    original = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    shared(original, by=cast.technician)
    document = export_case(original, by=cast.outsider, at=MONDAY)
    copies = [
        import_case(document=document, shop=cast.other_shop, by=cast.outsider, at=MONDAY)
        for _ in range(3)
    ]
    result = search_cases(
        user=cast.outsider, at=MONDAY, revision=fuel_pump, readings=ASKED, codes=["P0087"]
    )

    assert keys(result) == [original.key]
    assert set(result.hits[0].copies) == {copy.key for copy in copies}
    assert result.groups[0].count == 1
    assert result.compared == 1


def test_one_common_fault_does_not_fill_the_list(cast: Cast, fuel_pump: Revision) -> None:
    for _ in range(5):
        logged(cast, fuel_pump, "prime\nTP1 12.35\nTP2 6.79", claim=FEED_FAULT, codes=())
    lone = logged(cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT, codes=())
    result = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=ASKED)
    counts = {group.fault.suspect: (len(group.hits), group.count) for group in result.groups}

    assert counts == {FEED_FAULT: (3, 5), GROUND_FAULT: (1, 1)}
    assert lone.key in keys(result)


def test_an_open_case_finds_the_like_of_itself_and_not_itself(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    job = logged(cast, fuel_pump, "prime\nTP1 12.35\nTP2 6.80", codes=())
    result = similar_to(job, user=cast.technician, at=MONDAY)

    assert set(keys(result)) == {case.key for case in twins}


# --------------------------------------------------------------------------------- secrecy


def test_an_outsider_learns_nothing_of_cases_that_are_not_shared(
    cast: Cast, fuel_pump: Revision
) -> None:
    """Probing with another shop's own words, codes and readings gives what an empty base gives."""
    probe: dict[str, Any] = {
        "revision": fuel_pump,
        "readings": readings(FEED_READINGS),
        "codes": ["P0627"],
        "words": "zephyrine gronking",
    }
    empty = search_cases(user=cast.outsider, at=MONDAY, **probe)
    logged(
        cast,
        fuel_pump,
        FEED_READINGS,
        claim=FEED_FAULT,
        codes=(CodeFacts(code="P0627"),),
        complaint="zephyrine gronking noise",
    )

    assert search_cases(user=cast.outsider, at=MONDAY, **probe) == empty
    assert search_cases(user=AnonymousUser(), at=MONDAY, **probe) == empty
    assert len(search_cases(user=cast.technician, at=MONDAY, **probe).hits) == 1


def test_hidden_cases_change_neither_rarity_nor_spelling_for_others(
    cast: Cast, fuel_pump: Revision
) -> None:
    seen = logged(cast, fuel_pump, complaint="shuddering when cold", codes=())
    shared(seen, by=cast.technician)
    asked: dict[str, Any] = {"words": "shuddring", "revision": fuel_pump}
    alone = search_cases(user=cast.outsider, at=MONDAY, **asked)
    for _ in range(4):
        logged(cast, fuel_pump, complaint="shuddring always", codes=())

    assert search_cases(user=cast.outsider, at=MONDAY, **asked) == alone
    assert alone.spelled == {"shuddring": ("shuddering",)}


def test_a_case_taken_back_or_withdrawn_is_gone_from_search_at_once(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case]
) -> None:
    feed, ground = twins
    shared(feed, by=cast.technician)
    shared(ground, by=cast.technician)

    def found() -> set[str]:
        result = search_cases(user=cast.outsider, at=MONDAY, revision=fuel_pump, readings=ASKED)
        return set(keys(result))

    assert found() == {feed.key, ground.key}
    withdraw_case(case=feed, reason="wrong drawing", by=cast.technician, at=MONDAY)

    assert found() == {ground.key}


def test_a_search_costs_the_same_for_two_cases_as_for_many(
    cast: Cast, fuel_pump: Revision, twins: tuple[Case, Case], django_assert_num_queries
) -> None:
    """Who asks (2), the shop's words, what there is by now, the cases with the readings behind the
    reasons, names of shops. A tail that has grown is read once: its rows, what there is by then,
    its terms (3)."""

    def search() -> int:
        result = search_cases(
            user=cast.technician,
            at=MONDAY,
            revision=fuel_pump,
            readings=ASKED,
            words="corner motorway",
        )
        return result.compared

    search()  # the circuit is kept from here on
    with django_assert_num_queries(6):
        assert search() == 2
    for _ in range(6):
        logged(cast, fuel_pump, "prime\nTP1 12.35\nTP2 6.79", codes=())
    with django_assert_num_queries(9):
        assert search() == 8
    with django_assert_num_queries(6):
        assert search() == 8


# ------------------------------------------------------------------------- bad input, parts


def test_readings_without_their_circuit_cannot_be_searched(cast: Cast) -> None:
    with pytest.raises(CircuitNotKnown):
        search_cases(user=cast.technician, at=MONDAY, readings=ASKED)


def test_bad_readings_in_a_search_are_told_all_at_once(cast: Cast, fuel_pump: Revision) -> None:
    bad = readings("prime sleep\nTP1 12.35 1\nTP77 6.80 -")
    with pytest.raises(BadRows) as refused:
        search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=bad)

    assert [problem.line for problem in refused.value.problems] == [2, 3]


def test_evidence_is_written_in_the_same_commit_and_follows_corrections(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, "prime\nTP1 12.35\nTP2 6.79")
    evidence = CaseEvidence.objects.get(case=case)
    slots = texts_of(np.frombuffer(evidence.slots, dtype="<i4").tolist())
    names = [slots[number] for number in np.frombuffer(evidence.slots, dtype="<i4").tolist()]
    sizes = dict(zip(names, np.frombuffer(evidence.sizes, np.int8) / 16, strict=True))
    by_place = {name.split("|")[1]: size for name, size in sizes.items()}

    assert by_place["TP1"] == 0.0
    assert by_place["TP2"] < -3
    assert "fuel-pump|TP2|on|" in names[1]

    repair = Repair(outcome=Outcome.FIXED, part_replaced="ground strap")
    record_repair(case=case, repair=repair, by=cast.technician, at=MONDAY)

    assert {"ground", "strap"} <= searched_words(case)
