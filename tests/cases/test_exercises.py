"""A shared case as an exercise: nothing of part or outcome shows before a fault is named."""

from dataclasses import asdict
from typing import Any

import pytest

from cases.documents.readings import Rig
from cases.errors import (
    AlreadyAnswered,
    BadFact,
    BadRig,
    CircuitNotKnown,
    NotAMember,
    NothingToJudge,
    NotShared,
    PlaceNotInCircuit,
    TrainersOnly,
    UnknownFault,
)
from cases.models import HEALTHY, Case, Exercise
from cases.services.exercises import (
    answer_of,
    ask_reading,
    close_exercise,
    minutes_for,
    name_fault,
    open_exercise,
    start_attempt,
    task_of,
)
from cases.services.meter import shown_reading
from cases.services.searching import search_cases
from cases.services.sharing import share_case, take_back_share
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    GROUND_FAULT,
    MONDAY,
    SOUND_READINGS,
    Cast,
    logged,
    repaired,
    shared,
)
from tests.readings import readings

SECRET = "terminal and both halves"


@pytest.fixture
def solved(cast: Cast, fuel_pump: Revision) -> Case:
    """A case with 1.1 Ohm in C40, read at the pump alone and unplugged."""
    table = "prime\nTP1 12.35\nTP2 6.79\nTP3 5.49"
    case = logged(cast, fuel_pump, table, claim=FEED_FAULT)
    case = repaired(
        case, SOUND_READINGS, by=cast.technician, what_decided="the drop in the feed at C40"
    )
    return shared(case, by=cast.technician)


@pytest.fixture
def exercise(cast: Cast, solved: Case) -> Exercise:
    return open_exercise(case=solved, shop=cast.college, by=cast.trainer, at=MONDAY)


def ask(cast: Cast, exercise: Exercise, place: str, phase: str = "prime", **rig: Any) -> str:
    attempt = start_attempt(exercise=exercise, by=cast.learner, at=MONDAY)
    return ask_reading(
        attempt=attempt,
        place=place,
        phase=phase,
        rig=Rig.model_validate(rig),
        by=cast.learner,
        at=MONDAY,
    ).text


def test_only_a_trainer_sets_an_exercise_and_only_of_a_shared_case(
    cast: Cast, solved: Case, fuel_pump: Revision
) -> None:
    with pytest.raises(TrainersOnly):
        open_exercise(case=solved, shop=cast.college, by=cast.learner, at=MONDAY)
    with pytest.raises(TrainersOnly):
        open_exercise(case=solved, shop=cast.college, by=cast.outsider, at=MONDAY)
    take_back_share(case=solved, by=cast.technician, at=MONDAY)
    with pytest.raises(NotShared):
        open_exercise(case=solved, shop=cast.college, by=cast.trainer, at=MONDAY)


def test_a_case_without_circuit_or_claim_has_no_answer_to_work_towards(
    cast: Cast, fuel_pump: Revision
) -> None:
    story = shared(logged(cast, None), by=cast.technician)
    unclaimed = shared(logged(cast, fuel_pump, "prime\nTP2 6.79"), by=cast.technician)

    with pytest.raises(CircuitNotKnown):
        open_exercise(case=story, shop=cast.college, by=cast.trainer, at=MONDAY)
    with pytest.raises(BadFact, match="claims no fault"):
        open_exercise(case=unclaimed, shop=cast.college, by=cast.trainer, at=MONDAY)


def test_the_case_is_out_of_the_learners_sight_until_answered(
    cast: Cast, solved: Case, exercise: Exercise, fuel_pump: Revision
) -> None:
    """Lists, pages, search and files all start from the same queryset, so it is asked once."""

    def found() -> bool:
        result = search_cases(
            user=cast.learner, at=MONDAY, revision=fuel_pump, readings=readings("prime\nTP2 6.79")
        )
        return not result.nothing_similar

    assert not Case.objects.visible_to(cast.learner).exists()
    assert not found()
    assert Case.objects.visible_to(cast.trainer).exists()
    assert Case.objects.visible_to(cast.outsider).exists()
    assert Exercise.objects.visible_to(cast.learner).get() == exercise
    assert not Exercise.objects.visible_to(cast.outsider).exists()

    ask(cast, exercise, "TP2")
    attempt = exercise.attempts.get()
    name_fault(attempt=attempt, suspect=FEED_FAULT, by=cast.learner, at=MONDAY)

    assert Case.objects.visible_to(cast.learner).get() == solved
    assert found()


def test_the_task_tells_nothing_of_part_outcome_or_people(cast: Cast, exercise: Exercise) -> None:
    task = task_of(exercise)
    shown = {
        name: value
        for name, value in ((field, getattr(task, field)) for field in task.__slots__)
        if name not in ("exercise", "revision", "circuit")
    }
    words = str(shown)

    assert "Loses power" in words
    for secret in (SECRET, "C40", FEED_FAULT, "fixed", "verified", "TEST 042", "tarn"):
        assert secret not in words


def test_a_reading_that_was_logged_is_shown_as_logged(cast: Cast, exercise: Exercise) -> None:
    assert ask(cast, exercise, "TP2") == "6.79"
    assert exercise.attempts.get().asked.get().from_record


def test_any_other_is_what_a_meter_would_show_under_the_cases_own_fault(
    cast: Cast, exercise: Exercise
) -> None:
    """Ground drop 4.55 A x 14.9 mOhm = 0.068 V; the clamp 4.55 A; unplugged, no drop at all."""
    assert ask(cast, exercise, "TP4") == "0.07 V"
    assert ask(cast, exercise, "TP7") in ("4.5 A", "4.6 A")
    assert ask(cast, exercise, "TP2", unplugged=["PUMP"]) == "12.40 V"
    assert [asked.from_record for asked in exercise.attempts.get().asked.all()] == [False] * 3


def test_readings_taken_after_the_repair_are_not_given_away(cast: Cast, exercise: Exercise) -> None:
    """TP4 was read after the repair alone, 0.08 V; the learner meets the car as it came."""
    assert ask(cast, exercise, "TP4") == "0.07 V"


def test_every_reading_costs_its_minutes(cast: Cast, exercise: Exercise) -> None:
    circuit = task_of(exercise).circuit

    assert minutes_for(circuit, "TP2", Rig()) == 2
    assert minutes_for(circuit, "TP7", Rig()) == 3
    assert minutes_for(circuit, "TP2", Rig(unplugged=("PUMP",), lamp_watts=21)) == 7


@pytest.mark.parametrize(
    ("place", "rig", "refusal"),
    [
        ("TP77", {}, PlaceNotInCircuit),
        ("TP1", {"unplugged": ["PUMP"]}, BadRig),
        ("TP2", {"unplugged": ["PUMP"], "lamp_watts": 55}, BadRig),
        ("TP1", {"lamp_watts": 5}, BadRig),
        ("TP2", {"bridged": [["K30", "K87"]]}, BadRig),
    ],
)
def test_a_move_that_the_circuit_does_not_allow_is_refused(
    cast: Cast, exercise: Exercise, place: str, rig: dict[str, Any], refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        ask(cast, exercise, place, **rig)
    assert not exercise.attempts.get().asked.exists()


def test_no_fault_is_named_before_a_reading_is_taken(cast: Cast, exercise: Exercise) -> None:
    attempt = start_attempt(exercise=exercise, by=cast.learner, at=MONDAY)

    with pytest.raises(NothingToJudge):
        name_fault(attempt=attempt, suspect=FEED_FAULT, by=cast.learner, at=MONDAY)
    attempt.refresh_from_db()

    assert answer_of(attempt) is None


def test_the_answer_is_the_verdict_on_the_readings_that_were_asked_for(
    cast: Cast, exercise: Exercise
) -> None:
    """The pump's volts alone cannot part feed from ground: the right name has its rivals."""
    ask(cast, exercise, "TP1")
    ask(cast, exercise, "TP2")
    attempt = exercise.attempts.get()
    name_fault(attempt=attempt, suspect=FEED_FAULT, by=cast.learner, at=MONDAY)
    answer = answer_of(exercise.attempts.get())
    assert answer is not None

    assert answer.outcome == "fits"
    assert answer.is_the_claim
    assert GROUND_FAULT in answer.rivals


def test_a_wrong_name_is_answered_by_the_reading_that_excludes_it(
    cast: Cast, exercise: Exercise
) -> None:
    for place in ("TP1", "TP2", "TP3"):
        ask(cast, exercise, place)
    attempt = exercise.attempts.get()
    name_fault(attempt=attempt, suspect=GROUND_FAULT, by=cast.learner, at=MONDAY)
    answer = answer_of(exercise.attempts.get())
    assert answer is not None

    assert answer.outcome == "does not fit"
    assert "TP" in answer.because
    assert not answer.is_the_claim
    assert answer.claim == FEED_FAULT


def test_a_twin_is_as_good_an_answer_as_the_part_itself(cast: Cast, exercise: Exercise) -> None:
    """The inertia switch sits in the same wire: no listed place lies between it and C40."""
    for place in ("TP1", "TP2", "TP3", "TP5"):
        ask(cast, exercise, place)
    attempt = exercise.attempts.get()
    name_fault(attempt=attempt, suspect="resistance:INERT", by=cast.learner, at=MONDAY)
    answer = answer_of(exercise.attempts.get())
    assert answer is not None

    assert answer.outcome == "fits"
    assert answer.is_a_twin_of_the_claim
    assert not answer.is_the_claim


def test_readings_that_tell_nothing_are_answered_with_cannot_say(
    cast: Cast, exercise: Exercise
) -> None:
    ask(cast, exercise, "TP2", unplugged=["PUMP"])
    attempt = exercise.attempts.get()
    name_fault(attempt=attempt, suspect=FEED_FAULT, by=cast.learner, at=MONDAY)
    answer = answer_of(exercise.attempts.get())
    assert answer is not None

    assert answer.outcome == "cannot say"
    assert HEALTHY in answer.rivals


def test_an_answered_attempt_is_over_and_another_can_begin(cast: Cast, exercise: Exercise) -> None:
    ask(cast, exercise, "TP2")
    attempt = exercise.attempts.get()
    with pytest.raises(UnknownFault):
        name_fault(attempt=attempt, suspect="resistance:XX", by=cast.learner, at=MONDAY)
    name_fault(attempt=attempt, suspect=FEED_FAULT, by=cast.learner, at=MONDAY)

    with pytest.raises(AlreadyAnswered):
        ask_reading(attempt=attempt, place="TP3", phase="prime", by=cast.learner, at=MONDAY)
    again = start_attempt(exercise=exercise, by=cast.learner, at=MONDAY)

    assert again != attempt
    assert not again.asked.exists()


def test_an_attempt_belongs_to_its_learner(cast: Cast, exercise: Exercise) -> None:
    attempt = start_attempt(exercise=exercise, by=cast.learner, at=MONDAY)

    assert start_attempt(exercise=exercise, by=cast.learner, at=MONDAY) == attempt
    with pytest.raises(NotAMember):
        start_attempt(exercise=exercise, by=cast.outsider, at=MONDAY)
    with pytest.raises(NotAMember):
        ask_reading(attempt=attempt, place="TP2", phase="prime", by=cast.trainer, at=MONDAY)


def test_a_case_taken_back_takes_its_exercise_with_it(
    cast: Cast, solved: Case, exercise: Exercise
) -> None:
    attempt = start_attempt(exercise=exercise, by=cast.learner, at=MONDAY)
    take_back_share(case=solved, by=cast.technician, at=MONDAY)

    assert not Exercise.objects.visible_to(cast.learner).exists()
    with pytest.raises(NotShared):
        ask_reading(attempt=attempt, place="TP2", phase="prime", by=cast.learner, at=MONDAY)
    with pytest.raises(NotShared):
        start_attempt(exercise=exercise, by=cast.learner, at=MONDAY)


def test_a_closed_exercise_shows_the_case_again(
    cast: Cast, solved: Case, exercise: Exercise
) -> None:
    with pytest.raises(TrainersOnly):
        close_exercise(exercise=exercise, by=cast.learner, at=MONDAY)
    close_exercise(exercise=exercise, by=cast.trainer, at=MONDAY)

    assert Case.objects.visible_to(cast.learner).get() == solved


def test_a_circuit_in_order_can_be_the_answer(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump, SOUND_READINGS, claim=HEALTHY)
    share_case(case=case, by=cast.technician, at=MONDAY)
    exercise = open_exercise(case=case, shop=cast.college, by=cast.trainer, at=MONDAY)

    assert ask(cast, exercise, "TP7") in ("5.1 A", "5.2 A")
    name_fault(attempt=exercise.attempts.get(), suspect=HEALTHY, by=cast.learner, at=MONDAY)
    answer = answer_of(exercise.attempts.get())
    assert answer is not None

    assert answer.outcome == "fits"
    assert answer.is_the_claim


def test_setting_an_exercise_twice_keeps_the_one(
    cast: Cast, solved: Case, exercise: Exercise
) -> None:
    again = open_exercise(case=solved, shop=cast.college, by=cast.trainer, at=MONDAY)

    assert again == exercise


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (6.7934, "V", "6.79 V"),
        (0.00392, "mV", "3.9 mV"),
        (-0.001, "V", "0.00 V"),
        (-0.96, "V", "-0.96 V"),
        (148.697, "A", "148.7 A"),
        (0.0175, "mA", "17.5 mA"),
    ],
)
def test_a_meter_shows_its_own_steps(value: float, unit: str, shown: str) -> None:
    assert shown_reading(value, unit) == shown


def test_the_answer_travels_without_loss(cast: Cast, exercise: Exercise) -> None:
    ask(cast, exercise, "TP2")
    name_fault(attempt=exercise.attempts.get(), suspect=FEED_FAULT, by=cast.learner, at=MONDAY)
    attempt = exercise.attempts.get()
    answer = answer_of(attempt)
    assert answer is not None

    assert answer.as_data() == attempt.answer
    assert asdict(cast)["learner"] == attempt.learner
