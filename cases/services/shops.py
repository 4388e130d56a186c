"""Shops and their members."""

from datetime import datetime

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils.text import slugify

from cases.errors import BadFact, NotAMember, OwnersOnly, TrainersOnly
from cases.models import Membership, Role, Shop
from cases.search.evidence import hold_later

SLUG_LENGTH = 60


@transaction.atomic
def open_shop(*, name: str, by: User, at: datetime, slug: str = "") -> Shop:
    """Open a shop; who opens it is its first owner."""
    name = name.strip()
    if not name:
        raise BadFact("name", "a shop needs a name.")
    slug = slug or slugify(name)[:SLUG_LENGTH].strip("-")
    if not slug:
        raise BadFact("name", "the name needs a letter or a digit, from which cases get their key.")
    try:
        with transaction.atomic():
            shop = Shop.objects.create(name=name, slug=slug, created_at=at)
    except IntegrityError:
        raise BadFact(
            "name", f"there is a shop called {name} already; choose another name."
        ) from None
    Membership.objects.create(shop=shop, user=by, role=Role.OWNER, since=at)
    return shop


@transaction.atomic
def add_member(*, shop: Shop, user: User, role: str, by: User, at: datetime) -> Membership:
    """Take a person into a shop, or give them another role there."""
    require_owner(shop, by, "add members")
    if role not in Role.values:
        raise BadFact("role", f"'{role}' is no role; choose {', '.join(Role.values)}.")
    membership, is_new = Membership.objects.get_or_create(
        shop=shop, user=user, defaults={"role": role, "since": at}
    )
    if not is_new and membership.role != role:
        if membership.role == Role.OWNER:
            _keep_an_owner(shop, besides=user)
        membership.role = role
        membership.save(update_fields=["role"])
    return membership


@transaction.atomic
def remove_member(*, shop: Shop, user: User, by: User) -> None:
    """Take a person out of a shop; what they logged stays with it."""
    if user != by:
        require_owner(shop, by, "take members out")
    membership = Membership.objects.filter(shop=shop, user=user).first()
    if membership is None:
        raise NotAMember(shop.name)
    if membership.role == Role.OWNER:
        _keep_an_owner(shop, besides=user)
    membership.delete()


def set_hold_days(*, shop: Shop, days: int, by: User) -> Shop:
    """Set the shop's own period after which a verified repair counts as held."""
    require_owner(shop, by, "set the period after which a repair is held")
    if not 1 <= days <= 3650:
        raise BadFact("hold_days", "give a number of days from 1 to 3650.")
    hold_later(shop, days=days - shop.hold_days)
    shop.hold_days = days
    shop.save(update_fields=["hold_days"])
    return shop


def role_in(shop: Shop, user: User) -> str | None:
    """Return this person's role in the shop, or None. Asks the database."""
    return Membership.objects.filter(shop=shop, user=user).values_list("role", flat=True).first()


def require_member(shop: Shop, user: User) -> str:
    """Return this person's role in the shop, or refuse."""
    role = role_in(shop, user)
    if role is None:
        raise NotAMember(shop.name)
    return role


def require_owner(shop: Shop, user: User, deed: str) -> None:
    """Refuse everyone but an owner of the shop."""
    if role_in(shop, user) != Role.OWNER:
        raise OwnersOnly(shop.name, deed)


def require_trainer(shop: Shop, user: User, deed: str) -> None:
    """Refuse everyone but a trainer or an owner of the shop."""
    if role_in(shop, user) not in (Role.TRAINER, Role.OWNER):
        raise TrainersOnly(shop.name, deed)


def _keep_an_owner(shop: Shop, *, besides: User) -> None:
    # Locked, so that two owners cannot leave at the same moment and both be told it is fine.
    owners = shop.memberships.select_for_update().filter(role=Role.OWNER)
    if not [owner for owner in owners if owner.user_id != besides.pk]:
        raise BadFact("role", f"{shop.name} needs an owner; make someone else an owner first.")
