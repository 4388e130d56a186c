"""What a search may look at: who asks, and what they narrow it to."""

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any, Final

from django.contrib.auth.models import AnonymousUser, User

from cases.models import Case, Membership
from cases.models.case import unanswered_exercises

QUERIES_KEPT: Final = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """Whose cases are looked at: those of some shops and, for who is signed in, all shared ones.

    `kept_back` are shared cases that this person is to solve as an exercise. `visible` says it all
    once more, as a query for the cases' numbers that ends in its conditions, with its parameters:
    what is shown in the end is fetched through it.
    """

    visible: tuple[str, tuple[Any, ...]]
    sees_shared: bool = True
    shops: frozenset[int] = frozenset()
    kept_back: frozenset[int] = frozenset()


def scope_of(user: User | AnonymousUser) -> Scope:
    """Return what a person may look at: nothing for somebody who is not signed in."""
    if not user.is_authenticated:
        return Scope(visible=("SELECT 0 AS id FROM cases_case WHERE FALSE", ()), sees_shared=False)
    return Scope(
        visible=_visible_to(user.pk),
        shops=frozenset(Membership.objects.filter(user=user).values_list("shop_id", flat=True)),
        kept_back=frozenset(unanswered_exercises(user).values_list("case_id", flat=True)),
    )


def shared_scope() -> Scope:
    """Return what every shop on the server may look at."""
    return Scope(visible=_visible_to(None))


@lru_cache(maxsize=QUERIES_KEPT)
def _visible_to(user: int | None) -> tuple[str, tuple[Any, ...]]:
    """Return the query of the cases that a person may see, or everybody, as `Case.objects` has it.

    Kept, because putting it together takes longer than all the rest of a search.
    """
    every = Case.objects
    seen = every.shared_with_all() if user is None else every.visible_to(User(pk=user))
    lasting = seen.filter(withdrawn_at__isnull=True).order_by()
    return lasting.values("id").query.sql_with_params()


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
