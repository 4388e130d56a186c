"""What the cases that a search found may be narrowed to, with how many there are of each."""

from collections import Counter
from collections.abc import Mapping

import numpy as np

from cases.models import Shop
from cases.search.evidence import STANDING_WORDS
from cases.search.points import Points
from cases.search.results import Facets, FacetValue
from cases.search.terms import NO_TERM

MOST_VALUES = 8


class FacetCounts:
    """How many cases that are alike at all, not only of those shown, have which value."""

    def __init__(self, points: Points) -> None:
        self._standings: Counter[int] = Counter()
        self._shops: Counter[int] = Counter()
        self._vehicles: Counter[int] = Counter()
        for number, view in enumerate(points.sight.views):
            alike = np.flatnonzero(np.isfinite(points.totals[number]))
            rows = view.segment.rows
            for counter, column in (
                (self._standings, points.sight.standings[number]),
                (self._shops, rows.shops),
                (self._vehicles, rows.vehicles),
            ):
                values, counts = np.unique(column[alike], return_counts=True)
                counter.update(dict(zip(values.tolist(), counts.tolist(), strict=True)))
        self._vehicles.pop(NO_TERM, None)

    @property
    def terms(self) -> list[int]:
        """The terms whose words are needed."""
        return [number for number, _ in self._vehicles.most_common(MOST_VALUES)]

    def in_words(self, names: Mapping[int, str]) -> Facets:
        """Return the facets, by the words of the terms. Asks the database for shops."""
        shown = dict(self._shops.most_common(MOST_VALUES))
        found = Shop.objects.filter(pk__in=shown).order_by("name") if shown else ()
        return Facets(
            standings=tuple(
                FacetValue(value=STANDING_WORDS[number], words=STANDING_WORDS[number], count=count)
                for number, count in self._standings.most_common()
            ),
            shops=tuple(
                FacetValue(value=shop.slug, words=shop.name, count=shown[shop.pk]) for shop in found
            ),
            vehicles=tuple(
                FacetValue(value=names[term], words=names[term], count=self._vehicles[term])
                for term in self.terms
            ),
        )
