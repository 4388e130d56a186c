"""A trainer sets a shared case; a learner asks for readings, names a fault and is answered."""

import json
from dataclasses import replace

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from cases.models import Attempt, Case, Exercise, Role
from cases.services.class_results import class_results
from cases.services.exercises import ask_reading, name_fault, start_attempt
from cases.services.shops import add_member
from tests.api.rest import program_of
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    MONDAY,
    SOUND_READINGS,
    Cast,
    logged,
    repaired,
    shared,
)
from tests.pages.words import words_of

#: What gives the answer away: part, verdict on the claim, what decided.
ANSWER = ("Connector C40, terminal", "fits the readings", "the plug was brown")


@pytest.fixture
def lesson(cast: Cast, fuel_pump, visit) -> Case:
    """The feed fault, repaired and shared, set as an exercise by the trainer on its page."""
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    case = repaired(case, SOUND_READINGS, by=cast.technician, what_decided="the plug was brown")
    case = shared(case, by=cast.technician)
    visit(cast.trainer).post(
        reverse("cases:set-exercise", args=[case.pk]), {"shop": str(cast.college.pk)}
    )
    return case


def _begun(learner: Client) -> str:
    exercise = Exercise.objects.get()
    learner.post(reverse("cases:start-attempt", args=[exercise.pk]))
    return reverse("cases:attempt", args=[Attempt.objects.get().pk])


def test_nothing_gives_the_answer_away_before_a_fault_is_named(
    cast: Cast, lesson: Case, visit
) -> None:
    learner = visit(cast.learner)
    attempt = _begun(learner)
    learner.post(attempt, {"place": "TP2", "phase": "prime"})
    places = ["/", reverse("cases:list"), reverse("cases:exercises"), attempt]
    places.append(f"{reverse('cases:search')}?words=P0087+loses+power+motorway")
    for address in places:
        words = words_of(learner.get(address))
        for given_away in ANSWER:
            assert given_away not in words, address

    assert learner.get(reverse("cases:case", args=[lesson.pk])).status_code == 404
    assert learner.get(reverse("cases:file", args=[lesson.pk])).status_code == 404


def test_a_logged_reading_is_shown_as_logged_and_another_as_the_meter_would_show_it(
    cast: Cast, lesson: Case, visit
) -> None:
    """TP2 was logged as 6.79; running it was not: 1.1 Ohm leaves the pump 8.35 V of 14.17 V."""
    learner = visit(cast.learner)
    attempt = _begun(learner)
    for phase in ("prime", "run"):
        learner.post(attempt, {"place": "TP2", "phase": phase})
    shown = [asked.text for asked in Attempt.objects.get().asked.all()]

    assert shown[0] == "6.79"
    assert float(shown[1].removesuffix(" V")) == pytest.approx(8.35, abs=0.05)
    assert "4 minutes on the bench" in words_of(learner.get(attempt))


def test_no_fault_can_be_named_before_a_reading(cast: Cast, lesson: Case, visit) -> None:
    learner = visit(cast.learner)
    attempt = _begun(learner)
    assert "Ask for at least one reading first." in words_of(learner.get(attempt))

    address = reverse("cases:name-fault", args=[Attempt.objects.get().pk])
    refused = learner.post(address, {"suspect": FEED_FAULT})
    assert refused.status_code == 422
    assert "Ask for at least one reading before you name a fault." in words_of(refused)


def test_the_verdict_answers_on_the_readings_asked_for_and_then_the_case_opens(
    cast: Cast, lesson: Case, visit
) -> None:
    """Volts at the pump alone cannot part feed from ground: the ground stays standing."""
    learner = visit(cast.learner)
    attempt = _begun(learner)
    learner.post(attempt, {"place": "TP2", "phase": "prime"})
    address = reverse("cases:name-fault", args=[Attempt.objects.get().pk])
    answer = learner.post(address, {"suspect": FEED_FAULT}, follow=True)
    words = words_of(answer)

    assert "fits the readings you asked for" in words
    assert "It is what the case found." in words
    left_standing = words.partition("leave standing besides")[2].partition("The case")[0]
    assert "W4: wire with high resistance or open" in left_standing
    assert "Connector C40, terminal and both halves" in words
    assert learner.get(reverse("cases:case", args=[lesson.pk])).status_code == 200


def test_the_wrong_side_is_told_by_the_reading_that_excludes_it(
    cast: Cast, lesson: Case, visit
) -> None:
    learner = visit(cast.learner)
    attempt = _begun(learner)
    learner.post(attempt, {"place": "TP4", "phase": "prime"})
    learner.post(attempt, {"place": "TP3", "phase": "prime"})
    address = reverse("cases:name-fault", args=[Attempt.objects.get().pk])
    words = words_of(learner.post(address, {"suspect": GROUND_FAULT}, follow=True))

    assert "does not fit the readings you asked for" in words
    assert "The case found something else." in words
    assert "TP" in words.partition("What decided:")[2][:20]


def test_a_case_that_is_taken_back_is_gone_from_the_exercise(
    cast: Cast, lesson: Case, visit
) -> None:
    learner = visit(cast.learner)
    attempt = _begun(learner)
    visit(cast.technician).post(reverse("cases:share", args=[lesson.pk]), {"take_back": "1"})

    assert learner.get(attempt).status_code == 404
    assert lesson.complaint not in words_of(learner.get(reverse("cases:exercises")))


def test_only_a_trainer_of_the_class_sets_and_ends_an_exercise(
    cast: Cast, lesson: Case, visit
) -> None:
    exercise = Exercise.objects.get()
    learner = visit(cast.learner)
    ended = learner.post(reverse("cases:end-exercise", args=[exercise.pk]))
    assert ended.status_code == 403

    visit(cast.trainer).post(reverse("cases:end-exercise", args=[exercise.pk]))
    assert Exercise.objects.get().closed_at is not None


def _answers(exercise: Exercise, person: User, places: str, fault: str) -> None:
    attempt = start_attempt(exercise=exercise, by=person, at=MONDAY)
    for place in places.split():
        ask_reading(attempt=attempt, place=place, phase="prime", by=person, at=MONDAY)
    name_fault(attempt=attempt, suspect=fault, by=person, at=MONDAY)


def _learners(cast: Cast, names: str) -> list[User]:
    people = [User.objects.create_user(name) for name in names.split()]
    for person in people:
        add_member(shop=cast.college, user=person, role=Role.TECHNICIAN, by=cast.trainer, at=MONDAY)
    return people


def test_a_trainer_sees_what_a_class_of_five_answered_and_no_name(
    cast: Cast, lesson: Case, visit
) -> None:
    """Four read at the pump alone, which cannot part feed from ground; the fifth read both drops.
    An answer given after the case was seen does not count."""
    exercise = Exercise.objects.get()
    ida, bert, cleo, dirk = _learners(cast, "ida bert cleo dirk")
    address = reverse("cases:class-answers", args=[exercise.pk])
    trainer = visit(cast.trainer)
    for person in (cast.learner, ida, bert, cleo):
        _answers(exercise, person, "TP2", GROUND_FAULT)
    of_four = words_of(trainer.get(address))
    _answers(exercise, dirk, "TP2 TP3 TP4", FEED_FAULT)
    _answers(exercise, ida, "TP3", FEED_FAULT)
    page = trainer.get(address)
    words = words_of(page)
    rest = program_of(cast.trainer).get(f"/api/exercises/{exercise.pk}/class/").data

    assert "4 began, 4 answered." in of_four
    assert "shown 5 people at a time" in of_four
    assert "W4" not in of_four
    results = page.context["sheet"].results
    assert (results.began, results.answered, results.counted) == (5, 5, 5)
    assert (results.readings, results.minutes) == (1, 2)
    assert [(each.suspect, each.people, each.is_the_claim) for each in results.named] == [
        (GROUND_FAULT, 4, False),
        (FEED_FAULT, 1, True),
    ]
    assert {each.place: each.people for each in results.asked} == {"TP2": 5, "TP3": 1, "TP4": 1}
    left = {each.suspect: each.people for each in results.left_standing}
    assert left[FEED_FAULT] == 4
    assert GROUND_FAULT not in left
    assert "C40: connector with high resistance or open" in words
    for person in (cast.learner, ida, bert, cleo, dirk):
        assert person.username not in words
        assert not person.last_name or person.last_name not in words
        assert person.username not in json.dumps(rest)
    assert rest["counted"] == 5
    assert [(row["suspect"], row["people"]) for row in rest["named"]] == [
        (GROUND_FAULT, 4),
        (FEED_FAULT, 1),
    ]


def test_whoever_answers_sixth_is_not_told_by_the_difference(cast: Cast, lesson: Case) -> None:
    """Two counts that differ by one person give that person's answer away."""
    exercise = Exercise.objects.get()
    sixth, *others = _learners(cast, "ada ida bert cleo dirk")
    for person in (cast.learner, *others):
        _answers(exercise, person, "TP2", GROUND_FAULT)
    before = class_results(exercise=exercise, by=cast.trainer)
    _answers(exercise, sixth, "TP3", FEED_FAULT)
    after = class_results(exercise=exercise, by=cast.trainer)

    assert (before.answered, after.answered) == (5, 6)
    assert replace(after, began=5, answered=5) == before


def test_what_a_class_answered_is_there_for_its_trainers_alone_and_after_the_end_too(
    cast: Cast, lesson: Case, visit
) -> None:
    exercise = Exercise.objects.get()
    address = reverse("cases:class-answers", args=[exercise.pk])
    seen = {
        name: visit(person).get(address).status_code
        for name, person in (
            ("learner", cast.learner),
            ("owner of the case", cast.owner),
            ("outsider", cast.outsider),
        )
    }
    trainer = visit(cast.trainer)
    ended = trainer.post(reverse("cases:end-exercise", args=[exercise.pk]))
    listed = trainer.get(reverse("cases:exercises")).content.decode()

    programs = [program_of(person) for person in (cast.learner, cast.owner, cast.outsider)]
    told = [each.get(f"/api/exercises/{exercise.pk}/class/").status_code for each in programs]
    assert set(seen.values()) == {404}
    assert set(told) == {404}
    assert ended["Location"] == address
    assert trainer.get(address).status_code == 200
    assert address in listed
    visit(cast.technician).post(reverse("cases:share", args=[lesson.pk]), {"take_back": "1"})
    assert trainer.get(address).status_code == 404


def test_the_list_of_exercises_costs_as_many_queries_for_four_as_for_two(
    cast: Cast, fuel_pump, visit
) -> None:
    learner, trainer = visit(cast.learner), visit(cast.trainer)
    counts = []
    for _ in range(2):
        for _ in range(2):
            case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
            shared(case, by=cast.technician)
            sent = {"shop": str(cast.college.pk)}
            trainer.post(reverse("cases:set-exercise", args=[case.pk]), sent)
        with CaptureQueriesContext(connection) as queries:
            page = learner.get(reverse("cases:exercises"))
        counts.append(len(queries))

    assert len(page.context["entries"]) == 4
    assert counts[0] == counts[1]
