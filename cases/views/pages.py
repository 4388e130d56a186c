"""The home page, the list of cases, and the page of one case."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from cases.documents.cases import AfterKind
from cases.forms.lists import CaseFilterForm
from cases.models import Case, Exercise, Rejudgement, Shop
from cases.services.pairs import pair_search_of
from cases.services.rejudging_queue import rejudging_of
from cases.services.searching import similar_to
from cases.services.sharing import shared_view, summaries
from cases.views.case_sheet import CaseSheet
from cases.views.code_sheet import CodeSheet
from cases.views.common import cautions_of, circuit_of_case, signed_in, visible_case
from cases.views.hits import result_sheet
from cases.views.look_rows import look_rows
from cases.views.on_photos import tagged_photos
from circuits.shared_sheets import ComplaintElsewhere, complaints_elsewhere

CASES_ON_A_PAGE = 25
CASES_ON_HOME = 6


@login_required
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Say what can be done now: open cases, cases shared lately, exercises."""
    user, now = signed_in(request), timezone.now()
    seen = Case.objects.visible_to(user).with_facts()
    own_shops = Shop.objects.visible_to(user)
    open_cases = seen.filter(shop__in=own_shops).still_open()[:CASES_ON_HOME]
    shared = seen.exclude(shop__in=own_shops).order_by("-shared_at")[:CASES_ON_HOME]
    context = {
        "own": summaries(open_cases, user, at=now),
        "shared": summaries(shared, user, at=now),
        "exercises": Exercise.objects.visible_to(user).count(),
        "rejudged": Rejudgement.objects.visible_to(user).waiting().count(),
    }
    return render(request, "cases/home.html", context)


@login_required
@require_safe
def case_list(request: HttpRequest) -> HttpResponse:
    """List the cases this person may see, filtered by what the address says."""
    user, now = signed_in(request), timezone.now()
    form = CaseFilterForm(user, request.GET)
    cases = form.narrowed(Case.objects.visible_to(user).with_facts(), at=now)
    page = Paginator(cases, CASES_ON_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "here": "cases",
        "form": form,
        "page": page,
        "cases": summaries(page.object_list, user, at=now),
    }
    return render(request, "cases/list.html", context)


@login_required
@require_safe
def case_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a case as this person may see it."""
    user, now = signed_in(request), timezone.now()
    case = visible_case(request, pk)
    circuit = circuit_of_case(case)
    view = shared_view(case, user, at=now)
    sheet, may_change = CaseSheet(view, circuit), view.is_own and case.withdrawn_at is None
    context: dict[str, Any] = {
        "here": "cases",
        "case": view,
        "pk": case.pk,
        "revision": case.revision,
        "sheet": sheet,
        "photos": tagged_photos(case, circuit, user, sheet=sheet, may_log=may_change),
        "looks": look_rows(view.verdict),
        "codes": CodeSheet(view.verdict, sheet.suspect_words),
        "cautions": cautions_of(circuit),
        "changes": case.changes.select_related("by") if view.is_own else (),
        "rejudged": _waiting_for(case, user),
        "rejudging": rejudging_of(case) if view.is_own else "",
        "pair_search": pair_search_of(case),
        "elsewhere": _complaints_elsewhere(case),
        "may_change": may_change,
        "after_kinds": tuple(AfterKind),
        "trained_shops": Shop.objects.trained_by(user) if case.is_shared else (),
    }
    return render(request, "cases/case.html", context)


def _complaints_elsewhere(case: Case) -> tuple[ComplaintElsewhere, ...]:
    if case.revision is None or not case.claimed_suspect:
        return ()
    return complaints_elsewhere(case.revision, case.claimed_suspect)


def _waiting_for(case: Case, user: User) -> Rejudgement | None:
    """Return what a newer revision or engine says otherwise, for the shop of the case alone."""
    seen = Rejudgement.objects.visible_to(user).filter(case=case)
    return seen.waiting().with_facts().first()


@login_required
@require_safe
def similar(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the past cases like this one; the case's page fetches them into itself."""
    user, now = signed_in(request), timezone.now()
    case = visible_case(request, pk)
    context = {
        "here": "cases",
        "case": shared_view(case, user, at=now),
        "pk": case.pk,
        "result": result_sheet(similar_to(case, user=user, at=now), user, at=now),
        "circuit": case.revision,
    }
    part = bool(request.htmx)  # type: ignore[attr-defined]
    template = "cases/parts/hits.html" if part else "cases/similar.html"
    return render(request, template, context)
