"""The pages of photos: brought in, tagged by pointer or arrow keys, shown."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from cases.errors import BadFact
from cases.forms.fields import ShopField
from cases.models import Photo, Shop
from cases.services.photos import LARGEST_BYTES, add_photo, photos_of, remove_photo, tag_photo
from cases.views.common import own_photo, picture_of, refusals_at, signed_in
from circuits.models import WORDS_LENGTH, Circuit
from circuits.services import latest_revision, sheet_of


class PhotoForm(forms.Form):
    """A picture, whose it is, and who may see it."""

    shop = ShopField()
    picture = forms.FileField(
        help_text="JPEG, PNG or WebP. Where and when it was taken is left out; look yourself for"
        " plates and faces.",
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    caption = forms.CharField(max_length=WORDS_LENGTH, label="What is to be seen")
    own = forms.ChoiceField(
        label="Taken by you?",
        choices=[("yes", "Yes, my own picture of the part"), ("no", "No, it is a maker's page")],
        widget=forms.RadioSelect,
        help_text="A maker's page never leaves your shop.",
    )
    shared = forms.BooleanField(required=False, label="Every shop on the server may see it")


@login_required
def photo_list(request: HttpRequest) -> HttpResponse:
    """Show the photos of a circuit, and take in a new one."""
    circuit = get_object_or_404(Circuit, key=request.GET.get("circuit", "").replace("\x00", ""))
    user = signed_in(request)
    form = PhotoForm(request.POST or None, request.FILES or None)
    shop_field = form.fields["shop"]
    assert isinstance(shop_field, ShopField)
    shop_field.offer_shops_of(user)
    if form.is_valid():
        given = form.cleaned_data
        with refusals_at(form):
            # One byte more than is taken tells the service that there is too much.
            photo = add_photo(
                shop=given["shop"],
                circuit=circuit,
                content=given["picture"].read(LARGEST_BYTES + 1),
                caption=given["caption"],
                is_own=given["own"] == "yes",
                is_shared=given["shared"],
                by=user,
                at=timezone.now(),
            )
            messages.success(request, "The photo is kept. Now tag its places.")
            return redirect("cases:photo", pk=photo.pk)
    context = {
        "here": "circuits",
        "circuit": circuit,
        "photos": photos_of(circuit, user),
        "form": form,
        "may_add": Shop.objects.visible_to(user).exists(),
    }
    return render(request, "cases/photos.html", context, status=422 if form.errors else 200)


@login_required
def photo(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a photo with its tags; its shop moves and keeps them here."""
    found = get_object_or_404(Photo.objects.visible_to(signed_in(request)).defer("jpeg"), pk=pk)
    if request.method == "POST":
        own_photo(request, found, "tag this photo")
        tags, problem = _posted_tags(request)
        if not problem:
            try:
                tag_photo(photo=found, tags=tags, by=signed_in(request))
            except BadFact as error:
                problem = error.problem
        if problem:
            messages.error(request, f"No tag was changed: {problem}")
        else:
            messages.success(request, "The tags are kept.")
        return redirect("cases:photo", pk=pk)
    there = {tag.place: tag for tag in found.tags.all()}
    context = {
        "here": "circuits",
        "photo": found,
        "circuit": found.circuit,
        "rows": [
            (place, there.get(place.key))
            for place in sheet_of(latest_revision(found.circuit)).places
        ],
        "is_own_shop": Shop.objects.visible_to(signed_in(request))
        .filter(pk=found.shop_id)
        .exists(),
    }
    return render(request, "cases/photo.html", context)


@login_required
@require_safe
def picture(request: HttpRequest, pk: int) -> HttpResponse:
    """Send the picture itself."""
    return picture_of(get_object_or_404(Photo.objects.visible_to(signed_in(request)), pk=pk))


@login_required
@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a photo of one's shop away."""
    found = get_object_or_404(Photo.objects.visible_to(signed_in(request)).defer("jpeg"), pk=pk)
    own_photo(request, found, "take this photo away")
    remove_photo(photo=found, by=signed_in(request))
    messages.success(request, "The photo is gone.")
    return redirect(f"{reverse('cases:photos')}?circuit={found.circuit.key}")


def _posted_tags(request: HttpRequest) -> tuple[dict[str, tuple[float, float]], str]:
    """Return the tags in percent as the form has them; places with empty fields have none."""
    tags: dict[str, tuple[float, float]] = {}
    for place in request.POST.getlist("place"):
        texts = [request.POST.get(f"{way}-{place}", "").strip() for way in ("across", "down")]
        if not any(texts):
            continue
        try:
            across, down = (float(text.replace(",", ".")) / 100 for text in texts)
        except ValueError:
            return {}, f"{place} needs two numbers from 0 to 100, or none."
        tags[place] = (across, down)
    return tags, ""
