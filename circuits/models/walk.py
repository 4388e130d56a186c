"""Walk-throughs: an ordered row of drawing states with a sentence each."""

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models

from circuits.models.circuit import NAME_LENGTH, WORDS_LENGTH, Circuit

if TYPE_CHECKING:
    from django.db.models.fields.related_descriptors import RelatedManager

SENTENCE_LENGTH = 400


class Walk(models.Model):
    """A walk through a circuit, as one technician explains it; only its writer changes it.

    It belongs to the circuit and not to a revision: its steps name what they show, and what a later
    revision has no more is said to be missing.
    """

    circuit = models.ForeignKey(Circuit, on_delete=models.PROTECT, related_name="walks")
    number = models.PositiveIntegerField()
    title = models.CharField(max_length=WORDS_LENGTH)
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    written_at = models.DateTimeField()

    if TYPE_CHECKING:
        steps: "RelatedManager[WalkStep]"

    class Meta:
        ordering = ["circuit", "number"]
        constraints = [
            models.UniqueConstraint(fields=["circuit", "number"], name="circuits_walk_number_once"),
        ]

    def __str__(self) -> str:
        return f"{self.circuit.key}, walk {self.number}: {self.title}"


class WalkStep(models.Model):
    """A state of the drawing and what there is to say of it; without a phase it is at rest."""

    walk = models.ForeignKey(Walk, on_delete=models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    phase = models.CharField(max_length=NAME_LENGTH, blank=True)
    suspect = models.CharField(max_length=WORDS_LENGTH, blank=True)
    severity = models.CharField(max_length=NAME_LENGTH, blank=True)
    pin = models.CharField(max_length=NAME_LENGTH, blank=True)
    sentence = models.CharField(max_length=SENTENCE_LENGTH)

    class Meta:
        ordering = ["walk", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["walk", "position"], name="circuits_walk_position_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.walk}, step {self.position}"
