"""Shops and the people in them."""

from typing import TYPE_CHECKING

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from cases.models.choices import Role

if TYPE_CHECKING:
    from django.db.models.fields.related_descriptors import RelatedManager

    from cases.models.case import Case
    from cases.models.vehicles import Vehicle

DEFAULT_HOLD_DAYS = 90
LONGEST_LANGUAGE = 8


def english() -> list[str]:
    """Return the languages that a shop writes until it says otherwise."""
    return ["en"]


class ShopQuerySet(models.QuerySet["Shop"]):
    """Shops, scoped by who asks."""

    def visible_to(self, user: User | AnonymousUser) -> "ShopQuerySet":
        """Return the shops this person belongs to."""
        if not user.is_authenticated:
            return self.none()
        return self.filter(memberships__user=user)

    def where(self, user: User | AnonymousUser, role: Role) -> "ShopQuerySet":
        """Return the shops in which this person has a role."""
        if not user.is_authenticated:
            return self.none()
        return self.filter(memberships__user=user, memberships__role=role)

    def trained_by(self, user: User | AnonymousUser) -> "ShopQuerySet":
        """Return the shops in which this person may set exercises."""
        if not user.is_authenticated:
            return self.none()
        trains = (Role.TRAINER, Role.OWNER)
        return self.filter(memberships__user=user, memberships__role__in=trains)


class Shop(models.Model):
    """A workshop, or a college class that learns from shared cases.

    `hold_days` is the shop's own period: a verified repair that has not come back for so many
    days is held. `languages` are those that its people write in, the first one first.
    """

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=60, unique=True)
    hold_days = models.PositiveIntegerField(default=DEFAULT_HOLD_DAYS)
    languages = ArrayField(models.CharField(max_length=LONGEST_LANGUAGE), default=english)
    last_case_number = models.PositiveIntegerField(default=0)
    created_at = models.DateTimeField()

    objects = ShopQuerySet.as_manager()

    if TYPE_CHECKING:
        memberships: RelatedManager["Membership"]
        vehicles: RelatedManager["Vehicle"]
        cases: RelatedManager["Case"]

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(Lower("name"), name="one_shop_of_a_name"),
            models.CheckConstraint(condition=~Q(name=""), name="a_shop_has_a_name"),
        )

    def __str__(self) -> str:
        return f"{self.slug}: {self.name}"


class Membership(models.Model):
    """One person in one shop, with one role there."""

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships"
    )
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role.choices, default=Role.TECHNICIAN)
    since = models.DateTimeField()

    class Meta:
        ordering = ("shop", "user")
        constraints = (
            models.UniqueConstraint(fields=("user", "shop"), name="one_membership_per_shop"),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="membership_role_known"),
        )

    def __str__(self) -> str:
        return f"{self.user_id} in {self.shop_id} as {self.role}"
