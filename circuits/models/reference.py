"""What healthy vehicles of the kind showed at the places of a circuit."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from circuits.models.circuit import NAME_LENGTH, WORDS_LENGTH, Revision

LONGEST_READING = 40
KEY_LENGTH = 60


class Reference(models.Model):
    """A reading of one healthy vehicle, kept with the circuit; no plate, no VIN, no customer."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="references")
    place = models.CharField(max_length=NAME_LENGTH)
    phase = models.CharField(max_length=KEY_LENGTH)
    #: The reading as typed, and what it comes to in V, A or ohms, with the worth of its last digit.
    typed = models.CharField(max_length=LONGEST_READING)
    value = models.FloatField()
    step = models.FloatField()
    #: The vehicle in words that fit many: make, model, year, engine.
    vehicle = models.CharField(max_length=WORDS_LENGTH)
    #: Names of the parts that were out, and a lamp across the leads as typed.
    unplugged = models.JSONField(default=list, blank=True)
    lamp = models.CharField(max_length=LONGEST_READING, blank=True)
    meter_fraction = models.FloatField()
    meter_counts = models.FloatField()
    kept_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    kept_at = models.DateTimeField()

    class Meta:
        ordering = ["place", "phase", "-kept_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(vehicle="") & ~Q(typed=""), name="circuits_reference_says_something"
            ),
            models.CheckConstraint(
                condition=Q(step__gt=0, meter_fraction__gte=0, meter_counts__gte=0),
                name="circuits_reference_meter",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.revision}: {self.place} {self.typed} in {self.phase}"
