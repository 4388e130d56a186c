"""Older logs brought in whole: the form, how far each has come, what was refused."""

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from cases.errors import BadRows
from cases.forms.older_logs import OlderLogForm, WantedForm
from cases.models import LogForm, OlderLog, Role, Shop
from cases.services.older_logs.log_file import empty_table
from cases.services.older_logs.refused import refused_file, refused_file_name
from cases.services.older_logs.taking_in import (
    bring_in_log,
    go_on_with_log,
    has_stopped,
    judged_so_far,
    take_log_away,
)
from cases.services.worker import has_worker
from cases.views.common import Problem, problems_of, refusals_at, signed_in
from cases.views.exchange import as_file

#: More are read in the file than on the page.
SHOWN_LINES = 50


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def older_logs(request: HttpRequest) -> HttpResponse:
    """List the older logs of this person's shops, and take a new one."""
    user = signed_in(request)
    form = OlderLogForm(user, request.POST or None, request.FILES or None)
    problems: list[Problem] = []
    if request.method == "POST" and form.is_valid():
        try:
            with refusals_at(form):
                log = bring_in_log(
                    shop=form.cleaned_data["shop"],
                    name=form.file_name,
                    content=form.cleaned_data["file"],
                    wanted=form.cleaned_data["wanted"],
                    by=user,
                    at=timezone.now(),
                )
                return redirect("cases:older-log", pk=log.pk)
        except BadRows as error:
            problems = [Problem(words=str(problem)) for problem in error.problems]
    problems += problems_of(form) if form.is_bound else []
    context = {
        "here": "cases",
        "form": form,
        "is_owner": Shop.objects.where(user, Role.OWNER).exists(),
        "logs": OlderLog.objects.visible_to(user).without_content().select_related("shop"),
        "problems": problems,
    }
    return render(request, "cases/older_logs.html", context, status=422 if problems else 200)


@login_required
@require_safe
def table(request: HttpRequest) -> HttpResponse:
    """Send an empty table with every column."""
    return as_file(empty_table(), "text/csv; charset=utf-8", "older-cases.csv")


@login_required
@require_safe
def older_log(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how far a log has come and what was refused; to htmx the part that changes."""
    log = _log(request, pk)
    part = bool(request.htmx)  # type: ignore[attr-defined]
    page = "cases/parts/older_log.html" if part else "cases/older_log.html"
    return render(request, page, _context(request, log))


@login_required
@require_safe
def refused(request: HttpRequest, pk: int) -> HttpResponse:
    """Send the refused lines as a file that can be mended and brought in again."""
    log = _log(request, pk)
    kind = "application/x-ndjson" if log.form == LogForm.LINES else "text/csv; charset=utf-8"
    return as_file(refused_file(log), kind, refused_file_name(log))


@login_required
@require_POST
def go_on(request: HttpRequest, pk: int) -> HttpResponse:
    """Have something else done with a log, or have it gone on with."""
    log = _log(request, pk)
    form = WantedForm(request.POST)
    if form.is_valid():
        with refusals_at(form):
            go_on_with_log(log=log, wanted=form.cleaned_data["wanted"], by=signed_in(request))
    for problem in problems_of(form):
        messages.error(request, problem.words)
    return redirect("cases:older-log", pk=pk)


@login_required
@require_POST
def take_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a log off the list, with its file and what was refused."""
    log = _log(request, pk)
    holder = forms.Form(data={})
    with refusals_at(holder):
        take_log_away(log=log, by=signed_in(request))
        messages.success(request, f"{log.name} was taken away. Cases that came in stay.")
        return redirect("cases:older-logs")
    for problem in problems_of(holder):
        messages.error(request, problem.words)
    return redirect("cases:older-log", pk=pk)


def _log(request: HttpRequest, pk: int) -> OlderLog:
    logs = OlderLog.objects.visible_to(signed_in(request)).without_content()
    return get_object_or_404(logs.select_related("shop", "by"), pk=pk)


def _context(request: HttpRequest, log: OlderLog) -> dict[str, Any]:
    told = log.refused_lines.exclude(reasons=[])
    return {
        "here": "cases",
        "log": log,
        "is_owner": Shop.objects.where(signed_in(request), Role.OWNER).filter(pk=log.shop_id),
        "has_stopped": has_stopped(log),
        "lacks_worker": log.is_waiting and not has_worker(),
        "judged": judged_so_far(log),
        "lines": told[:SHOWN_LINES],
        "lines_in_all": told.count(),
    }
