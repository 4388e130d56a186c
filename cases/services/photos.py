"""Photos of parts: taken in without what a camera hides in them, tagged, taken away."""

import io
import math
from collections.abc import Mapping
from datetime import datetime

from django.contrib.auth.models import AnonymousUser, User
from django.db import transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from cases.errors import BadFact
from cases.models import Photo, PhotoQuerySet, PhotoTag, Shop
from cases.services.shops import require_member
from circuits.models import WORDS_LENGTH, Circuit
from circuits.services import latest_revision, sheet_of

LARGEST_BYTES = 15_000_000
MOST_PIXELS = 60_000_000
#: As large as a screen shows; the thread of a bolt is still to be seen.
LONGEST_SIDE = 1800
FORMATS = ("JPEG", "PNG", "WEBP")
_QUALITY = 82


def add_photo(
    *,
    shop: Shop,
    circuit: Circuit,
    content: bytes,
    caption: str,
    is_own: bool,
    is_shared: bool,
    by: User,
    at: datetime,
) -> Photo:
    """Keep a photo of a part for a shop, written anew: without place, time and camera.

    Raises
    ------
    NotAMember
        The person does not belong to the shop.
    BadFact
        It is no picture that we take, or a maker's page was to leave the shop.
    """
    require_member(shop, by)
    caption = caption.strip()
    if not caption or len(caption) > WORDS_LENGTH:
        raise BadFact("caption", f"say in up to {WORDS_LENGTH} letters what is to be seen.")
    if is_shared and not is_own:
        raise BadFact(
            "shared", "a maker's page never leaves the shop; share only what you photographed."
        )
    jpeg, (width, height) = written_anew(content)
    return Photo.objects.create(
        shop=shop,
        circuit=circuit,
        caption=caption,
        jpeg=jpeg,
        width=width,
        height=height,
        is_own=is_own,
        is_shared=is_shared,
        added_by=by,
        added_at=at,
    )


def written_anew(content: bytes, longest_side: int = LONGEST_SIDE) -> tuple[bytes, tuple[int, int]]:
    """Return the picture upright, as a JPEG of its pixels alone, and its size.

    Raises
    ------
    BadFact
        It is too large, or no picture that we take.
    """
    if len(content) > LARGEST_BYTES:
        raise BadFact("picture", f"it has more than {LARGEST_BYTES // 10**6} MB; make it smaller.")
    try:
        with Image.open(io.BytesIO(content), formats=FORMATS) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise BadFact("picture", "it has more than 60 million pixels; make it smaller.")
            upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        raise BadFact(
            "picture", "it cannot be read as a picture; send a whole JPEG, PNG or WebP file."
        ) from None
    upright.thumbnail((longest_side, longest_side))
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    written = io.BytesIO()
    bare.save(written, "JPEG", quality=_QUALITY)
    return written.getvalue(), bare.size


@transaction.atomic
def tag_photo(*, photo: Photo, tags: Mapping[str, tuple[float, float]], by: User) -> None:
    """Keep these tags in place of what was there: place -> fractions of width and height.

    Raises
    ------
    NotAMember
        The photo is of another shop.
    BadFact
        The circuit has no such place, or a tag lies beside the picture.
    """
    require_member(photo.shop, by)
    known = [place.key for place in sheet_of(latest_revision(photo.circuit)).places]
    kept = {tag.place for tag in photo.tags.all()}
    for place, spot in tags.items():
        if place not in known and place not in kept:
            raise BadFact(
                "tags", f"the circuit has no place '{place}'; it has {', '.join(known) or 'none'}."
            )
        if not all(math.isfinite(share) and 0 <= share <= 1 for share in spot):
            raise BadFact("tags", f"{place} lies beside the picture; shares run from 0 to 1.")
    Photo.objects.select_for_update().get(pk=photo.pk)
    photo.tags.all().delete()
    PhotoTag.objects.bulk_create(
        PhotoTag(photo=photo, place=place, across=across, down=down)
        for place, (across, down) in tags.items()
    )


def remove_photo(*, photo: Photo, by: User) -> None:
    """Take a photo away with its tags.

    Raises
    ------
    NotAMember
        It is of another shop.
    """
    require_member(photo.shop, by)
    photo.delete()


def photos_of(circuit: Circuit, user: User | AnonymousUser) -> PhotoQuerySet:
    """Return the photos of a circuit that this person may see, without their bytes."""
    found = Photo.objects.visible_to(user).filter(circuit=circuit)
    return found.defer("jpeg").select_related("shop", "circuit").prefetch_related("tags")
