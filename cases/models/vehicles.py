"""The vehicle a case is about."""

from django.db import models
from django.db.models import Q

from cases.models.shops import Shop


class Vehicle(models.Model):
    """A vehicle as a shop knows it; plate and VIN never leave that shop."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="vehicles")
    make = models.CharField(max_length=60)
    model = models.CharField(max_length=80)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    engine = models.CharField(max_length=80, blank=True)
    plate = models.CharField(max_length=20, blank=True)
    vin = models.CharField("VIN", max_length=40, blank=True)

    class Meta:
        ordering = ("make", "model", "pk")
        indexes = (models.Index(fields=("make", "model"), name="vehicle_make_model"),)
        constraints = (
            models.CheckConstraint(
                condition=Q(year__isnull=True) | Q(year__gte=1900, year__lte=2100),
                name="vehicle_year_is_a_year",
            ),
            models.CheckConstraint(condition=~Q(make=""), name="vehicle_has_a_make"),
        )

    def __str__(self) -> str:
        return f"{self.pk}: {self.described}"

    @property
    def described(self) -> str:
        """The vehicle without anything that tells which one it is."""
        return described(self.make, self.model, self.engine, self.year)


def described(make: str, model: str, engine: str, year: int | None) -> str:
    """Return a vehicle in a few words."""
    return " ".join(word for word in (make, model, engine, str(year or "")) if word)
