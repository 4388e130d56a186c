"""Share a case with all shops on this server, after a look at what leaves; take it back."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from cases.services.sharing import share_case, share_preview, take_back_share
from cases.views.case_sheet import CaseSheet
from cases.views.common import circuit_of_case, own_case, problems_of, refusals_at, signed_in

TAKE_BACK = "take_back"


@login_required
def share(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the case as others would see it; share it, or take it back."""
    user, now = signed_in(request), timezone.now()
    case = own_case(request, pk, "share it")
    form = forms.Form(request.POST or None)
    if request.method == "POST":
        with refusals_at(form):
            if TAKE_BACK in request.POST:
                take_back_share(case=case, by=user, at=now)
                messages.success(request, "Taken back: only your shop sees it again.")
            else:
                share_case(case=case, by=user, at=now)
                messages.success(request, "Shared, without VIN, plate and people.")
            return redirect("cases:case", pk=case.pk)
    view = share_preview(case=case, by=user, at=now)
    context = {
        "here": "cases",
        "own": case,
        "case": view,
        "revision": case.revision,
        "sheet": CaseSheet(view, circuit_of_case(case)),
        "problems": problems_of(form) if form.is_bound else [],
    }
    return render(request, "cases/share.html", context)
