"""Write up a new case: the facts, the codes and the first readings on one page."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from cases.circuit import CaseCircuit, circuit_of
from cases.forms.case import CodeForm, CodeRows, NewCaseForm, code_rows
from cases.forms.readings import (
    ReadingRows,
    echo_address,
    reading_rows,
    rows_as_typed,
    rows_to_fill,
)
from cases.services.instruments import instrument_names
from cases.services.intake import write_up_case
from cases.views.common import (
    cautions_of,
    problems_of,
    problems_of_rows,
    refusals_at,
    signed_in,
)
from cases.vin import vin_warnings
from circuits.addresses import revision_named
from circuits.models import Revision

ROWS_AT_FIRST = 3


@login_required
def new_case(request: HttpRequest) -> HttpResponse:
    """Show the form, or save what was filled in."""
    if request.method != "POST":
        return _page(request, request.GET, redrawn=False)
    user = signed_in(request)
    revision = revision_named(request.POST.get("circuit", ""))
    form = NewCaseForm(user, request.POST, circuit=_circuit(revision))
    codes = code_rows(data=request.POST)
    rows = _bound_rows(request, request.POST, revision)
    # All are checked before any is judged, so that every slip shows at once.
    checked = [form.is_valid(), codes.is_valid(), rows is None or rows.is_valid()]
    if all(checked):
        with refusals_at(form):
            case = write_up_case(
                shop=form.cleaned_data["shop"],
                facts=form.facts(codes.codes),
                readings=rows.readings if rows is not None else (),
                revision=revision,
                comeback_of=form.cleaned_data["comeback_of"],
                by=user,
                at=timezone.now(),
            )
            messages.success(request, f"Case {case.key} is saved.", extra_tags="new-case")
            for warning in vin_warnings(form.cleaned_data["vin"]):
                messages.warning(request, warning)
            return redirect("cases:case", pk=case.pk)
    return _render(request, form, codes, rows, revision, status=422)


@login_required
@require_POST
def redrawn(request: HttpRequest) -> HttpResponse:
    """Draw the form anew with what was typed so far and nothing saved.

    A circuit was chosen, a row was asked for, or a draft came back from the device.
    """
    if request.htmx:  # type: ignore[attr-defined]
        revision = revision_named(request.POST.get("circuit", ""))
        rows = _rows_from(request, request.POST, revision)
        typed = request.POST.dict()
        form = NewCaseForm(signed_in(request), initial=typed, circuit=_circuit(revision))
        context = {
            "form": form,
            "rows": rows,
            "cautions": cautions_of(_circuit(revision)),
            "redraw_url": request.path,
        }
        return render(request, "cases/parts/new_case_readings.html", context)
    return _page(request, request.POST, redrawn=True)


def _page(request: HttpRequest, typed: QueryDict, *, redrawn: bool) -> HttpResponse:
    revision = revision_named(typed.get("circuit", ""))
    form = NewCaseForm(signed_in(request), initial=typed.dict(), circuit=_circuit(revision))
    codes_typed = rows_as_typed(typed, "codes", tuple(CodeForm.base_fields))
    codes = code_rows(
        initial=codes_typed, extra=1 if not codes_typed or "more_codes" in typed else 0
    )
    return _render(
        request, form, codes, _rows_from(request, typed, revision), revision, redrawn=redrawn
    )


def _bound_rows(
    request: HttpRequest, typed: QueryDict, revision: Revision | None
) -> ReadingRows | None:
    # A form sent before its circuit was drawn has no rows yet.
    if revision is None or "readings-TOTAL_FORMS" not in typed:
        return None
    return reading_rows(
        circuit_of(revision),
        data=typed,
        echo_at=echo_address(revision.pk),
        instruments=instrument_names(signed_in(request)),
    )


def _rows_from(
    request: HttpRequest, typed: QueryDict, revision: Revision | None
) -> ReadingRows | None:
    if revision is None:
        return None
    return rows_to_fill(
        circuit_of(revision),
        typed,
        at_least=ROWS_AT_FIRST,
        echo_at=echo_address(revision.pk),
        instruments=instrument_names(signed_in(request)),
    )


def _render(
    request: HttpRequest,
    form: NewCaseForm,
    codes: CodeRows,
    rows: ReadingRows | None,
    revision: Revision | None,
    *,
    redrawn: bool = False,
    status: int = 200,
) -> HttpResponse:
    problems = []
    if form.is_bound:
        problems = [*problems_of(form), *problems_of_rows(codes, "Code")]
        problems += problems_of_rows(rows, "Reading") if rows is not None else []
    context: dict[str, Any] = {
        "here": "new",
        "form": form,
        "codes": codes,
        "rows": rows,
        "cautions": cautions_of(_circuit(revision)),
        "problems": problems,
        "redrawn": redrawn,
        "redraw_url": reverse("cases:new-redrawn"),
    }
    return render(request, "cases/new_case.html", context, status=status)


def _circuit(revision: Revision | None) -> CaseCircuit | None:
    return circuit_of(revision) if revision is not None else None
