"""The past cases that a search lists, as far as the searcher may see them.

Asked for in SQL: what these lists need is fixed, and the same through models takes as long as
scoring all the cases of a room.
"""

from collections.abc import Sequence

import numpy as np

from cases.models.case import case_key
from cases.models.vehicles import described
from cases.search.prepared import rows_of
from cases.search.results import PastCase
from cases.search.scope import Scope

_CASES = """
SELECT logged.id, shop.slug, logged.number,
       vehicle.make, vehicle.model, vehicle.engine, vehicle.year, evidence.{terms},
       ARRAY(
         SELECT line.value
           FROM unnest(evidence.{lines}) WITH ORDINALITY AS kept (id, place)
           LEFT JOIN cases_loggedreading AS line ON line.id = kept.id
          ORDER BY kept.place
       )
  FROM cases_case AS logged
  JOIN cases_shop AS shop ON shop.id = logged.shop_id
  JOIN cases_vehicle AS vehicle ON vehicle.id = logged.vehicle_id
  JOIN cases_caseevidence AS evidence ON evidence.case_id = logged.id
 WHERE logged.id = ANY(%s) AND logged.withdrawn_at IS NULL
   AND (logged.shop_id = ANY(%s)
        OR %s AND logged.shared_at IS NOT NULL AND logged.id <> ALL(%s))
"""
_SHOPS = "SELECT id, slug, name FROM cases_shop WHERE id = ANY(%s) ORDER BY name"


def past_cases(scope: Scope, cases: Sequence[int], *, by_role: bool) -> dict[int, PastCase]:
    """Return what is said of cases, by case; those that are gone or not to be seen are left out."""
    if not cases:
        return {}
    terms, lines = ("roles", "role_readings") if by_role else ("slots", "readings")
    query = _CASES.format(terms=terms, lines=lines)
    seen = [list(scope.shops), scope.sees_shared, list(scope.kept_back)]
    return {
        pk: PastCase(
            pk=pk,
            key=case_key(slug, number),
            about=described(make, model, engine, year),
            values=dict(zip(np.frombuffer(kept, dtype="<i4").tolist(), values, strict=True)),
        )
        for pk, slug, number, make, model, engine, year, kept, values in rows_of(
            query, [list(cases), *seen]
        )
    }


def shop_names(shops: Sequence[int]) -> list[tuple[int, str, str]]:
    """Return number, short name and name of shops, by name."""
    return rows_of(_SHOPS, [list(shops)]) if shops else []
