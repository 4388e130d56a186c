"""The page on which one finding of a circuit is accepted with its reason, or opened again."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from circuits.acceptances import (
    accept_finding,
    finding_lines,
    finding_named,
    take_back_acceptance,
)
from circuits.errors import NotAccepted, UnknownFinding
from circuits.models import REASON_LENGTH, Circuit
from circuits.services import latest_revision


class ReasonForm(forms.Form):
    """Why a finding may stay as it is."""

    reason = forms.CharField(
        max_length=REASON_LENGTH,
        label="Why it may stay as it is",
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What makes it right on this vehicle, and how that is known: seen, measured, or "
        "read in which drawing.",
        error_messages={"required": "Say why: whoever reads it next has to be able to judge that."},
    )


@login_required
def accept(request: HttpRequest, key: str) -> HttpResponse:
    """Show one finding of the newest revision, and accept it with a reason."""
    circuit = get_object_or_404(Circuit, key=key)
    finding_id = request.GET.get("finding", "")
    try:
        finding = finding_named(latest_revision(circuit), finding_id)
    except UnknownFinding as error:
        raise Http404(str(error)) from error
    line = finding_lines(circuit, [finding])[0]
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        user = request.user
        assert isinstance(user, User)
        reason = form.cleaned_data["reason"]
        accept_finding(
            circuit=circuit, finding_id=finding_id, reason=reason, by=user, at=timezone.now()
        )
        messages.success(request, f"Accepted: {finding.subject}.")
        return redirect(f"{reverse('circuits:circuit', args=[key])}#inspection")
    context = {"here": "circuits", "circuit": circuit, "line": line, "form": form}
    refused = bool(form.errors)
    return render(request, "circuits/finding.html", context, status=422 if refused else 200)


@login_required
@require_POST
def take_back(request: HttpRequest, key: str) -> HttpResponse:
    """Open an accepted finding again."""
    circuit = get_object_or_404(Circuit, key=key)
    user = request.user
    assert isinstance(user, User)
    finding_id = request.GET.get("finding", "")
    try:
        take_back_acceptance(circuit=circuit, finding_id=finding_id, by=user, at=timezone.now())
    except NotAccepted as error:
        messages.warning(request, str(error))
    else:
        messages.success(request, "Open again.")
    return redirect(f"{reverse('circuits:circuit', args=[key])}#inspection")
