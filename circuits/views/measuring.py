"""What readings on vehicles do to a circuit: settle assumed rules, and serve as reference."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from circuits.addresses import LONGEST_NUMBER
from circuits.cautions import cautions_for
from circuits.errors import BadReference, CircuitError, UnknownReference
from circuits.models import LONGEST_READING, WORDS_LENGTH, Circuit
from circuits.on_vehicles.open_rules import OpenRule, may_be_measured, rules_to_settle, settle_rule
from circuits.on_vehicles.references import keep_reference, references_of, take_back_reference
from circuits.services import latest_revision, sheet_of
from circuits.sheet import Sheet
from circuits.units import UnitError


class SettlementForm(forms.Form):
    """A reading at a place that parts an assumed rule from its alternative."""

    at = forms.ChoiceField(label="Read at")
    reading = forms.CharField(max_length=LONGEST_READING, help_text="As on the display: 11.9 V.")
    supply = forms.CharField(
        max_length=LONGEST_READING,
        required=False,
        label="Supply in that phase",
        help_text="Volts across the supply, if you read them. Left empty: as the drawing assumes.",
    )
    base = forms.IntegerField(max_value=10**LONGEST_NUMBER, widget=forms.HiddenInput)

    def __init__(self, data: Any, *, rule: OpenRule, newest: int) -> None:
        super().__init__(data, initial={"base": newest}, prefix=None, auto_id=f"{rule.name}-%s")
        field = self.fields["at"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            (f"{each.place.key} {each.phase.key}", f"{each.place.key}, {each.phase.words}")
            for each in rule.partings
        ]


class ReferenceForm(forms.Form):
    """What a healthy vehicle showed at a place in a phase."""

    place = forms.ChoiceField()
    phase = forms.ChoiceField()
    reading = forms.CharField(max_length=LONGEST_READING, help_text="As on the display: 11.9 V.")
    vehicle = forms.CharField(
        max_length=WORDS_LENGTH,
        label="Kind of vehicle",
        help_text="Make, model, year, engine. No plate, no VIN, no name: every shop sees it.",
    )
    unplugged = forms.CharField(
        max_length=WORDS_LENGTH,
        required=False,
        label="Parts unplugged",
        help_text="By their names, with spaces between. Empty: as the vehicle stands.",
    )
    lamp = forms.CharField(
        max_length=LONGEST_READING, required=False, label="Lamp across the leads"
    )
    meter_percent = forms.FloatField(
        required=False, min_value=0, max_value=10, label="Meter, % of the reading"
    )
    meter_counts = forms.FloatField(
        required=False, min_value=0, max_value=100, label="Meter, and counts"
    )

    def __init__(self, data: Any, *, sheet: Sheet) -> None:
        super().__init__(data, initial={"meter_percent": 0.5, "meter_counts": 2})
        self._offer(
            "place",
            (
                (place.key, f"{place.key} {place.label}, {place.unit}")
                for place in sheet.places
                if not place.not_computed
            ),
        )
        self._offer("phase", ((phase.key, phase.words) for phase in sheet.phases))

    def _offer(self, name: str, choices: Iterable[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = list(choices)


@login_required
def rules(request: HttpRequest, key: str) -> HttpResponse:
    """Show the assumed rules with what they may be instead, and settle one by a reading."""
    circuit = get_object_or_404(Circuit, key=key)
    newest = latest_revision(circuit)
    sheet = sheet_of(newest)
    asked = request.POST.get("rule", "")
    lines = [
        (
            rule,
            SettlementForm(
                request.POST if asked == rule.name else None, rule=rule, newest=newest.number
            ),
        )
        for rule in rules_to_settle(sheet)
    ]
    form = next((form for rule, form in lines if rule.name == asked), None)
    if request.method == "POST" and form is None:
        messages.warning(request, f"'{asked}' is settled already, or has no alternative any more.")
        return redirect(reverse("circuits:rules", args=[key]))
    if form is not None and form.is_valid():
        place, _, phase = form.cleaned_data["at"].partition(" ")
        try:
            revision = settle_rule(
                circuit=circuit,
                part=asked,
                place=place,
                phase=phase,
                reading=form.cleaned_data["reading"],
                supply=form.cleaned_data["supply"],
                base=form.cleaned_data["base"],
                by=_user(request),
                at=timezone.now(),
            )
        except (CircuitError, UnitError) as error:
            form.add_error("reading", str(error))
        else:
            messages.success(request, f"Revision {revision.number}: {revision.note}.")
            return redirect(reverse("circuits:circuit", args=[key]))
    context = {
        "here": "circuits",
        "circuit": circuit,
        "lines": lines,
        "may_be_measured": may_be_measured(sheet),
        "cautions": cautions_for(sheet.hazards),
    }
    refused = form is not None and bool(form.errors)
    return render(request, "circuits/rules.html", context, status=422 if refused else 200)


@login_required
def references(request: HttpRequest, key: str) -> HttpResponse:
    """List what healthy vehicles showed, and keep another reading."""
    circuit = get_object_or_404(Circuit, key=key)
    revision = latest_revision(circuit)
    sheet = sheet_of(revision)
    form = ReferenceForm(request.POST or None, sheet=sheet)
    if form.is_valid():
        given = dict(form.cleaned_data)
        percent = given.pop("meter_percent")
        try:
            keep_reference(
                circuit=circuit,
                by=_user(request),
                at=timezone.now(),
                meter_fraction=percent / 100 if percent is not None else None,
                **{**given, "unplugged": given["unplugged"].replace(",", " ").split()},
            )
        except BadReference as error:
            form.add_error(error.field if error.field in form.fields else None, error.problem)
        except CircuitError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "The reading is kept.")
            return redirect(reverse("circuits:references", args=[key]))
    context = {
        "here": "circuits",
        "circuit": circuit,
        "form": form,
        "references": references_of(revision, request.user),
        "may_be_measured": may_be_measured(sheet),
        "cautions": cautions_for(sheet.hazards),
    }
    refused = bool(form.errors)
    return render(request, "circuits/references.html", context, status=422 if refused else 200)


@login_required
@require_POST
def take_back(request: HttpRequest, key: str) -> HttpResponse:
    """Take one's own reading of a healthy vehicle back."""
    circuit = get_object_or_404(Circuit, key=key)
    number = request.POST.get("reference", "")
    try:
        if not (number.isascii() and number.isdigit() and len(number) <= LONGEST_NUMBER):
            raise UnknownReference
        take_back_reference(circuit=circuit, number=int(number), by=_user(request))
    except UnknownReference as error:
        messages.warning(request, str(error))
    else:
        messages.success(request, "The reading is taken back.")
    return redirect(reverse("circuits:references", args=[key]))


def _user(request: HttpRequest) -> User:
    assert isinstance(request.user, User)
    return request.user
