"""What a draft changes in the revision it began from, and what others published since then."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from circuits.editor.errors import NothingToTakeBack
from circuits.errors import RevisionMovedOn
from circuits.models import Draft, Revision
from circuits.services import compare_revisions, latest_revision, moved_on, sheet_of
from circuits.sheet import (
    SECTIONS,
    Difference,
    Sheet,
    differences,
    read_text,
    with_entry_of,
    write_text,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One difference from the base; `is_first` marks the one that takes its whole entry back."""

    difference: Difference
    is_first: bool


def changes_of(draft: Draft, sheet: Sheet) -> tuple[Change, ...]:
    """Return what a draft's sheet changes in its base, in the order of the sheet."""
    if draft.base is None:
        return ()
    return tuple(_marked(differences(sheet_of(draft.base), sheet)))


def _marked(found: Sequence[Difference]) -> Iterator[Change]:
    seen: set[tuple[str, str]] = set()
    for each in found:
        entry = (each.section, each.name)
        is_entry = each.section in SECTIONS and each.name != each.section
        yield Change(difference=each, is_first=is_entry and entry not in seen)
        seen.add(entry)


@dataclass(frozen=True, slots=True, kw_only=True)
class Since:
    """The revisions that came out since a draft began, the newest first, and what they changed."""

    revisions: tuple[Revision, ...]
    changed: tuple[Difference, ...]

    @property
    def newest(self) -> Revision:
        return self.revisions[0]


def published_since(draft: Draft) -> Since | None:
    """Return what others published since a draft began, or None."""
    if draft.circuit is None or draft.base is None:
        return None
    since = draft.circuit.revisions.filter(number__gt=draft.base.number)
    revisions = tuple(since.select_related("author").order_by("-number"))
    if not revisions:
        return None
    return Since(revisions=revisions, changed=compare_revisions(draft.base, revisions[0]))


def what_moved_on(draft: Draft) -> RevisionMovedOn | None:
    """Return what both sides changed, if others published since a draft began.

    Raises
    ------
    SheetErrors
        The draft cannot be read as it is.
    """
    if draft.circuit is None or draft.base is None:
        return None
    newest = latest_revision(draft.circuit)
    if newest.number == draft.base.number:
        return None
    return moved_on(newest=newest, base=draft.base, mine=read_text(draft.text))


@transaction.atomic
def join_newest(*, draft: Draft, conflict: RevisionMovedOn, by: User, at: datetime) -> Draft:
    """Put what others published meanwhile into a draft of a revision.

    Where both changed the same thing the draft's own words stay; the conflict lists those.
    """
    kept = Draft.objects.visible_to(by).select_for_update().get(pk=draft.pk)
    if kept.circuit is None:
        raise conflict
    kept.base = kept.circuit.revisions.get(number=conflict.newest)
    return _rewritten(kept, conflict.merged.sheet, at=at)


@transaction.atomic
def take_back(*, draft: Draft, section: str, name: str, by: User, at: datetime) -> Draft:
    """Write one entry of a draft as its base has it: changed back, put in again or taken out.

    Raises
    ------
    NothingToTakeBack
        Neither the draft nor its base has such an entry.
    SheetErrors
        The draft cannot be read as it is.
    """
    kept = Draft.objects.visible_to(by).select_for_update().get(pk=draft.pk)
    sheet = read_text(kept.text)
    changed = {
        (change.difference.section, change.difference.name)
        for change in changes_of(kept, sheet)
        if change.is_first
    }
    if kept.base is None or (section, name) not in changed:
        raise NothingToTakeBack(name)
    return _rewritten(kept, with_entry_of(sheet_of(kept.base), sheet, section, name), at=at)


def _rewritten(draft: Draft, sheet: Sheet, *, at: datetime) -> Draft:
    draft.text, draft.table = write_text(sheet), None
    draft.version += 1
    draft.changed_at = at
    draft.save()
    return draft
