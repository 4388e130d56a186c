"""The pages of walk-throughs: written step by step, shown full-screen, printed."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from circuits.addresses import number_in
from circuits.cautions import cautions_for
from circuits.errors import BadWalk, CircuitError
from circuits.forms import fault_choices
from circuits.models import NAME_LENGTH, SENTENCE_LENGTH, WORDS_LENGTH, Circuit, Revision, Walk
from circuits.services import latest_revision, network_of, sheet_of
from circuits.walks import MOST_STEPS, Step, remove_walk, shown_steps, steps_of, write_walk

FIRST_STEPS = 3
Choices = Sequence[tuple[str, str | list[tuple[str, str]]]]


class StepForm(forms.Form):
    """A state of the drawing and its sentence; one that is left empty is no step."""

    sentence = forms.CharField(
        max_length=SENTENCE_LENGTH, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    phase = forms.ChoiceField(required=False)
    suspect = forms.ChoiceField(required=False, label="With this fault")
    severity = forms.CharField(
        required=False, max_length=NAME_LENGTH, help_text="Such as 1.1 Ohm, open or short."
    )
    pin = forms.ChoiceField(required=False, label="Mark the ways of")

    def __init__(self, *args: Any, revision: Revision, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sheet = sheet_of(revision)
        choices: dict[str, Choices] = {
            "phase": [("", "at rest"), *((each.key, each.words) for each in sheet.phases)],
            "suspect": fault_choices(network_of(revision)),
            "pin": [("", "no pin"), *((each.node, each.node) for each in sheet.connections)],
        }
        for name, offered in choices.items():
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = offered

    @property
    def step(self) -> Step:
        """What is filled in, checked by the service alone."""
        return Step(**{name: str(self[name].value() or "") for name in self.fields})


class TitleForm(forms.Form):
    """What the walk-through explains."""

    title = forms.CharField(max_length=WORDS_LENGTH, label="What it explains")


class StepForms:
    """The steps as the page has them, so that they can be moved before anything is kept."""

    def __init__(self, revision: Revision, steps: list[Step]) -> None:
        self.forms = [
            StepForm(
                initial={name: getattr(step, name) for name in Step.__dataclass_fields__},
                prefix=f"step-{number}",
                revision=revision,
            )
            for number, step in enumerate(steps, start=1)
        ]

    @classmethod
    def posted(cls, revision: Revision, data: Any) -> list[Step]:
        """Return the steps that a page sent, each as it was typed."""
        count = min(number_in(data.get("steps", "")), MOST_STEPS)
        return [
            StepForm(data, prefix=f"step-{number}", revision=revision).step
            for number in range(1, count + 1)
        ]


@login_required
@require_safe
def walk_list(request: HttpRequest, key: str) -> HttpResponse:
    """List the walk-throughs of a circuit."""
    circuit = get_object_or_404(Circuit, key=key)
    walks = circuit.walks.select_related("written_by").prefetch_related("steps")
    context = {"here": "circuits", "circuit": circuit, "walks": walks}
    return render(request, "circuits/walks.html", context)


@login_required
@require_safe
def walk(request: HttpRequest, key: str, number: str) -> HttpResponse:
    """Show a walk-through: below one another, one at a time full-screen, or on paper."""
    found = _walk(key, number)
    context = {
        "here": "circuits",
        "circuit": found.circuit,
        "walk": found,
        "steps": shown_steps(found),
        "is_mine": found.written_by == request.user,
        "cautions": cautions_for(sheet_of(latest_revision(found.circuit)).hazards),
    }
    return render(request, "circuits/walk.html", context)


@login_required
def write(request: HttpRequest, key: str, number: str = "") -> HttpResponse:
    """Write a walk-through, or change one's own; a step is moved before anything is kept."""
    circuit = get_object_or_404(Circuit, key=key)
    old = _walk(key, number) if number else None
    if old is not None and old.written_by != request.user:
        messages.warning(request, "Only whoever wrote a walk-through can change it.")
        return redirect("circuits:walk", key=key, number=number)
    revision, status = latest_revision(circuit), 200
    title = TitleForm(request.POST or None, initial={"title": old.title if old else ""})
    steps = steps_of(old) if old else [Step(sentence="")] * FIRST_STEPS
    problems: tuple[tuple[int, str, str], ...] = ()
    if request.method == "POST":
        steps = StepForms.posted(revision, request.POST)
        change = request.POST.get("change", "")
        if change:
            steps = _changed(steps, change)
        else:
            steps = [step for step in steps if step != Step(sentence="")]
            user = request.user
            assert isinstance(user, User)
            try:
                kept = write_walk(
                    circuit=circuit,
                    title=request.POST.get("title", ""),
                    steps=steps,
                    by=user,
                    at=timezone.now(),
                    walk=old,
                )
            except BadWalk as error:
                problems, status = error.problems, 422
            else:
                messages.success(request, "The walk-through is kept.")
                return redirect("circuits:walk", key=key, number=kept.number)
    context = {
        "here": "circuits",
        "circuit": circuit,
        "walk": old,
        "title_form": title,
        "steps": StepForms(revision, steps).forms,
        "may_add": len(steps) < MOST_STEPS,
        "problems": problems,
    }
    return render(request, "circuits/write_walk.html", context, status=status)


@login_required
@require_POST
def remove(request: HttpRequest, key: str, number: str) -> HttpResponse:
    """Take one's own walk-through away."""
    user = request.user
    assert isinstance(user, User)
    try:
        remove_walk(walk=_walk(key, number), by=user)
    except CircuitError as error:
        messages.warning(request, str(error))
        return redirect("circuits:walk", key=key, number=number)
    messages.success(request, "The walk-through is gone.")
    return redirect("circuits:walks", key=key)


def _walk(key: str, number: str) -> Walk:
    walks = Walk.objects.select_related("circuit", "written_by")
    return get_object_or_404(walks, circuit__key=key, number=number_in(number))


def _changed(steps: list[Step], change: str) -> list[Step]:
    """Return the steps with one moved, taken out or added, as a button `up:2` asks for."""
    deed, _, place = change.partition(":")
    at = number_in(place) - 1
    moved = list(steps)
    if deed == "add" and len(moved) < MOST_STEPS:
        moved.append(Step(sentence=""))
    elif 0 <= at < len(moved):
        step = moved.pop(at)
        if deed != "remove":
            moved.insert(max(at - 1, 0) if deed == "up" else at + 1, step)
    return moved
