"""The other sheets of a vehicle, and what a fault of a shared part does there."""

from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json
from api.serializers.sheets import ChangeShown, OtherSheetShown, OtherSheetsShown, SheetEndShown
from api.views.circuits import REVISION, revision_asked
from api.views.finding import the_revision
from circuits.engine import find_suspect
from circuits.services import circuit_by_key, network_of
from circuits.shared_sheets import (
    ComplaintElsewhere,
    OtherSheet,
    complaints_elsewhere,
    ends_of_sheet,
    other_sheets,
)


class OtherSheets(APIView):
    """The other sheets of a vehicle that share a fuse, splice, ground or module with this one."""

    @operation(
        "Other sheets of the vehicle, and what a fault of a shared part does there",
        answer=OtherSheetsShown,
        parameters=(
            REVISION,
            OpenApiParameter("fault", description="A suspect, such as `resistance:Wg`."),
        ),
    )
    def get(self, request: Request, key: str) -> Response:
        revision = the_revision(circuit_by_key(key), revision_asked(request))
        found: dict[int, ComplaintElsewhere] = {}
        fault = request.query_params.get("fault")
        if fault:
            suspect = find_suspect(network_of(revision), fault)
            found = {
                each.sheet.revision.pk: each for each in complaints_elsewhere(revision, suspect.id)
            }
        shown = OtherSheetsShown(
            circuit=key,
            revision=revision.number,
            others=tuple(
                _other(other, found.get(other.revision.pk)) for other in other_sheets(revision)
            ),
            ends=tuple(
                SheetEndShown(connection=end.node, circuit=end.key, is_here=end.circuit is not None)
                for end in ends_of_sheet(revision)
            ),
        )
        return Response(as_json(shown))


def _other(other: OtherSheet, found: ComplaintElsewhere | None) -> OtherSheetShown:
    changes = found.complaint.changes if found is not None and found.complaint is not None else ()
    return OtherSheetShown(
        circuit=other.revision.circuit.key,
        title=other.revision.title,
        revision=other.revision.number,
        shared=other.names,
        fault_is_there=found.complaint is not None if found is not None else None,
        changes=tuple(map(ChangeShown.model_validate, changes)),
    )
