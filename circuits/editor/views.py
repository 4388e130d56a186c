"""The pages on which a circuit is written. A draft is seen by the person who writes it."""

from itertools import groupby
from typing import Any, TypeVar

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.db.models import Q
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe
from pydantic import BaseModel, ValidationError

from circuits.drawing import draw
from circuits.editor.changing import (
    changes_of,
    join_newest,
    published_since,
    take_back,
    what_moved_on,
)
from circuits.editor.drafts import (
    begin_copy,
    begin_empty,
    begin_from_start,
    begin_revision,
    keep_draft,
    publish_draft,
    throw_away_draft,
)
from circuits.editor.errors import DraftMovedOn
from circuits.editor.forms import DraftForm
from circuits.editor.judging import judge_table, judge_text
from circuits.editor.live import Typed, settings_of_the_table, shown
from circuits.editor.pins import Device, rows_of
from circuits.editor.splitting import split_text
from circuits.editor.starts import all_starts
from circuits.editor.table import Table
from circuits.errors import CircuitError, RevisionMovedOn
from circuits.inspection import inspect
from circuits.models import Circuit, Draft
from circuits.predicting.tables import predicted_table
from circuits.sheet import Flaw, SheetErrors
from circuits.views.revisions import sections_of, title_of

MOST_LISTED = 12
#: What a button says that takes one entry of a draft back: `take back parts W1`.
TAKE_BACK = "take back "
ModelT = TypeVar("ModelT", bound=BaseModel)


def _person(request: HttpRequest) -> User:
    assert isinstance(request.user, User)
    return request.user


def _draft(request: HttpRequest, key: str) -> Draft:
    drafts = Draft.objects.visible_to(request.user).select_related("circuit", "base")
    return get_object_or_404(drafts, key=key)


@login_required
def begin(request: HttpRequest) -> HttpResponse:
    """Show what a circuit can begin from, and the drafts that wait; begin one."""
    if request.method == "POST":
        try:
            origin = request.POST.get("from", "").replace("\x00", "")
            draft = _begun(origin, by=_person(request))
        except CircuitError as error:
            messages.error(request, str(error))
        else:
            return redirect("circuits:write", draft=draft.key)
    words = request.GET.get("words", "").replace("\x00", "").strip()[:100]
    found = Circuit.objects.order_by("system", "title", "key")
    for word in words.split():
        found = found.filter(
            Q(title__icontains=word)
            | Q(system__icontains=word)
            | Q(make__icontains=word)
            | Q(model__icontains=word)
        )
    context = {
        "here": "circuits",
        "drafts": Draft.objects.visible_to(request.user).select_related("circuit"),
        "starts": all_starts(),
        "found": found[:MOST_LISTED],
        "more": max(found.count() - MOST_LISTED, 0),
        "words": words,
    }
    return render(request, "circuits/editor/begin.html", context)


def _begun(origin: str, *, by: User) -> Draft:
    what, _, name = origin.partition(":")
    at = timezone.now()
    match what:
        case "start":
            return begin_from_start(name=name, by=by, at=at)
        case "copy":
            return begin_copy(circuit_key=name, by=by, at=at)
        case "revise":
            return begin_revision(circuit_key=name, by=by, at=at)
    return begin_empty(by=by, at=at)


@login_required
def write(request: HttpRequest, draft: str) -> HttpResponse:
    """Show a draft as a table and as text; do what its buttons say, with or without a script."""
    here = _draft(request, draft)
    if request.method != "POST":
        return _page(request, here, DraftForm(initial=_initial(here)))
    doing = request.POST.get("doing", "")
    if doing == "throw away":
        throw_away_draft(draft=here, by=_person(request))
        messages.success(request, "The draft is thrown away.")
        return redirect("circuits:begin")
    sent = request.POST.copy()
    form = DraftForm(sent, publishing=doing == "publish")
    if form.errors.keys() & {"version", "text"}:
        return _page(request, here, form, status=422)
    try:
        here = _kept(form, here, by=_person(request))
    except DraftMovedOn as error:
        form.add_error(None, str(error))
        return _page(request, here, form, status=409)
    sent["version"] = str(here.version)
    if form.errors:
        return _page(request, here, form, status=422)
    if doing == "join":
        return _joined(request, here, form)
    if doing.startswith(TAKE_BACK):
        return _taken_back(request, here, form, entry=doing.removeprefix(TAKE_BACK))
    if doing == "publish":
        return _published(request, here, form)
    return _page(request, here, form)


def _kept(form: DraftForm, draft: Draft, *, by: User) -> Draft:
    # A browser ends lines as the standard of forms has it; the text has one kind of end.
    text = form.cleaned_data["text"].replace("\r\n", "\n")
    return keep_draft(
        draft=draft,
        text=text,
        table=draft.table if text == draft.text else None,
        note=form.cleaned_data.get("note", draft.note),
        version=form.cleaned_data["version"],
        by=by,
        at=timezone.now(),
    )


def _published(request: HttpRequest, draft: Draft, form: DraftForm) -> HttpResponse:
    try:
        revision = publish_draft(draft=draft, by=_person(request), at=timezone.now())
    except SheetErrors as error:
        return _page(request, draft, form, flaws=error.flaws, status=422)
    except RevisionMovedOn as error:
        joined = join_newest(draft=draft, conflict=error, by=_person(request), at=timezone.now())
        form = DraftForm(initial=_initial(joined))
        return _page(request, joined, form, conflict=error, status=409)
    except CircuitError as error:
        form.add_error(None, str(error))
        return _page(request, draft, form, status=422)
    words = f"Revision {revision.number} of {revision.circuit.title} is published."
    messages.success(request, words, extra_tags=f"circuit-{draft.key}")
    return redirect("circuits:circuit", key=revision.circuit.key)


def _joined(request: HttpRequest, draft: Draft, form: DraftForm) -> HttpResponse:
    try:
        conflict = what_moved_on(draft)
    except SheetErrors as error:
        return _page(request, draft, form, flaws=error.flaws, status=422)
    if conflict is None:
        return redirect("circuits:write", draft=draft.key)
    joined = join_newest(draft=draft, conflict=conflict, by=_person(request), at=timezone.now())
    form = DraftForm(initial=_initial(joined))
    return _page(request, joined, form, conflict=conflict, was_asked=True)


def _taken_back(request: HttpRequest, draft: Draft, form: DraftForm, *, entry: str) -> HttpResponse:
    section, _, name = entry.partition(" ")
    try:
        take_back(draft=draft, section=section, name=name, by=_person(request), at=timezone.now())
    except SheetErrors as error:
        return _page(request, draft, form, flaws=error.flaws, status=422)
    except CircuitError as error:
        messages.warning(request, str(error))
    return redirect(f"{reverse('circuits:write', args=[draft.key])}#changes")


def _initial(draft: Draft) -> dict[str, Any]:
    return {"version": draft.version, "text": draft.text, "note": draft.note}


def _page(
    request: HttpRequest,
    draft: Draft,
    form: DraftForm,
    *,
    flaws: tuple[Flaw, ...] = (),
    conflict: RevisionMovedOn | None = None,
    was_asked: bool = False,
    status: int = 200,
) -> HttpResponse:
    table = Table.model_validate(draft.table) if draft.table else split_text(draft.text)
    judgement = judge_table(table)
    since = published_since(draft)
    context = {
        "here": "circuits",
        "draft": draft,
        "since": since,
        "since_sections": list(sections_of(since.changed)) if since is not None else [],
        "was_asked": was_asked,
        "form": form,
        "flaws": flaws,
        "conflict": conflict,
        "their_sections": list(sections_of(conflict.theirs)) if conflict is not None else [],
        "my_sections": list(sections_of(conflict.mine)) if conflict is not None else [],
        "judgement": judgement,
        "as_text": judge_text(draft.text) if request.method == "POST" else judgement,
        "begun": {
            "key": draft.key,
            "version": draft.version,
            "table": table.model_dump(mode="json"),
            "findings": shown(judgement),
            "works": judgement.sheet is not None,
        },
        "table_settings": settings_of_the_table(),
    }
    return render(request, "circuits/editor/write.html", context, status=status)


@login_required
@require_safe
def seen(request: HttpRequest, draft: str) -> HttpResponse:
    """Show what a draft makes: its drawing and what its places read."""
    judgement = judge_text(_draft(request, draft).text)
    context: dict[str, Any] = {"drawing": None}
    if judgement.sheet is not None and judgement.network is not None:
        context = {
            "drawing": draw(judgement.sheet),
            "predicted": predicted_table(judgement.sheet, judgement.network),
        }
    return render(request, "circuits/editor/_seen.html", context)


@login_required
@require_safe
def inspected(request: HttpRequest, draft: str) -> HttpResponse:
    """Show what the inspection of a draft finds."""
    judgement = judge_text(_draft(request, draft).text)
    found = None
    if judgement.sheet is not None and judgement.network is not None:
        found = inspect(judgement.sheet, judgement.network)
    return render(request, "circuits/editor/_inspected.html", {"found": found})


@login_required
@require_safe
def changed(request: HttpRequest, draft: str) -> HttpResponse:
    """Show what a draft changes in the revision it began from."""
    here = _draft(request, draft)
    sheet = judge_text(here.text).sheet
    changes = None
    if sheet is not None:
        by_title = groupby(
            changes_of(here, sheet), key=lambda change: title_of(change.difference.section)
        )
        changes = [{"title": title, "rows": list(rows)} for title, rows in by_title]
    context = {"changes": changes, "base": here.base.number if here.base is not None else 0}
    return render(request, "circuits/editor/_changed.html", context)


@login_required
@require_POST
def keep(request: HttpRequest, draft: str) -> HttpResponse:
    """Keep what is typed, and say what is wrong with it and what the circuit does."""
    here = _draft(request, draft)
    typed = _sent(Typed, request)
    if not isinstance(typed, Typed):
        return typed
    judgement = typed.judged()
    try:
        kept = keep_draft(
            draft=here,
            text=judgement.text,
            table=typed.table_data,
            note=typed.note,
            version=typed.version,
            by=_person(request),
            at=timezone.now(),
        )
    except DraftMovedOn as error:
        return JsonResponse(
            {"detail": str(error), "version": error.version, "at": error.at.isoformat()},
            status=409,
        )
    answer: dict[str, Any] = {
        "version": kept.version,
        "at": kept.changed_at.isoformat(),
        "findings": shown(judgement),
        "works": judgement.sheet is not None,
    }
    if typed.want == "text":
        answer["text"] = judgement.text
    if typed.want == "table":
        table = typed.table or split_text(judgement.text)
        answer["table"] = table.model_dump(mode="json")
        answer["findings"] = shown(judge_table(table))
    return JsonResponse(answer)


@login_required
@require_POST
def device_rows(request: HttpRequest, draft: str) -> HttpResponse:
    """Return the rows of a relay or a module that was told pin by pin."""
    _draft(request, draft)
    device = _sent(Device, request)
    if not isinstance(device, Device):
        return device
    rows = {
        section: [row.model_dump(mode="json") for row in found]
        for section, found in rows_of(device).items()
    }
    return JsonResponse({"rows": rows})


def _sent(model: type[ModelT], request: HttpRequest) -> ModelT | HttpResponse:
    """Return what was sent as JSON, or the answer that says what is wrong with it."""
    try:
        return model.model_validate_json(request.body)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(map(str, first["loc"])) or "what was sent"
        detail = f"{where}: {first['msg']}. Nothing was changed; mend it there and send it again."
        return JsonResponse({"detail": detail}, status=400)
