"""Walk-throughs over REST: read, write, change, take away."""

from django.utils import timezone
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.walks import StepShown, WalkShown, WalksShown, WalkWanted
from api.views.finding import signed_in
from circuits.models import Circuit, Walk
from circuits.services import circuit_by_key
from circuits.walks import Step, remove_walk, steps_of, walk_numbered, walks_of, write_walk

WORDS = (
    "The drawing of a step is at `/api/circuits/{key}/drawing/`, with its phase, fault, severity."
)


class Walks(APIView):
    """The walk-throughs of a circuit."""

    @operation("Walk-throughs of a circuit, with their steps", answer=WalksShown, words=WORDS)
    def get(self, request: Request, key: str) -> Response:
        found = tuple(map(_shown, walks_of(circuit_by_key(key))))
        return Response(as_json(WalksShown(circuit=key, walks=found)))

    @operation("Write a walk-through", takes=WalkWanted, answer=WalkShown, status=201)
    def post(self, request: Request, key: str) -> Response:
        walk = _write(request, circuit_by_key(key), None)
        address = reverse("rest:walk", args=(key, walk.number), request=request)
        return Response(
            as_json(_shown(walk)), status=status.HTTP_201_CREATED, headers={"Location": address}
        )


class OneWalk(APIView):
    """A walk-through; only its writer changes it."""

    @operation("A walk-through", answer=WalkShown, operation_id="walk", words=WORDS)
    def get(self, request: Request, key: str, number: int) -> Response:
        return Response(as_json(_shown(walk_numbered(circuit_by_key(key), number))))

    @operation(
        "Write your walk-through anew", takes=WalkWanted, answer=WalkShown, operation_id="put_walk"
    )
    def put(self, request: Request, key: str, number: int) -> Response:
        circuit = circuit_by_key(key)
        return Response(as_json(_shown(_write(request, circuit, walk_numbered(circuit, number)))))

    @operation("Take your walk-through away", answer=None, status=204, operation_id="remove_walk")
    def delete(self, request: Request, key: str, number: int) -> Response:
        remove_walk(walk=walk_numbered(circuit_by_key(key), number), by=signed_in(request))
        return Response(status=status.HTTP_204_NO_CONTENT)


def _write(request: Request, circuit: Circuit, walk: Walk | None) -> Walk:
    wanted = read_document(WalkWanted, request.data)
    return write_walk(
        circuit=circuit,
        title=wanted.title,
        steps=[Step(**step.model_dump()) for step in wanted.steps],
        by=signed_in(request),
        at=timezone.now(),
        walk=walk,
    )


def _shown(walk: Walk) -> WalkShown:
    return WalkShown(
        circuit=walk.circuit.key,
        number=walk.number,
        title=walk.title,
        written_by=walk.written_by.username,
        written_at=walk.written_at,
        steps=tuple(map(StepShown.model_validate, steps_of(walk))),
    )
