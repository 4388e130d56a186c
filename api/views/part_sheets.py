"""The first checks of a part, in the vehicle and on the bench."""

from collections.abc import Callable, Sequence

from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import Method, operation
from api.serializers.documents import as_json
from api.serializers.part_sheets import CheckShown, PartSheetShown
from api.views.circuits import REVISION, revision_asked
from api.views.finding import the_revision
from cases.circuit import circuit_of
from cases.sheet_rows import SheetRow, rows_of_bench, rows_of_checks
from circuits.models import Revision
from circuits.part_sheets.checks import PRECEDENCE
from circuits.part_sheets.on_the_bench import HANDLING
from circuits.part_sheets.stored import bench_sheet_of, test_sheet_of
from circuits.services import circuit_by_key

PART = OpenApiParameter("part", description="A part or module, such as `K4`.", required=True)
WORDS = (
    "None is given for airbag and pyrotechnic circuits, orange cables, and nets of 48 V and more: "
    "the maker's procedure and a licensed person come first."
)


def _sheet(title: str) -> Callable[[Method], Method]:
    """Describe a sheet of a part; both are asked for and refused alike."""
    return operation(
        title,
        answer=PartSheetShown,
        parameters=(PART, REVISION),
        refusals=(404, 409),
        words=WORDS,
    )


class TestSheets(APIView):
    """The first checks of a part in the vehicle."""

    @_sheet("First checks of a part in the vehicle, in trade order")
    def get(self, request: Request, key: str) -> Response:
        revision, part = _asked(request, key)
        sheet = test_sheet_of(revision, part)
        cautions = [line for caution in sheet.cautions for line in caution.lines]
        return _answer(revision, part, rows_of_checks(circuit_of(revision), sheet), cautions)


class BenchSheets(APIView):
    """The checks of a part that was taken out."""

    @_sheet("Checks of a part taken out, on the bench")
    def get(self, request: Request, key: str) -> Response:
        revision, part = _asked(request, key)
        return _answer(revision, part, rows_of_bench(bench_sheet_of(revision, part)), [HANDLING])


def _asked(request: Request, key: str) -> tuple[Revision, str]:
    revision = the_revision(circuit_by_key(key), revision_asked(request))
    return revision, request.query_params.get("part", "")


def _answer(
    revision: Revision, part: str, rows: Sequence[SheetRow], cautions: Sequence[str]
) -> Response:
    shown = PartSheetShown(
        circuit=revision.circuit.key,
        revision=revision.number,
        part=part,
        cautions=tuple(cautions),
        precedence=PRECEDENCE,
        checks=tuple(map(CheckShown.model_validate, rows)),
    )
    return Response(as_json(shown))
