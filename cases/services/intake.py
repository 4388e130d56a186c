"""Write up a new case in one go: the facts and its first readings, all or nothing."""

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from cases.documents.cases import CaseFacts
from cases.documents.readings import NewReading
from cases.models import Case, Shop
from cases.services.cases import log_case
from cases.services.readings import add_readings
from circuits.models import Revision


@transaction.atomic
def write_up_case(
    *,
    shop: Shop,
    facts: CaseFacts,
    readings: Sequence[NewReading],
    by: User,
    at: datetime,
    revision: Revision | None = None,
    comeback_of: Case | None = None,
) -> Case:
    """Open a case with the readings that were taken so far.

    Raises
    ------
    BadFact, BadRows
        What cannot be logged; then the case is not opened either.
    """
    case = log_case(
        shop=shop, facts=facts, revision=revision, comeback_of=comeback_of, by=by, at=at
    )
    if readings:
        add_readings(case=case, readings=readings, by=by, at=at)
        case.refresh_from_db()
    return case
