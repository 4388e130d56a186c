"""What to measure next in a case, with the verified cases that this person may see."""

from django.contrib.auth.models import User
from django.db.models import Count

from cases.circuit import circuit_of
from cases.documents.next_reading import NextReadings
from cases.errors import CircuitNotKnown
from cases.judging.codes import twins_left
from cases.judging.next_reading import what_to_measure
from cases.models import Case, EarnedStanding
from cases.services.record import codes_of, current_readings, latest_verdict, line_of
from circuits.models import Revision
from circuits.on_vehicles.references import narrowed_at


def next_readings_for(*, case: Case, by: User) -> NextReadings:
    """Return what is likely in a case, and what to measure next.

    Raises
    ------
    CircuitNotKnown, NotForProposals
        There is nothing to reckon with, or the circuit belongs to licensed people.
    """
    if case.revision is None:
        raise CircuitNotKnown("say what to measure next")
    return what_to_measure(
        circuit_of(case.revision),
        [line_of(reading) for reading in current_readings(case)],
        twins=twins_left(latest_verdict(case)),
        cases=verified_cases(case.revision, by=by, besides=case),
        narrowed=narrowed_at(case.revision),
        codes=codes_of(case),
    )


def verified_cases(revision: Revision, *, by: User, besides: Case | None = None) -> dict[str, int]:
    """Count by suspect the verified cases of a circuit that this person may see; no copies."""
    found = (
        Case.objects.visible_to(by)
        .filter(
            revision__circuit=revision.circuit_id,
            earned_standing=EarnedStanding.VERIFIED,
            copied_from__isnull=True,
        )
        .exclude(claimed_suspect="")
    )
    if besides is not None:
        found = found.exclude(pk=besides.pk)
    counted = found.values("claimed_suspect").annotate(count=Count("pk")).order_by()
    return {row["claimed_suspect"]: row["count"] for row in counted}
