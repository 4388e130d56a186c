"""What a class made of an exercise, counted and without names.

How a learner went about it is for that learner's eyes. A trainer needs to know what the class as a
whole fell for, so people are counted, each by their first answer: after it they have seen the case.
They are counted by fives, in the order in which they answered: from a count of three, whoever knows
two answers has the third, and from two counts that differ by one person, anybody has that one.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from django.contrib.auth.models import User

from cases.documents.readings import Rig
from cases.documents.verdicts import AnswerDocument
from cases.models import AskedReading, Attempt, Exercise
from cases.services.exercises import rig_of
from cases.services.shops import require_trainer

#: So many people are added to the counts at once.
COUNTED_TOGETHER = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedFault:
    """A fault that somebody named, and what the verdict said of it on their readings."""

    suspect: str
    people: int
    fits: int
    does_not_fit: int
    cannot_say: int
    is_the_claim: bool
    is_a_twin: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedPlace:
    """A reading that somebody asked for, with how many did."""

    place: str
    phase: str
    rig: Rig
    people: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftStanding:
    """A fault that the readings of so many people had not excluded when they named another."""

    suspect: str
    people: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassResults:
    """A class at an exercise; `readings` and `minutes` are those of the person in the middle.

    `counted` of those who answered are in all that stands below it; the others join in once there
    are `COUNTED_TOGETHER` of them.
    """

    began: int
    answered: int
    counted: int = 0
    readings: float = 0
    minutes: float = 0
    named: tuple[NamedFault, ...] = ()
    asked: tuple[AskedPlace, ...] = ()
    left_standing: tuple[LeftStanding, ...] = ()


def class_results(*, exercise: Exercise, by: User) -> ClassResults:
    """Return what a class made of an exercise, for its trainers alone.

    Raises
    ------
    TrainersOnly
        This person trains nobody there.
    """
    require_trainer(exercise.shop, by, "see what the class answered")
    attempts = exercise.attempts.prefetch_related("asked").order_by("started_at", "pk")
    began = {attempt.learner_id for attempt in attempts}
    first: dict[int, Attempt] = {}
    for attempt in attempts:
        if attempt.answered_at is not None:
            first.setdefault(attempt.learner_id, attempt)
    in_order = sorted(first.values(), key=lambda attempt: (attempt.answered_at, attempt.pk))
    counted = in_order[: len(in_order) // COUNTED_TOGETHER * COUNTED_TOGETHER]
    if not counted:
        return ClassResults(began=len(began), answered=len(first))
    asked = [list(attempt.asked.all()) for attempt in counted]
    answers = [AnswerDocument.model_validate(attempt.answer) for attempt in counted]
    return ClassResults(
        began=len(began),
        answered=len(first),
        counted=len(counted),
        readings=median(map(len, asked)),
        minutes=median(sum(each.minutes for each in row) for row in asked),
        named=tuple(_named(answers)),
        asked=tuple(_asked(asked)),
        left_standing=tuple(
            LeftStanding(suspect=suspect, people=people)
            for suspect, people in Counter(
                rival for answer in answers for rival in answer.rivals
            ).most_common()
        ),
    )


def _named(answers: Sequence[AnswerDocument]) -> Iterable[NamedFault]:
    by_suspect: dict[str, list[AnswerDocument]] = defaultdict(list)
    for answer in answers:
        by_suspect[answer.named].append(answer)
    for suspect, same in sorted(by_suspect.items(), key=lambda each: -len(each[1])):
        outcomes = Counter(answer.outcome for answer in same)
        yield NamedFault(
            suspect=suspect,
            people=len(same),
            fits=outcomes["fits"],
            does_not_fit=outcomes["does not fit"],
            cannot_say=outcomes["cannot say"],
            is_the_claim=same[0].is_the_claim,
            is_a_twin=any(answer.is_a_twin_of_the_claim for answer in same),
        )


def _asked(rows: Sequence[Sequence[AskedReading]]) -> Iterable[AskedPlace]:
    people: Counter[tuple[str, str, Rig]] = Counter()
    for row in rows:
        people.update({(each.place_key, each.phase_key, rig_of(each)) for each in row})
    for (place, phase, rig), count in people.most_common():
        yield AskedPlace(place=place, phase=phase, rig=rig, people=count)
