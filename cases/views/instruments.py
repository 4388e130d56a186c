"""The instruments of whoever is signed in: kept under a name, offered where readings are logged."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from cases.forms.instruments import InstrumentForm, as_typed
from cases.models import OwnInstrument
from cases.services.instruments import remove_instrument, save_instrument
from cases.views.common import problems_of, refusals_at, signed_in


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def instrument_list(request: HttpRequest) -> HttpResponse:
    """List this person's instruments, and keep a new one or new figures of an old one."""
    user = signed_in(request)
    own = OwnInstrument.objects.visible_to(user)
    changed = own.filter(name=request.GET.get("change", "")).first()
    form = InstrumentForm(request.POST or None, initial=as_typed(changed) if changed else None)
    if request.method == "POST" and form.is_valid():
        with refusals_at(form):
            save_instrument(instrument=form.instrument, by=user)
        if form.is_valid():
            return redirect("cases:instruments")
    problems = problems_of(form) if form.is_bound else []
    context = {"here": "cases", "form": form, "instruments": own, "problems": problems}
    return render(request, "cases/instruments.html", context, status=422 if problems else 200)


@login_required
@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Forget an instrument."""
    user = signed_in(request)
    own = OwnInstrument.objects.visible_to(user)
    remove_instrument(instrument=get_object_or_404(own, pk=pk), by=user)
    return redirect("cases:instruments")
