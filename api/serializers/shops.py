"""Shops, their people and their vehicles; all of it stays in the shop."""

from datetime import datetime
from typing import Annotated, Any

from pydantic import AliasPath, BeforeValidator, Field

from api.serializers.cases import Needed
from api.serializers.documents import Shown
from cases.documents.base import Document
from cases.models import Role


class NewShop(Document):
    """A shop to be opened; who opens it is its first owner."""

    name: Needed
    slug: Annotated[str, Field(pattern=r"^[a-z0-9]*(-[a-z0-9]+)*$", max_length=60)] = Field(
        default="", description="Short name, from which cases get their keys; made from the name."
    )


class ShopShown(Shown):
    """One of your shops."""

    slug: str
    name: str
    hold_days: int = Field(description="After so many days a verified repair counts as held.")


class HoldDays(Document):
    """The shop's own period after which a verified repair counts as held."""

    hold_days: int


class MemberInput(Document):
    """What a person is to be in a shop."""

    role: Role


class MemberShown(Shown):
    """A person in a shop."""

    username: str = Field(validation_alias=AliasPath("user", "username"))
    role: Role
    since: datetime


class MembersShown(Shown):
    """The people of a shop."""

    members: tuple[MemberShown, ...]


def _ids(cases: Any) -> tuple[int, ...]:
    return tuple(case.pk for case in cases.all())


class VehicleShown(Shown):
    """A vehicle of your shop."""

    id: int = Field(validation_alias="pk")
    shop: str = Field(validation_alias=AliasPath("shop", "slug"))
    make: str
    model: str
    year: int | None
    engine: str
    plate: str
    vin: str
    cases: Annotated[tuple[int, ...], BeforeValidator(_ids)] = Field(
        description="Ids of its cases."
    )
