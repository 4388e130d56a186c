"""An exercise over REST: nothing that names part or outcome before the fault is named."""

import pytest
from rest_framework.test import APIClient

from cases.models import Case, Exercise
from cases.services.exercises import open_exercise
from tests.api.rest import program_of
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    MONDAY,
    SOUND_READINGS,
    logged,
    repaired,
    shared,
)

SECRETS = ("C40", "Connector", "fixed", FEED_FAULT, "kestrel", "Kestrel")


@pytest.fixture
def case(cast, fuel_pump) -> Case:
    done = repaired(
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT),
        SOUND_READINGS,
        by=cast.technician,
    )
    return shared(done, by=cast.technician)


@pytest.fixture
def trainer(cast) -> APIClient:
    return program_of(cast.trainer)


@pytest.fixture
def learner(cast) -> APIClient:
    return program_of(cast.learner)


@pytest.fixture
def exercise(trainer, case) -> str:
    answer = trainer.post("/api/exercises/", {"case": case.pk, "shop": "fennick"})
    assert answer.status_code == 201
    return str(answer["Location"])


@pytest.fixture
def attempt(learner, exercise) -> str:
    answer = learner.post(f"{exercise}attempts/")
    assert answer.status_code == 201
    return f"/api/attempts/{answer.data['id']}/"


def test_a_learner_asks_names_and_is_answered(learner, case, attempt) -> None:
    """TP4 at 0.07 V clears the ground side, so the feed joint fits and the ground does not."""
    asked = [
        learner.post(f"{attempt}readings/", {"place": place, "phase": "prime"})
        for place in ("TP1", "TP2", "TP3", "TP4")
    ]
    answer = learner.put(f"{attempt}fault/", {"suspect": FEED_FAULT})

    assert [reading.data["text"] for reading in asked] == ["12.35", "6.79", "5.49", "0.07"]
    assert answer.status_code == 200
    assert answer.data["answer"]["outcome"] == "fits"
    assert answer.data["answer"]["is_the_claim"] is True
    assert answer.data["minutes"] == sum(reading.data["minutes"] for reading in asked)
    assert answer.data["case"]["id"] == case.pk
    assert answer.data["case"]["part_replaced"].startswith("Connector C40")


def test_a_reading_that_nobody_took_is_what_a_meter_would_have_shown(learner, attempt) -> None:
    """tests/cast.py logs TP1 to TP4; TP7, the clamp on the feed, reads 4.55 A with 1.1 Ohm."""
    answer = learner.post(f"{attempt}readings/", {"place": "TP7", "phase": "prime"})

    assert answer.status_code == 201
    assert float(answer.data["text"].removesuffix(" A")) == pytest.approx(4.55, abs=0.06)


def test_the_wrong_fault_is_answered_by_the_reading_that_excludes_it(learner, attempt) -> None:
    """0.07 V of ground drop leaves the ground no ohms, and then the pump would get 11.71 V."""
    for place in ("TP1", "TP2", "TP4"):
        learner.post(f"{attempt}readings/", {"place": place, "phase": "prime"})
    answer = learner.put(f"{attempt}fault/", {"suspect": GROUND_FAULT})

    assert answer.data["answer"]["outcome"] == "does not fit"
    assert answer.data["answer"]["claim"] == FEED_FAULT
    assert answer.data["answer"]["because"].startswith("TP2 in 'prime' was logged as 6.79 V")
    assert "11.71 V" in answer.data["answer"]["because"]


def test_nothing_gives_the_answer_away_before_the_fault_is_named(
    learner, case, exercise, attempt
) -> None:
    learner.post(f"{attempt}readings/", {"place": "TP2", "phase": "prime"})
    task = learner.get(exercise)
    running = learner.get(attempt)
    search = learner.post("/api/search/", {"circuit": "fuel-pump", "codes": ["P0087"]})
    listed = learner.get("/api/exercises/")

    assert learner.get(f"/api/cases/{case.pk}/").status_code == 404
    assert learner.get("/api/cases/").data["count"] == 0
    assert search.data["compared"] == 0
    assert running.data["answer"] is None
    assert running.data["case"] is None
    for answer in (task, running, search, listed):
        assert answer.status_code == 200
        for secret in SECRETS:
            assert secret not in str(answer.data), secret
    assert task.data["complaint"] == case.complaint
    assert [row["complaint"] for row in listed.data["results"]] == [case.complaint]
    assert task.data["codes"][0]["code"] == "P0087"


def test_a_fault_is_named_only_after_a_reading_and_only_once(learner, attempt) -> None:
    early = learner.put(f"{attempt}fault/", {"suspect": FEED_FAULT})
    learner.post(f"{attempt}readings/", {"place": "TP2", "phase": "prime"})
    unknown = learner.put(f"{attempt}fault/", {"suspect": "resistance:C4"})
    learner.put(f"{attempt}fault/", {"suspect": FEED_FAULT})
    twice = learner.put(f"{attempt}fault/", {"suspect": FEED_FAULT})
    late = learner.post(f"{attempt}readings/", {"place": "TP4", "phase": "prime"})

    assert (early.status_code, early.data["code"]) == (409, "nothing_to_judge")
    assert (unknown.status_code, unknown.data["code"]) == (400, "unknown_fault")
    assert (twice.status_code, twice.data["code"]) == (409, "already_answered")
    assert (late.status_code, late.data["code"]) == (409, "already_answered")


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ({"place": "TP9", "phase": "prime"}, "place_not_in_circuit"),
        ({"place": "TP2", "phase": "primed"}, "phase_not_in_circuit"),
        ({"place": "TP2", "phase": "prime", "rig": {"unplugged": ["X"]}}, "bad_rig"),
        ({"place": "TP2"}, "bad_fields"),
        ({"place": "TP2", "phase": "prime", "rig": {"lamp_watts": -1}}, "bad_fields"),
    ],
)
def test_a_reading_that_cannot_be_taken_is_refused(learner, attempt, asked, code) -> None:
    answer = learner.post(f"{attempt}readings/", asked)

    assert (answer.status_code, answer.data["code"]) == (400, code)
    assert learner.get(attempt).data["asked"] == []


def test_only_a_trainer_sets_an_exercise_and_only_of_a_shared_case(
    trainer, learner, technician, cast, case, fuel_pump
) -> None:
    own = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    by_learner = learner.post("/api/exercises/", {"case": case.pk, "shop": "fennick"})
    elsewhere = trainer.post("/api/exercises/", {"case": case.pk, "shop": "kestrel"})
    unseen = trainer.post("/api/exercises/", {"case": own.pk, "shop": "fennick"})

    assert (by_learner.status_code, by_learner.data["code"]) == (403, "trainers_only")
    assert [error["field"] for error in elsewhere.data["errors"]] == ["shop"]
    assert [error["field"] for error in unseen.data["errors"]] == ["case"]
    assert not Exercise.objects.exists()


def test_a_list_of_exercises_costs_the_same_queries_for_two_as_for_ten(
    trainer, cast, fuel_pump, django_assert_max_num_queries
) -> None:
    counts = []
    for more in (2, 8):
        for _ in range(more):
            one = shared(logged(cast, fuel_pump, claim=FEED_FAULT), by=cast.technician)
            open_exercise(case=one, shop=cast.college, by=cast.trainer, at=MONDAY)
        trainer.get("/api/exercises/")
        with django_assert_max_num_queries(20) as queries:
            trainer.get("/api/exercises/")
        counts.append(len(queries))

    assert trainer.get("/api/exercises/").data["count"] == 10
    assert counts[0] == counts[1]


def test_an_exercise_is_closed_by_its_trainer(trainer, learner, exercise) -> None:
    refused = learner.delete(exercise)
    closed = trainer.delete(exercise)

    assert (refused.status_code, refused.data["code"]) == (403, "trainers_only")
    assert closed.status_code == 204
    assert learner.get(exercise).status_code == 404


def test_an_attempt_goes_out_of_sight_with_a_case_that_is_taken_back(
    technician, learner, case, exercise, attempt
) -> None:
    learner.post(f"{attempt}readings/", {"place": "TP2", "phase": "prime"})
    learner.put(f"{attempt}fault/", {"suspect": FEED_FAULT})
    technician.delete(f"/api/cases/{case.pk}/share/")

    assert learner.get(attempt).status_code == 404
    assert learner.get(exercise).status_code == 404


def test_ones_attempts_are_ones_own(trainer, learner, outsider, exercise, attempt) -> None:
    rows = learner.get(f"{exercise}attempts/").data["results"]

    assert [row["answered_at"] for row in rows] == [None]
    assert trainer.get(f"{exercise}attempts/").data["count"] == 0
    assert trainer.get(attempt).status_code == 404
    assert outsider.get(attempt).status_code == 404
    assert outsider.get(exercise).status_code == 404
    assert outsider.post(f"{exercise}attempts/").status_code == 404


def test_an_exercise_that_runs_is_gone_on_with(learner, exercise, attempt) -> None:
    again = learner.post(f"{exercise}attempts/")

    assert attempt == f"/api/attempts/{again.data['id']}/"
    assert again.data["started_at"] > MONDAY.isoformat()
