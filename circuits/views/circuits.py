"""The pages of circuits. Everyone who is signed in sees all of them."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from circuits.acceptances import inspection_of
from circuits.addresses import number_in
from circuits.cautions import USUAL, cautions_for
from circuits.drawing import draw, face_pictures
from circuits.errors import CircuitError, RevisionMovedOn
from circuits.forms import SheetForm
from circuits.models import Circuit, Revision
from circuits.nudges import nudges_of
from circuits.on_vehicles.confirmations import confirmations_of, pin_lines
from circuits.on_vehicles.open_rules import rules_to_settle
from circuits.predicting.what_if import what_if
from circuits.services import export_text, import_text, latest_revision, sheet_of
from circuits.shared_sheets import ends_of_sheet, other_sheets
from circuits.sheet import (
    KINDS,
    CodeEntry,
    Flaw,
    SheetErrors,
    condition_words,
    read_any,
    to_json,
    write_text,
)
from circuits.views.revisions import sections_of

CIRCUITS_ON_A_PAGE = 40
EXAMPLE_KEY = "fuel-pump"


@login_required
@require_safe
def circuit_list(request: HttpRequest) -> HttpResponse:
    """List the circuits by system."""
    words = request.GET.get("words", "").replace("\x00", "").strip()[:100]
    circuits = Circuit.objects.annotate(revision_count=Count("revisions")).order_by(
        "system", "title", "key"
    )
    for word in words.split():
        circuits = circuits.filter(
            Q(title__icontains=word)
            | Q(system__icontains=word)
            | Q(make__icontains=word)
            | Q(model__icontains=word)
        )
    page = Paginator(circuits, CIRCUITS_ON_A_PAGE).get_page(request.GET.get("page"))
    context = {"here": "circuits", "page": page, "words": words}
    return render(request, "circuits/list.html", context)


@login_required
@require_safe
def circuit_page(request: HttpRequest, key: str) -> HttpResponse:
    """Show a circuit, and what its places read: healthy, and with a fault if one is chosen."""
    circuit = get_object_or_404(Circuit, key=key)
    revision = _revision(circuit, request.GET.get("revision", ""))
    sheet, shown = sheet_of(revision), what_if(revision, request.GET)
    if request.htmx:  # type: ignore[attr-defined]
        part = "curve" if request.GET.get("part") == "curve" else "readings"
        context = {"shown": shown, "told": shown.told}
        return render(request, f"circuits/_{part}.html", context)
    context = {
        "here": "circuits",
        "circuit": circuit,
        "revision": revision,
        "revisions": circuit.revisions.select_related("author"),
        "sheet": sheet,
        "codes": [CodeLine(entry, condition_lines(entry)) for entry in sheet.codes],
        "cautions": cautions_for(sheet.hazards),
        "drawing": draw(sheet, nudges=nudges_of(circuit)),
        "faces": face_pictures(sheet),
        "inspection": inspection_of(revision),
        "is_newest": revision == latest_revision(circuit),
        "pins": pin_lines(revision, request.user),
        "may_tick": not request.GET.get("revision"),
        "confirmations": confirmations_of(circuit),
        "others": other_sheets(revision),
        "sheet_ends": ends_of_sheet(revision),
        "shown": shown,
        "open_rules": rules_to_settle(sheet),
    }
    return render(request, "circuits/circuit.html", context)


@login_required
@require_safe
def circuit_text(request: HttpRequest, key: str) -> HttpResponse:
    """Send a circuit as text, or as JSON where that is asked for."""
    circuit = get_object_or_404(Circuit, key=key)
    revision = _revision(circuit, request.GET.get("revision", ""))
    as_json = request.GET.get("form") == "json"
    content = to_json(sheet_of(revision)) if as_json else export_text(revision)
    kind = "application/json" if as_json else "text/plain; charset=utf-8"
    name = f"{circuit.key}-{revision.number}.{'json' if as_json else 'txt'}"
    answer = HttpResponse(content, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@login_required
def bring_in(request: HttpRequest, key: str = "") -> HttpResponse:
    """Publish a circuit from its text, or a new revision of one."""
    circuit = get_object_or_404(Circuit, key=key) if key else None
    as_it_is = _as_it_is(circuit) if circuit is not None else None
    form = SheetForm(request.POST or None, request.FILES or None, initial=as_it_is)
    flaws: tuple[Flaw, ...] = ()
    conflict: RevisionMovedOn | None = None
    if form.is_valid():
        content, note = form.cleaned_data["content"], form.cleaned_data["note"]
        # Nobody knows which revision a file was made from.
        base = 0 if form.cleaned_data["file"] else form.cleaned_data["base"] or 0
        user = request.user
        assert isinstance(user, User)
        try:
            target = circuit or Circuit.objects.filter(key=read_any(content).vehicle.key).first()
            revision = import_text(
                content, circuit=target, note=note, by=user, at=timezone.now(), base=base
            )
        except SheetErrors as error:
            flaws = error.flaws
        except RevisionMovedOn as error:
            conflict = error
            form = _form_with_both(error, note)
        except CircuitError as error:
            form.add_error(None, str(error))
        else:
            words = f"Revision {revision.number} of {revision.circuit.title} is published."
            messages.success(request, words)
            return redirect("circuits:circuit", key=revision.circuit.key)
    context = {
        "here": "circuits",
        "circuit": circuit,
        "form": form,
        "flaws": flaws,
        "flawed_lines": _flawed_lines(form, flaws),
        "conflict": conflict,
        "their_sections": list(sections_of(conflict.theirs)) if conflict is not None else [],
        "my_sections": list(sections_of(conflict.mine)) if conflict is not None else [],
    }
    if conflict is not None:
        return render(request, "circuits/import.html", context, status=409)
    refused = bool(flaws or form.errors)
    return render(request, "circuits/import.html", context, status=422 if refused else 200)


def _as_it_is(circuit: Circuit) -> dict[str, Any]:
    newest = latest_revision(circuit)
    return {"text": export_text(newest), "base": newest.number}


def _form_with_both(conflict: RevisionMovedOn, note: str) -> SheetForm:
    """Return the form with both people's changes in it, made from the newest revision now."""
    text = write_text(conflict.merged.sheet)
    return SheetForm(initial={"text": text, "note": note, "base": conflict.newest})


@login_required
@require_safe
def text_form(request: HttpRequest) -> HttpResponse:
    """Say how a circuit is written as text, with a whole one as the example."""
    circuit = (
        Circuit.objects.filter(key=EXAMPLE_KEY).first() or Circuit.objects.order_by("key").first()
    )
    example = export_text(latest_revision(circuit)) if circuit is not None else ""
    kinds = [
        {
            "word": kind.word,
            "example": kind.example,
            "others": ", ".join(field.example for field in kind.fields if not field.needed),
        }
        for kind in KINDS.values()
    ]
    context = {"here": "circuits", "example": example, "kinds": kinds}
    return render(request, "circuits/text_form.html", context)


@login_required
@require_safe
def help_page(request: HttpRequest) -> HttpResponse:
    """Say how the program thinks, in the order in which one meets it."""
    return render(request, "help.html", {"cautions": list(USUAL.values())})


@dataclass(frozen=True, slots=True)
class CodeLine:
    """A fault code with its set conditions in words."""

    entry: CodeEntry
    conditions: list[str]


@dataclass(frozen=True, slots=True)
class FlawedLine:
    """A line of a text that has to be mended."""

    number: int
    text: str


def condition_lines(entry: CodeEntry) -> list[str]:
    """Return when a code sets, a line for each way."""
    return [condition_words(condition) for condition in entry.conditions]


def _revision(circuit: Circuit, number: str) -> Revision:
    if not number:
        return latest_revision(circuit)
    revisions = circuit.revisions.select_related("circuit", "author")
    return get_object_or_404(revisions, number=number_in(number))


def _flawed_lines(form: SheetForm, flaws: tuple[Flaw, ...]) -> list[FlawedLine]:
    content = form.cleaned_data.get("content", "") if flaws else ""
    text = content.decode("utf-8", "replace") if isinstance(content, bytes) else content
    lines = text.splitlines()
    numbers = sorted({flaw.line for flaw in flaws if 0 < flaw.line <= len(lines)})
    return [FlawedLine(number, lines[number - 1]) for number in numbers]
