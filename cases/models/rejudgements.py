"""What a newer revision of its circuit, or a newer engine, would say of a case."""

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.db import models
from django.db.models import F, Q

from cases.models.case import Case
from cases.models.choices import EarnedStanding
from cases.models.shops import Membership
from cases.models.verdicts import Verdict


class Settlement(models.TextChoices):
    """What became of a verdict that would change."""

    TAKEN_OVER = "taken over", "taken over"
    LEFT = "left", "left as it was"
    REPLACED = "replaced", "replaced by a newer one"


class RejudgementQuerySet(models.QuerySet["Rejudgement"]):
    """Rejudgements, scoped by who asks: the shop of the case, and nobody else."""

    def visible_to(self, user: User | AnonymousUser) -> "RejudgementQuerySet":
        if not user.is_authenticated:
            return self.none()
        return self.filter(case__shop__in=Membership.objects.filter(user=user).values("shop"))

    def changed(self) -> "RejudgementQuerySet":
        """Return those that say something else than the verdict they were compared with."""
        return self.exclude(changes=[])

    def waiting(self) -> "RejudgementQuerySet":
        """Return the changed ones that nobody has settled, and that the case has not overtaken."""
        by_engine = Q(earlier__revision=F("revision"))
        return self.changed().filter(
            by_engine | ~Q(case__revision=F("revision")),
            settled_at__isnull=True,
            case__withdrawn_at__isnull=True,
        )

    def with_facts(self) -> "RejudgementQuerySet":
        """Fetch what a list shows, in a fixed number of queries."""
        return self.select_related(
            "case__shop",
            "case__vehicle",
            "case__revision",
            "revision__circuit",
            "revision__author",
            "earlier__revision__circuit",
            "settled_by",
        ).defer("result", "earlier__result")


class Rejudgement(models.Model):
    """One case judged once more, beside the verdict it has; that one stays.

    `changes` says in sentences what is different, and is empty where nothing is. `trouble` says
    why the case has no place in the new revision; then there is no `result`.
    """

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="rejudgements")
    earlier = models.ForeignKey(Verdict, on_delete=models.CASCADE, related_name="rejudgements")
    revision = models.ForeignKey("circuits.Revision", on_delete=models.PROTECT, related_name="+")
    engine_version = models.CharField(max_length=40)
    result = models.JSONField(null=True, blank=True)
    outcome = models.CharField(max_length=20, blank=True)
    standing = models.CharField(max_length=20, choices=EarnedStanding.choices, blank=True)
    changes = models.JSONField(default=list, blank=True)
    trouble = models.TextField(blank=True)
    computed_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    settlement = models.CharField(max_length=20, choices=Settlement.choices, blank=True)

    objects = RejudgementQuerySet.as_manager()

    class Meta:
        ordering = ("-computed_at", "-pk")
        constraints = (
            # A job that is run twice finds what it did the first time.
            models.UniqueConstraint(
                fields=("earlier", "revision", "engine_version"), name="rejudged_once"
            ),
            models.CheckConstraint(
                condition=Q(result__isnull=False, trouble="")
                | Q(result__isnull=True) & ~Q(trouble=""),
                name="rejudged_or_why_not",
            ),
            models.CheckConstraint(
                condition=Q(settlement="", settled_at__isnull=True)
                | ~Q(settlement="") & Q(settled_at__isnull=False),
                name="settled_at_a_moment",
            ),
        )

    def __str__(self) -> str:
        return f"{self.case_id}: {self.revision_id}, engine {self.engine_version}"

    @property
    def is_by_engine(self) -> bool:
        """Whether the engine is what changed, and not the circuit."""
        return self.earlier.revision_id == self.revision_id
