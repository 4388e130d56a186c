"""The page that sets two revisions of a circuit side by side."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from circuits.addresses import number_in
from circuits.models import Circuit, Revision
from circuits.services import compare_revisions
from circuits.sheet import Difference

_TITLES = {
    "vehicle": "Vehicle and drawing",
    "connections": "Connections",
    "phases": "Phases",
    "parts": "Parts",
    "places": "Places",
    "faces": "Connector faces",
    "codes": "Fault codes",
    "compounds": "Compound faults",
    "hazards": "Hazards",
    "notes": "Notes",
    "closing": "Notes",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """The differences in one section of the sheet."""

    title: str
    rows: tuple[Difference, ...]


@login_required
@require_safe
def compare(request: HttpRequest, key: str) -> HttpResponse:
    """Set two revisions side by side: part by part, value by value."""
    circuit = get_object_or_404(Circuit, key=key)
    revisions = list(circuit.revisions.select_related("circuit", "author").order_by("-number"))
    new = _chosen(revisions, request.GET.get("new", ""), otherwise=revisions[0].number)
    old = _chosen(revisions, request.GET.get("old", ""), otherwise=max(new.number - 1, 1))
    between = [each for each in revisions if old.number < each.number <= new.number]
    context = {
        "here": "circuits",
        "circuit": circuit,
        "revisions": revisions,
        "old": old,
        "new": new,
        "between": between,
        "sections": list(sections_of(compare_revisions(old, new))),
    }
    return render(request, "circuits/compare.html", context)


def sections_of(found: Sequence[Difference]) -> Iterator[Section]:
    """Yield the differences by the sections of the sheet, which they come ordered by."""
    for title, rows in groupby(found, key=lambda difference: title_of(difference.section)):
        yield Section(title=title, rows=tuple(rows))


def title_of(section: str) -> str:
    """Return what a section of the sheet is called on a page."""
    return _TITLES[section]


def _chosen(revisions: Sequence[Revision], text: str, *, otherwise: int) -> Revision:
    """Return the revision that was asked for; what names none is passed over."""
    by_number = {revision.number: revision for revision in revisions}
    return by_number.get(number_in(text)) or by_number[otherwise]
