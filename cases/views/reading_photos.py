"""The photos of a reading: taken with the telephone, looked at large, taken away."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from cases.forms.fields import photo_field
from cases.models import ReadingPhoto
from cases.services.photos import LARGEST_BYTES
from cases.services.reading_photos import (
    MOST_OF_A_READING,
    add_reading_photo,
    photos_of_reading,
    remove_reading_photo,
)
from cases.views.common import (
    circuit_of_case,
    own_case,
    picture_of,
    problems_of,
    refusals_at,
    signed_in,
)
from cases.views.reading_words import phase_words, place_label


class ReadingPhotoForm(forms.Form):
    """A further picture of a reading that is logged."""

    picture = photo_field(
        help_text="JPEG, PNG or WebP: the display, a trace with its scale, the spot. Where and when"
        " it was taken is left out, and it stays in your shop when the case is shared."
    )


@login_required
def photos_of_one(request: HttpRequest, pk: int, reading_pk: int) -> HttpResponse:
    """Show the photos of a reading, and take in another."""
    case = own_case(request, pk, "add photos to its readings")
    reading = get_object_or_404(case.readings.select_related("case"), pk=reading_pk)
    posted = (request.POST, request.FILES) if request.method == "POST" else ()
    form = ReadingPhotoForm(*posted)
    if form.is_valid():
        with refusals_at(form):
            # One byte more than is taken tells the service that there is too much.
            add_reading_photo(
                reading=reading,
                content=form.cleaned_data["picture"].read(LARGEST_BYTES + 1),
                by=signed_in(request),
                at=timezone.now(),
            )
            messages.success(request, "The photo is kept with the reading.")
            return redirect("cases:reading-photos", pk=pk, reading_pk=reading_pk)
    circuit = circuit_of_case(case)
    photos = photos_of_reading(reading, signed_in(request))
    context = {
        "here": "cases",
        "case": case,
        "reading": reading,
        "label": place_label(circuit, reading.place_key),
        "phase": phase_words(circuit, reading.phase_key),
        "photos": photos,
        "is_full": len(photos) >= MOST_OF_A_READING,
        "form": form,
        "problems": problems_of(form) if form.is_bound else [],
    }
    return render(request, "cases/reading_photos.html", context, status=422 if form.errors else 200)


@login_required
@require_safe
def picture(request: HttpRequest, pk: int) -> HttpResponse:
    """Send the picture itself."""
    return picture_of(get_object_or_404(ReadingPhoto.objects.visible_to(signed_in(request)), pk=pk))


@login_required
@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a photo of a reading away."""
    photos = ReadingPhoto.objects.visible_to(signed_in(request)).defer("jpeg")
    found = get_object_or_404(photos.select_related("reading__case"), pk=pk)
    reading = found.reading
    remove_reading_photo(photo=found, by=signed_in(request))
    messages.success(request, "The photo is gone; the reading stays.")
    return redirect("cases:reading-photos", pk=reading.case_id, reading_pk=reading.pk)
