"""Put drawn cases into the database, many at a time, past the services that people use.

What search reads is written as the services would write it; of the cases themselves only what a
list of results shows.
"""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
from django.contrib.auth.models import User

from cases.models import Case, CaseEvidence, Membership, Role, Shop, TermKind, Vehicle
from cases.search.evidence import (
    NEVER,
    STANDINGS,
    day_of,
    fault_text,
    room_named,
    terms_as_bytes,
)
from cases.search.terms import numbers_for
from cases.services.copying import copy_rows
from tests.search_world.tables import NO_READING
from tests.search_world.world import DAYS, SHARED, SHOPS, Drawn, World

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
STANDING_SHARES = {"verified": 0.45, "consistent": 0.25, "claimed": 0.2, "note": 0.1}
VEHICLES = 400


class Loader:
    """Writes cases of a world; `user` is a technician of the first shop."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.random = np.random.default_rng(23)
        self.user = User.objects.create_user("searcher", password="a long enough phrase")
        self.shops = Shop.objects.bulk_create(
            Shop(name=f"Shop {number}", slug=f"shop-{number}", created_at=NOW)
            for number in range(SHOPS)
        )
        Membership.objects.create(
            user=self.user, shop=self.shops[0], role=Role.TECHNICIAN, since=NOW
        )
        self.vehicles = Vehicle.objects.bulk_create(
            Vehicle(shop=self.shops[0], make="Tolvane", model=f"M{number}")
            for number in range(VEHICLES)
        )

    def load(self, drawn: Sequence[Drawn]) -> int:
        """Write all these cases; return how many readings they have."""
        readings = 0
        for group in drawn:
            columns = _Columns(self, group)
            numbers = columns.numbers()
            copy_rows(Case, columns.case_rows())
            copy_rows(CaseEvidence, columns.evidence_rows(numbers))
            readings += int((group.read != NO_READING).sum())
        return readings


class _Columns:
    """The rows of cases of one circuit."""

    def __init__(self, loader: Loader, drawn: Drawn) -> None:
        self.loader, self.drawn = loader, drawn
        random, count = loader.random, len(drawn.truth)
        newest = Case.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        self.first = newest + 1
        self.shop = random.integers(0, SHOPS, count)
        self.shared = random.uniform(size=count) < SHARED
        self.vehicle = random.integers(0, VEHICLES, count)
        self.standing = random.choice(
            list(STANDING_SHARES), count, p=list(STANDING_SHARES.values())
        )
        self.days_ago = random.integers(0, DAYS, count)
        self.circuit = loader.world.circuits[drawn.circuit]

    def case_rows(self) -> Iterator[dict[str, object]]:
        """Yield the rows of cases."""
        author = self.loader.user.pk
        for place, claim in enumerate(self.drawn.claim.tolist()):
            opened = NOW - timedelta(days=int(self.days_ago[place]))
            yield {
                "id": self.first + place,
                "shop_id": self.loader.shops[self.shop[place]].pk,
                "number": self.first + place,
                "vehicle_id": self.loader.vehicles[self.vehicle[place]].pk,
                "system": self.circuit.system,
                "complaint": " ".join(self.drawn.words[place]) or "no words",
                "claimed_suspect": "",
                "part_replaced": self.circuit.faults[claim],
                "outcome": "fixed",
                "author_id": author,
                "opened_at": opened,
                "shared_at": opened if self.shared[place] else None,
                "earned_standing": str(self.standing[place]),
            }

    def numbers(self) -> dict[TermKind, dict[str, int]]:
        """Return the numbers of all terms that these cases have."""
        drawn, circuit = self.drawn, self.circuit
        texts = {
            TermKind.SLOT: circuit.slots,
            TermKind.FAULT: [fault_text(circuit.key, fault) for fault in circuit.faults],
            TermKind.CODE: [code for each in drawn.codes for code in each],
            TermKind.WORD: [word for each in drawn.words for word in each],
        }
        return {kind: numbers_for(kind, each) for kind, each in texts.items()}

    def evidence_rows(self, numbers: dict[TermKind, dict[str, int]]) -> Iterator[dict[str, object]]:
        """Yield what search reads of them."""
        drawn, circuit = self.drawn, self.circuit
        slots, faults, codes, words = (
            numbers[kind] for kind in (TermKind.SLOT, TermKind.FAULT, TermKind.CODE, TermKind.WORD)
        )
        slot_numbers = np.array([slots[slot] for slot in circuit.slots], dtype="<i4")
        names = [fault_text(circuit.key, fault) for fault in circuit.faults]
        room = room_named(circuit.system)
        for place, claim in enumerate(drawn.claim.tolist()):
            number = self.first + place
            taken = np.flatnonzero(drawn.read[place] != NO_READING)
            yield {
                "case_id": number,
                "room": room,
                "shop_id": self.loader.shops[self.shop[place]].pk,
                "is_shared": bool(self.shared[place]),
                "root": number,
                "fault": faults[names[claim]],
                "standing": STANDINGS.index(self.standing[place]),
                "held_from_day": NEVER,
                "opened_day": day_of(NOW) - int(self.days_ago[place]),
                "slots": slot_numbers[taken].tobytes(),
                "sizes": drawn.read[place][taken].tobytes(),
                "readings": list(range(16 * number, 16 * number + len(taken))),
                "codes": terms_as_bytes(codes[code] for code in drawn.codes[place]),
                "words": terms_as_bytes(words[word] for word in drawn.words[place]),
                "written_at": NOW,
            }
