"""Exercises: a trainer sets a shared case; a learner asks, names a fault and is answered."""

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from cases.forms.exercises import AskForm, NameFaultForm
from cases.models import Attempt, Exercise, Shop
from cases.services.class_results import COUNTED_TOGETHER, class_results
from cases.services.exercises import (
    answer_of,
    ask_reading,
    close_exercise,
    name_fault,
    open_exercise,
    start_attempt,
    task_of,
)
from cases.services.sharing import shared_view, summaries
from cases.views.answer import AnswerSheet, AskedRow, ClassSheet, asked_rows
from cases.views.case_sheet import CaseSheet
from cases.views.common import (
    cautions_of,
    problems_of,
    refusals_at,
    signed_in,
    visible_case,
)
from circuits.addresses import number_in

CLOSED_SHOWN = 25


@login_required
@require_safe
def exercise_list(request: HttpRequest) -> HttpResponse:
    """List what is set for this person, and what they did with it."""
    user = signed_in(request)
    exercises = Exercise.objects.visible_to(user).with_task()
    # Of what a summary holds the page shows what was known before the first reading.
    known_of_each = summaries([each.case for each in exercises], user, at=timezone.now())
    attempts = Attempt.objects.visible_to(user).select_related("exercise")
    by_exercise: dict[int, list[Attempt]] = {}
    for attempt in attempts:
        by_exercise.setdefault(attempt.exercise_id, []).append(attempt)
    context = {
        "here": "exercises",
        "entries": [
            (each, known, by_exercise.get(each.pk, []))
            for each, known in zip(exercises, known_of_each, strict=True)
        ],
        "trained": set(Shop.objects.trained_by(user).values_list("pk", flat=True)),
        "closed": Exercise.objects.trained_by(user)
        .filter(closed_at__isnull=False)
        .select_related("case__revision__circuit", "shop")[:CLOSED_SHOWN],
    }
    return render(request, "cases/exercises.html", context)


@login_required
@require_POST
def set_exercise(request: HttpRequest, pk: int) -> HttpResponse:
    """Set a shared case as an exercise for a shop or class."""
    user = signed_in(request)
    case = visible_case(request, pk)
    shop = get_object_or_404(
        Shop.objects.visible_to(user), pk=number_in(request.POST.get("shop", ""))
    )
    form = forms.Form(request.POST)
    with refusals_at(form):
        open_exercise(case=case, shop=shop, by=user, at=timezone.now())
        messages.success(request, f"{case.key} is set as an exercise for {shop.name}.")
        return redirect("cases:exercises")
    for problem in problems_of(form):
        messages.error(request, problem.words)
    return redirect("cases:case", pk=pk)


@login_required
@require_safe
def class_answers(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a trainer what the class made of an exercise, without names."""
    user = signed_in(request)
    exercise = get_object_or_404(Exercise.objects.trained_by(user).with_task(), pk=pk)
    task = task_of(exercise)
    context = {
        "here": "exercises",
        "exercise": exercise,
        "task": task,
        "sheet": ClassSheet(class_results(exercise=exercise, by=user), task.circuit),
        "together": COUNTED_TOGETHER,
    }
    return render(request, "cases/class_answers.html", context)


@login_required
@require_POST
def end_exercise(request: HttpRequest, pk: int) -> HttpResponse:
    """End an exercise; what learners did stays theirs."""
    user = signed_in(request)
    exercise = get_object_or_404(Exercise.objects.visible_to(user), pk=pk)
    with refusals_at(forms.Form(request.POST)):
        close_exercise(exercise=exercise, by=user, at=timezone.now())
        messages.success(request, "The exercise is closed; what learners did stays theirs.")
        return redirect("cases:class-answers", pk=pk)
    return redirect("cases:exercises")


@login_required
@require_POST
def start(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin an exercise, or go on with the attempt that is running."""
    user = signed_in(request)
    exercise = get_object_or_404(Exercise.objects.visible_to(user), pk=pk)
    form = forms.Form(request.POST)
    with refusals_at(form):
        attempt = start_attempt(exercise=exercise, by=user, at=timezone.now())
        return redirect("cases:attempt", pk=attempt.pk)
    for problem in problems_of(form):
        messages.error(request, problem.words)
    return redirect("cases:exercises")


@login_required
def attempt(request: HttpRequest, pk: int) -> HttpResponse:
    """Work on an exercise: what is known, what was asked, and the way on."""
    found = _attempt(request, pk)
    if found.answered_at is not None:
        return _answered(request, found)
    task = task_of(found.exercise)
    form = AskForm(request.POST or None, circuit=task.circuit)
    if form.is_valid():
        with refusals_at(form):
            asked = ask_reading(
                attempt=found,
                place=form.cleaned_data["place"],
                phase=form.cleaned_data["phase"],
                rig=form.rig,
                by=signed_in(request),
                at=timezone.now(),
            )
            messages.success(
                request, f"{asked.place_key}: {asked.text}. That took {asked.minutes} minutes."
            )
            return redirect("cases:attempt", pk=pk)
    return _working(request, found, form, NameFaultForm(circuit=task.circuit))


@login_required
@require_POST
def name(request: HttpRequest, pk: int) -> HttpResponse:
    """Name the fault; the verdict on the readings asked for answers."""
    found = _attempt(request, pk)
    circuit = task_of(found.exercise).circuit
    form = NameFaultForm(request.POST, circuit=circuit)
    if form.is_valid():
        with refusals_at(form):
            name_fault(
                attempt=found,
                suspect=form.cleaned_data["suspect"],
                by=signed_in(request),
                at=timezone.now(),
            )
            return redirect("cases:attempt", pk=pk)
    return _working(request, found, AskForm(circuit=circuit), form)


def _attempt(request: HttpRequest, pk: int) -> Attempt:
    return get_object_or_404(Attempt.objects.visible_to(signed_in(request)).with_task(), pk=pk)


def _working(
    request: HttpRequest, found: Attempt, ask: AskForm, naming: NameFaultForm
) -> HttpResponse:
    task = task_of(found.exercise)
    rows = asked_rows(found, task.circuit)
    problems = [
        *(problems_of(ask) if ask.is_bound else []),
        *(problems_of(naming) if naming.is_bound else []),
    ]
    context: dict[str, Any] = {
        "here": "exercises",
        "attempt": found,
        "task": task,
        "ask": ask,
        "naming": naming,
        "rows": rows,
        "minutes": sum(row.asked.minutes for row in rows),
        "cautions": cautions_of(task.circuit),
        "problems": problems,
    }
    return render(request, "cases/attempt.html", context, status=422 if problems else 200)


def _answered(request: HttpRequest, found: Attempt) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    task = task_of(found.exercise)
    answer = answer_of(found)
    assert answer is not None
    view = shared_view(found.exercise.case, user, at=now)
    rows: list[AskedRow] = asked_rows(found, task.circuit)
    context = {
        "here": "exercises",
        "attempt": found,
        "task": task,
        "rows": rows,
        "minutes": sum(row.asked.minutes for row in rows),
        "answer": AnswerSheet(answer, task.circuit),
        "case": view,
        "sheet": CaseSheet(view, task.circuit),
        "revision": task.revision,
    }
    return render(request, "cases/answered.html", context)
