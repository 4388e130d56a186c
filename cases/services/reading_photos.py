"""Photos of readings: what a display, a scope or the spot looked like as one was taken."""

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import AnonymousUser, User
from django.db import transaction

from cases.errors import BadFact
from cases.models import LoggedReading, ReadingPhoto, ReadingPhotoQuerySet
from cases.services.photos import written_anew
from cases.services.record import locked_for

#: The digits of a display stay readable, and a case with its photos is still a file to send.
LONGEST_SIDE = 1280
MOST_OF_A_READING = 4


@transaction.atomic
def add_reading_photo(
    *, reading: LoggedReading, content: bytes, by: User, at: datetime
) -> ReadingPhoto:
    """Keep a photo beside a reading, written anew: without place, time and camera.

    Raises
    ------
    NotYourCase
        The person does not belong to the shop of the case.
    BadFact
        It is no picture that we take, or the reading has as many as it may have.
    """
    locked_for(reading.case, by, "add photos to its readings")
    require_room(reading, 1)
    (photo,) = photos_to_keep(reading, [content], by=by, at=at)
    photo.save()
    return photo


def require_room(reading: LoggedReading, further: int) -> None:
    """Refuse more photos than a reading may have."""
    if reading.photos.count() + further > MOST_OF_A_READING:
        raise BadFact(
            "picture", f"a reading has up to {MOST_OF_A_READING} photos; take one away first."
        )


def photos_to_keep(
    reading: LoggedReading, contents: Sequence[bytes], *, by: User, at: datetime
) -> list[ReadingPhoto]:
    """Return photos of a reading as rows that are not saved yet; raises `BadFact` as above."""
    photos = []
    for content in contents:
        jpeg, (width, height) = written_anew(content, LONGEST_SIDE)
        photos.append(
            ReadingPhoto(
                reading=reading, jpeg=jpeg, width=width, height=height, added_by=by, added_at=at
            )
        )
    return photos


@transaction.atomic
def remove_reading_photo(*, photo: ReadingPhoto, by: User) -> None:
    """Take a photo of a reading away; the line of the log stays.

    Raises
    ------
    NotYourCase
        The person does not belong to the shop of the case.
    """
    locked_for(photo.reading.case, by, "take photos of its readings away")
    photo.delete()


def photos_of_reading(reading: LoggedReading, user: User | AnonymousUser) -> ReadingPhotoQuerySet:
    """Return the photos of a reading that this person may see, without their bytes."""
    return ReadingPhoto.objects.visible_to(user).filter(reading=reading).defer("jpeg")
