"""Segments and their tail: nothing lost, nothing doubled, nothing that should be gone."""

from datetime import timedelta
from io import StringIO

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import connection, transaction

from cases.models import Case, CaseEvidence, SearchSegment
from cases.search import rooms
from cases.search import segments as kept
from cases.search.results import SearchResult
from cases.search.segments import build_segment, read_evidence, rooms_to_build
from cases.services import search_upkeep
from cases.services.cases import log_case, withdraw_case
from cases.services.searching import search_cases
from cases.services.sharing import take_back_share
from cases.services.shops import set_hold_days
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    MONDAY,
    SOUND_READINGS,
    Cast,
    facts,
    logged,
    repaired,
    shared,
)
from tests.readings import readings

ASKED = readings("prime\nTP1 12.35\nTP2 6.80\nTP4 0.08")


def search(
    cast: Cast, revision: Revision, *, user: User | None = None, limit: int = 10
) -> SearchResult:
    return search_cases(
        user=user or cast.technician,
        at=MONDAY,
        revision=revision,
        readings=ASKED,
        words="motorway",
        limit=limit,
    )


def said(result: SearchResult) -> list[tuple[str, float, tuple[str, ...]]]:
    """Return all that a result says of its cases."""
    return [
        (hit.case.key, round(hit.score, 4), tuple(reason.words for reason in hit.reasons))
        for hit in result.hits
    ]


@pytest.fixture
def several(cast: Cast, fuel_pump: Revision) -> list[Case]:
    """Six cases of two shops and two faults; two of them shared, one verified."""
    cases = [
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT),
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, codes=()),
        logged(cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT),
        logged(cast, fuel_pump, "prime\nTP1 12.35\nTP2 6.79", codes=()),
        logged(
            cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, by=cast.outsider, shop=cast.other_shop
        ),
        logged(cast, None, system="fuel", complaint="Motorway, then nothing."),
    ]
    repaired(cases[1], SOUND_READINGS, by=cast.technician)
    shared(cases[0], by=cast.technician)
    shared(cases[4], by=cast.outsider)
    return cases


def test_a_segment_finds_what_the_tail_found(
    cast: Cast, fuel_pump: Revision, several: list[Case]
) -> None:
    for user in (cast.technician, cast.outsider, cast.learner):
        in_the_tail = search(cast, fuel_pump, user=user)
        build_segment("fuel", at=MONDAY)
        in_the_segment = search(cast, fuel_pump, user=user)
        CaseEvidence.objects.update(pending=True)

        assert said(in_the_segment) == said(in_the_tail)
        assert in_the_segment.compared == in_the_tail.compared
    assert said(in_the_tail) != []


def test_a_build_empties_the_tail_and_keeps_what_was_written_meanwhile(
    cast: Cast, fuel_pump: Revision, several: list[Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A correction between the reading and the end of a build stays in the tail."""
    really_read = kept.read_evidence

    def read_and_then_somebody_writes(**asked):
        columns = really_read(**asked)
        withdraw_case(case=several[0], reason="wrong drawing", by=cast.technician, at=MONDAY)
        return columns

    monkeypatch.setattr(kept, "read_evidence", read_and_then_somebody_writes)
    build_segment("fuel", at=MONDAY)
    monkeypatch.undo()

    assert set(CaseEvidence.objects.filter(pending=True).values_list("case", flat=True)) == {
        several[0].pk
    }
    result = search(cast, fuel_pump)
    found = [hit.case.key for hit in result.hits]
    assert several[0].key not in found
    assert len(found) == len(set(found))
    assert result.compared == 5


def test_a_search_that_began_before_a_build_loses_and_doubles_nothing(
    cast: Cast, fuel_pump: Revision, several: list[Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The tail was read, then the build takes its rows into a segment: they are there twice."""
    before = said(search(cast, fuel_pump))

    def read_and_then_it_is_built(**asked):
        columns = read_evidence(**asked)
        build_segment("fuel", at=MONDAY)
        return columns

    monkeypatch.setattr(rooms, "read_evidence", read_and_then_it_is_built)

    assert said(search(cast, fuel_pump)) == before


def test_what_was_written_since_the_build_is_found_and_what_went_is_not(
    cast: Cast, fuel_pump: Revision, several: list[Case]
) -> None:
    build_segment("fuel", at=MONDAY)
    new = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, codes=())
    take_back_share(case=several[4], by=cast.outsider, at=MONDAY)
    found = search(cast, fuel_pump, limit=50)

    assert new.key in {hit.case.key for hit in found.hits}
    assert several[4].key not in {hit.case.key for hit in found.hits}
    assert several[4].key in {
        hit.case.key for hit in search(cast, fuel_pump, user=cast.outsider).hits
    }


def test_a_deleted_case_is_left_out_though_the_segment_has_it(
    cast: Cast, fuel_pump: Revision, several: list[Case]
) -> None:
    build_segment("fuel", at=MONDAY)
    key = several[2].key
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        CaseEvidence.objects.filter(case=several[2]).delete()
    found = search(cast, fuel_pump)

    assert key not in {hit.case.key for hit in found.hits}
    assert found.compared == 5


def test_a_standing_that_falls_with_a_comeback_falls_in_search_too(
    cast: Cast, fuel_pump: Revision, several: list[Case]
) -> None:
    build_segment("fuel", at=MONDAY)
    log_case(
        shop=cast.shop,
        facts=facts(),
        revision=fuel_pump,
        comeback_of=several[1],
        by=cast.technician,
        at=MONDAY,
    )
    standing = {hit.case.key: hit.standing for hit in search(cast, fuel_pump).hits}
    scores = {hit.case.key: hit.score for hit in search(cast, fuel_pump).hits}
    reasons = {
        hit.case.key: sum(reason.points for reason in hit.reasons)
        for hit in search(cast, fuel_pump).hits
    }

    assert standing[several[1].key] == "doubtful"
    assert scores == pytest.approx(reasons, abs=1e-5)


def test_the_shops_own_period_moves_what_counts_as_held(
    cast: Cast, fuel_pump: Revision, several: list[Case]
) -> None:
    build_segment("fuel", at=MONDAY)
    set_hold_days(shop=cast.shop, days=5, by=cast.owner)
    later = MONDAY + timedelta(days=7)
    hits = search_cases(user=cast.technician, at=later, revision=fuel_pump, readings=ASKED).hits
    held = next(hit for hit in hits if hit.case.pk == several[1].pk)

    assert held.standing == "held"
    assert any(
        "stands as held" in reason.words and reason.points == pytest.approx(0.6)
        for reason in held.reasons
    )


def test_an_old_segment_stays_for_searches_that_began_with_it_and_then_goes(
    several: list[Case],
) -> None:
    build_segment("fuel", at=MONDAY)
    build_segment("fuel", at=MONDAY + timedelta(minutes=1))

    assert SearchSegment.objects.filter(retired_at__isnull=True).count() == 1
    assert SearchSegment.objects.count() == 2
    build_segment("fuel", at=MONDAY + timedelta(hours=1))

    assert SearchSegment.objects.count() == 2
    assert SearchSegment.objects.filter(retired_at__isnull=True).count() == 1


def test_a_room_is_built_when_its_tail_has_grown(several: list[Case]) -> None:
    assert rooms_to_build(most_pending=5) == ["fuel"]
    assert rooms_to_build(most_pending=6) == []
    build_segment("fuel", at=MONDAY)

    assert rooms_to_build(most_pending=0) == []


@pytest.mark.parametrize(
    ("statement", "index"),
    [
        ("SELECT 1 FROM cases_caseevidence WHERE room = 'x' AND pending", "evidence_pending"),
        ("SELECT 1 FROM cases_caseevidence WHERE room = 'x'", "evidence_room"),
        (
            "SELECT rows FROM cases_searchposting WHERE segment_id = 1 AND term IN (1, 2)",
            "a_posting_once",
        ),
        (
            "SELECT id FROM cases_searchterm WHERE kind = 'word' AND text IN ('a', 'b')",
            "a_term_once",
        ),
        (
            "SELECT id FROM cases_searchsegment WHERE room = 'x' AND retired_at IS NULL",
            "one_segment_of_a_room",
        ),
    ],
)
def test_search_reads_by_its_indexes(several: list[Case], statement: str, index: str) -> None:
    """With sequential scans made dear, as they are in a large base, each read has its index."""
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute(f"EXPLAIN {statement}")
        plan = "\n".join(row[0] for row in cursor.fetchall())

    assert index in plan


def test_upkeep_writes_what_lacks_and_builds_what_has_grown(
    cast: Cast, fuel_pump: Revision, several: list[Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    before = said(search(cast, fuel_pump))
    CaseEvidence.objects.all().delete()
    monkeypatch.setattr(search_upkeep, "rooms_to_build", lambda most=2: rooms_to_build(most))
    done = search_upkeep.keep_search_ready(at=MONDAY)

    assert done == search_upkeep.Upkeep(rooms=1, cases=6, circuits=1)
    assert said(search(cast, fuel_pump)) == before
    assert search_upkeep.keep_search_ready(at=MONDAY) == search_upkeep.Upkeep(0, 0, 0)


def test_the_whole_base_is_built_on_demand(several: list[Case]) -> None:
    out = StringIO()
    call_command("search_base", stdout=out)

    assert "fuel: 6" in out.getvalue()
    assert "1 systems built" in out.getvalue()
    assert not CaseEvidence.objects.filter(pending=True).exists()


def test_search_never_says_held_before_the_case_itself_does(
    cast: Cast, fuel_pump: Revision, several: list[Case]
) -> None:
    """The hold ends at an hour of its day; search counts days, so a day later at the most."""
    repair = Case.objects.select_related("shop").get(pk=several[1].pk)
    assert repair.repaired_at is not None
    ends = repair.repaired_at + timedelta(days=repair.shop.hold_days)
    said_there, said_here = [], []
    for moment in (ends - timedelta(minutes=1), ends, ends + timedelta(days=1)):
        hits = search_cases(
            user=cast.technician, at=moment, revision=fuel_pump, readings=ASKED
        ).hits
        said_here.append(next(hit.standing for hit in hits if hit.case.pk == repair.pk))
        said_there.append(repair.standing_at(moment))

    assert said_there == ["verified", "held", "held"]
    assert said_here == ["verified", "verified", "held"]


def test_the_database_knows_once_a_long_tail_is_built(
    several: list[Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """By older statistics every search would go through all rows that were ever in the tail."""
    monkeypatch.setattr(search_upkeep, "LONG_TAIL", len(several) - 1)
    known = (
        "SELECT most_common_vals::text FROM pg_stats"
        " WHERE tablename = 'cases_caseevidence' AND attname = 'pending'"
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE cases_caseevidence (pending)")
        cursor.execute(known)
        before = cursor.fetchone()
        search_upkeep.build_rooms(["fuel"], at=MONDAY)
        cursor.execute(known)
        after = cursor.fetchone()

    assert (before, after) == (("{t}",), ("{f}",))
