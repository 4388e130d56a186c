"""Find the past cases that resemble a job: exact scoring of every case the searcher may see.

No index is asked first, because an approximate one would have to guess which readings matter. What
is asked has some twenty terms; for each of them the cases that have it are known, and all of them
get their points. Then the best of each fault are explained and tried against the circuit.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import cached_property, partial

import numpy as np

from cases.models import HEALTHY, Shop, TermKind
from cases.search.evidence import STANDING_WORDS, fault_text, vehicle_text
from cases.search.explaining import Explainer
from cases.search.facets import facets_of
from cases.search.partings import not_parted_words, parting_places
from cases.search.past_cases import past_cases
from cases.search.points import Found, Points
from cases.search.posterior import AskedSize, Posterior
from cases.search.predicted import predicted_faults
from cases.search.profiles import Profile, profile_for
from cases.search.query import Query
from cases.search.results import FaultGroup, Hit, OldFault, PastCase, SearchResult
from cases.search.rooms import room_now
from cases.search.scope import EVERYTHING, Narrowing, Scope
from cases.search.sight import Sight
from cases.search.spelling import read_as, spell
from cases.search.terms import NO_TERM
from cases.search.transfer import old_fault
from cases.search.unseen import chance_unseen
from circuits.engine import prior_weight

#: How common it is that nothing is wrong, beside a bad joint. Common practice, no source.
HEALTHY_WEIGHT = 0.25
DEFAULT_LIMIT = 10
HITS_PER_FAULT = 3
# A case that was deleted since its segment was built is left out, and the search made again.
MOST_TRIES = 3


def find_similar(
    query: Query,
    scope: Scope,
    *,
    at: datetime,
    limit: int = DEFAULT_LIMIT,
    per_fault: int = HITS_PER_FAULT,
    only_fault: str = "",
    narrowing: Narrowing = EVERYTHING,
) -> SearchResult:
    """Return the cases most like the query, those of `only_fault` alone if one is named.

    Nothing of a case outside the scope is looked at, neither for how rare a word is nor for how
    it is spelled.
    """
    gone: frozenset[int] = frozenset()
    for _ in range(MOST_TRIES):
        search = _Search(query, scope, at=at, narrowing=narrowing, gone=gone)
        chosen = search.chosen(limit, per_fault, only_fault)
        copies = [copy for each in chosen for copy in search.copies_of(each)]
        asked = [*(each.case for each in chosen), *copies]
        shown = past_cases(scope, asked, by_role=query.by_role)
        missing = {each.case for each in chosen} - set(shown)
        if not missing:
            break
        gone |= missing
    return search.result([each for each in chosen if each.case in shown], shown)


def parted(query: Query, result: SearchResult) -> SearchResult:
    """Return a result with the readings that would part its faults, which the engine works out."""
    return replace(
        result,
        partings=parting_places(query, result.groups),
        not_parted=not_parted_words(query, result.groups),
    )


class _Search:
    """One search: what is in sight, and the points of everything there."""

    def __init__(
        self,
        query: Query,
        scope: Scope,
        *,
        at: datetime,
        narrowing: Narrowing,
        gone: frozenset[int],
    ) -> None:
        self.query = query
        self._tried: dict[int, OldFault] = {}
        self.room = room_now(query.room)
        self.sight = Sight(
            self.room.segments,
            scope,
            at=at,
            without=gone if query.leave_out is None else gone | {query.leave_out},
            tail_cases=self.room.tail_cases,
            narrowing=narrowing,
            shop=_shop_number(narrowing),
            vehicle=self._vehicle_number(narrowing),
        )
        kind = TermKind.ROLE if query.by_role else TermKind.SLOT
        names = self._fault_names
        self.slots = self.room.numbers(kind, [reading.slot for reading in query.slots])
        codes = self.room.numbers(TermKind.CODE, query.codes)
        known = self.room.numbers(TermKind.FAULT, names)
        # Faults of the circuit that no case here ever had get numbers below zero.
        self.faults = {name: known.get(name, -place) for place, name in enumerate(names, start=1)}
        for segment in self.room.segments:
            segment.load((*self.slots.values(), *codes.values()))
        # That somebody else has a code says nothing here, not even in the last digit.
        self.codes = {code: codes[code] for code in sorted(codes) if self.sight.count(codes[code])}
        self.spelled = spell(query.words, self.sight)
        self.posterior = self._weighed()
        self.points = Points(
            self.sight, self.posterior, self._asked, list(self.codes.values()), self.spelled
        )

    def _vehicle_number(self, narrowing: Narrowing) -> int | None:
        if not narrowing.vehicle:
            return None
        text = vehicle_text(narrowing.vehicle, "")
        return self.room.numbers(TermKind.VEHICLE, [text]).get(text)

    @cached_property
    def _profile(self) -> Profile | None:
        by_slot = self.query.slots and not self.query.by_role
        return profile_for(self.query.circuit) if by_slot and self.query.circuit else None

    @property
    def _fault_names(self) -> list[str]:
        circuit = self.query.circuit
        if circuit is None:
            return []
        return [fault_text(self.query.circuit_key, each) for each in (*circuit.suspects, HEALTHY)]

    @property
    def _weights(self) -> list[float]:
        """How common the kind of each named fault is."""
        circuit = self.query.circuit
        if circuit is None:
            return []
        return [*map(prior_weight, circuit.suspects.values()), HEALTHY_WEIGHT]

    @cached_property
    def _asked(self) -> list[AskedSize]:
        return [
            replace(asked, predicted=self._predicted(reading.slot, asked.bin))
            for reading in self.query.slots
            for asked in [AskedSize(self.slots.get(reading.slot, NO_TERM), reading.size)]
        ]

    def _predicted(self, slot: str, size_bin: int) -> dict[int, float]:
        if self._profile is None:
            return {}
        chances = self._profile.in_bin(slot, size_bin)
        return dict(zip(self._foretold, chances, strict=True)) if chances else {}

    @cached_property
    def _foretold(self) -> list[int]:
        """The numbers of the faults of the profile, in its order."""
        names = self._profile.faults if self._profile is not None else ()
        return [self.faults[fault_text(self.query.circuit_key, name)] for name in names]

    def _weighed(self) -> Posterior:
        # Faults of other circuits cannot be had here; asked by role, they are what is looked for.
        here = self.query.circuit is not None and not self.query.by_role
        weights = dict(zip(self.faults.values(), self._weights, strict=True))
        return Posterior(
            self.sight,
            self._asked,
            list(self.codes.values()),
            [
                (typed.likeliest.term, typed.likeliest.likeness)
                for typed in self.spelled
                if typed.meanings
            ],
            of_circuit=weights if here else None,
        )

    def chosen(self, limit: int, per_fault: int, only_fault: str) -> list[Found]:
        """Return the best cases, a few of each fault; of one fault alone if it is named."""
        if not only_fault:
            return self.points.chosen(limit, per_fault)
        number = self.room.numbers(TermKind.FAULT, [only_fault]).get(only_fault)
        if number is None:
            return []
        places = np.flatnonzero(self.sight.faults == number)
        return self.points.best_of(int(places[0]), limit) if len(places) else []

    def copies_of(self, found: Found) -> Sequence[int]:
        """Return the copies in sight that a case stands for."""
        return self.sight.copies.get(found.case, ())

    def result(self, chosen: Sequence[Found], shown: Mapping[int, PastCase]) -> SearchResult:
        """Return what was found, in words."""
        explain = Explainer(
            self.query, self.points, self.codes, [shown[each.case] for each in chosen]
        )
        return SearchResult(
            groups=self._grouped([(each, self._hit(each, shown, explain)) for each in chosen]),
            spelled=read_as(self.spelled),
            compared=self.sight.observations,
            predicted=predicted_faults(self.query, self.posterior, self.faults),
            outside=float(self.posterior.probability[-1]) if self.query.slots else None,
            unseen=chance_unseen(self.query, self.posterior, self.faults),
            verdict_is_due=self.query.verdict_is_due,
            facets=facets_of(self.points, partial(self.room.text, TermKind.VEHICLE)),
        )

    def _hit(self, found: Found, shown: Mapping[int, PastCase], explain: Explainer) -> Hit:
        standing = STANDING_WORDS[self.sight.standings[found.view][found.row]]
        case = shown[found.case]
        return Hit(
            case=case,
            score=found.score,
            standing=standing,
            reasons=explain.reasons(found, standing),
            fault=self._old_fault(found.fault),
            words=frozenset(meaning.text for _, meaning in explain.shared_words(found)),
            copies=tuple(shown[copy].key for copy in self.copies_of(found) if copy in shown),
        )

    def _old_fault(self, fault: int) -> OldFault:
        """Return a fault in sight as it is with the new readings."""
        if fault not in self._tried:
            text = self.room.text(TermKind.FAULT, int(self.sight.faults[fault]))
            self._tried[fault] = old_fault(self.query, text)
        return self._tried[fault]

    def _grouped(self, hits: Sequence[tuple[Found, Hit]]) -> tuple[FaultGroup, ...]:
        by_fault: dict[tuple[int, int], list[tuple[Found, Hit]]] = {}
        for found, hit in hits:
            number = int(self.sight.faults[found.fault])
            # Cases that claim nothing have nothing in common.
            key = (number, 0) if number != NO_TERM else (number, found.case)
            by_fault.setdefault(key, []).append((found, hit))
        groups = [
            self._group(number, self.room.text(TermKind.FAULT, number), members)
            for (number, _), members in by_fault.items()
        ]
        # However alike the story: what the new readings exclude comes after what they do not.
        return tuple(sorted(groups, key=lambda group: group.is_excluded))

    def _group(self, number: int, name: str, members: Sequence[tuple[Found, Hit]]) -> FaultGroup:
        place = self.posterior.place_of(number)
        claimed = number != NO_TERM
        return FaultGroup(
            fault=members[0][1].fault,
            hits=tuple(hit for _, hit in members),
            count=int(self.sight.cases_by_fault[members[0][0].fault]) if claimed else 1,
            key=name,
            probability=float(self.posterior.probability[place])
            if place is not None and self.query.slots
            else None,
        )


def _shop_number(narrowing: Narrowing) -> int | None:
    if not narrowing.shop:
        return None
    return Shop.objects.filter(slug=narrowing.shop).values_list("pk", flat=True).first()
