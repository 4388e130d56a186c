"""Check a case against its circuit, and read what was said before."""

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from cases.errors import CircuitNotKnown, NothingToJudge
from cases.models import Case, LoggedReading, Verdict
from cases.services.record import latest_verdict, locked_for, settle_record

__all__ = ["check_case", "latest_verdict"]


@transaction.atomic
def check_case(*, case: Case, by: User, at: datetime) -> Verdict:
    """Judge a case anew and return the verdict, which is kept beside the older ones.

    Every change of a case does this by itself; asked for, it says in words what is missing.
    """
    case = locked_for(case, by, "check it")
    if case.revision is None:
        raise CircuitNotKnown("check it")
    if not LoggedReading.objects.filter(case=case, value__isnull=False).current().exists():
        raise NothingToJudge("There is no reading to judge yet; log one first.")
    settle_record(case, at=at, from_scratch=True)
    return case.verdicts.latest()
