"""How likely each fault of a case is by now, and what to measure next."""

from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json
from api.views.finding import signed_in, the_case
from cases.documents.next_reading import NextReadings
from cases.services.next_reading import next_readings_for


class NextReading(APIView):
    """What to measure next in a case."""

    @operation(
        "How likely each fault is by now, and the readings that would tell most for their minutes",
        answer=NextReadings,
        refusals=(409,),
        words="Only what the circuit's record allows is proposed; none for airbag and pyrotechnic"
        " circuits, orange cables, and nets of 48 V and more. The maker's procedure comes first.",
    )
    def get(self, request: Request, pk: int) -> Response:
        found = next_readings_for(case=the_case(request, pk), by=signed_in(request))
        return Response(as_json(found))
