"""On which vehicles a circuit was found to be so, and which of its pins somebody looked at."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from circuits.models.circuit import NAME_LENGTH, WORDS_LENGTH, Revision


class Confirmation(models.Model):
    """A vehicle on which a revision was found to be right; no plate and no VIN."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="confirmations")
    make = models.CharField(max_length=WORDS_LENGTH)
    model = models.CharField(max_length=WORDS_LENGTH)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    engine = models.CharField(max_length=WORDS_LENGTH, blank=True)
    note = models.CharField(max_length=WORDS_LENGTH, blank=True)
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    confirmed_at = models.DateTimeField()

    class Meta:
        ordering = ["-confirmed_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(make="") & ~Q(model=""), name="circuits_confirmation_names_a_vehicle"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.revision}: {self.described}"

    @property
    def described(self) -> str:
        """The vehicle in words."""
        words = (self.make, self.model, self.engine, str(self.year or ""))
        return " ".join(word for word in words if word)


class PinCheck(models.Model):
    """A pin that somebody looked at on a vehicle: colour, cavity and what is joined there agree."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="pin_checks")
    node = models.CharField(max_length=NAME_LENGTH)
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    checked_at = models.DateTimeField()

    class Meta:
        ordering = ["node", "-checked_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "node", "checked_by"], name="circuits_pin_ticked_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.revision}: {self.node}"
