"""How likely each fault of a case is by now, and what to measure next."""

from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.views.finding import signed_in, the_case
from cases.documents.next_reading import NextReadings, Prices
from cases.services.next_reading import next_readings_for

HOUR_PRICE = OpenApiParameter(
    "hour_price", type=float, description="What an hour of work costs; only with `part_price`."
)
PART_PRICE = OpenApiParameter(
    "part_price",
    type=float,
    description="What the part costs, fitted: each reading says what it costs and what it saves"
    " of a wrong one on average.",
)


class NextReading(APIView):
    """What to measure next in a case."""

    @operation(
        "How likely each fault is by now, and the readings that would tell most for their minutes",
        answer=NextReadings,
        refusals=(409,),
        parameters=(HOUR_PRICE, PART_PRICE),
        words="Only what the circuit's record allows is proposed; none for airbag and pyrotechnic"
        " circuits, orange cables, and nets of 48 V and more. The maker's procedure comes first.",
    )
    def get(self, request: Request, pk: int) -> Response:
        prices = None
        if not {HOUR_PRICE.name, PART_PRICE.name}.isdisjoint(request.query_params):
            prices = read_document(Prices, request.query_params.dict())
        found = next_readings_for(case=the_case(request, pk), by=signed_in(request), prices=prices)
        return Response(as_json(found))
