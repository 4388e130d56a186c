"""The log of a case: read it, add to it, correct a line; and what the circuit says about it."""

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from rest_framework import generics, status
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.parsers import CsvParser, JsonParser
from api.renderers import CsvRenderer
from api.schema import operation
from api.serializers.cases import CaseShown, Correction, NewReadings
from api.serializers.documents import as_json, read_document
from api.serializers.exchange import ReadingsShown
from api.serializers.verdicts import VerdictRow, VerdictShown
from api.views.cases import shown
from api.views.finding import signed_in, the_case
from cases.models import Verdict
from cases.services.exchange import export_case
from cases.services.readings import add_readings, correct_reading
from cases.services.tables import import_readings_csv, readings_csv
from cases.services.verdicts import check_case


class Readings(APIView):
    """The log of a case."""

    parser_classes = (JsonParser, CsvParser)
    renderer_classes = (JSONRenderer, CsvRenderer)

    @operation(
        "The log of a case, as JSON or as a table",
        answer={"application/json": ReadingsShown, "text/csv": OpenApiTypes.STR},
        words="Corrected lines too. For a table ask for `text/csv`, or with `?format=csv`.",
    )
    def get(self, request: Request, pk: int) -> Response:
        document = export_case(
            the_case(request, pk), by=signed_in(request), at=timezone.now(), is_whole=False
        )
        if request.accepted_renderer.format == CsvRenderer.format:
            return Response(readings_csv(document.readings))
        return Response(as_json(ReadingsShown(readings=document.readings)))

    @operation(
        "Log readings, all or none",
        takes={"application/json": NewReadings, "text/csv": OpenApiTypes.STR},
        answer=CaseShown,
        status=201,
        refusals=(409,),
        words="A reading has its place and phase in the case's circuit, and the digits as typed."
        " Set `stage` to `after` for one that was taken after the repair: at the place, in the"
        " phase and with the rig of one from before it proves the repair. The case is judged anew"
        " at once. A table has a heading; place, phase and reading must be in it. Before a lead"
        " goes on: the circuit's cautions, and the maker's procedure.",
    )
    def post(self, request: Request, pk: int) -> Response:
        case, by, at = the_case(request, pk), signed_in(request), timezone.now()
        if isinstance(request.data, str):
            import_readings_csv(case=case, content=request.data, by=by, at=at)
        else:
            wanted = read_document(NewReadings, request.data)
            add_readings(case=case, readings=wanted.readings, by=by, at=at)
        request.accepted_renderer = JSONRenderer()  # the case has no form as a table
        answer = shown(request, pk)
        answer.status_code = status.HTTP_201_CREATED
        return answer


class CorrectionOfReading(APIView):
    """A newer line that takes the place of an older one."""

    @operation(
        "Correct a reading by a newer line; the old one stays as it was",
        takes=Correction,
        answer=CaseShown,
        status=201,
        refusals=(409,),
    )
    def post(self, request: Request, pk: int, reading_pk: int) -> Response:
        case = the_case(request, pk)
        reading = get_object_or_404(case.readings.select_related("case"), pk=reading_pk)
        wanted = read_document(Correction, request.data)
        correct_reading(
            reading=reading,
            correction=wanted.reading,
            reason=wanted.reason,
            by=signed_in(request),
            at=timezone.now(),
        )
        answer = shown(request, pk)
        answer.status_code = status.HTTP_201_CREATED
        return answer


class Verdicts(generics.ListAPIView[Verdict]):
    """What the circuit said about a case, every time it was asked."""

    queryset = Verdict.objects.none()
    filter_backends = ()

    def get_queryset(self) -> QuerySet[Verdict]:
        """Return the verdicts of a case that this person may see."""
        case = the_case(self.request, self.kwargs["pk"])
        return case.verdicts.select_related("revision__circuit").defer("result")

    @operation("Verdicts on a case, the newest first", answer=VerdictRow)
    def get(self, request: Request, pk: int) -> Response:
        page = self.paginate_queryset(self.get_queryset())
        return self.get_paginated_response([VerdictRow.of(row) for row in page or ()])

    @operation(
        "Judge a case anew",
        answer=VerdictShown,
        status=201,
        refusals=(409,),
        words="Whether the claimed fault fits the readings, and what every other fault and the"
        " circuit in order would have shown. Every change of a case does this by itself.",
    )
    def post(self, request: Request, pk: int) -> Response:
        verdict = check_case(case=the_case(request, pk), by=signed_in(request), at=timezone.now())
        return Response(VerdictShown.of(verdict), status=status.HTTP_201_CREATED)


class OneVerdict(APIView):
    """A verdict."""

    @operation("A verdict with everything that it found", answer=VerdictShown)
    def get(self, request: Request, pk: int, verdict_pk: int) -> Response:
        verdicts = the_case(request, pk).verdicts.select_related("revision__circuit")
        return Response(VerdictShown.of(get_object_or_404(verdicts, pk=verdict_pk)))
