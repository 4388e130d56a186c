"""The page with the history of a case's verdicts, the newest first."""

from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from cases.documents.verdicts import VerdictDocument
from cases.judging.history import GivenVerdict, HistoryEntry, history_entry
from cases.models import Case, Rejudgement, Verdict
from cases.views.common import signed_in, visible_case

ON_A_PAGE = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictRow:
    """A verdict of the history: the row, its words, and what was said beside it."""

    verdict: Verdict
    entry: HistoryEntry
    earlier_revision: int | None
    beside: tuple[Rejudgement, ...]

    @property
    def mark(self) -> str:
        return self.entry.outcome.replace(" ", "-")


@login_required
@require_safe
def verdicts(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what was said of a case, when, with which circuit and engine, and what changed."""
    case = visible_case(request, pk)
    kept = case.verdicts.select_related("revision__circuit")
    page = Paginator(kept, ON_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "here": "cases",
        "case": case,
        "page": page,
        "rows": _rows(request, case, list(kept[page.start_index() - 1 : page.end_index() + 1]))
        if page.object_list
        else [],
    }
    return render(request, "cases/verdicts.html", context)


def _rows(request: HttpRequest, case: Case, kept: list[Verdict]) -> list[VerdictRow]:
    """Return the verdicts of a page, of which the last is there to compare with, if it is full."""
    beside = Rejudgement.objects.visible_to(signed_in(request)).filter(case=case).changed()
    by_verdict: dict[int, list[Rejudgement]] = {}
    for rejudgement in beside.with_facts():
        by_verdict.setdefault(rejudgement.earlier_id, []).append(rejudgement)
    given = [_given(verdict) for verdict in kept]
    earlier = [*given[1:], None]
    rows = [
        VerdictRow(
            verdict=verdict,
            entry=history_entry(before, now),
            earlier_revision=_redrawn_from(before, now),
            beside=tuple(by_verdict.get(verdict.pk, ())),
        )
        for verdict, now, before in zip(kept, given, earlier, strict=True)
    ]
    return rows[:ON_A_PAGE]


def _given(verdict: Verdict) -> GivenVerdict:
    return GivenVerdict(
        document=VerdictDocument.model_validate(verdict.result),
        revision=verdict.revision.number,
        circuit=verdict.revision.circuit.key,
    )


def _redrawn_from(earlier: GivenVerdict | None, given: GivenVerdict) -> int | None:
    """Return the revision to compare the drawing with, where the circuit was drawn anew."""
    if earlier is None or earlier.circuit != given.circuit or earlier.revision == given.revision:
        return None
    return earlier.revision
