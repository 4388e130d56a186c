"""What a shop does with its case: circuit, claim, repair, withdrawal, mended facts."""

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from cases.forms.case import FactsForm, code_row, code_rows, vain_part_line
from cases.forms.deeds import ChooseCircuitForm, ClaimForm, ReasonForm, RepairForm
from cases.models import Case
from cases.services import cases as services
from cases.services.record import code_facts, latest_verdict
from cases.views.common import (
    circuit_of_case,
    own_case,
    problems_of,
    problems_of_rows,
    refusals_at,
    signed_in,
)
from cases.vin import vin_warnings
from circuits.services import latest_revision


@login_required
def choose_circuit(request: HttpRequest, pk: int) -> HttpResponse:
    """Say which circuit the case is about."""
    case = own_case(request, pk, "choose its circuit")
    form = ChooseCircuitForm(request.POST or None)
    if form.is_valid():
        with refusals_at(form):
            services.choose_circuit(
                case=case,
                revision=latest_revision(form.cleaned_data["circuit"]),
                by=signed_in(request),
                at=timezone.now(),
            )
            return _done(request, case, "The circuit is chosen.")
    return _form_page(request, case, form, title="Choose the circuit", send="Choose it")


@login_required
def claim(request: HttpRequest, pk: int) -> HttpResponse:
    """Claim one fault, or that the circuit is in order."""
    case = own_case(request, pk, "claim a fault")
    circuit = circuit_of_case(case)
    if circuit is None:
        messages.warning(request, "Choose the circuit first; then you can name a fault of it.")
        return redirect("cases:choose-circuit", pk=case.pk)
    form = ClaimForm(
        request.POST or None,
        circuit=circuit,
        verdict=latest_verdict(case),
        initial={"suspect": case.claimed_suspect},
    )
    if form.is_valid():
        with refusals_at(form):
            services.claim_fault(
                case=case,
                suspect=form.cleaned_data["suspect"],
                severity=form.cleaned_data["severity"],
                by=signed_in(request),
                at=timezone.now(),
            )
            return _done(request, case, "The claim is noted and was checked against the circuit.")
    return _form_page(request, case, form, title="Claim a fault", send="Claim it", aside="claim")


@login_required
@require_POST
def take_back_claim(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the claim back; the log keeps that it was made."""
    case = own_case(request, pk, "take the claim back")
    form = forms.Form()
    with refusals_at(form):
        services.take_back_claim(case=case, by=signed_in(request), at=timezone.now())
        return _done(request, case, "The claim is taken back.")
    return _refused(request, case, form)


@login_required
def repair(request: HttpRequest, pk: int) -> HttpResponse:
    """Record what was done and how it ended."""
    case = own_case(request, pk, "record the repair")
    names = tuple(RepairForm.base_fields)
    form = RepairForm(request.POST or None, initial={name: getattr(case, name) for name in names})
    if form.is_valid():
        with refusals_at(form):
            services.record_repair(
                case=case, repair=form.repair, by=signed_in(request), at=timezone.now()
            )
            return _done(request, case, "The repair is recorded.")
    return _form_page(
        request, case, form, title="Record the repair", send="Record it", aside="repair"
    )


@login_required
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw the case, with the reason."""
    case = own_case(request, pk, "withdraw it")
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        with refusals_at(form):
            services.withdraw_case(
                case=case,
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
                at=timezone.now(),
            )
            return _done(request, case, "The case is withdrawn. It stays here with the reason.")
    return _form_page(
        request,
        case,
        form,
        title="Withdraw the case",
        send="Withdraw it",
        aside="withdraw",
        grave=True,
    )


@login_required
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Mend the facts of the case; what they were before is kept."""
    case = own_case(request, pk, "change its facts")
    form = FactsForm(request.POST or None, initial=_facts_of(case), circuit=circuit_of_case(case))
    if request.method == "POST":
        codes = code_rows(data=request.POST)
        if all([form.is_valid(), codes.is_valid()]):
            with refusals_at(form):
                services.edit_case(
                    case=case,
                    facts=form.facts(codes.codes),
                    by=signed_in(request),
                    at=timezone.now(),
                )
                for warning in vin_warnings(form.cleaned_data["vin"]):
                    messages.warning(request, warning)
                return _done(request, case, "The facts are mended; what they were is kept.")
    else:
        seen = [code_row(code_facts(code)) for code in case.codes.all()]
        codes = code_rows(initial=seen, extra=1)
    problems = [*problems_of(form), *problems_of_rows(codes, "Code")] if form.is_bound else []
    context = {"here": "cases", "case": case, "form": form, "codes": codes, "problems": problems}
    return render(request, "cases/edit.html", context, status=422 if problems else 200)


def _facts_of(case: Case) -> dict[str, Any]:
    vehicle = {
        name: getattr(case.vehicle, name)
        for name in ("make", "model", "engine", "year", "plate", "vin")
    }
    story = {
        name: getattr(case, name)
        for name in (
            "complaint",
            "symptom",
            "conditions",
            "system",
            "complaint_phase",
            "tries_before",
            "hits_before",
        )
    }
    parts = "\n".join(vain_part_line(part.part, part.hours) for part in case.parts_in_vain.all())
    passed = ", ".join(case.monitors_passed)
    return {**vehicle, **story, "parts_in_vain": parts, "monitors_passed": passed}


def _form_page(
    request: HttpRequest,
    case: Case,
    form: forms.BaseForm,
    *,
    title: str,
    send: str,
    aside: str = "",
    grave: bool = False,
) -> HttpResponse:
    problems = problems_of(form) if form.is_bound else []
    context = {
        "here": "cases",
        "case": case,
        "form": form,
        "problems": problems,
        "title": title,
        "send": send,
        "aside": aside,
        "grave": grave,
    }
    return render(request, "cases/deed.html", context, status=422 if problems else 200)


def _refused(request: HttpRequest, case: Case, form: forms.BaseForm) -> HttpResponse:
    for problem in problems_of(form):
        messages.error(request, problem.words)
    return redirect("cases:case", pk=case.pk)


def _done(request: HttpRequest, case: Case, words: str) -> HttpResponse:
    messages.success(request, words)
    return redirect("cases:case", pk=case.pk)
