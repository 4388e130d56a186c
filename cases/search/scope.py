"""What a search may look at: who asks, and what they narrow it to."""

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any, Final

from django.contrib.auth.models import AnonymousUser, User

from cases.models import Membership
from cases.models.case import unanswered_exercises
from cases.search.prepared import rows_of

QUERIES_KEPT: Final = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """Whose cases are looked at: those of some shops and, for who is signed in, all shared ones.

    `kept_back` are shared cases that this person is to solve as an exercise. Together this is what
    `Case.objects.visible_to` says, asked once for a whole search.
    """

    sees_shared: bool = True
    shops: frozenset[int] = frozenset()
    kept_back: frozenset[int] = frozenset()


def scope_of(user: User | AnonymousUser) -> Scope:
    """Return what a person may look at: nothing for somebody who is not signed in."""
    if not user.is_authenticated:
        return Scope(sees_shared=False)
    return Scope(
        shops=frozenset(shop for (shop,) in rows_of(*_shops_of(user.pk))),
        kept_back=frozenset(case for (case,) in rows_of(*_kept_from(user.pk))),
    )


# Putting these queries together takes longer than asking them.
@lru_cache(maxsize=QUERIES_KEPT)
def _shops_of(user: int) -> tuple[str, tuple[Any, ...]]:
    return Membership.objects.filter(user=user).values("shop_id").order_by().query.sql_with_params()


@lru_cache(maxsize=QUERIES_KEPT)
def _kept_from(user: int) -> tuple[str, tuple[Any, ...]]:
    return unanswered_exercises(User(pk=user)).values("case_id").order_by().query.sql_with_params()


def shared_scope() -> Scope:
    """Return what every shop on the server may look at."""
    return Scope()


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowing:
    """What is asked of the cases beside being alike; all of it may be left out.

    `shop` is its short name, `vehicle` make and model.
    """

    standings: frozenset[str] = frozenset()
    shop: str = ""
    vehicle: str = ""
    opened_since: datetime | None = None
    #: The circuit whose own cases are left out, by its row.
    besides_circuit: int | None = None

    def __bool__(self) -> bool:
        return self != Narrowing()


#: Nothing is asked beside being alike.
EVERYTHING = Narrowing()
