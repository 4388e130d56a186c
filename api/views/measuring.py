"""Assumed rules that a reading settles, and readings of healthy vehicles."""

from django.utils import timezone
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.measuring import (
    OpenRulesShown,
    ReferenceShown,
    ReferencesShown,
    ReferenceWanted,
    SettlementWanted,
)
from api.views.finding import signed_in
from circuits.documents.predictions import open_rule_shown
from circuits.models import Circuit
from circuits.on_vehicles.open_rules import rules_to_settle, settle_rule
from circuits.on_vehicles.references import keep_reference, references_of, take_back_reference
from circuits.services import circuit_by_key, latest_revision, sheet_of


class OpenRules(APIView):
    """The assumed rules of a circuit that say what they may be instead."""

    @operation("Assumed rules with the readings that part them", answer=OpenRulesShown)
    def get(self, request: Request, key: str) -> Response:
        return _rules(circuit_by_key(key))

    @operation(
        "Settle an assumed rule by a reading; publishes the next revision",
        takes=SettlementWanted,
        answer=OpenRulesShown,
        status=201,
        refusals=(409,),
    )
    def post(self, request: Request, key: str) -> Response:
        circuit = circuit_by_key(key)
        wanted = read_document(SettlementWanted, request.data).model_dump()
        part = wanted.pop("rule")
        settle_rule(circuit=circuit, part=part, by=signed_in(request), at=timezone.now(), **wanted)
        answer = _rules(circuit)
        answer.status_code = status.HTTP_201_CREATED
        return answer


class References(APIView):
    """What healthy vehicles showed at the places of a circuit."""

    @operation("Readings of healthy vehicles", answer=ReferencesShown)
    def get(self, request: Request, key: str) -> Response:
        return _references(request, circuit_by_key(key))

    @operation(
        "Keep a reading of a healthy vehicle",
        takes=ReferenceWanted,
        answer=ReferencesShown,
        status=201,
        refusals=(409,),
    )
    def post(self, request: Request, key: str) -> Response:
        circuit = circuit_by_key(key)
        wanted = read_document(ReferenceWanted, request.data)
        by = signed_in(request)
        keep_reference(circuit=circuit, by=by, at=timezone.now(), **wanted.model_dump())
        answer = _references(request, circuit)
        answer.status_code = status.HTTP_201_CREATED
        return answer


class OneReference(APIView):
    """One reading of a healthy vehicle."""

    @operation("Take your own reading back", answer=ReferencesShown)
    def delete(self, request: Request, key: str, number: int) -> Response:
        circuit = circuit_by_key(key)
        take_back_reference(circuit=circuit, number=number, by=signed_in(request))
        return _references(request, circuit)


def _rules(circuit: Circuit) -> Response:
    newest = latest_revision(circuit)
    rules = tuple(map(open_rule_shown, rules_to_settle(sheet_of(newest))))
    return Response(
        as_json(OpenRulesShown(circuit=circuit.key, revision=newest.number, rules=rules))
    )


def _references(request: Request, circuit: Circuit) -> Response:
    found = references_of(latest_revision(circuit), signed_in(request))
    lines = tuple(map(ReferenceShown.model_validate, found))
    return Response(as_json(ReferencesShown(circuit=circuit.key, references=lines)))
