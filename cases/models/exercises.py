"""A shared case that a class works through with part and outcome hidden."""

from typing import TYPE_CHECKING

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from cases.models.case import Case
from cases.models.shops import Shop

if TYPE_CHECKING:
    from django.db.models.fields.related_descriptors import RelatedManager


#: A case that is still shared, so that a class may know of it.
_USABLE = Q(case__shared_at__isnull=False, case__withdrawn_at__isnull=True)
#: What a task shows of the case, all of it read at once.
_TASK = ("shop", "case__shop", "case__vehicle", "case__author", "case__revision__circuit")


class ExerciseQuerySet(models.QuerySet["Exercise"]):
    """Exercises, scoped by who asks."""

    def visible_to(self, user: User | AnonymousUser) -> "ExerciseQuerySet":
        """Return the exercises set in this person's shops, as long as their case may be used."""
        if not user.is_authenticated:
            return self.none()
        return self.filter(_USABLE, shop__memberships__user=user, closed_at__isnull=True)

    def trained_by(self, user: User | AnonymousUser) -> "ExerciseQuerySet":
        """Return the exercises of the classes that this person trains, also those closed."""
        return self.filter(_USABLE, shop__in=Shop.objects.trained_by(user))

    def with_task(self) -> "ExerciseQuerySet":
        """Read what a task shows of the case along with each exercise."""
        return self.select_related(*_TASK)


class Exercise(models.Model):
    """A shared case, set by a trainer for the people of a shop or class."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="exercises")
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="exercises")
    set_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="exercises"
    )
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = ExerciseQuerySet.as_manager()

    if TYPE_CHECKING:
        attempts: RelatedManager["Attempt"]

    class Meta:
        ordering = ("-opened_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("case", "shop"),
                condition=Q(closed_at__isnull=True),
                name="one_open_exercise_of_a_case_per_shop",
            ),
        )

    def __str__(self) -> str:
        return f"exercise {self.pk}"


class AttemptQuerySet(models.QuerySet["Attempt"]):
    """Attempts, scoped by who asks."""

    def visible_to(self, user: User | AnonymousUser) -> "AttemptQuerySet":
        """Return this person's own attempts, as long as their case may be used.

        An attempt tells what the case was about, so it goes out of sight with a case that was
        taken back.
        """
        if not user.is_authenticated:
            return self.none()
        usable = Q(
            exercise__case__shared_at__isnull=False, exercise__case__withdrawn_at__isnull=True
        )
        return self.filter(usable, learner=user)

    def with_task(self) -> "AttemptQuerySet":
        """Read the exercise, and what its task shows of the case, along with each attempt."""
        return self.select_related(*(f"exercise__{each}" for each in _TASK))


class Attempt(models.Model):
    """One learner's go at an exercise: the readings asked for, then the fault named."""

    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="attempts")
    learner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="attempts"
    )
    started_at = models.DateTimeField()
    named_suspect = models.CharField(max_length=120, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answer = models.JSONField(null=True, blank=True)

    objects = AttemptQuerySet.as_manager()

    if TYPE_CHECKING:
        asked: RelatedManager["AskedReading"]

    class Meta:
        ordering = ("-started_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("exercise", "learner"),
                condition=Q(answered_at__isnull=True),
                name="one_running_attempt_per_learner",
            ),
            models.CheckConstraint(
                condition=Q(answered_at__isnull=True, named_suspect="", answer__isnull=True)
                | Q(answered_at__isnull=False, answer__isnull=False) & ~Q(named_suspect=""),
                name="answered_when_a_fault_is_named",
            ),
        )

    def __str__(self) -> str:
        return f"attempt {self.pk} at exercise {self.exercise_id}"


class AskedReading(models.Model):
    """A reading a learner asked for and what the meter showed; `minutes` is what it cost."""

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="asked")
    place_key = models.CharField(max_length=60)
    phase_key = models.CharField(max_length=120)
    unplugged = ArrayField(models.CharField(max_length=60), default=list, blank=True)
    bridged = models.JSONField(default=list, blank=True)
    lamp_watts = models.FloatField(null=True, blank=True)
    power_removed = models.BooleanField(default=False)
    text = models.CharField(max_length=40)
    unit = models.CharField(max_length=8)
    value = models.FloatField(null=True, blank=True)
    step = models.FloatField(default=0.0)
    from_record = models.BooleanField()
    minutes = models.PositiveSmallIntegerField()
    at = models.DateTimeField()

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.attempt_id}: {self.place_key} {self.phase_key} {self.text}"
