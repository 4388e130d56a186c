"""What the circuit said about a case, kept with what it was computed from."""

from django.db import models

from cases.models.case import Case


class Verdict(models.Model):
    """One check of a case; a newer check is a new row and the old ones stay.

    `result` is the document of `cases.documents.VerdictDocument`.
    """

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="verdicts")
    revision = models.ForeignKey("circuits.Revision", on_delete=models.PROTECT, related_name="+")
    engine_version = models.CharField(max_length=40)
    claimed_suspect = models.CharField(max_length=120, blank=True)
    outcome = models.CharField(max_length=20, blank=True)
    result = models.JSONField()
    computed_at = models.DateTimeField()

    class Meta:
        # By what was written last: the moment is told by whoever acts, and may lie earlier.
        ordering = ("-pk",)
        get_latest_by = "pk"
        indexes = (models.Index(fields=("case", "-id"), name="verdict_of_case"),)

    def __str__(self) -> str:
        return f"{self.case_id}: {self.outcome or 'no claim'} at {self.computed_at:%Y-%m-%d %H:%M}"
