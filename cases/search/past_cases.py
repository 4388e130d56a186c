"""The past cases that a search lists, as far as the searcher may see them."""

from collections.abc import Sequence

import numpy as np

from cases.models.case import case_key
from cases.models.vehicles import described
from cases.search.results import PastCase
from cases.search.scope import Scope


def past_cases(scope: Scope, cases: Sequence[int], *, by_role: bool) -> dict[int, PastCase]:
    """Return what is said of cases, by case; those that are gone or not to be seen are left out."""
    if not cases:
        return {}
    found = scope.cases.filter(pk__in=cases, withdrawn_at__isnull=True, evidence__isnull=False)
    compared = ("roles", "role_readings") if by_role else ("slots", "readings")
    rows = found.values_list(
        "pk",
        "shop__slug",
        "number",
        "vehicle__make",
        "vehicle__model",
        "vehicle__engine",
        "vehicle__year",
        "claimed_suspect",
        "revision__circuit__key",
        *(f"evidence__{name}" for name in compared),
    )
    return {
        pk: PastCase(
            pk=pk,
            key=case_key(slug, number),
            about=described(make, model, engine, year),
            suspect=suspect,
            circuit_key=circuit or "",
            lines=dict(zip(np.frombuffer(terms, dtype="<i4").tolist(), lines, strict=True)),
        )
        for pk, slug, number, make, model, engine, year, suspect, circuit, terms, lines in rows
    }
