"""A case out as a file and back, its readings as a table."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from cases.errors import BadRows
from cases.forms.deeds import BringInForm, FileForm
from cases.services.exchange import export_case, import_case, read_case_document
from cases.services.tables import import_readings_csv, readings_csv
from cases.views.common import (
    Problem,
    own_case,
    problems_of,
    refusals_at,
    signed_in,
    visible_case,
)


@login_required
@require_safe
def case_file(request: HttpRequest, pk: int) -> HttpResponse:
    """Send the case as JSON, as this person may see it."""
    case = visible_case(request, pk)
    document = export_case(case, by=signed_in(request), at=timezone.now())
    return as_file(document.model_dump_json(indent=2), "application/json", f"{case.key}.json")


@login_required
@require_safe
def readings_file(request: HttpRequest, pk: int) -> HttpResponse:
    """Send the readings of the case as a table."""
    case = visible_case(request, pk)
    document = export_case(case, by=signed_in(request), at=timezone.now(), is_whole=False)
    table = readings_csv(document.readings)
    return as_file(table, "text/csv; charset=utf-8", f"{case.key}-readings.csv")


@login_required
def bring_in_case(request: HttpRequest) -> HttpResponse:
    """Take a case in from a file."""
    user = signed_in(request)
    form = BringInForm(user, request.POST or None, request.FILES or None)
    problems: list[Problem] = []
    if form.is_valid():
        try:
            with refusals_at(form):
                case = import_case(
                    document=read_case_document(form.cleaned_data["file"]),
                    shop=form.cleaned_data["shop"],
                    by=user,
                    at=timezone.now(),
                )
                messages.success(request, f"The file came in as case {case.key}.")
                return redirect("cases:case", pk=case.pk)
        except BadRows as error:
            problems = [Problem(words=str(problem)) for problem in error.problems]
    problems += problems_of(form) if form.is_bound else []
    context = {"here": "cases", "form": form, "problems": problems}
    return render(request, "cases/bring_in.html", context, status=422 if problems else 200)


@login_required
def bring_in_readings(request: HttpRequest, pk: int) -> HttpResponse:
    """Take readings in from a table; all of them, or none."""
    case = own_case(request, pk, "add readings")
    form = FileForm(request.POST or None, request.FILES or None)
    problems: list[Problem] = []
    if form.is_valid():
        try:
            with refusals_at(form):
                rows = import_readings_csv(
                    case=case,
                    content=form.cleaned_data["file"],
                    by=signed_in(request),
                    at=timezone.now(),
                )
                messages.success(request, f"{len(rows)} readings came in and were judged.")
                return redirect("cases:case", pk=case.pk)
        except BadRows as error:
            problems = [Problem(words=str(problem)) for problem in error.problems]
    problems += problems_of(form) if form.is_bound else []
    context = {"here": "cases", "case": case, "form": form, "problems": problems}
    return render(request, "cases/bring_in.html", context, status=422 if problems else 200)


def as_file(content: str, kind: str, name: str) -> HttpResponse:
    """Send text as a file to be kept."""
    answer = HttpResponse(content, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
