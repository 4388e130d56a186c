"""Circuits confirmed on vehicles, and pins checked on the car."""

from django.utils import timezone
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.confirmations import (
    ConfirmationShown,
    ConfirmationsShown,
    ConfirmationWanted,
    PinShown,
    PinsShown,
    TicksWanted,
)
from api.serializers.documents import as_json, read_document
from api.views.finding import signed_in
from circuits.models import Circuit
from circuits.on_vehicles.confirmations import (
    confirm_on_vehicle,
    confirmations_of,
    pin_lines,
    take_back_ticks,
    tick_pins,
)
from circuits.services import circuit_by_key, latest_revision


class Confirmations(APIView):
    """The kinds of vehicles on which a circuit was found to be right."""

    @operation("Vehicles on which a circuit was confirmed", answer=ConfirmationsShown)
    def get(self, request: Request, key: str) -> Response:
        return _confirmed(circuit_by_key(key))

    @operation(
        "Confirm the newest revision on a kind of vehicle",
        takes=ConfirmationWanted,
        answer=ConfirmationsShown,
        status=201,
    )
    def post(self, request: Request, key: str) -> Response:
        circuit = circuit_by_key(key)
        wanted = read_document(ConfirmationWanted, request.data)
        confirm_on_vehicle(
            revision=latest_revision(circuit),
            by=signed_in(request),
            at=timezone.now(),
            **wanted.model_dump(),
        )
        answer = _confirmed(circuit)
        answer.status_code = status.HTTP_201_CREATED
        return answer


class CheckedPins(APIView):
    """Which pins were checked on the car, by whom and when."""

    @operation("Pins of a circuit with who checked them on the car", answer=PinsShown)
    def get(self, request: Request, key: str) -> Response:
        return _pins(request, circuit_by_key(key))

    @operation(
        "Tick pins that you checked on the car, or take your own ticks back",
        takes=TicksWanted,
        answer=PinsShown,
    )
    def post(self, request: Request, key: str) -> Response:
        circuit = circuit_by_key(key)
        wanted = read_document(TicksWanted, request.data)
        revision, user = latest_revision(circuit), signed_in(request)
        if wanted.checked:
            tick_pins(revision=revision, pins=wanted.pins, by=user, at=timezone.now())
        else:
            take_back_ticks(revision=revision, pins=wanted.pins, by=user)
        return _pins(request, circuit)


def _confirmed(circuit: Circuit) -> Response:
    found = tuple(map(ConfirmationShown.model_validate, confirmations_of(circuit)))
    return Response(as_json(ConfirmationsShown(circuit=circuit.key, confirmations=found)))


def _pins(request: Request, circuit: Circuit) -> Response:
    revision = latest_revision(circuit)
    pins = tuple(map(PinShown.model_validate, pin_lines(revision, signed_in(request))))
    return Response(as_json(PinsShown(circuit=circuit.key, revision=revision.number, pins=pins)))
