"""The page of first checks of a part, in the vehicle and on the bench, to print or to read."""

from functools import lru_cache

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from circuits.bench_sheet import HANDLING, BenchSheet, make_bench_sheet
from circuits.models import Circuit, Revision
from circuits.services import REVISIONS_KEPT, latest_revision, network_of, sheet_of
from circuits.test_sheet import (
    PRECEDENCE,
    NoTestSheet,
    TestSheet,
    make_test_sheet,
    refuse_dangerous,
    subjects,
)


@login_required
@require_safe
def test_sheet(request: HttpRequest, key: str) -> HttpResponse:
    """Show the checks of a part of the newest revision, or what it is chosen from."""
    circuit = get_object_or_404(Circuit, key=key)
    revision = latest_revision(circuit)
    sheet, network = sheet_of(revision), network_of(revision)
    subject = request.GET.get("part", "")[:40]
    on_bench = "bench" in request.GET
    context = {
        "here": "circuits",
        "circuit": circuit,
        "revision": revision,
        "subject": subject,
        "subjects": subjects(sheet),
        "on_bench": on_bench,
        "precedence": PRECEDENCE,
        "handling": HANDLING,
    }
    try:
        refuse_dangerous(sheet, network)
        if subject and on_bench:
            context["bench"] = _bench_sheet(revision.pk, subject)
        elif subject:
            context["checks"] = _test_sheet(revision.pk, subject)
    except NoTestSheet as refusal:
        context["refusal"] = str(refusal)
    return render(request, "circuits/test_sheet.html", context)


# Revisions never change, so a sheet of one holds as long as the process lives.
@lru_cache(maxsize=REVISIONS_KEPT)
def _test_sheet(revision_pk: int, subject: str) -> TestSheet:
    revision = Revision.objects.get(pk=revision_pk)
    return make_test_sheet(sheet_of(revision), network_of(revision), subject)


@lru_cache(maxsize=REVISIONS_KEPT)
def _bench_sheet(revision_pk: int, subject: str) -> BenchSheet:
    revision = Revision.objects.get(pk=revision_pk)
    return make_bench_sheet(sheet_of(revision), network_of(revision), subject)
