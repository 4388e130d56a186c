"""Have pairs of faults looked for once more, from the page of a case."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from cases.services.pairs import PairSearch, look_again_for_pairs
from cases.views.common import own_case, problems_of, refusals_at, signed_in


@login_required
@require_POST
def look_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Have the search made once more; then show the case where it stands."""
    case = own_case(request, pk, "have pairs of faults looked for again")
    holder = forms.Form(data={})
    with refusals_at(holder):
        search = look_again_for_pairs(case=case, by=signed_in(request))
        messages.success(
            request,
            "Pairs of faults were looked for."
            if search is PairSearch.DONE
            else "Pairs of faults are being looked for once more.",
        )
    for problem in problems_of(holder):
        messages.error(request, problem.words)
    return redirect(f"{reverse('cases:case', args=(pk,))}#verdict")
