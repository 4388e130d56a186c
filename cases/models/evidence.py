"""What search compares: a case's evidence, normalised, written in the same commit as the case."""

from django.contrib.postgres.fields import ArrayField
from django.db import models

from cases.models.case import Case
from cases.models.choices import CODE_LENGTH


class CaseEvidence(models.Model):
    """The measured slots, codes and words of one case.

    `slots` and `sizes` run in parallel: a slot is place, key state, loads, quantity and rig in
    one circuit; its size is how far the reading lies from the healthy prediction, as a signed
    logarithm in units of tolerance. What was not measured has no entry: absent, never zero.
    """

    case = models.OneToOneField(
        Case, on_delete=models.CASCADE, primary_key=True, related_name="evidence"
    )
    slots = ArrayField(models.CharField(max_length=400), default=list)
    sizes = ArrayField(models.FloatField(), default=list)
    readings = ArrayField(models.BigIntegerField(), default=list)
    codes = ArrayField(models.CharField(max_length=CODE_LENGTH), default=list)
    words = ArrayField(models.CharField(max_length=60), default=list)
    written_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "case evidence"

    def __str__(self) -> str:
        return f"evidence of {self.case_id}"
