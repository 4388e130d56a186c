"""Cases that a newer revision of their circuit, or a newer engine, judges otherwise."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from cases.errors import Forbidden, OutOfTurn
from cases.models import Case, Rejudgement
from cases.services import rejudging
from cases.services.rejudging_queue import (
    Rejudging,
    given_up,
    rejudge_again,
    rejudging_anywhere,
)
from cases.views.common import own_case, problems_of, refusals_at, signed_in

ON_A_PAGE = 25


@login_required
@require_safe
def rejudged_list(request: HttpRequest) -> HttpResponse:
    """List the cases of this person's shops whose verdict would change, or changed."""
    user = signed_in(request)
    seen = Rejudgement.objects.visible_to(user).with_facts()
    settled = request.GET.get("show") == "settled"
    rows = seen.changed().filter(settled_at__isnull=False) if settled else seen.waiting()
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "here": "cases",
        "page": page,
        "settled": settled,
        "rejudging": rejudging_anywhere(),
        "given_up": given_up(Case.objects.visible_to(user).filter(shop__memberships__user=user)),
    }
    return render(request, "cases/rejudged.html", context)


@login_required
@require_POST
def take_over(request: HttpRequest, pk: int) -> HttpResponse:
    """Let the newer revision count for the case."""
    rejudgement = _found(request, pk)
    try:
        case = rejudging.take_over(
            rejudgement=rejudgement, by=signed_in(request), at=timezone.now()
        )
    except Forbidden as error:
        raise PermissionDenied(str(error)) from error
    except OutOfTurn as error:
        messages.warning(request, str(error))
    else:
        words = f"{case.key} is judged with revision {rejudgement.revision.number} now."
        messages.success(request, words)
    return redirect("cases:case", pk=rejudgement.case_id)


@login_required
@require_POST
def leave(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep the case with the revision it was judged with."""
    rejudgement = _found(request, pk)
    try:
        rejudging.leave_as_it_was(rejudgement=rejudgement, by=signed_in(request), at=timezone.now())
    except Forbidden as error:
        raise PermissionDenied(str(error)) from error
    except OutOfTurn as error:
        messages.warning(request, str(error))
    else:
        messages.success(request, f"{rejudgement.case.key} stays as it was.")
    return redirect("cases:rejudged")


def _found(request: HttpRequest, pk: int) -> Rejudgement:
    user = signed_in(request)
    seen = Rejudgement.objects.visible_to(user).with_facts()
    return get_object_or_404(seen, pk=pk)


@login_required
@require_POST
def try_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Have a case judged once more that the worker gave up; then show the case."""
    case = own_case(request, pk, "have it judged once more")
    holder = forms.Form(data={})
    with refusals_at(holder):
        state = rejudge_again(case=case, by=signed_in(request), at=timezone.now())
        is_done = state is Rejudging.NOT_DUE
        messages.success(
            request, f"{case.key} {'was' if is_done else 'is being'} judged once more."
        )
    for problem in problems_of(holder):
        messages.error(request, problem.words)
    return redirect("cases:case", pk=pk)
