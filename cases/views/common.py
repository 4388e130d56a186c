"""What every page of cases does: know who asks, find the case, say at the form what was refused."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from cases.circuit import CaseCircuit, circuit_of
from cases.errors import BadFact, CaseError, Forbidden
from cases.models import Case, Photo, ReadingPhoto
from circuits.cautions import Caution, cautions_for


def signed_in(request: HttpRequest) -> User:
    """Return who asks; pages are only reached signed in."""
    assert isinstance(request.user, User)
    return request.user


def visible_case(request: HttpRequest, pk: int) -> Case:
    """Return the case if this person may see it, else 404."""
    cases = Case.objects.visible_to(signed_in(request)).with_facts()
    return get_object_or_404(cases, pk=pk)


def own_case(request: HttpRequest, pk: int, deed: str) -> Case:
    """Return a case that this person's shop may change: 404 unseen, 403 of another shop."""
    case = visible_case(request, pk)
    if not case.shop.memberships.filter(user=signed_in(request)).exists():
        raise PermissionDenied(f"Only the shop that did the repair can {deed}.")
    return case


def own_photo(request: HttpRequest, photo: Photo, deed: str) -> None:
    """Refuse with 403 what only the photo's shop may do."""
    if not photo.shop.memberships.filter(user=signed_in(request)).exists():
        raise PermissionDenied(f"Only the shop that brought it in can {deed}.")


def picture_of(photo: Photo | ReadingPhoto) -> HttpResponse:
    """Return the picture itself; it may stay with this browser alone."""
    answer = HttpResponse(bytes(photo.jpeg), content_type="image/jpeg")
    answer["Cache-Control"] = "private, max-age=3600"
    return answer


def circuit_of_case(case: Case) -> CaseCircuit | None:
    return circuit_of(case.revision) if case.revision is not None else None


def cautions_of(circuit: CaseCircuit | None) -> list[Caution]:
    return cautions_for(circuit.sheet.hazards) if circuit is not None else []


@contextmanager
def refusals_at(form: forms.BaseForm) -> Iterator[None]:
    """Turn what a service refuses into words at the form; what is not theirs to do is a 403."""
    try:
        yield
    except Forbidden as error:
        raise PermissionDenied(str(error)) from error
    except BadFact as error:
        form.add_error(error.field if error.field in form.fields else None, error.problem)
    except CaseError as error:
        form.add_error(None, str(error))


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing to mend: its words, and the field they are about."""

    words: str
    label: str = ""
    target: str = ""


def problems_of(form: forms.BaseForm) -> list[Problem]:
    """Return everything that has to be mended in a form, in the order of its fields."""
    found = [Problem(words=str(words)) for words in form.non_field_errors()]
    for field in form:
        found.extend(
            Problem(words=str(words), label=str(field.label), target=field.id_for_label)
            for words in field.errors
        )
    return found


def problems_of_rows(rows: "forms.BaseFormSet[Any]", what: str) -> list[Problem]:
    """Return everything that has to be mended in numbered rows."""
    found = [Problem(words=str(words)) for words in rows.non_form_errors()]
    for number, row in enumerate(rows.forms, start=1):
        for problem in problems_of(row):
            label = (
                f"{what} {number}, {problem.label.lower()}" if problem.label else f"{what} {number}"
            )
            found.append(Problem(words=problem.words, label=label, target=problem.target))
    return found
