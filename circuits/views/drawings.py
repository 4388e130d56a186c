"""The page of a circuit's drawing: phases, a fault beside healthy, a pin's ways, parts moved."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from circuits.addresses import number_in
from circuits.cautions import cautions_for
from circuits.drawing import BANDS, LOOSE_BAND, Drawing, Marks, draw
from circuits.drawn_words import connection_lines, part_lines
from circuits.engine import Fault
from circuits.errors import CircuitError, UnknownPin
from circuits.forms import FaultForm
from circuits.models import FARTHEST, Circuit, Revision
from circuits.nudges import nudge_part, nudges_of, put_all_back
from circuits.paths import PinReport, pin_report, pin_ways
from circuits.services import latest_revision, network_of, sheet_of
from circuits.sheet import Sheet

#: What an address has for the circuit at rest: two words, which no phase is called.
AT_REST = "at rest"


class NudgeForm(forms.Form):
    """A part, and how far it is to be moved from where it stands."""

    part = forms.ChoiceField()
    right = forms.IntegerField(
        required=False,
        min_value=-FARTHEST,
        max_value=FARTHEST,
        initial=0,
    )
    down = forms.IntegerField(
        required=False,
        min_value=-FARTHEST,
        max_value=FARTHEST,
        initial=0,
    )

    def __init__(self, *args: object, sheet: Sheet, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        field = self.fields["part"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(part.name, f"{part.name} ({part.kind})") for part in sheet.parts]


@login_required
@require_safe
def drawing_page(request: HttpRequest, key: str) -> HttpResponse:
    """Show the drawing in one phase, healthy and with a fault, and what belongs to a pin."""
    circuit = get_object_or_404(Circuit, key=key)
    revision = _asked_revision(request, circuit)
    sheet, network = sheet_of(revision), network_of(revision)
    form = FaultForm(request.GET if "fault" in request.GET else None, network=network)
    phase = _asked_phase(request, sheet)
    nudges = nudges_of(circuit)
    report, unknown_pin = _asked_report(request, revision)
    marked = (
        next((each.marked for each in report.ways if each.phase == phase), None) if report else None
    )
    healthy = draw(sheet, phase=phase, nudges=nudges, marked=marked)
    faulty = _faulty(request, revision, phase, form.chosen, nudges)
    faulty_state = faulty.state if faulty is not None else None
    context = {
        "here": "circuits",
        "circuit": circuit,
        "revision": revision,
        "sheet": sheet,
        "phases": sheet.phases,
        "phase": next((each for each in sheet.phases if each.key == phase), None),
        "at_rest": AT_REST,
        "form": form,
        "fault": form.chosen,
        "drawing": healthy,
        "caption": f"{revision.title}, {_phase_words(sheet, phase)}",
        "fault_caption": f"{form.chosen}, {_phase_words(sheet, phase)}",
        "faulty": faulty,
        "bands": (*reversed(BANDS), LOOSE_BAND),
        "connection_lines": connection_lines(sheet, healthy.state, faulty_state),
        "part_lines": part_lines(sheet, healthy.state, faulty_state),
        "report": report,
        "unknown_pin": unknown_pin,
        "nudges": nudges,
        "nudge_form": NudgeForm(sheet=sheet),
        "cautions": cautions_for(sheet.hazards),
    }
    return render(request, "circuits/drawing.html", context)


@login_required
@require_safe
def drawing_svg(request: HttpRequest, key: str) -> HttpResponse:
    """Send the drawing as a file of its own."""
    circuit = get_object_or_404(Circuit, key=key)
    revision = _asked_revision(request, circuit)
    sheet = sheet_of(revision)
    form = FaultForm(request.GET if "fault" in request.GET else None, network=network_of(revision))
    phase = _asked_phase(request, sheet)
    drawing = draw(
        sheet,
        phase=phase,
        fault=form.chosen,
        nudges=nudges_of(circuit),
        marked=_asked_marks(request, revision, phase, form.chosen),
    )
    answer = HttpResponse(drawing.svg, content_type="image/svg+xml")
    name = f"{circuit.key}-{revision.number}-{(phase or AT_REST).replace(' ', '-')}.svg"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@login_required
@require_POST
def nudge(request: HttpRequest, key: str) -> HttpResponse:
    """Move a part in the drawing, or let the layout place all of them again."""
    circuit = get_object_or_404(Circuit, key=key)
    user = request.user
    assert isinstance(user, User)
    if "all-back" in request.POST:
        count = put_all_back(circuit=circuit, by=user)
        messages.success(request, f"Put back: {count} part{'' if count == 1 else 's'}.")
        return redirect(f"{reverse('circuits:drawing', args=[key])}#move")
    form = NudgeForm(request.POST, sheet=sheet_of(latest_revision(circuit)))
    if not form.is_valid():
        words = " ".join(
            f"{name}: {' '.join(map(str, said))}" for name, said in form.errors.items()
        )
        messages.error(request, f"Nothing was moved. {words}")
        return redirect(f"{reverse('circuits:drawing', args=[key])}#move")
    part = form.cleaned_data["part"]
    try:
        nudge_part(
            circuit=circuit,
            part=part,
            right=form.cleaned_data["right"] or 0,
            down=form.cleaned_data["down"] or 0,
            by=user,
            at=timezone.now(),
        )
    except CircuitError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"{part} is moved.")
    query = urlencode({"moved": part})
    return redirect(f"{reverse('circuits:drawing', args=[key])}?{query}#move")


# ------------------------------------------------------------------------ what is asked for


def _asked_revision(request: HttpRequest, circuit: Circuit) -> Revision:
    number = request.GET.get("revision", "")
    if not number:
        return latest_revision(circuit)
    revisions = circuit.revisions.select_related("circuit", "author")
    return get_object_or_404(revisions, number=number_in(number))


def _asked_phase(request: HttpRequest, sheet: Sheet) -> str | None:
    """Return the phase asked for; the first one where none is, or none for the circuit at rest."""
    asked = request.GET.get("phase", "")
    if asked == AT_REST:
        return None
    return asked if asked in sheet.phase_keys else sheet.phase_keys[0]


def _phase_words(sheet: Sheet, phase: str | None) -> str:
    return next((each.words for each in sheet.phases if each.key == phase), "at rest")


def _faulty(
    request: HttpRequest,
    revision: Revision,
    phase: str | None,
    fault: Fault | None,
    nudges: dict[str, tuple[int, int]],
) -> Drawing | None:
    if fault is None or phase is None:
        return None
    marked = _asked_marks(request, revision, phase, fault)
    return draw(sheet_of(revision), phase=phase, fault=fault, nudges=nudges, marked=marked)


def _asked_marks(
    request: HttpRequest, revision: Revision, phase: str | None, fault: Fault | None
) -> Marks | None:
    pin = request.GET.get("pin", "")
    if not pin or phase is None:
        return None
    try:
        return pin_ways(sheet_of(revision), network_of(revision), pin, phase, fault).marked
    except UnknownPin:
        return None


def _asked_report(request: HttpRequest, revision: Revision) -> tuple[PinReport | None, str]:
    pin = request.GET.get("pin", "")
    if not pin:
        return None, ""
    try:
        return pin_report(sheet_of(revision), network_of(revision), pin), ""
    except UnknownPin as error:
        return None, str(error)
