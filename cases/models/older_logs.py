"""Older logs that a shop brings in: the file, how far it has come, what came in, what did not."""

from typing import TYPE_CHECKING

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.contrib.postgres.fields import ArrayField
from django.db import models

from cases.models.case import Case
from cases.models.choices import LogForm, LogState, Wanted
from cases.models.shops import Membership, Shop

if TYPE_CHECKING:
    from django.db.models.fields.related_descriptors import RelatedManager

LONGEST_KEY = 120


class OlderLogQuerySet(models.QuerySet["OlderLog"]):
    """Older logs, scoped by who asks: what a shop brings in is nobody else's."""

    def visible_to(self, user: User | AnonymousUser) -> "OlderLogQuerySet":
        if not user.is_authenticated:
            return self.none()
        return self.filter(shop__in=Membership.objects.filter(user=user).values("shop"))

    def without_content(self) -> "OlderLogQuerySet":
        """Leave the file itself where it is; it may be large."""
        return self.defer("content")


class OlderLog(models.Model):
    """A file of many cases, and how far it has come.

    `content` is there until the cases are in or the file is taken away. `heading` and `separator`
    are those of a table, so that what was refused goes back out under the same columns. Cases are
    counted as the file has them: gone through, good (in, or fit to come in), here already, refused.
    """

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="older_logs")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=200)
    form = models.CharField(max_length=10, choices=LogForm.choices)
    heading = ArrayField(models.TextField(), default=list)
    separator = models.CharField(max_length=1, blank=True)
    content = models.BinaryField(default=bytes)
    wanted = models.CharField(max_length=10, choices=Wanted.choices)
    state = models.CharField(max_length=10, choices=LogState.choices, default=LogState.WAITING)
    cases_in_all = models.PositiveIntegerField()
    cases_done = models.PositiveIntegerField(default=0)
    cases_good = models.PositiveIntegerField(default=0)
    cases_known = models.PositiveIntegerField(default=0)
    cases_refused = models.PositiveIntegerField(default=0)
    #: Where all or nothing comes in, its numbers, which nobody else was given meanwhile.
    first_number = models.PositiveIntegerField(default=0)
    brought_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = OlderLogQuerySet.as_manager()

    if TYPE_CHECKING:
        refused_lines: RelatedManager["RefusedLine"]
        taken_in: RelatedManager["TakenInCase"]

    class Meta:
        ordering = ("-pk",)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(wanted__in=Wanted.values)
                & models.Q(state__in=LogState.values)
                & models.Q(form__in=LogForm.values),
                name="older_log_words_known",
            ),
        )

    def __str__(self) -> str:
        return f"{self.pk}: {self.name}"

    @property
    def is_waiting(self) -> bool:
        return self.state == LogState.WAITING


class RefusedLine(models.Model):
    """A line of an older log that did not come in, as it was, with every reason.

    `reasons` are [column, what is wrong, how to mend it]; a line without any is good itself, but
    another line of its case is not.
    """

    log = models.ForeignKey(OlderLog, on_delete=models.CASCADE, related_name="refused_lines")
    line = models.PositiveIntegerField()
    cells = ArrayField(models.TextField(), default=list)
    reasons = models.JSONField(default=list)

    class Meta:
        ordering = ("log", "line")
        constraints = (models.UniqueConstraint(fields=("log", "line"), name="a_line_refused_once"),)

    def __str__(self) -> str:
        return f"{self.log_id}: line {self.line}"


class TakenInCase(models.Model):
    """What a case was called in an older log, and a digest of what the log said of it.

    A log that is brought in twice is known by this, so that nothing is doubled.
    """

    case = models.OneToOneField(
        Case, on_delete=models.CASCADE, primary_key=True, related_name="taken_in"
    )
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="+", db_index=False)
    key = models.CharField(max_length=LONGEST_KEY)
    digest = models.CharField(max_length=64)
    log = models.ForeignKey(
        OlderLog, on_delete=models.SET_NULL, null=True, blank=True, related_name="taken_in"
    )

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("shop", "key"), name="an_older_case_once_in_a_shop"),
        )

    def __str__(self) -> str:
        return f"{self.key} is case {self.case_id}"
