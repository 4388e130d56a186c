"""What somebody took as it is although the inspection found it, and why."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from circuits.models.circuit import Circuit, Revision

FINDING_LENGTH = 80
REASON_LENGTH = 1000


class AcceptanceQuerySet(models.QuerySet["Acceptance"]):
    """Acceptances; everyone may see all of them, as with circuits."""

    def in_force(self) -> "AcceptanceQuerySet":
        return self.filter(ended_at=None)


class Acceptance(models.Model):
    """A finding of a circuit that is taken as it is.

    It belongs to the circuit, not to the revision: a new revision keeps it until the finding is
    gone. It is never deleted; one that ended says when, by whom and why.
    """

    circuit = models.ForeignKey(Circuit, on_delete=models.PROTECT, related_name="acceptances")
    #: Such as `no-fuse:W1`.
    finding = models.CharField(max_length=FINDING_LENGTH)
    words = models.TextField(help_text="What the finding said when it was accepted.")
    reason = models.CharField(max_length=REASON_LENGTH)
    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="+")
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    accepted_at = models.DateTimeField()
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True
    )
    ended_at = models.DateTimeField(null=True)
    ended_why = models.CharField(max_length=REASON_LENGTH, blank=True)

    objects = AcceptanceQuerySet.as_manager()

    class Meta:
        ordering = ["circuit", "finding", "-accepted_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["circuit", "finding"],
                condition=Q(ended_at=None),
                name="circuits_acceptance_one_in_force",
            ),
            models.CheckConstraint(
                condition=~Q(finding="") & ~Q(reason=""), name="circuits_acceptance_has_its_reason"
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by=None, ended_why="")
                | Q(ended_at__isnull=False, ended_by__isnull=False) & ~Q(ended_why=""),
                name="circuits_acceptance_ends_with_who_and_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.circuit.key} {self.finding}"
