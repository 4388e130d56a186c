"""The services of drafts: begin, keep, publish, throw away."""

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from circuits.editor.errors import DraftMovedOn, TooManyDrafts, UnknownStart
from circuits.editor.starts import (
    EMPTY_SHEET,
    copied_from,
    renamed,
    start_named,
    title_of,
)
from circuits.models import WORDS_LENGTH, Circuit, Draft, Revision
from circuits.services import (
    circuit_by_key,
    export_text,
    import_text,
    latest_revision,
    sheet_of,
)

MOST_DRAFTS = 100
LONGEST_KEY = 60


def begin_empty(*, by: User, at: datetime) -> Draft:
    """Begin a circuit from an empty sheet."""
    return _begun(EMPTY_SHEET, by=by, at=at)


def begin_from_start(*, name: str, by: User, at: datetime) -> Draft:
    """Begin a circuit from a shape of circuit.

    Raises
    ------
    UnknownStart, TooManyDrafts
    """
    start = start_named(name)
    if start is None:
        raise UnknownStart(name)
    return _begun(renamed(start.text, _free_key(f"my-{start.name}")), by=by, at=at)


def begin_copy(*, circuit_key: str, by: User, at: datetime) -> Draft:
    """Begin a circuit of another vehicle from one that is there.

    Raises
    ------
    UnknownCircuit, TooManyDrafts
    """
    revision = latest_revision(circuit_by_key(circuit_key))
    text = copied_from(
        export_text(revision),
        sheet_of(revision),
        key=_free_key(circuit_key),
        source=f"{circuit_key} revision {revision.number}",
    )
    return _begun(text, by=by, at=at)


def begin_revision(*, circuit_key: str, by: User, at: datetime) -> Draft:
    """Begin the next revision of a circuit; a draft of it that is there already is opened.

    Raises
    ------
    UnknownCircuit, TooManyDrafts
    """
    circuit = circuit_by_key(circuit_key)
    there = Draft.objects.visible_to(by).filter(circuit=circuit).first()
    if there is not None:
        return there
    revision = latest_revision(circuit)
    return _begun(export_text(revision), circuit=circuit, base=revision, by=by, at=at)


def _begun(
    text: str,
    *,
    by: User,
    at: datetime,
    circuit: Circuit | None = None,
    base: Revision | None = None,
) -> Draft:
    if Draft.objects.visible_to(by).count() >= MOST_DRAFTS:
        raise TooManyDrafts(MOST_DRAFTS)
    return Draft.objects.create(
        person=by,
        circuit=circuit,
        base=base,
        text=text,
        title=title_of(text)[:WORDS_LENGTH],
        created_at=at,
        changed_at=at,
    )


def _free_key(wished: str) -> str:
    """Return a key that no circuit has, near the one that is wished for."""
    base = re.sub(r"[^a-z0-9-]+", "-", wished.lower()).strip("-")[: LONGEST_KEY - 4]
    taken = set(Circuit.objects.filter(key__startswith=base).values_list("key", flat=True))
    numbered = (f"{base}-{number}" for number in range(2, len(taken) + 3))
    return next(key for key in (base, *numbered) if key not in taken)


@transaction.atomic
def keep_draft(
    *,
    draft: Draft,
    text: str,
    table: Mapping[str, Any] | None,
    note: str,
    version: int,
    by: User,
    at: datetime,
) -> Draft:
    """Keep what was typed; `version` is the one that the typing began from.

    What is there already is not kept twice: an answer may get lost on its way, and the browser
    then sends the same again.

    Raises
    ------
    DraftMovedOn
        Another window kept the draft meanwhile; nothing is changed.
    """
    kept = Draft.objects.visible_to(by).select_for_update().get(pk=draft.pk)
    rows = dict(table) if table is not None else None
    if (kept.text, kept.table, kept.note) == (text, rows, note):
        return kept
    if kept.version != version:
        raise DraftMovedOn(kept.version, kept.changed_at)
    kept.text, kept.table, kept.note = text, rows, note
    kept.title = title_of(text)[:WORDS_LENGTH]
    kept.version += 1
    kept.changed_at = at
    kept.save()
    return kept


@transaction.atomic
def publish_draft(*, draft: Draft, by: User, at: datetime) -> Revision:
    """Publish a draft as a circuit, or as a revision of its circuit; the draft is then gone.

    Raises
    ------
    SheetErrors, CircuitError
        As in `circuits.services.publish_revision`; the draft stays as it is.
    """
    kept = Draft.objects.visible_to(by).select_for_update().get(pk=draft.pk)
    revision = import_text(
        kept.text,
        circuit=kept.circuit,
        base=kept.base.number if kept.base is not None else None,
        note=kept.note,
        by=by,
        at=at,
    )
    kept.delete()
    return revision


def throw_away_draft(*, draft: Draft, by: User) -> None:
    """Delete a draft for good."""
    Draft.objects.visible_to(by).get(pk=draft.pk).delete()
