"""Photos: of the real part, with tags where a lead goes; of what a meter or scope showed."""

from typing import TYPE_CHECKING

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.db import models
from django.db.models import Q

from cases.models.readings import LoggedReading
from cases.models.shops import Shop
from circuits.models import NAME_LENGTH, WORDS_LENGTH, Circuit

if TYPE_CHECKING:
    from django.db.models.fields.related_descriptors import RelatedManager


class PhotoQuerySet(models.QuerySet["Photo"]):
    """Photos, scoped by who asks."""

    def visible_to(self, user: User | AnonymousUser) -> "PhotoQuerySet":
        """Return the photos of this person's shops, and those that others share."""
        if not user.is_authenticated:
            return self.none()
        own = Shop.objects.visible_to(user)
        return self.filter(Q(shop__in=own) | Q(is_shared=True))


class Photo(models.Model):
    """A picture of a part of a circuit. It belongs to a shop, and only an own picture is shared.

    The bytes lie in the database: a photo is then kept or lost with its row, and a backup of the
    database is whole.
    """

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="photos")
    circuit = models.ForeignKey(Circuit, on_delete=models.PROTECT, related_name="+")
    caption = models.CharField(max_length=WORDS_LENGTH)
    jpeg = models.BinaryField()
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    is_own = models.BooleanField()
    is_shared = models.BooleanField(default=False)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    added_at = models.DateTimeField()

    if TYPE_CHECKING:
        tags: "RelatedManager[PhotoTag]"

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ("circuit", "pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(is_shared=False) | Q(is_own=True), name="photo_shared_only_if_own"
            ),
        )

    def __str__(self) -> str:
        return f"{self.pk}: {self.caption}"

    @property
    def tag_size(self) -> int:
        """The radius of a tag in the picture's own pixels."""
        return max(self.width // 18, 1)

    @property
    def tag_type_size(self) -> float:
        """The size of the type in a tag: four letters stay inside."""
        return 0.65 * self.tag_size


class PhotoTag(models.Model):
    """Where a place is in a photo, in fractions of its width and height from the upper left."""

    photo = models.ForeignKey(Photo, on_delete=models.CASCADE, related_name="tags")
    place = models.CharField(max_length=NAME_LENGTH)
    across = models.FloatField()
    down = models.FloatField()

    class Meta:
        ordering = ("photo", "pk")
        constraints = (
            models.UniqueConstraint(fields=("photo", "place"), name="photo_place_tagged_once"),
            models.CheckConstraint(
                condition=Q(across__range=(0, 1), down__range=(0, 1)), name="photo_tag_inside"
            ),
        )

    def __str__(self) -> str:
        return f"{self.photo_id}: {self.place}"

    @property
    def across_percent(self) -> str:
        """How far from the left, to a tenth."""
        return f"{100 * self.across:.1f}"

    @property
    def down_percent(self) -> str:
        """How far from above, to a tenth."""
        return f"{100 * self.down:.1f}"


class ReadingPhotoQuerySet(models.QuerySet["ReadingPhoto"]):
    """Photos of readings, scoped by who asks."""

    def visible_to(self, user: User | AnonymousUser) -> "ReadingPhotoQuerySet":
        """Return those of this person's shops alone: a plate or a face may be in any of them."""
        if not user.is_authenticated:
            return self.none()
        return self.filter(reading__case__shop__in=Shop.objects.visible_to(user))


class ReadingPhoto(models.Model):
    """What a display, a scope or the spot looked like as a reading was taken.

    It belongs to the line of the log, and it never leaves the shop with a shared case.
    """

    reading = models.ForeignKey(LoggedReading, on_delete=models.CASCADE, related_name="photos")
    jpeg = models.BinaryField()
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    added_at = models.DateTimeField()

    objects = ReadingPhotoQuerySet.as_manager()

    class Meta:
        ordering = ("reading", "pk")

    def __str__(self) -> str:
        return f"{self.pk}: {self.reading_id}"
