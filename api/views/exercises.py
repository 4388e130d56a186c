"""Exercises: set a shared case, ask for readings, name the fault, be answered."""

from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import generics, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from api.errors import BadFields, Problem
from api.schema import operation
from api.serializers.cases import CaseShown
from api.serializers.documents import as_json, read_document
from api.serializers.exercises import (
    AskedShown,
    Asking,
    AttemptRow,
    AttemptShown,
    ClassShown,
    ExerciseRow,
    Naming,
    NewExercise,
    TaskShown,
)
from api.views.finding import shop_named, signed_in
from cases.models import Attempt, Case, Exercise
from cases.services import exercises as services
from cases.services.class_results import class_results
from cases.services.sharing import shared_view, summaries


class Exercises(generics.ListAPIView[Exercise]):
    """The exercises of your shops and classes."""

    queryset = Exercise.objects.none()
    filter_backends = ()

    def get_queryset(self) -> QuerySet[Exercise]:
        """Return the exercises that this person may work on."""
        return visible_exercises(self.request)

    @operation("Exercises of your shops and classes", answer=ExerciseRow)
    def get(self, request: Request) -> Response:
        page = self.paginate_queryset(self.get_queryset())
        return self.get_paginated_response(_rows(request, page or ()))

    @operation(
        "Set a shared case as an exercise",
        takes=NewExercise,
        answer=ExerciseRow,
        status=201,
        refusals=(409,),
        words="For a trainer or an owner. From then on the learners of that shop see the case only"
        " here, until they have named a fault.",
    )
    def post(self, request: Request) -> Response:
        wanted = read_document(NewExercise, request.data)
        case = Case.objects.visible_to(signed_in(request)).filter(pk=wanted.case).first()
        if case is None:
            problem = "There is no such case, or you may not see it."
            raise BadFields([Problem(field="case", detail=problem)])
        exercise = services.open_exercise(
            case=case,
            shop=shop_named(request, wanted.shop, "shop"),
            by=signed_in(request),
            at=timezone.now(),
        )
        return Response(
            _rows(request, [exercise])[0],
            status=status.HTTP_201_CREATED,
            headers={"Location": reverse("rest:exercise", args=(exercise.pk,), request=request)},
        )


class OneExercise(APIView):
    """An exercise."""

    @operation("What is known of the case: complaint, codes and circuit", answer=TaskShown)
    def get(self, request: Request, pk: int) -> Response:
        return Response(TaskShown.of(services.task_of(the_exercise(request, pk))))

    @operation("Close an exercise; what learners did stays theirs", answer=None, status=204)
    def delete(self, request: Request, pk: int) -> Response:
        services.close_exercise(
            exercise=the_exercise(request, pk), by=signed_in(request), at=timezone.now()
        )
        return Response(status=status.HTTP_204_NO_CONTENT)


class ClassAnswers(APIView):
    """What a class made of an exercise."""

    @operation(
        "What the class answered, counted and without names",
        answer=ClassShown,
        words="For its trainers and owners alone, after the end too. People are counted by fives,"
        " in the order in which they answered, each by the first answer: so that nobody can be told"
        " apart. `counted` says how many of those who answered that is.",
    )
    def get(self, request: Request, pk: int) -> Response:
        user = signed_in(request)
        exercise = get_object_or_404(Exercise.objects.trained_by(user).with_task(), pk=pk)
        return Response(ClassShown.of(class_results(exercise=exercise, by=user)))


class Attempts(generics.ListAPIView[Attempt]):
    """Your attempts at an exercise."""

    queryset = Attempt.objects.none()
    filter_backends = ()

    def get_queryset(self) -> QuerySet[Attempt]:
        """Return this person's attempts at the exercise that the address names."""
        exercise = the_exercise(self.request, self.kwargs["pk"])
        return exercise.attempts.filter(pk__in=Attempt.objects.visible_to(signed_in(self.request)))

    @operation("Your attempts at an exercise, the newest first", answer=AttemptRow)
    def get(self, request: Request, pk: int) -> Response:
        page = self.paginate_queryset(self.get_queryset())
        return self.get_paginated_response([AttemptRow.of(row) for row in page or ()])

    @operation(
        "Begin an exercise, or go on with the attempt that is running",
        answer=AttemptShown,
        status=201,
        refusals=(409,),
    )
    def post(self, request: Request, pk: int) -> Response:
        attempt = services.start_attempt(
            exercise=the_exercise(request, pk), by=signed_in(request), at=timezone.now()
        )
        answer = _shown(request, attempt.pk)
        answer.status_code = status.HTTP_201_CREATED
        return answer


class OneAttempt(APIView):
    """One of your attempts."""

    @operation("One of your attempts, with the answer once you named a fault", answer=AttemptShown)
    def get(self, request: Request, pk: int) -> Response:
        return _shown(request, pk)


class AskedReadings(APIView):
    """Readings that are asked for."""

    @operation(
        "Ask for a reading",
        takes=Asking,
        answer=AskedShown,
        status=201,
        refusals=(409,),
        words="What was logged there, or else what a meter would have shown. Each costs minutes.",
    )
    def post(self, request: Request, pk: int) -> Response:
        attempt = the_attempt(request, pk)
        wanted = read_document(Asking, request.data)
        asked = services.ask_reading(
            attempt=attempt,
            place=wanted.place,
            phase=wanted.phase,
            rig=wanted.rig,
            by=signed_in(request),
            at=timezone.now(),
        )
        return Response(AskedShown.of(asked), status=status.HTTP_201_CREATED)


class NamedFault(APIView):
    """The fault that a learner settled on."""

    @operation(
        "Name the fault and be answered",
        takes=Naming,
        answer=AttemptShown,
        refusals=(409,),
        words="After at least one reading. The verdict is on the readings you asked for; then part"
        " and outcome are shown.",
    )
    def put(self, request: Request, pk: int) -> Response:
        attempt = the_attempt(request, pk)
        suspect = read_document(Naming, request.data).suspect
        services.name_fault(
            attempt=attempt, suspect=suspect, by=signed_in(request), at=timezone.now()
        )
        return _shown(request, pk)


def the_exercise(request: Request, pk: int) -> Exercise:
    """Return an exercise that this person may work on."""
    return get_object_or_404(visible_exercises(request), pk=pk)


def visible_exercises(request: Request) -> QuerySet[Exercise]:
    """Return the exercises that this person may work on, with what a task shows of the case."""
    return Exercise.objects.visible_to(signed_in(request)).with_task()


def the_attempt(request: Request, pk: int) -> Attempt:
    """Return one of this person's own attempts."""
    return get_object_or_404(Attempt.objects.visible_to(signed_in(request)).with_task(), pk=pk)


def _rows(request: Request, exercises: Sequence[Exercise]) -> list[dict[str, Any]]:
    cases = [exercise.case for exercise in exercises]
    lines = {line.case.pk: line for line in summaries(cases, signed_in(request), at=timezone.now())}
    return [
        as_json(
            ExerciseRow(
                id=exercise.pk,
                shop=exercise.shop.slug,
                opened_at=exercise.opened_at,
                vehicle=lines[exercise.case_id].vehicle,
                system=lines[exercise.case_id].system,
                complaint=lines[exercise.case_id].complaint,
            )
        )
        for exercise in exercises
    ]


def _shown(request: Request, pk: int) -> Response:
    attempt = the_attempt(request, pk)
    asked = tuple(map(AskedShown.model_validate, attempt.asked.all()))
    shown = AttemptShown(
        id=attempt.pk,
        started_at=attempt.started_at,
        task=TaskShown.model_validate(services.task_of(attempt.exercise)),
        asked=asked,
        minutes=sum(reading.minutes for reading in asked),
        answered_at=attempt.answered_at,
        answer=services.answer_of(attempt),
        case=_case_behind(request, attempt),
    )
    return Response(as_json(shown))


def _case_behind(request: Request, attempt: Attempt) -> CaseShown | None:
    """Return the case once the attempt is answered, as far as this person may see it."""
    if attempt.answered_at is None:
        return None
    user = signed_in(request)
    visible = Case.objects.visible_to(user).with_facts()
    case = visible.filter(pk=attempt.exercise.case_id).first()
    if case is None:
        return None
    return CaseShown.model_validate(shared_view(case, user, at=timezone.now()))
