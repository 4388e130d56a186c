"""What the cases that a search found may be narrowed to, with how many there are of each."""

from collections import Counter

import numpy as np

from cases.models import Shop
from cases.search.evidence import STANDING_WORDS
from cases.search.points import Points
from cases.search.results import Facets, FacetValue
from cases.search.terms import NO_TERM, texts_of

MOST_VALUES = 8


def facets_of(points: Points) -> Facets:
    """Return the facets of all cases that are alike at all, not only of those shown."""
    standings: Counter[int] = Counter()
    shops: Counter[int] = Counter()
    vehicles: Counter[int] = Counter()
    for number, view in enumerate(points.sight.views):
        alike = np.flatnonzero(np.isfinite(points.totals[number]))
        rows = view.segment.rows
        for counter, column in (
            (standings, points.sight.standings[number]),
            (shops, rows.shops),
            (vehicles, rows.vehicles),
        ):
            values, counts = np.unique(column[alike], return_counts=True)
            counter.update(dict(zip(values.tolist(), counts.tolist(), strict=True)))
    vehicles.pop(NO_TERM, None)
    names = texts_of(number for number, _ in vehicles.most_common(MOST_VALUES))
    shown = dict(shops.most_common(MOST_VALUES))
    found = Shop.objects.filter(pk__in=shown).order_by("name") if shown else ()
    return Facets(
        standings=tuple(
            FacetValue(value=STANDING_WORDS[number], words=STANDING_WORDS[number], count=count)
            for number, count in standings.most_common()
        ),
        shops=tuple(
            FacetValue(value=shop.slug, words=shop.name, count=shown[shop.pk]) for shop in found
        ),
        vehicles=tuple(
            FacetValue(value=names[number], words=names[number], count=count)
            for number, count in vehicles.most_common(MOST_VALUES)
        ),
    )
