"""Tick off the work after a repair, and add to it, from the page of a case."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from cases.services.after_work import add_after_work, tick_after_work
from cases.views.common import own_case, problems_of, refusals_at, signed_in


@login_required
@require_POST
def after_work(request: HttpRequest, pk: int) -> HttpResponse:
    """Tick one line or add one, whatever was sent; then show the case where it stands."""
    case = own_case(request, pk, "tick off the work after the repair")
    by, at = signed_in(request), timezone.now()
    holder = forms.Form(data={})
    with refusals_at(holder):
        if "key" in request.POST:
            done = request.POST.get("done") == "yes"
            tick_after_work(case=case, key=request.POST["key"][:120], done=done, by=by, at=at)
            messages.success(request, "Ticked off." if done else "The tick is taken back.")
        else:
            kind, words = request.POST.get("kind", ""), request.POST.get("words", "")
            add_after_work(case=case, kind=kind, words=words, by=by, at=at)
            messages.success(request, "The line is added.")
    for problem in problems_of(holder):
        messages.error(request, problem.words)
    return redirect(f"{reverse('cases:case', args=(pk,))}#after-work")
