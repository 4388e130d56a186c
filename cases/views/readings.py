"""Log readings of a case, before and after the repair, and correct them by newer lines."""

from collections.abc import Sequence

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from cases.documents.readings import NewReading
from cases.errors import BadRows
from cases.forms.readings import (
    AfterReadingForm,
    CorrectionForm,
    LoggingForm,
    ReadingForm,
    ReadingRows,
    echo_address,
    reading_rows,
    rows_to_fill,
)
from cases.forms.rigs import bare, rig_as_typed
from cases.models import Case, LoggedReading, Stage
from cases.services.instruments import instrument_names
from cases.services.readings import add_readings as log_readings
from cases.services.readings import correct_reading as log_correction
from cases.services.record import line_of
from cases.views.common import (
    Problem,
    cautions_of,
    circuit_of_case,
    own_case,
    problems_of,
    problems_of_rows,
    refusals_at,
    signed_in,
)
from cases.views.on_photos import tagged_photos
from cases.views.sending import Sending

ROWS_AT_FIRST = 3


@login_required
def add_readings(request: HttpRequest, pk: int) -> HttpResponse:
    """Log readings taken before the repair."""
    case = own_case(request, pk, "add readings")
    names = ("place", "phase", "unplugged", "also_unplugged", "bridged", "lamp", "instrument")
    asked = {name: request.GET[name] for name in names if request.GET.get(name)}
    return _rows_page(request, case, LoggingForm, initial=[asked] if asked else [])


@login_required
def after_readings(request: HttpRequest, pk: int) -> HttpResponse:
    """Log readings taken after the repair: the places and phases read before stand ready."""
    case = own_case(request, pk, "add readings")
    return _rows_page(request, case, AfterReadingForm, initial=_read_before(case))


def _rows_page(
    request: HttpRequest, case: Case, form: type[LoggingForm], *, initial: list[dict[str, str]]
) -> HttpResponse:
    circuit = circuit_of_case(case)
    if circuit is None or case.revision is None:
        messages.warning(request, "Choose the circuit first: a reading needs a place in it.")
        return redirect("cases:choose-circuit", pk=case.pk)
    after = form is AfterReadingForm
    stage = Stage.AFTER if after else Stage.BEFORE
    echo_at = echo_address(case.revision.pk, case.pk, stage)
    problems: list[Problem] = []
    sending = Sending(request)
    instruments = instrument_names(signed_in(request))
    if request.method == "POST" and "more_rows" not in request.POST:
        rows = reading_rows(
            circuit,
            data=request.POST,
            files=request.FILES,
            form=form,
            echo_at=echo_at,
            instruments=instruments,
        )
        if rows.is_valid() and _logged(request, case, rows, problems, sending):
            return sending.taken(case.pk)
        problems += problems_of_rows(rows, "Reading")
    else:
        rows = rows_to_fill(
            circuit,
            request.POST,
            at_least=ROWS_AT_FIRST,
            ready=initial,
            form=form,
            echo_at=echo_at,
            instruments=instruments,
        )
    context = {
        "here": "cases",
        "case": case,
        "rows": rows,
        "problems": problems,
        "cautions": cautions_of(circuit),
        "after": after,
        "redraw_url": request.path,
        "draft": _draft_name(case, form),
        "once": sending.key,
        "photos": tagged_photos(case, circuit, signed_in(request), sheet=None, may_log=not after),
        "place_is_chosen": bool(initial) and not after,
    }
    return render(request, "cases/add_readings.html", context, status=422 if problems else 200)


def _logged(
    request: HttpRequest,
    case: Case,
    rows: ReadingRows,
    problems: list[Problem],
    sending: Sending,
) -> bool:
    """Log the rows and return whether it could be done; what was refused joins the problems."""
    readings: Sequence[NewReading] = rows.readings
    if not readings:
        problems.append(Problem(words="Type at least one reading."))
        return False
    holder = forms.Form(data={})
    with refusals_at(holder), sending.renewed_where_sent_before():
        try:
            log_readings(
                case=case,
                readings=readings,
                by=signed_in(request),
                at=timezone.now(),
                once=sending.key,
                pictures=rows.pictures,
            )
        except BadRows as error:
            typed = rows.typed_rows
            for problem in error.problems:
                typed[problem.line - 1].add_error(None, problem.problem)
            return False
        count = len(readings)
        words = "The reading is logged" if count == 1 else f"{count} readings are logged"
        draft = _draft_name(case, rows.form)
        messages.success(request, f"{words} and judged.", extra_tags=draft)
        return True
    problems += problems_of(holder)
    return False


def _draft_name(case: Case, form: type[ReadingForm]) -> str:
    return f"{'after' if form is AfterReadingForm else 'before'}-{case.pk}"


@login_required
def correct_reading(request: HttpRequest, pk: int, reading_pk: int) -> HttpResponse:
    """Correct a reading by a newer line with a reason; the old line stays in sight."""
    case = own_case(request, pk, "correct its readings")
    reading = get_object_or_404(case.readings, pk=reading_pk)
    circuit = circuit_of_case(case)
    assert circuit is not None  # a reading has a place, so its case has a circuit
    assert case.revision is not None
    form = _form_for(reading)(
        request.POST or None,
        circuit=circuit,
        initial=_as_typed(reading),
        echo_at=echo_address(case.revision.pk, case.pk, Stage(reading.stage), reading.pk),
        instruments=instrument_names(signed_in(request)),
    )
    if form.is_valid():
        with refusals_at(form):
            log_correction(
                reading=reading,
                correction=form.reading,
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
                at=timezone.now(),
            )
            messages.success(request, "The newer line is logged; the old one stays in sight.")
            return redirect("cases:case", pk=case.pk)
    problems = problems_of(form) if form.is_bound else []
    context = {
        "here": "cases",
        "case": case,
        "reading": reading,
        "row": form,
        "problems": problems,
        "cautions": cautions_of(circuit),
    }
    return render(request, "cases/correct_reading.html", context, status=422 if problems else 200)


def _form_for(reading: LoggedReading) -> type[CorrectionForm]:
    class Correction(CorrectionForm):
        @property
        def stage(self) -> Stage:
            return Stage(reading.stage)

    return Correction


def _read_before(case: Case) -> list[dict[str, str]]:
    """Return where and how was read before the repair, without what it showed."""
    spots = [
        {
            "place": reading.place_key,
            "phase": reading.phase_key,
            "statistic": reading.statistic,
            **rig_as_typed(line_of(reading).rig),
        }
        for reading in LoggedReading.objects.filter(case=case).current().before_repair()
    ]
    return [spot for number, spot in enumerate(spots) if spot not in spots[:number]]


def _as_typed(reading: LoggedReading) -> dict[str, str]:
    """Return a logged reading as a form holds it."""
    return {
        "place": reading.place_key,
        "phase": reading.phase_key,
        "text": reading.text,
        **rig_as_typed(line_of(reading).rig),
        "symptom_present": reading.symptom_present,
        "statistic": reading.statistic,
        "supply_volts": bare(reading.supply_volts),
        "celsius": bare(reading.celsius),
        "instrument": reading.meter_name,
        "meter_ohms": bare(reading.meter_input_ohms),
        "clamp_floor": bare(reading.meter_floor_amps),
        "lead_ohms": bare(reading.meter_lead_ohms),
        "note": reading.note,
    }
