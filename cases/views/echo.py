"""What a reading that is being typed is taken as, and what it asks to be looked at again for."""

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe
from pydantic import ValidationError

from cases.circuit import CaseCircuit, circuit_of
from cases.documents.readings import COMMON, Instrument, Rig
from cases.judging.lines import Line, Narrowed
from cases.judging.questions import hint_for, plain_questions, slip_questions
from cases.models import Case, Stage, Statistic
from cases.services.instruments import instrument_called
from cases.services.record import current_readings, line_of
from cases.views.common import signed_in
from circuits.addresses import number_in
from circuits.engine import COLDEST_CELSIUS, HOTTEST_CELSIUS, EngineError
from circuits.models import Revision
from circuits.on_vehicles.references import narrowed_at
from circuits.units import Quantity, UnitError, parse_quantity, parse_reading

#: Asks for what a reading may have been meant as, which takes longer than all else.
SLIPS = "slips"


@login_required
@require_safe
def echo(request: HttpRequest, revision_pk: int) -> HttpResponse:
    """Say what digits are taken as, what they leave to ask, or what the place can tell at all."""
    typed = {name.rpartition("-")[2]: request.GET.get(name, "") for name in request.GET}
    revision = Revision.objects.filter(pk=revision_pk).first()
    context: dict[str, object] = {}
    if revision is not None:
        circuit = circuit_of(revision)
        user = signed_in(request)
        lines = _lines(user, request.GET.get("case", ""), revision)
        corrected = number_in(request.GET.get("corrects", ""))
        lines = [line for line in lines if line.number != corrected]
        instrument = _instrument(typed, user)
        context = _said(circuit, typed, lines, instrument, narrowed_at(revision))
        # What takes longer is asked for by what was said at once.
        context["later_at"] = f"{request.get_full_path()}&{SLIPS}=1"
    return render(request, "cases/parts/echo.html", context)


def _said(
    circuit: CaseCircuit,
    typed: dict[str, str],
    lines: list[Line],
    instrument: Instrument,
    narrowed: Narrowed,
) -> dict[str, object]:
    entry = circuit.entry_at(typed.get("place", ""))
    if entry is None:
        return {}
    text = typed.get("text", "").strip()
    if not text:
        return {"hint": _hint(circuit, typed, narrowed)}
    try:
        quantity = parse_reading(text, entry.unit)
    except UnitError as error:
        return {"words": str(error), "wrong": True}
    if quantity is None:
        return {"words": "not measured"}
    line = _line(typed, quantity, instrument)
    has_phase = line.phase in circuit.phases
    if SLIPS in typed:
        return {"questions": slip_questions(circuit, lines, line) if has_phase else ()}
    if not has_phase:
        return {"words": quantity.echo}
    try:
        questions = list(plain_questions(circuit, lines, line))
    except EngineError as error:
        return {"words": quantity.echo, "questions": [f"{error}."]}
    return {"words": quantity.echo, "questions": questions, "goes_on": True}


def _hint(circuit: CaseCircuit, typed: dict[str, str], narrowed: Narrowed) -> str:
    try:
        return hint_for(circuit, _line(typed, None), narrowed)
    except EngineError as error:
        return f"{error}."


def _line(
    typed: dict[str, str], quantity: Quantity | None, instrument: Instrument = COMMON
) -> Line:
    value = quantity.value if quantity is not None else None
    return Line(
        number=0,
        place=typed.get("place", ""),
        phase=typed.get("phase", ""),
        text=typed.get("text", ""),
        value=value,
        step=(quantity.step if quantity is not None else None) or 0.0,
        over_range=quantity is not None and quantity.over_range,
        rig=_rig(typed),
        statistic=_statistic(typed.get("statistic", "")),
        stage=Stage.AFTER if typed.get("stage") == Stage.AFTER else Stage.BEFORE,
        supply_volts=_typed_in("V", typed.get("supply_volts", "")),
        celsius=_celsius(typed.get("celsius", "")),
        instrument=instrument,
    )


def _instrument(typed: dict[str, str], user: User) -> Instrument:
    """Return the instrument that was chosen, with what is told of it for this reading alone."""
    told = {
        "input_ohms": _above_nought(_typed_in("ohm", typed.get("meter_ohms", ""))),
        "floor_amps": _typed_in("A", typed.get("clamp_floor", "")),
        "lead_ohms": _typed_in("ohm", typed.get("lead_ohms", "")),
    }
    chosen = instrument_called(typed.get("instrument", ""), of=user)
    told = {name: value for name, value in told.items() if value is not None and value >= 0}
    return chosen.model_copy(update=told)


def _above_nought(value: float | None) -> float | None:
    return value if value is not None and value > 0 else None


def _celsius(text: str) -> float | None:
    value = _typed_in("C", text)
    return value if value is not None and COLDEST_CELSIUS <= value <= HOTTEST_CELSIUS else None


def _typed_in(unit: str, text: str) -> float | None:
    """Return what was typed in a field beside the reading; what it lacks is told at that field."""
    try:
        return parse_quantity(text, unit).number if text.strip() else None
    except UnitError:
        return None


def _statistic(typed: str) -> Statistic:
    return Statistic(typed) if typed in Statistic.values else Statistic.STEADY


def _rig(typed: dict[str, str]) -> Rig:
    unplugged = typed.get("unplugged", "")
    lamp = _above_nought(_typed_in("W", typed.get("lamp", "")))
    power_removed = "power_removed" in typed
    try:
        return Rig(
            unplugged=(unplugged,) if unplugged else (),
            lamp_watts=lamp,
            power_removed=power_removed,
        )
    except ValidationError:  # told at its own field
        return Rig(power_removed=power_removed)


def _lines(user: User, case_pk: str, revision: Revision) -> list[Line]:
    """Return what is logged of a case that this person may see, with this revision."""
    if not case_pk:
        return []
    cases = Case.objects.visible_to(user).filter(pk=number_in(case_pk), revision=revision)
    case = cases.first()
    return [line_of(reading) for reading in current_readings(case)] if case is not None else []
