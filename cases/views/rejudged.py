"""Cases that a newer revision of their circuit, or a newer engine, judges otherwise."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from cases.errors import Forbidden, OutOfTurn
from cases.models import Rejudgement
from cases.services import rejudging
from cases.views.common import signed_in

ON_A_PAGE = 25


@login_required
@require_safe
def rejudged_list(request: HttpRequest) -> HttpResponse:
    """List the cases of this person's shops whose verdict would change, or changed."""
    seen = Rejudgement.objects.visible_to(signed_in(request)).with_facts()
    settled = request.GET.get("show") == "settled"
    rows = seen.changed().filter(settled_at__isnull=False) if settled else seen.waiting()
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "here": "cases",
        "page": page,
        "settled": settled,
        "rejudging": rejudging.rejudging_anywhere(),
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
    seen = Rejudgement.objects.visible_to(signed_in(request)).with_facts()
    return get_object_or_404(seen, pk=pk)
