"""What to measure next: a page of its own, which the page of an open case fetches into itself."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from cases.documents.next_reading import ProposedReading
from cases.errors import CircuitNotKnown, NotForProposals
from cases.forms.prices import PricesForm
from cases.forms.rigs import rig_as_typed
from cases.services.next_reading import next_readings_for
from cases.services.sharing import shared_view
from cases.views.common import cautions_of, circuit_of_case, signed_in, visible_case
from cases.views.reading_words import rig_words
from circuits.units import format_in


@login_required
@require_safe
def next_reading(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how likely each fault is by now, and the readings that would tell most."""
    user = signed_in(request)
    case = visible_case(request, pk)
    context = {
        "here": "cases",
        "case": shared_view(case, user, at=timezone.now()),
        "pk": pk,
        "may_change": case.shop.memberships.filter(user=user).exists(),
        "cautions": cautions_of(circuit_of_case(case)),
    }
    prices = PricesForm(request.GET if "part_price" in request.GET else None)
    try:
        found = next_readings_for(case=case, by=user, prices=prices.prices)
    except (CircuitNotKnown, NotForProposals) as refusal:
        context["refusal"] = str(refusal)
    else:
        context["found"] = found
        context["prices"] = prices
        context["proposed"] = [
            {
                "reading": each,
                "limit": format_in(each.limit, each.unit),
                "done": rig_words(each.rig),
                "log_at": _form_for(pk, each),
            }
            for each in found.readings
        ]
    part = bool(request.htmx)  # type: ignore[attr-defined]
    template = "cases/parts/next_reading.html" if part else "cases/next_reading.html"
    return render(request, template, context)


def _form_for(pk: int, reading: ProposedReading) -> str:
    """Return where a proposed reading is logged, with its row filled in but for what it shows."""
    query = {"place": reading.place, "phase": reading.phase, **rig_as_typed(reading.rig)}
    query["instrument"] = reading.instrument
    filled = {name: value for name, value in query.items() if value}
    return reverse("cases:add-readings", args=(pk,), query=filled)
