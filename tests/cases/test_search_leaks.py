"""An outsider who knows another shop's words, codes, readings and names learns nothing by search.

What is asked is answered, on the page and over REST, to the letter as if those cases were not
there: nothing in a list, a count, a facet, a probability, a spelling or a refusal.
"""

from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.test import Client

from cases.documents.cases import CodeFacts
from cases.models import Case
from cases.search.past_cases import past_cases
from cases.search.scope import scope_of, shared_scope
from cases.search.segments import build_segment
from cases.services.cases import withdraw_case
from cases.services.exercises import open_exercise
from cases.services.sharing import take_back_share
from circuits.models import Revision
from tests.api.rest import lines, program_of
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    MONDAY,
    Cast,
    logged,
    repaired,
    shared,
)
from tests.pages.words import words_of

PAGES = [
    {"words": "zephyrine gronking P0627", "circuit": "fuel-pump"},
    {"words": "zephyrin gronkng"},
    {"words": "zephyrine", "system": "fuel"},
    {"words": "shuddering", "shop": "kestrel"},
    {"words": "shuddering", "vehicle": "tolvane zephyrine"},
    {"words": "shuddering", "standing": "claimed"},
    {"words": "shuddering", "circuit": "fuel-pump", "fault": f"fuel-pump|{FEED_FAULT}"},
    {"words": "shuddering", "circuit": "fuel-pump", "other_makes": "on"},
]
ASKED: list[dict[str, Any]] = [
    {"circuit": "fuel-pump", "readings": lines(FEED_READINGS), "codes": ["P0627"]},
    {"circuit": "fuel-pump", "readings": lines(FEED_READINGS), "fault": f"fuel-pump|{FEED_FAULT}"},
    {"circuit": "fuel-pump", "readings": lines(FEED_READINGS), "other_makes": True},
    {"circuit": "fuel-pump", "readings": lines(GROUND_READINGS), "words": "zephyrine shuddering"},
    {"words": "zephyrin gronking", "codes": ["P0627"]},
    {"words": "shuddering", "shop": "kestrel"},
    {"words": "shuddering", "vehicle": "tolvane zephyrine"},
    {"words": "shuddering", "standings": ["claimed", "doubtful"]},
]


def everything(cast: Cast) -> list[str]:
    """Return all that an outsider is answered."""
    browser: Any = Client()
    browser.force_login(cast.outsider)
    program = program_of(cast.outsider)
    pages = [words_of(browser.get("/cases/search/", asked)) for asked in PAGES]
    return [*pages, *(str(program.post("/api/search/", asked).data) for asked in ASKED)]


def hide_cases(cast: Cast, fuel_pump: Revision) -> list[Case]:
    return [
        logged(
            cast,
            fuel_pump,
            FEED_READINGS,
            claim=FEED_FAULT,
            codes=(CodeFacts(code="P0627"),),
            complaint="zephyrine gronking, shuddering",
        )
        for _ in range(3)
    ]


@pytest.mark.parametrize("built", [False, True], ids=["in the tail", "in a segment"])
def test_what_is_hidden_changes_no_letter_of_any_answer(
    cast: Cast, fuel_pump: Revision, built: bool
) -> None:
    seen = logged(
        cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT, complaint="shuddering", codes=()
    )
    shared(seen, by=cast.technician)
    before = everything(cast)
    hidden = hide_cases(cast, fuel_pump)
    if built:
        for room in {case.evidence.room for case in hidden}:
            build_segment(room, at=MONDAY)

    assert everything(cast) == before
    assert any(seen.key in answer for answer in before)


def test_an_empty_base_and_one_that_is_all_hidden_answer_alike(
    cast: Cast, fuel_pump: Revision
) -> None:
    before = everything(cast)
    hide_cases(cast, fuel_pump)

    assert everything(cast) == before
    own = program_of(cast.technician).post("/api/search/", ASKED[0])
    assert "gronking" in str(own.data)


def test_a_case_taken_back_leaves_nothing_behind(cast: Cast, fuel_pump: Revision) -> None:
    before = everything(cast)
    for case in hide_cases(cast, fuel_pump):
        shared(case, by=cast.technician)
        build_segment(case.evidence.room, at=MONDAY)
        take_back_share(case=case, by=cast.technician, at=MONDAY)

    assert everything(cast) == before


def test_a_list_shows_the_cases_that_its_reader_can_open_and_no_others(
    cast: Cast, fuel_pump: Revision
) -> None:
    """A list says in SQL of its own what `Case.objects.visible_to` says; no withdrawn ones."""
    _, open_to_all, withdrawn = hide_cases(cast, fuel_pump)
    kept_back = repaired(
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT), by=cast.technician
    )
    for case in (open_to_all, withdrawn, kept_back):
        shared(case, by=cast.technician)
    open_exercise(case=kept_back, shop=cast.college, by=cast.trainer, at=MONDAY)
    withdraw_case(case=withdrawn, reason="wrong drawing", by=cast.technician, at=MONDAY)
    every = list(Case.objects.values_list("pk", flat=True))
    lasting = Case.objects.filter(withdrawn_at__isnull=True)
    for user in (cast.technician, cast.owner, cast.trainer, cast.learner, cast.outsider):
        seen = set(lasting.visible_to(user).values_list("pk", flat=True))
        assert set(past_cases(scope_of(user), every, by_role=False)) == seen

    assert kept_back.pk not in past_cases(scope_of(cast.learner), every, by_role=False)
    assert not past_cases(scope_of(AnonymousUser()), every, by_role=False)
    assert set(past_cases(shared_scope(), every, by_role=False)) == {open_to_all.pk, kept_back.pk}
