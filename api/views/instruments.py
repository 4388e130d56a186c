"""Your instruments: kept under a name, by which a reading may name them."""

from django.shortcuts import get_object_or_404
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.instruments import InstrumentShown, InstrumentsShown
from api.views.finding import signed_in
from cases.documents.readings import Instrument
from cases.models import OwnInstrument
from cases.services.instruments import remove_instrument, save_instrument


class Instruments(APIView):
    """Your instruments."""

    @operation("Your instruments, the one used last first", answer=InstrumentsShown)
    def get(self, request: Request) -> Response:
        own = OwnInstrument.objects.visible_to(signed_in(request))
        shown = tuple(map(InstrumentShown.model_validate, own))
        return Response(as_json(InstrumentsShown(instruments=shown)))

    @operation(
        "Keep an instrument, or give one of that name new figures",
        takes=Instrument,
        answer=InstrumentShown,
        status=201,
        words="A reading names it in `instrument`, and is judged by its accuracy. Readings that"
        " were logged keep the figures of their day.",
    )
    def post(self, request: Request) -> Response:
        wanted = read_document(Instrument, request.data)
        saved = save_instrument(instrument=wanted, by=signed_in(request))
        return Response(InstrumentShown.of(saved), status=status.HTTP_201_CREATED)


class OneInstrument(APIView):
    """One of your instruments."""

    @operation(
        "Forget an instrument; readings keep what they were taken with", answer=None, status=204
    )
    def delete(self, request: Request, pk: int) -> Response:
        user = signed_in(request)
        own = OwnInstrument.objects.visible_to(user)
        remove_instrument(instrument=get_object_or_404(own, pk=pk), by=user)
        return Response(status=status.HTTP_204_NO_CONTENT)
