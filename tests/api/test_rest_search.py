"""Search over REST: the pump that starves by its feed or by its ground."""

import pytest

from tests.api.rest import at, lines
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    SOUND_READINGS,
    logged,
    repaired,
)


def test_search_finds_both_faults_that_starve_the_pump_and_what_parts_them(
    technician, cast, fuel_pump
) -> None:
    """6.8 V at the pump with 12.35 V at the battery is the feed or the ground; TP3, TP4 tell."""
    feed = repaired(
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT),
        SOUND_READINGS,
        by=cast.technician,
    )
    ground = repaired(
        logged(cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT),
        SOUND_READINGS,
        by=cast.technician,
    )
    asked = [
        {"place": "TP1", "phase": "prime", "text": "12.35"},
        {"place": "TP2", "phase": "prime", "text": "6.8 V"},
    ]
    answer = technician.post("/api/search/", {"circuit": "fuel-pump", "readings": asked})
    hits = [hit for group in answer.data["groups"] for hit in group["hits"]]

    assert {hit["case"]["id"] for hit in hits} == {feed.pk, ground.pk}
    assert {parting["place"] for parting in answer.data["partings"]} >= {"TP4"}
    for hit in hits:
        points = sum(reason["points"] for reason in hit["reasons"])
        assert points == pytest.approx(hit["score"], abs=1e-6)
        assert any("6.8" in reason["words"] for reason in hit["reasons"])


def test_cases_are_listed_at_once_and_what_needs_a_verdict_is_said_to_be_due(
    technician, cast, fuel_pump
) -> None:
    """The same cases with the same reasons; of their faults nothing is claimed meanwhile."""
    for readings, claim in ((FEED_READINGS, FEED_FAULT), (GROUND_READINGS, GROUND_FAULT)):
        repaired(logged(cast, fuel_pump, readings, claim=claim), SOUND_READINGS, by=cast.technician)
    asked = {"circuit": "fuel-pump", "readings": lines(FEED_READINGS), "words": "motorway"}
    first = technician.post("/api/search/", {**asked, "waits_for_verdict": False}).data
    whole = technician.post("/api/search/", asked).data
    again = technician.post("/api/search/", {**asked, "waits_for_verdict": False}).data

    assert [group["fault"]["transfer"] for group in first["groups"]] == ["being worked out"] * 2
    assert [group["fault"]["transfer"] for group in whole["groups"]] == [
        "fits here",
        "excluded here",
    ]
    assert (first["verdict_is_due"], whole["verdict_is_due"]) == (True, False)
    assert [first[name] for name in ("predicted", "partings", "unseen")] == [[], [], None]
    assert whole["predicted"]
    hits, later = (
        {
            hit["case"]["id"]: (hit["score"], hit["reasons"])
            for each in found
            for hit in each["hits"]
        }
        for found in (first["groups"], whole["groups"])
    )
    assert hits == later
    # It is kept for who asks again.
    assert again == whole


def test_similar_cases_of_an_open_case(technician, cast, case, fuel_pump) -> None:
    old = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    answer = technician.get(at(case, "similar"))
    hits = [hit["case"]["id"] for group in answer.data["groups"] for hit in group["hits"]]

    assert old.pk in hits
    assert case.pk not in hits


def test_search_finds_nothing_of_what_is_not_shared(outsider, case) -> None:
    asked = {
        "circuit": "fuel-pump",
        "words": "motorway",
        "codes": ["P0087"],
        "readings": lines(FEED_READINGS),
    }
    answer = outsider.post("/api/search/", asked)

    assert answer.data["nothing_similar"] is True
    assert answer.data["compared"] == 0
    assert answer.data["spelled"] == {}


@pytest.mark.parametrize(
    ("asked", "status", "code"),
    [
        ({"readings": [{"place": "TP1", "phase": "prime", "text": "1"}]}, 409, "circuit_not_known"),
        (
            {
                "circuit": "fuel-pump",
                "readings": [{"place": "TP1", "phase": "prime", "text": "1,500"}],
            },
            400,
            "bad_rows",
        ),
        ({"circuit": "fuel-pmp"}, 400, "bad_fields"),
        ({"limit": 0}, 400, "bad_fields"),
        ({"words": ["motorway"]}, 400, "bad_fields"),
        ({}, 200, None),
    ],
)
def test_a_search_that_cannot_be_made_says_why(technician, blank_case, asked, status, code) -> None:
    answer = technician.post("/api/search/", asked)

    assert answer.status_code == status
    assert answer.data.get("code") == code


def test_search_costs_the_same_queries_for_two_hits_as_for_nine(
    technician, cast, fuel_pump, django_assert_max_num_queries
) -> None:
    asked = {"circuit": "fuel-pump", "readings": lines(FEED_READINGS), "limit": 50}
    counts = []
    for more in (2, 7):
        for _ in range(more):
            logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
        technician.post("/api/search/", asked)
        with django_assert_max_num_queries(40) as queries:
            technician.post("/api/search/", asked)
        counts.append(len(queries))

    assert counts[0] == counts[1]


def test_search_is_narrowed_and_says_what_it_can_be_narrowed_to(
    technician, cast, fuel_pump
) -> None:
    feed = repaired(
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT),
        SOUND_READINGS,
        by=cast.technician,
    )
    logged(cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT)
    asked = {"circuit": "fuel-pump", "readings": lines("prime\nTP1 12.35\nTP2 6.80")}
    answer = technician.post("/api/search/", asked)
    standings = answer.data["facets"]["standings"]
    likely = answer.data["predicted"][0]
    narrower = technician.post("/api/search/", {**asked, "standings": ["held", "verified"]})
    alone = technician.post("/api/search/", {**asked, "fault": answer.data["groups"][0]["key"]})

    assert sum(facet["count"] for facet in standings) == 2
    assert likely["suspect"] in {FEED_FAULT, GROUND_FAULT}
    assert 0 < likely["probability"] <= 1
    assert [each["key"] for each in narrower.data["groups"]] == [f"fuel-pump|{FEED_FAULT}"]
    assert narrower.data["groups"][0]["hits"][0]["case"]["id"] == feed.pk
    assert len(alone.data["groups"]) == 1
    assert technician.post("/api/search/", {**asked, "standings": ["perfect"]}).status_code == 400
