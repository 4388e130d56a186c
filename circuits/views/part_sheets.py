"""The page of first checks of a part, in the vehicle and on the bench, to print or to read."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from circuits.models import Circuit
from circuits.part_sheets.allowed import NoTestSheet, conductors, refuse_dangerous, subjects
from circuits.part_sheets.checks import PRECEDENCE
from circuits.part_sheets.on_the_bench import HANDLING
from circuits.part_sheets.stored import bench_sheet_of, test_sheet_of
from circuits.services import latest_revision, network_of, sheet_of


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
        "conductors": conductors(sheet),
        "on_bench": on_bench,
        "precedence": PRECEDENCE,
        "handling": HANDLING,
    }
    try:
        refuse_dangerous(sheet, network)
        if subject and on_bench:
            context["bench"] = bench_sheet_of(revision, subject)
        elif subject:
            context["checks"] = test_sheet_of(revision, subject)
    except NoTestSheet as refusal:
        context["refusal"] = str(refusal)
    return render(request, "circuits/test_sheet.html", context)
