"""Log what a test sheet or bench sheet asks for, check by check, into a case."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from cases.circuit import CaseCircuit
from cases.errors import BadRows
from cases.forms.readings import echo_address
from cases.forms.sheet_readings import SheetForm
from cases.models import Case, Outcome
from cases.services.instruments import instrument_names
from cases.services.readings import add_readings
from cases.sheet_rows import SheetRow, rows_of_bench, rows_of_checks
from cases.views.common import (
    Problem,
    cautions_of,
    circuit_of_case,
    own_case,
    problems_of,
    refusals_at,
    signed_in,
)
from cases.views.sending import Sending
from circuits.models import Circuit, Revision
from circuits.part_sheets.allowed import NoTestSheet, conductors, subjects
from circuits.part_sheets.checks import PRECEDENCE
from circuits.part_sheets.on_the_bench import HANDLING
from circuits.part_sheets.stored import bench_sheet_of, test_sheet_of

LONGEST_PART = 40
CASES_OFFERED = 50


@login_required
@require_safe
def choose_case(request: HttpRequest) -> HttpResponse:
    """Choose the case that the readings of a sheet belong to."""
    user = signed_in(request)
    circuit = get_object_or_404(Circuit, key=request.GET.get("circuit", "").replace("\x00", ""))
    mine = (
        Case.objects.visible_to(user)
        .with_facts()
        .filter(
            shop__memberships__user=user,
            revision__circuit=circuit,
            withdrawn_at__isnull=True,
        )
    )
    still_open = list(mine.filter(outcome=Outcome.OPEN)[:CASES_OFFERED])
    closed = list(mine.exclude(outcome=Outcome.OPEN)[:CASES_OFFERED])
    context = {
        "here": "cases",
        "circuit": circuit,
        "part": request.GET.get("part", "")[:LONGEST_PART],
        "on_bench": "bench" in request.GET,
        "groups": [(still_open, "Open"), (closed, "Closed")],
        "any_case": bool(still_open or closed),
    }
    return render(request, "cases/choose_sheet_case.html", context)


@login_required
def sheet_readings(request: HttpRequest, pk: int) -> HttpResponse:
    """Fill in a sheet: every reading is logged, or none and each error stands at its check."""
    case = own_case(request, pk, "add readings")
    circuit = circuit_of_case(case)
    if circuit is None or case.revision is None:
        messages.warning(request, "Choose the circuit first: its sheets are made from it.")
        return redirect("cases:choose-circuit", pk=case.pk)
    subject = request.GET.get("part", "")[:LONGEST_PART]
    on_bench = "bench" in request.GET
    context = {
        "here": "cases",
        "case": case,
        "subject": subject,
        "subjects": subjects(circuit.sheet),
        "conductors": conductors(circuit.sheet),
        "on_bench": on_bench,
        "cautions": cautions_of(circuit),
        "precedence": PRECEDENCE,
        "handling": HANDLING,
        "draft": f"sheet-{case.pk}-{'bench' if on_bench else 'car'}-{subject}",
        "redraw_url": request.get_full_path(),
        "refusal": circuit.refusal,
    }
    problems: list[Problem] = []
    sending = Sending(request)
    if subject and not circuit.refusal:
        try:
            rows = _rows(case.revision, circuit, subject, on_bench=on_bench)
        except NoTestSheet as refusal:
            context["refusal"] = str(refusal)
        else:
            form = _form(request, circuit, rows, echo_address(case.revision.pk, case.pk))
            if form.is_bound and form.is_valid():
                draft = str(context["draft"])
                if _logged(request, case, form, sending, draft):
                    return sending.taken(case.pk)
            problems = problems_of(form) if form.is_bound else []
            context["form"] = form
    context |= {"problems": problems, "once": sending.key}
    return render(request, "cases/sheet_readings.html", context, status=422 if problems else 200)


def _rows(
    revision: Revision, circuit: CaseCircuit, subject: str, *, on_bench: bool
) -> tuple[SheetRow, ...]:
    if on_bench:
        return rows_of_bench(bench_sheet_of(revision, subject))
    return rows_of_checks(circuit, test_sheet_of(revision, subject))


def _form(
    request: HttpRequest, circuit: CaseCircuit, rows: tuple[SheetRow, ...], echo_at: str
) -> SheetForm:
    # A draft brought back is drawn, not logged yet.
    is_draft = "more_rows" in request.POST
    sent = request.method == "POST" and not is_draft
    return SheetForm(
        request.POST if sent else None,
        circuit=circuit,
        rows=rows,
        echo_at=echo_at,
        initial=request.POST.dict() if is_draft else None,
        instruments=instrument_names(signed_in(request)),
    )


def _logged(
    request: HttpRequest, case: Case, form: SheetForm, sending: Sending, draft: str
) -> bool:
    readings = form.readings
    if not readings:
        form.add_error(None, "Type what at least one check showed.")
        return False
    with refusals_at(form), sending.renewed_where_sent_before():
        try:
            add_readings(
                case=case,
                readings=readings,
                by=signed_in(request),
                at=timezone.now(),
                once=sending.key,
            )
        except BadRows as error:
            for problem in error.problems:
                form.add_error(None, str(problem))
            return False
        words = "The reading is logged" if len(readings) == 1 else f"{len(readings)} are logged"
        messages.success(request, f"{words} and judged.", extra_tags=draft)
        return True
    return False
