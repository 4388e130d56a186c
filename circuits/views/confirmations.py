"""What people do at a circuit's page once they have looked at a vehicle: confirm it, tick pins."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from circuits.errors import CircuitError, UnconfirmedVehicle
from circuits.models import WORDS_LENGTH, Circuit
from circuits.on_vehicles.confirmations import (
    FIRST_YEAR,
    LAST_YEAR,
    confirm_on_vehicle,
    pin_lines,
    take_back_ticks,
    tick_pins,
)
from circuits.services import latest_revision


class VehicleForm(forms.Form):
    """The kind of vehicle on which a circuit was found to be right."""

    make = forms.CharField(max_length=WORDS_LENGTH)
    model = forms.CharField(max_length=WORDS_LENGTH)
    engine = forms.CharField(max_length=WORDS_LENGTH, required=False)
    year = forms.IntegerField(required=False, min_value=FIRST_YEAR, max_value=LAST_YEAR)
    note = forms.CharField(
        max_length=WORDS_LENGTH,
        required=False,
        label="What was looked at",
        help_text="No plate and no VIN: every shop on the server sees a circuit.",
    )


@login_required
def confirm(request: HttpRequest, key: str) -> HttpResponse:
    """Say on which vehicle the newest revision was found to be right."""
    circuit = get_object_or_404(Circuit, key=key)
    revision = latest_revision(circuit)
    known = {"make": revision.make, "model": revision.model, "engine": revision.engine}
    form = VehicleForm(request.POST or None, initial=known)
    if form.is_valid():
        try:
            confirm_on_vehicle(
                revision=revision, by=_user(request), at=timezone.now(), **form.cleaned_data
            )
        except UnconfirmedVehicle as error:
            form.add_error(error.field, error.problem)
        else:
            messages.success(request, f"Revision {revision.number} is confirmed on that vehicle.")
            return redirect(f"{reverse('circuits:circuit', args=[key])}#connections")
    context = {"here": "circuits", "circuit": circuit, "revision": revision, "form": form}
    return render(request, "circuits/confirm.html", context, status=422 if form.errors else 200)


@login_required
@require_POST
def checked(request: HttpRequest, key: str) -> HttpResponse:
    """Keep this person's ticks as the form has them; those of others stay."""
    circuit = get_object_or_404(Circuit, key=key)
    revision, user = latest_revision(circuit), _user(request)
    own = {line.connection.node for line in pin_lines(revision, user) if line.is_mine}
    wanted = set(request.POST.getlist("pin"))
    try:
        tick_pins(revision=revision, pins=sorted(wanted - own), by=user, at=timezone.now())
        take_back_ticks(revision=revision, pins=sorted(own - wanted), by=user)
    except CircuitError as error:
        messages.warning(request, str(error))
    else:
        messages.success(request, "Your ticks are kept.")
    return redirect(f"{reverse('circuits:circuit', args=[key])}#connections")


def _user(request: HttpRequest) -> User:
    assert isinstance(request.user, User)
    return request.user
