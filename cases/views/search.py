"""Search past cases by readings, codes and words; every search is an address and can be kept."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from cases.circuit import circuit_of
from cases.errors import CaseError
from cases.forms.readings import ReadingRows, echo_address, reading_rows, rows_to_fill
from cases.forms.search import SearchForm
from cases.search.results import SearchResult
from cases.search.similar import DEFAULT_LIMIT
from cases.services.saved_searches import forget, keep, searches_of
from cases.services.searching import search_cases
from cases.views.common import Problem, problems_of, problems_of_rows, signed_in
from cases.views.hits import ResultSheet, changed, result_sheet
from circuits.addresses import revision_named
from circuits.models import Revision

ROWS_AT_FIRST = 2
MOST_OF_ONE_FAULT = 30
#: In the address of a search that waits for the verdict on its readings; no part of what is asked.
WHOLE = "whole"


@login_required
@require_safe
def search(request: HttpRequest) -> HttpResponse:
    """Show the form and, if something was asked, what was found."""
    user, now = signed_in(request), timezone.now()
    asked = request.GET.copy()
    # While somebody types the list comes first, and asks for the whole by itself.
    lists_first = "HX-Request" in request.headers and not asked.pop(WHOLE, [])
    revision = revision_named(asked.get("circuit", ""))
    form = SearchForm(asked)
    rows = _bound_rows(asked, revision)
    problems = problems_of(form) + (problems_of_rows(rows, "Reading") if rows else [])
    context: dict[str, Any] = {
        "here": "search",
        "form": form,
        "circuit": revision,
        "saved": searches_of(user),
        "asked": asked.urlencode(),
        "whole": changed(asked, **{WHOLE: "1"}),
    }
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
                    limit=MOST_OF_ONE_FAULT if form.cleaned_data["fault"] else DEFAULT_LIMIT,
                    only_fault=form.cleaned_data["fault"],
                    narrowing=form.narrowing(at=now),
                    other_makes=form.cleaned_data["other_makes"],
                    waits_for_verdict=not lists_first,
                )
                sheet = result_sheet(found, user, at=now, asked=asked)
                context["result"] = sheet
                context["narrowed"] = _narrowed(form, asked, found, sheet)
            except CaseError as error:
                problems = [Problem(words=str(error))]
    context["rows"] = rows if problems else _rows_from(asked, revision)
    context["problems"] = problems
    return render(request, "cases/search.html", context, status=422 if problems else 200)


def _narrowed(
    form: SearchForm, asked: QueryDict, found: SearchResult, sheet: ResultSheet
) -> list[tuple[str, str]]:
    """Return what the search is narrowed to, in words, with the address of one without it."""
    names = {
        "shop": {each.value: each.words for each in found.facets.shops},
        "vehicle": {each.value: each.words for each in found.facets.vehicles},
        "fault": {
            group.key: shown.words for group, shown in zip(found.groups, sheet.groups, strict=True)
        },
    }
    words = form.narrowed_words(names)
    return [(each, changed(asked, **{name: ""})) for name, each in words.items()]


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


@login_required
@require_POST
def keep_search(request: HttpRequest) -> HttpResponse:
    """Keep the search of an address under a name."""
    asked = request.POST.get("asked", "")
    try:
        keep(
            name=request.POST.get("name", ""), asked=asked, by=signed_in(request), at=timezone.now()
        )
    except CaseError as error:
        messages.error(request, str(error))
    return redirect(f"{reverse('cases:search')}?{QueryDict(asked).urlencode()}")


@login_required
@require_POST
def forget_search(request: HttpRequest, pk: int) -> HttpResponse:
    """Forget a search that was kept."""
    kept = get_object_or_404(searches_of(signed_in(request)), pk=pk)
    forget(search=kept, by=signed_in(request))
    return redirect("cases:search")
