"""What to measure next in a case, with the verified cases that this person may see."""

from django.contrib.auth.models import User
from django.db.models import Count, Q

from cases.circuit import circuit_of
from cases.documents.next_reading import NextReadings, Prices
from cases.errors import CircuitNotKnown
from cases.judging.codes import twins_left
from cases.judging.frequencies import VerifiedCases
from cases.judging.next_reading import what_to_measure
from cases.models import Case, EarnedStanding
from cases.services.instruments import instruments_of
from cases.services.record import codes_of, current_readings, latest_verdict, line_of
from circuits.models import Revision
from circuits.on_vehicles.references import narrowed_at


def next_readings_for(*, case: Case, by: User, prices: Prices | None = None) -> NextReadings:
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
        past=verified_cases(case.revision, by=by, besides=case),
        prices=prices,
        instruments=instruments_of(by),
        narrowed=narrowed_at(case.revision),
        codes=codes_of(case),
    )


def verified_cases(revision: Revision, *, by: User, besides: Case | None = None) -> VerifiedCases:
    """Count by suspect the verified cases of a circuit that this person may see; no copies.

    Those in the make and model of the case they are counted `besides` are told apart.
    """
    found = (
        Case.objects.visible_to(by)
        .filter(
            revision__circuit=revision.circuit_id,
            earned_standing=EarnedStanding.VERIFIED,
            copied_from__isnull=True,
        )
        .exclude(claimed_suspect="")
    )
    alike = Q(pk__in=())
    if besides is not None:
        found = found.exclude(pk=besides.pk)
        vehicle = besides.vehicle
        alike = Q(vehicle__make__iexact=vehicle.make, vehicle__model__iexact=vehicle.model)
    counted = found.values("claimed_suspect").annotate(
        of_circuit=Count("pk"), of_vehicle=Count("pk", filter=alike)
    )
    rows = list(counted.order_by())
    return VerifiedCases(
        {row["claimed_suspect"]: row["of_circuit"] for row in rows},
        {row["claimed_suspect"]: row["of_vehicle"] for row in rows},
    )
