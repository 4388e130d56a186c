"""Search says when a fault is likely one that no past case had.

The readings are those of check C05 as the cast has them: the feed starves the pump by TP3, its
ground by TP4, and each excludes the other.
"""

import pytest

from cases.judging.verdict import judge_lines
from cases.search import query
from cases.services.searching import search_cases
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    MONDAY,
    Cast,
    logged,
)
from tests.readings import readings


def unseen(cast: Cast, fuel_pump: Revision, read: str) -> float:
    found = search_cases(
        user=cast.technician, at=MONDAY, revision=fuel_pump, readings=readings(read)
    )
    assert found.unseen is not None
    return found.unseen


def test_in_an_empty_base_every_fault_is_one_that_nobody_had(
    cast: Cast, fuel_pump: Revision
) -> None:
    assert unseen(cast, fuel_pump, FEED_READINGS) == pytest.approx(1.0)


def test_a_case_of_the_fault_takes_the_doubt_away_and_one_of_another_does_not(
    cast: Cast, fuel_pump: Revision
) -> None:
    for _ in range(3):
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, codes=())

    assert unseen(cast, fuel_pump, FEED_READINGS) < 0.5 < unseen(cast, fuel_pump, GROUND_READINGS)
    logged(cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT, codes=())
    assert unseen(cast, fuel_pump, GROUND_READINGS) < 0.5


def test_without_a_reading_nothing_is_said_of_it(cast: Cast, fuel_pump: Revision) -> None:
    found = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, words="pump")

    assert found.unseen is None
    assert not found.likely_unseen


def test_readings_as_the_car_in_order_gives_them_make_no_stranger_of_a_case(
    cast: Cast, fuel_pump: Revision
) -> None:
    """That the car is in order counts as a fault that nobody had; it is no reason to say so."""
    logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    for _ in range(4):
        logged(cast, fuel_pump, "prime\nTP1 12.4", complaint="Hums.", codes=())
    found = search_cases(
        user=cast.technician,
        at=MONDAY,
        revision=fuel_pump,
        readings=readings("after\nTP1 12.33\nTP2 0.00"),
        words="motorway",
    )

    assert [group.fault.transfer for group in found.groups] == ["cannot say"]
    assert found.unseen is not None
    assert found.unseen > 0.5
    assert not found.likely_unseen


def test_readings_are_judged_once_for_one_person_and_anew_for_another(
    cast: Cast, fuel_pump: Revision, monkeypatch: pytest.MonkeyPatch
) -> None:
    judged = []

    def judging(circuit, lines):
        judged.append(lines)
        return judge_lines(circuit, lines)

    monkeypatch.setattr(query, "judge_lines", judging)
    asked = readings("prime\nTP1 12.36\nTP2 6.81")
    for words in ("pump", "pump whines", ""):
        search_cases(
            user=cast.technician, at=MONDAY, revision=fuel_pump, readings=asked, words=words
        )
    assert len(judged) == 1
    search_cases(user=cast.outsider, at=MONDAY, revision=fuel_pump, readings=asked)
    assert len(judged) == 2
    other = readings("prime\nTP1 12.36\nTP2 6.82")
    search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=other)
    assert len(judged) == 3
