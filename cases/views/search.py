"""Search past cases by readings, codes and words; every search is an address."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from cases.circuit import circuit_of
from cases.errors import CaseError
from cases.forms.readings import ReadingRows, echo_address, reading_rows, rows_to_fill
from cases.forms.search import SearchForm
from cases.services.searching import search_cases
from cases.views.common import Problem, problems_of, problems_of_rows, signed_in
from cases.views.hits import result_sheet
from circuits.addresses import revision_named
from circuits.models import Revision

ROWS_AT_FIRST = 2


@login_required
@require_safe
def search(request: HttpRequest) -> HttpResponse:
    """Show the form and, if something was asked, what was found."""
    user, now = signed_in(request), timezone.now()
    asked = request.GET
    revision = revision_named(asked.get("circuit", ""))
    form = SearchForm(asked)
    rows = _bound_rows(asked, revision)
    problems = problems_of(form) + (problems_of_rows(rows, "Reading") if rows else [])
    context: dict[str, Any] = {"here": "search", "form": form, "circuit": revision}
    if not problems and not {"more_rows", "show_places"} & set(asked):
        readings = rows.readings if rows is not None else []
        if readings or form.cleaned_data["words"].strip() or form.cleaned_data["system"].strip():
            try:
                found = search_cases(
                    user=user,
                    at=now,
                    revision=revision,
                    system=form.cleaned_data["system"],
                    readings=readings,
                    codes=form.codes,
                    words=form.plain_words,
                )
                context["result"] = result_sheet(found, user, at=now)
            except CaseError as error:
                problems = [Problem(words=str(error))]
    context["rows"] = rows if problems else _rows_from(asked, revision)
    context["problems"] = problems
    return render(request, "cases/search.html", context, status=422 if problems else 200)


@login_required
@require_safe
def search_rows(request: HttpRequest) -> HttpResponse:
    """Draw the rows of readings anew for the circuit that was chosen."""
    revision = revision_named(request.GET.get("circuit", ""))
    return render(
        request, "cases/parts/search_readings.html", {"rows": _rows_from(request.GET, revision)}
    )


def _bound_rows(asked: QueryDict, revision: Revision | None) -> ReadingRows | None:
    if revision is None or "readings-TOTAL_FORMS" not in asked:
        return None
    return reading_rows(circuit_of(revision), data=asked, echo_at=echo_address(revision.pk))


def _rows_from(asked: QueryDict, revision: Revision | None) -> ReadingRows | None:
    if revision is None:
        return None
    return rows_to_fill(
        circuit_of(revision), asked, at_least=ROWS_AT_FIRST, echo_at=echo_address(revision.pk)
    )
