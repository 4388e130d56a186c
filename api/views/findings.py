"""What the inspection of a circuit finds, and what is accepted of it."""

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.errors import BadFields, Problem
from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.findings import AcceptanceWanted
from api.views.circuits import REVISION, revision_asked
from api.views.finding import signed_in, the_revision
from circuits.acceptances import (
    accept_finding,
    finding_lines,
    findings_of,
    take_back_acceptance,
)
from circuits.documents.findings import InspectionDocument, inspection_document
from circuits.models import Circuit, Revision
from circuits.services import circuit_by_key, latest_revision, sheet_of


class Findings(APIView):
    """What should be mended or accepted in a circuit."""

    @operation(
        "What the inspection of a circuit finds, the gravest first",
        answer=InspectionDocument,
        parameters=(REVISION,),
        words="A finding is no order: the maker's drawing, local codes and licensed practice come"
        " first.",
    )
    def get(self, request: Request, key: str) -> Response:
        circuit = circuit_by_key(key)
        return _inspected(circuit, the_revision(circuit, revision_asked(request)))


class Acceptances(APIView):
    """What is taken as it is, with the reason."""

    @operation(
        "Accept a finding of the newest revision as it is, with the reason",
        takes=AcceptanceWanted,
        answer=InspectionDocument,
        status=201,
        words="It holds for later revisions too, until the finding is gone.",
    )
    def post(self, request: Request, key: str) -> Response:
        circuit = circuit_by_key(key)
        wanted = read_document(AcceptanceWanted, request.data)
        accept_finding(
            circuit=circuit,
            finding_id=wanted.finding,
            reason=wanted.reason,
            by=signed_in(request),
            at=timezone.now(),
        )
        return _inspected(circuit, latest_revision(circuit), answer=status.HTTP_201_CREATED)

    @operation(
        "Open an accepted finding again",
        answer=InspectionDocument,
        parameters=(
            OpenApiParameter("finding", required=True, description="Such as `no-fuse:W1`."),
        ),
        refusals=(400, 409),
    )
    def delete(self, request: Request, key: str) -> Response:
        circuit = circuit_by_key(key)
        finding_id = request.query_params.get("finding", "")
        if not finding_id:
            raise BadFields([Problem(field="finding", detail="Say which finding.")])
        take_back_acceptance(
            circuit=circuit, finding_id=finding_id, by=signed_in(request), at=timezone.now()
        )
        return _inspected(circuit, latest_revision(circuit))


def _inspected(
    circuit: Circuit, revision: Revision, *, answer: int = status.HTTP_200_OK
) -> Response:
    lines = finding_lines(circuit, findings_of(revision))
    return Response(as_json(inspection_document(sheet_of(revision), lines)), status=answer)
