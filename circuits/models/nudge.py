"""Where somebody wants a part in the drawing, if not where the layout puts it."""

from django.conf import settings
from django.db import models

from circuits.models.circuit import NAME_LENGTH, Circuit

#: No part is moved farther than this, in steps of the grid across and in rows down.
FARTHEST = 200


class Nudge(models.Model):
    """A part moved by hand. It belongs to the circuit, so the drawings of later revisions keep it.

    Where a part is drawn says nothing of the circuit, so it is no part of a revision: moving one
    rejudges no case and leaves the text form as it is.
    """

    circuit = models.ForeignKey(Circuit, on_delete=models.PROTECT, related_name="nudges")
    part = models.CharField(max_length=NAME_LENGTH)
    steps_right = models.SmallIntegerField()
    rows_down = models.SmallIntegerField()
    moved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    moved_at = models.DateTimeField()

    class Meta:
        ordering = ["circuit", "part"]
        constraints = [
            models.UniqueConstraint(fields=["circuit", "part"], name="circuits_nudge_part_once"),
            models.CheckConstraint(
                condition=models.Q(
                    steps_right__range=(-FARTHEST, FARTHEST), rows_down__range=(-FARTHEST, FARTHEST)
                ),
                name="circuits_nudge_within_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.steps_right:+d} across, {self.rows_down:+d} down"
