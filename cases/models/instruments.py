"""The instruments that a person reads with: what each may be off by, and what it does."""

from typing import TYPE_CHECKING

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.db import models
from django.db.models import F, Q

LONGEST_NAME = 60
_AT_LEAST_NOUGHT = ("reading_fraction", "counts", "floor_amps", "lead_ohms")


class OwnInstrumentQuerySet(models.QuerySet["OwnInstrument"]):
    """Instruments, scoped by who asks: they are their owner's alone."""

    def visible_to(self, user: User | AnonymousUser) -> "OwnInstrumentQuerySet":
        return self.filter(owner=user) if user.is_authenticated else self.none()


class OwnInstrument(models.Model):
    """A meter or clamp of one person; what is not known of it is that of a common one.

    `reading_fraction` is the accuracy in parts of the reading, `counts` in last digits.
    """

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="instruments"
    )
    name = models.CharField(max_length=LONGEST_NAME)
    input_ohms = models.FloatField(null=True, blank=True)
    reading_fraction = models.FloatField(null=True, blank=True)
    counts = models.FloatField(null=True, blank=True)
    floor_amps = models.FloatField(null=True, blank=True)
    lead_ohms = models.FloatField(null=True, blank=True)
    used_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = OwnInstrumentQuerySet.as_manager()

    if TYPE_CHECKING:
        owner_id: int

    class Meta:
        # The one that was used last comes first.
        ordering = (F("used_at").desc(nulls_last=True), "name")
        constraints = (
            models.UniqueConstraint(fields=("owner", "name"), name="an_instrument_once_a_person"),
            models.CheckConstraint(condition=~Q(name=""), name="an_instrument_has_a_name"),
            models.CheckConstraint(
                condition=Q(input_ohms__isnull=True) | Q(input_ohms__gt=0),
                name="instrument_ohms_above_zero",
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gte": 0}),
                    name=f"instrument_{field}_not_negative",
                )
                for field in _AT_LEAST_NOUGHT
            ),
        )

    def __str__(self) -> str:
        return self.name
