"""A case: what happened to a vehicle and what was done about it."""

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import DurationField, Exists, ExpressionWrapper, F, OuterRef, Q, Value

from cases.models.choices import (
    CODE_LENGTH,
    CodeStatus,
    EarnedStanding,
    Outcome,
    Role,
    Symptom,
)
from cases.models.shops import Membership, Shop
from cases.models.vehicles import Vehicle

if TYPE_CHECKING:
    from django.db.models.fields.related_descriptors import RelatedManager

    from cases.models.exercises import Exercise
    from cases.models.readings import LoggedReading
    from cases.models.verdicts import Verdict
    from circuits.models import Circuit

HELD = "held"
VERIFIED_AND_UP = (EarnedStanding.VERIFIED,)


class CaseQuerySet(models.QuerySet["Case"]):
    """Cases, scoped by who asks. Every read starts from `visible_to`."""

    def visible_to(self, user: User | AnonymousUser) -> "CaseQuerySet":
        """Return the cases of this person's shops and those that other shops share.

        A shared case that is set as an exercise in a class of this person's shop is left out
        until they have answered it, so that nothing anywhere gives the answer away; the exercise
        itself shows what they may see of it.
        """
        if not user.is_authenticated:
            return self.none()
        own_shops = Membership.objects.filter(user=user).values("shop")
        shared = Q(shared_at__isnull=False, withdrawn_at__isnull=True)
        hidden = unanswered_exercises(user).filter(case=OuterRef("pk"))
        return self.filter(Q(shop__in=own_shops) | shared & ~Exists(hidden))

    def shared_with_all(self) -> "CaseQuerySet":
        """Return the cases that every shop on the server may see."""
        return self.filter(shared_at__isnull=False, withdrawn_at__isnull=True)

    def for_circuit(self, circuit: "Circuit") -> "CaseQuerySet":
        return self.filter(revision__circuit=circuit)

    def verified(self) -> "CaseQuerySet":
        """Return the cases whose after-readings prove the repair."""
        return self.filter(earned_standing__in=VERIFIED_AND_UP)

    def standing_as(self, word: str, moment: datetime) -> "CaseQuerySet":
        """Return the cases that stand so at a moment, by the rule of `Case.standing_at`."""
        if word not in (HELD, EarnedStanding.VERIFIED):
            return self.filter(earned_standing=word)
        hold = ExpressionWrapper(
            F("shop__hold_days") * Value(timedelta(days=1)), output_field=DurationField()
        )
        held = Q(repaired_at__isnull=False, repaired_at__lte=Value(moment) - hold)
        return self.verified().filter(held if word == HELD else ~held)

    def still_open(self) -> "CaseQuerySet":
        return self.filter(outcome=Outcome.OPEN, withdrawn_at__isnull=True)

    def with_facts(self) -> "CaseQuerySet":
        """Fetch what a list or a page of cases shows, in a fixed number of queries."""
        return self.select_related(
            "shop", "vehicle", "author", "claimed_by", "revision", "revision__circuit"
        ).prefetch_related("codes", "parts_in_vain")


def unanswered_exercises(user: User) -> "models.QuerySet[Exercise]":
    """Return the exercises whose cases are still kept from this person, a learner."""
    from cases.models.exercises import Attempt, Exercise

    learns_in = Membership.objects.filter(user=user, role=Role.TECHNICIAN).values("shop")
    answered = Attempt.objects.filter(
        exercise__case=OuterRef("case"), learner=user, answered_at__isnull=False
    )
    return Exercise.objects.filter(~Exists(answered), shop__in=learns_in, closed_at__isnull=True)


class Case(models.Model):
    """What happened to a vehicle: complaint, codes, readings, claim, repair, outcome.

    `complaint` is in the driver's words and holds no cause. `earned_standing` is a copy, kept by
    the services, of what `cases.standing` computes from the record; nobody sets it by hand.
    """

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="cases")
    number = models.PositiveIntegerField()
    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="cases")
    revision = models.ForeignKey(
        "circuits.Revision", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    system = models.CharField(max_length=60, blank=True)
    complaint = models.TextField()
    symptom = models.CharField(max_length=30, choices=Symptom.choices, blank=True)
    conditions = models.TextField(blank=True)
    complaint_phase = models.CharField(max_length=120, blank=True)
    tries_before = models.PositiveSmallIntegerField(null=True, blank=True)
    hits_before = models.PositiveSmallIntegerField(null=True, blank=True)
    clean_tries_after = models.PositiveSmallIntegerField(null=True, blank=True)

    claimed_suspect = models.CharField(max_length=120, blank=True)
    claimed_severity = models.FloatField(null=True, blank=True)
    claimed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="claims",
    )
    claimed_at = models.DateTimeField(null=True, blank=True)

    #: Codes that are not set although their monitor ran.
    monitors_passed = ArrayField(models.CharField(max_length=CODE_LENGTH), default=list, blank=True)

    part_replaced = models.TextField(blank=True)
    outcome = models.CharField(max_length=20, choices=Outcome.choices, default=Outcome.OPEN)
    what_misled = models.TextField(blank=True)
    what_decided = models.TextField(blank=True)
    #: What was added to or ticked off of the work after the repair, as `cases.after_work` has it.
    after_work = models.JSONField(default=list, blank=True, editable=False)

    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="cases"
    )
    opened_at = models.DateTimeField()
    repaired_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    comeback_of = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="comebacks"
    )
    copied_from = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="copies"
    )
    shared_at = models.DateTimeField(null=True, blank=True)
    shared_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawal_reason = models.TextField(blank=True)
    earned_standing = models.CharField(
        max_length=20,
        choices=EarnedStanding.choices,
        default=EarnedStanding.NOTE,
        editable=False,
    )

    objects = CaseQuerySet.as_manager()

    if TYPE_CHECKING:
        codes: RelatedManager["CodeSeen"]
        parts_in_vain: RelatedManager["PartInVain"]
        readings: RelatedManager["LoggedReading"]
        verdicts: RelatedManager["Verdict"]
        changes: RelatedManager["CaseChange"]
        comebacks: RelatedManager["Case"]
        copies: RelatedManager["Case"]

    class Meta:
        ordering = ("-opened_at", "-pk")
        indexes = (
            models.Index(fields=("shop", "-opened_at"), name="case_shop_opened"),
            models.Index(
                fields=("-opened_at",), condition=Q(shared_at__isnull=False), name="case_shared"
            ),
            models.Index(fields=("system",), name="case_system"),
        )
        constraints = (
            models.UniqueConstraint(fields=("shop", "number"), name="one_case_of_a_number"),
            models.CheckConstraint(condition=Q(number__gte=1), name="case_numbers_from_one"),
            models.CheckConstraint(condition=~Q(complaint=""), name="case_has_a_complaint"),
            models.CheckConstraint(
                condition=Q(claimed_suspect="", claimed_at__isnull=True, claimed_by__isnull=True)
                | ~Q(claimed_suspect="") & Q(claimed_at__isnull=False, claimed_by__isnull=False),
                name="a_claim_has_someone_and_a_moment",
            ),
            models.CheckConstraint(
                condition=Q(claimed_suspect="") | Q(revision__isnull=False),
                name="a_claim_needs_a_circuit",
            ),
            models.CheckConstraint(
                condition=Q(claimed_severity__isnull=True) | Q(claimed_severity__gte=0),
                name="claimed_severity_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True) | ~Q(withdrawal_reason=""),
                name="a_withdrawal_has_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("opened_at")),
                name="closed_after_opened",
            ),
            models.CheckConstraint(
                condition=Q(hits_before__isnull=True)
                | Q(tries_before__isnull=False, hits_before__lte=F("tries_before")),
                name="no_more_hits_than_tries",
            ),
            models.CheckConstraint(
                condition=~Q(pk=F("comeback_of")) & ~Q(pk=F("copied_from")),
                name="not_its_own_comeback_or_copy",
            ),
            models.CheckConstraint(
                condition=Q(outcome__in=Outcome.values), name="case_outcome_known"
            ),
        )

    def __str__(self) -> str:
        return self.key

    @property
    def key(self) -> str:
        """What people call the case."""
        return case_key(self.shop.slug, self.number)

    @property
    def is_shared(self) -> bool:
        return self.shared_at is not None and self.withdrawn_at is None

    def standing_at(self, moment: datetime) -> str:
        """Return the standing at a moment: verified becomes held after the shop's own period."""
        if self.earned_standing != EarnedStanding.VERIFIED or self.repaired_at is None:
            return self.earned_standing
        held_from = self.repaired_at + timedelta(days=self.shop.hold_days)
        return HELD if moment >= held_from else self.earned_standing


def case_key(slug: str, number: int) -> str:
    """Return what people call a case: the short name of its shop and its number there."""
    return f"{slug}-{number}"


class CodeSeen(models.Model):
    """A fault code as a module gave it."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="codes")
    code = models.CharField(max_length=CODE_LENGTH)
    failure_type = models.CharField(max_length=2, blank=True)
    module = models.CharField(max_length=60, blank=True)
    status = models.CharField(max_length=10, choices=CodeStatus.choices, blank=True)

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(
                fields=("case", "code", "failure_type", "module"), name="a_code_once_per_module"
            ),
            models.CheckConstraint(
                condition=Q(failure_type="") | Q(failure_type__regex=r"^[0-9A-F]{2}$"),
                name="failure_type_is_a_byte",
            ),
        )

    def __str__(self) -> str:
        return f"{self.case_id}: {self.code}"


class PartInVain(models.Model):
    """A part that was fitted and did not cure the complaint."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="parts_in_vain")
    part = models.CharField(max_length=120)
    hours = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.CheckConstraint(
                condition=Q(hours__isnull=True) | Q(hours__gte=0), name="hours_not_negative"
            ),
        )

    def __str__(self) -> str:
        return f"{self.case_id}: {self.part}"


class CaseChange(models.Model):
    """One fact of a case that was changed: by whom, when, from what to what."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="changes")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    field = models.CharField(max_length=40)
    old = models.TextField(blank=True)
    new = models.TextField(blank=True)

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.case_id}: {self.field}"
