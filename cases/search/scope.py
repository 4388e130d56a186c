"""What a search may look at: who asks, and what they narrow it to."""

from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import AnonymousUser, User

from cases.models import Membership
from cases.models.case import unanswered_exercises


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
        shops=frozenset(Membership.objects.filter(user=user).values_list("shop_id", flat=True)),
        kept_back=frozenset(unanswered_exercises(user).values_list("case_id", flat=True)),
    )


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
