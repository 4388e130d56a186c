"""The past cases that a search lists, as far as the searcher may see them.

Asked for in SQL: what these lists need is fixed, and the same through models takes as long as
scoring all the cases of a room.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from django.db import connection

from cases.models.case import case_key
from cases.models.vehicles import described
from cases.search.results import PastCase
from cases.search.scope import Scope

_CASES = """
SELECT logged.id, shop.slug, logged.number,
       vehicle.make, vehicle.model, vehicle.engine, vehicle.year, {compared}
  FROM ({visible} AND cases_case.id = ANY(%s)) AS seen
  JOIN cases_case AS logged ON logged.id = seen.id
  JOIN cases_shop AS shop ON shop.id = logged.shop_id
  JOIN cases_vehicle AS vehicle ON vehicle.id = logged.vehicle_id
  JOIN cases_caseevidence AS evidence ON evidence.case_id = logged.id
"""
_VALUES = "SELECT id, value FROM cases_loggedreading WHERE id = ANY(%s)"
_SHOPS = "SELECT id, slug, name FROM cases_shop WHERE id = ANY(%s) ORDER BY name"


def past_cases(scope: Scope, cases: Sequence[int], *, by_role: bool) -> dict[int, PastCase]:
    """Return what is said of cases, by case; those that are gone or not to be seen are left out."""
    if not cases:
        return {}
    visible, parameters = scope.visible
    compared = "roles, role_readings" if by_role else "slots, readings"
    rows = _rows(_CASES.format(visible=visible, compared=compared), [*parameters, list(cases)])
    return {
        pk: PastCase(
            pk=pk,
            key=case_key(slug, number),
            about=described(make, model, engine, year),
            lines=dict(zip(np.frombuffer(terms, dtype="<i4").tolist(), lines, strict=True)),
        )
        for pk, slug, number, make, model, engine, year, terms, lines in rows
    }


def logged_values(lines: Sequence[int]) -> dict[int, float | None]:
    """Return what some logged lines read."""
    return dict(_rows(_VALUES, [list(lines)])) if lines else {}


def shop_names(shops: Sequence[int]) -> list[tuple[int, str, str]]:
    """Return number, short name and name of shops, by name."""
    return _rows(_SHOPS, [list(shops)]) if shops else []


def _rows(query: str, parameters: Sequence[Any]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(query, parameters)
        return list(cursor.fetchall())
