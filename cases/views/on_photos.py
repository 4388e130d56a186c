"""Photos of the real part beside a case: what each tag is, what was read there, where it leads."""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.contrib.auth.models import User
from django.urls import reverse

from cases.circuit import CaseCircuit
from cases.models import Case, Photo, PhotoTag
from cases.services.photos import photos_of
from cases.views.case_sheet import CaseSheet


@dataclass(frozen=True, slots=True, kw_only=True)
class TagRow:
    """A tag with its place; `leads_to` is empty where no reading is offered."""

    tag: PhotoTag
    label: str
    read: tuple[str, ...]
    leads_to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TaggedPhoto:
    """A photo with the rows of its tags."""

    photo: Photo
    tags: tuple[TagRow, ...]


def tagged_photos(
    case: Case, circuit: CaseCircuit | None, user: User, *, sheet: CaseSheet | None, may_log: bool
) -> list[TaggedPhoto]:
    """Return the photos of the case's circuit that carry tags and that this person may see.

    A tag whose place the revision of the case lacks is left out. `sheet` knows what was read.
    """
    if circuit is None or case.revision is None:
        return []
    found = []
    for photo in photos_of(case.revision.circuit, user):
        tags = tuple(
            TagRow(
                tag=tag,
                label=circuit.entries[tag.place].label,
                read=_read_at(sheet, tag.place) if sheet is not None else (),
                leads_to=_form_at(case, tag.place)
                if may_log and tag.place in circuit.offered_places
                else "",
            )
            for tag in photo.tags.all()
            if tag.place in circuit.entries
        )
        if tags:
            found.append(TaggedPhoto(photo=photo, tags=tags))
    return found


def _read_at(sheet: CaseSheet, place: str) -> tuple[str, ...]:
    """Return what was read at a place before and after the repair, each with its phase."""
    return tuple(
        f"{row.typed}, {group.words}"
        for group in (*sheet.before, *sheet.after)
        for row in group.rows
        if row.reading.place == place
    )


def _form_at(case: Case, place: str) -> str:
    """Return where a reading at this place is typed, below the cautions; its row stands ready."""
    return f"{reverse('cases:add-readings', args=[case.pk])}?{urlencode({'place': place})}"
