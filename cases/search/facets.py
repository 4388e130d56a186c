"""What the cases that a search found may be narrowed to, with how many there are of each."""

from collections import Counter
from collections.abc import Callable
from string import capwords

import numpy as np

from cases.search.evidence import STANDING_WORDS
from cases.search.past_cases import shop_names
from cases.search.points import Points
from cases.search.results import Facets, FacetValue
from cases.search.terms import NO_TERM

MOST_VALUES = 8
STANDING_NUMBERS = np.arange(len(STANDING_WORDS))


def facets_of(points: Points, vehicle: Callable[[int], str]) -> Facets:
    """Return how many cases that are alike at all, not only of those shown, have which value.

    `vehicle` gives the text of a kind of vehicle. Asks the database for shops.
    """
    standings: Counter[int] = Counter()
    shops: Counter[int] = Counter()
    vehicles: Counter[int] = Counter()
    for view, alike, standing in zip(
        points.sight.views, points.alike, points.sight.standings, strict=True
    ):
        for counter, (values, places) in (
            (standings, (STANDING_NUMBERS, standing)),
            (shops, view.segment.coded_shops),
            (vehicles, view.segment.coded_vehicles),
        ):
            counts = np.bincount(places[alike], minlength=len(values))
            there = np.flatnonzero(counts)
            counter.update(dict(zip(values[there].tolist(), counts[there].tolist(), strict=True)))
    vehicles.pop(NO_TERM, None)
    return Facets(
        standings=tuple(
            FacetValue(value=STANDING_WORDS[number], words=STANDING_WORDS[number], count=count)
            for number, count in standings.most_common()
        ),
        shops=_shops(dict(shops.most_common(MOST_VALUES))),
        vehicles=tuple(
            FacetValue(value=vehicle(term), words=capwords(vehicle(term)), count=count)
            for term, count in vehicles.most_common(MOST_VALUES)
        ),
    )


def _shops(counts: dict[int, int]) -> tuple[FacetValue, ...]:
    return tuple(
        FacetValue(value=slug, words=name, count=counts[pk])
        for pk, slug, name in shop_names(list(counts))
    )
