"""A reading as it was logged: never overwritten, corrected only by a newer line."""

from typing import TYPE_CHECKING

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from cases.models.case import Case
from cases.models.choices import Stage, Statistic, SymptomPresent


class ReadingQuerySet(models.QuerySet["LoggedReading"]):
    """Readings of a case."""

    def current(self) -> "ReadingQuerySet":
        """Return the readings that no newer line corrects."""
        return self.filter(correction__isnull=True)

    def before_repair(self) -> "ReadingQuerySet":
        return self.filter(stage=Stage.BEFORE)


class LoggedReading(models.Model):
    """One line of the log: digits as typed, where, in which phase, with what in or out.

    `value` is in the base unit (V, A, ohm) or nothing: not measured, or `over_range` when the meter
    showed OL. `unit` is the unit the digits were read in where the text names none. `step` is
    the last digit of the display, in the base unit. `borrowed` marks a line that came with a copy
    of another shop's case and was not measured here.
    """

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="readings")
    place_key = models.CharField(max_length=120)
    phase_key = models.CharField(max_length=120)
    text = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=8)
    value = models.FloatField(null=True, blank=True)
    step = models.FloatField(default=0.0)
    over_range = models.BooleanField(default=False)

    unplugged = ArrayField(models.CharField(max_length=60), default=list, blank=True)
    bridged = models.JSONField(default=list, blank=True)
    lamp_watts = models.FloatField(null=True, blank=True)
    power_removed = models.BooleanField(default=False)
    ammeter_in = models.CharField(max_length=60, blank=True)
    burden_ohms = models.FloatField(null=True, blank=True)
    by_drop = models.BooleanField(default=False)

    statistic = models.CharField(max_length=10, choices=Statistic.choices, default=Statistic.STEADY)
    symptom_present = models.CharField(
        max_length=10, choices=SymptomPresent.choices, default=SymptomPresent.UNKNOWN
    )
    stage = models.CharField(max_length=10, choices=Stage.choices, default=Stage.BEFORE)
    supply_volts = models.FloatField(null=True, blank=True)
    celsius = models.FloatField(null=True, blank=True)
    meter_input_ohms = models.FloatField(null=True, blank=True)
    meter_reading_fraction = models.FloatField(null=True, blank=True)
    meter_counts = models.FloatField(null=True, blank=True)
    meter_floor_amps = models.FloatField(null=True, blank=True)
    meter_lead_ohms = models.FloatField(null=True, blank=True)
    meter_name = models.CharField(max_length=60, blank=True)
    note = models.TextField(blank=True)

    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="readings"
    )
    at = models.DateTimeField()
    corrects = models.OneToOneField(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="correction"
    )
    correction_reason = models.TextField(blank=True)
    borrowed = models.BooleanField(default=False, editable=False)
    #: The sending that it came with, so that one sent twice is logged once.
    sent_as = models.CharField(max_length=36, blank=True, editable=False)

    objects = ReadingQuerySet.as_manager()

    if TYPE_CHECKING:
        correction: "LoggedReading"

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(over_range=False) | Q(value__isnull=True),
                name="over_range_has_no_value",
            ),
            models.CheckConstraint(
                condition=~Q(text="") | Q(value__isnull=True, over_range=False),
                name="a_value_was_typed",
            ),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True) | ~Q(correction_reason=""),
                name="a_correction_has_a_reason",
            ),
            models.CheckConstraint(condition=~Q(pk=F("corrects")), name="not_its_own_correction"),
            models.CheckConstraint(condition=Q(step__gte=0), name="step_not_negative"),
            models.CheckConstraint(
                condition=Q(lamp_watts__isnull=True) | Q(lamp_watts__gt=0),
                name="lamp_watts_above_zero",
            ),
            models.CheckConstraint(
                condition=Q(meter_input_ohms__isnull=True) | Q(meter_input_ohms__gt=0),
                name="meter_ohms_above_zero",
            ),
            models.CheckConstraint(
                condition=Q(symptom_present__in=SymptomPresent.values)
                & Q(stage__in=Stage.values)
                & Q(statistic__in=Statistic.values),
                name="reading_words_known",
            ),
        )

    def __str__(self) -> str:
        return f"{self.case_id}: {self.place_key} {self.phase_key} {self.text}"
