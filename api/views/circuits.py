"""Circuits: find one, read its revisions and its suspects, publish."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter
from rest_framework import generics, status
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from api.errors import BadFields, Problem
from api.parsers import JsonParser, TextParser
from api.renderers import TextRenderer
from api.schema import operation
from api.serializers.circuits import (
    CautionShown,
    CircuitRow,
    ComparisonShown,
    DifferenceShown,
    Publication,
    RevisionRow,
    RevisionShown,
    SuspectShown,
    SuspectsShown,
)
from api.serializers.documents import as_json, read_document
from api.views.finding import signed_in, the_revision
from cases.errors import PhaseNotInCircuit
from circuits.cautions import cautions_for
from circuits.documents.predictions import PredictionDocument, prediction_document
from circuits.engine import Rig, suspects
from circuits.faults import named_fault
from circuits.models import Circuit, Revision
from circuits.on_vehicles.open_rules import rules_to_settle
from circuits.on_vehicles.references import references_at
from circuits.predicting.tables import predicted_table
from circuits.services import (
    circuit_by_key,
    compare_revisions,
    export_text,
    latest_revision,
    network_of,
    publish_revision,
    sheet_of,
)
from circuits.sheet import Sheet, read_data, read_text
from circuits.units import parse_quantity

NOTE = OpenApiParameter(
    "note",
    description="What changed and why, where the body is the text form itself.",
)
BASE = OpenApiParameter(
    "base",
    type=int,
    description="Number of the revision that yours was made from, where the body is the text form.",
)
REDRAWN = OpenApiParameter(
    "redrawn",
    type=bool,
    description="`true`: drawn at the vehicle or anew in your own way, where the body is the text"
    " form. A maker's page stays in its shop.",
)
REVISION = OpenApiParameter(
    "revision", type=int, description="Number of the revision; without it, the newest."
)
PUBLISHED = {"application/json": Publication, "text/plain": OpenApiTypes.STR}
SHEET_ANSWER = {"application/json": RevisionShown, "text/plain": OpenApiTypes.STR}
FORMS_WORDS = (
    "As JSON, or in the text form that can be typed: ask for `text/plain`, or with `?format=text`."
)
PUBLISH_WORDS = (
    "Send JSON with the note and either the sheet or the text form; or send the text form itself as"
    " `text/plain`, with the note in the query. Every mistake is told at once, with its line."
)
BASE_WORDS = (
    "`base` says which revision yours was made from. If another came in between, nothing is stored:"
    " the 409 holds what they changed, what you changed, what clashes, and a text with both."
)


class CircuitFilters(filters.FilterSet):
    """What circuits can be looked up by."""

    system = filters.CharFilter(lookup_expr="iexact", help_text="starting, charging, ...")
    make = filters.CharFilter(lookup_expr="iexact")
    model = filters.CharFilter(lookup_expr="iexact")
    title = filters.CharFilter(lookup_expr="icontains", help_text="A word of the title.")


class Circuits(generics.ListAPIView[Circuit]):
    """The circuits that cases are checked against; they belong to nobody."""

    queryset = Circuit.objects.with_latest()
    serializer_class = CircuitRow
    filterset_class = CircuitFilters
    parser_classes = (JsonParser, TextParser)

    @operation("Circuits, by system and title", answer=CircuitRow(many=True))
    def get(self, request: Request) -> Response:
        return self.list(request)

    @operation(
        "Publish a new circuit",
        takes=PUBLISHED,
        answer=RevisionShown,
        status=201,
        refusals=(409,),
        parameters=(NOTE, REDRAWN),
        words=PUBLISH_WORDS,
    )
    def post(self, request: Request) -> Response:
        return _publish(request, None)


class Revisions(generics.ListAPIView[Revision]):
    """The revisions of a circuit; a published one never changes."""

    queryset = Revision.objects.none()
    serializer_class = RevisionRow
    parser_classes = (JsonParser, TextParser)

    def get_queryset(self) -> QuerySet[Revision]:
        """Return the revisions of the circuit that the address names."""
        circuit = circuit_by_key(self.kwargs["key"])
        return circuit.revisions.select_related("author").order_by("-number")

    @operation("Revisions of a circuit, the newest first", answer=RevisionRow(many=True))
    def get(self, request: Request, key: str) -> Response:
        return self.list(request)

    @operation(
        "Publish the next revision of a circuit",
        takes=PUBLISHED,
        answer=RevisionShown,
        status=201,
        refusals=(409,),
        parameters=(NOTE, BASE, REDRAWN),
        words=f"{PUBLISH_WORDS} {BASE_WORDS}",
    )
    def post(self, request: Request, key: str) -> Response:
        return _publish(request, circuit_by_key(key))


class Changes(APIView):
    """What changed from one revision of a circuit to another."""

    @operation(
        "What changed since an earlier revision, value by value",
        answer=ComparisonShown,
        parameters=(
            OpenApiParameter(
                "since", type=int, description="Number of a revision; without it, the one before."
            ),
        ),
    )
    def get(self, request: Request, key: str, number: int) -> Response:
        circuit = circuit_by_key(key)
        new = the_revision(circuit, number)
        since = number_asked(request, "since")
        old = the_revision(circuit, max(number - 1, 1) if since is None else since)
        shown = ComparisonShown(
            circuit=key,
            old=old.number,
            new=new.number,
            differences=tuple(map(DifferenceShown.model_validate, compare_revisions(old, new))),
        )
        return Response(as_json(shown))


class OneRevision(APIView):
    """A revision, as a sheet or in the text form."""

    renderer_classes = (JSONRenderer, TextRenderer)

    @operation(
        "A revision of a circuit", answer=SHEET_ANSWER, words=FORMS_WORDS, operation_id="revision"
    )
    def get(self, request: Request, key: str, number: int) -> Response:
        return _shown(request, the_revision(circuit_by_key(key), number))


class OneCircuit(APIView):
    """A circuit as its newest revision has it."""

    renderer_classes = (JSONRenderer, TextRenderer)

    @operation(
        "A circuit, as its newest revision has it",
        answer=SHEET_ANSWER,
        words=FORMS_WORDS,
        operation_id="circuit",
    )
    def get(self, request: Request, key: str) -> Response:
        return _shown(request, the_revision(circuit_by_key(key)))


class Suspects(APIView):
    """The faults that a circuit can have."""

    @operation(
        "Every single fault that a circuit can have",
        answer=SuspectsShown,
        parameters=(REVISION,),
        words="The `id` is how a fault is named in a claim, a prediction or an exercise.",
    )
    def get(self, request: Request, key: str) -> Response:
        revision = the_revision(circuit_by_key(key), revision_asked(request))
        network = network_of(revision)
        shown = SuspectsShown(
            circuit=key,
            revision=revision.number,
            suspects=tuple(
                SuspectShown(
                    id=suspect.id,
                    kind=suspect.kind,
                    target=suspect.target,
                    unit=suspect.unit,
                    words=suspect.describe(None),
                )
                for suspect in suspects(network)
            ),
        )
        return Response(as_json(shown))


class Predictions(APIView):
    """What a meter shows at the places of a circuit."""

    @operation(
        "What a meter shows at every place in every phase, healthy or with a fault",
        answer=PredictionDocument,
        parameters=(
            REVISION,
            OpenApiParameter("phase", many=True, description="Only this phase; may be repeated."),
            OpenApiParameter("fault", description="A suspect, such as `resistance:C40`."),
            OpenApiParameter(
                "severity",
                description="How bad: `1.1 Ohm`, `open`, `short`, `0.5 V`; left out, as bad as can"
                " be.",
            ),
            OpenApiParameter("unplug", many=True, description="A part that is out."),
            OpenApiParameter("lamp", description="A test lamp across the leads, such as `21 W`."),
        ),
        words="Typical values of the drawing, no specification; the maker's procedure comes first.",
    )
    def get(self, request: Request, key: str) -> Response:
        asked = request.query_params
        revision = the_revision(circuit_by_key(key), revision_asked(request))
        sheet, network = sheet_of(revision), network_of(revision)
        fault = None
        if asked.get("fault"):
            fault = named_fault(network, asked["fault"], asked.get("severity", ""))
        elif asked.get("severity"):
            problem = "A severity belongs to a fault; say which."
            raise BadFields([Problem(field="severity", detail=problem)])
        table = predicted_table(
            sheet,
            network,
            fault=fault,
            rig=_rig_asked(request),
            phases=_phases_asked(request, sheet),
            references=references_at(revision),
        )
        return Response(as_json(prediction_document(sheet, table, rules_to_settle(sheet))))


def _phases_asked(request: Request, sheet: Sheet) -> tuple[str, ...]:
    phases = tuple(request.query_params.getlist("phase"))
    for phase in phases:
        if phase not in sheet.phase_keys:
            raise PhaseNotInCircuit(phase, sheet.phase_keys)
    return phases


def _rig_asked(request: Request) -> Rig:
    unplugged = frozenset(request.query_params.getlist("unplug"))
    lamp = request.query_params.get("lamp")
    lamp_watts = parse_quantity(lamp, "W").number if lamp else None
    if lamp_watts is not None and lamp_watts <= 0:
        raise BadFields([Problem(field="lamp", detail="A lamp has more than 0 W.")])
    return Rig(unplugged=unplugged, lamp_watts=lamp_watts)


def revision_asked(request: Request) -> int | None:
    """Return the number of the revision that the query asks for."""
    return number_asked(request, "revision")


def number_asked(request: Request, name: str) -> int | None:
    """Return the number of a revision that a word of the query gives."""
    number = request.query_params.get(name)
    if number is None:
        return None
    if not (number.isascii() and number.isdigit() and len(number) < 8):
        raise BadFields([Problem(field=name, detail="Give the number of a revision.")])
    return int(number)


def _shown(request: Request, revision: Revision) -> Response:
    if request.accepted_renderer.format == TextRenderer.format:
        return Response(export_text(revision))
    return Response(_as_shown(revision))


def _as_shown(revision: Revision) -> dict[str, Any]:
    sheet = sheet_of(revision)
    shown = RevisionShown(
        circuit=revision.circuit.key,
        number=revision.number,
        note=revision.note,
        created_at=revision.created_at,
        digest=revision.digest,
        cautions=tuple(map(CautionShown.model_validate, cautions_for(sheet.hazards))),
        sheet=sheet,
    )
    return as_json(shown)


def _publish(request: Request, circuit: Circuit | None) -> Response:
    sheet, note, base = _sheet_note_and_base(request)
    _require_redrawn(request)
    if circuit is not None and base is None:
        newest = latest_revision(circuit).number
        problem = (
            f"Say which revision yours was made from: the newest is {newest}. 0 is for a sheet that"
            " comes from elsewhere."
        )
        raise BadFields([Problem(field="base", detail=problem)])
    revision = publish_revision(
        circuit=circuit,
        sheet=sheet,
        note=note,
        by=signed_in(request),
        at=timezone.now(),
        base=base,
    )
    address = reverse(
        "rest:revision", args=(revision.circuit.key, revision.number), request=request
    )
    return Response(
        _as_shown(revision), status=status.HTTP_201_CREATED, headers={"Location": address}
    )


def _require_redrawn(request: Request) -> None:
    """Ask whose drawing it is, as the pages do."""
    if isinstance(request.data, str):
        is_own = request.query_params.get("redrawn", "").lower() in ("true", "1")
    else:
        is_own = isinstance(request.data, dict) and request.data.get("redrawn") is True
    if not is_own:
        problem = (
            "Say 'redrawn': true if you drew it at the vehicle or anew in your own way. A maker's "
            "page stays in your shop; name it under 'drawing'."
        )
        raise BadFields([Problem(field="redrawn", detail=problem)])


def _sheet_note_and_base(request: Request) -> tuple[Sheet, str, int | None]:
    if isinstance(request.data, str):
        note, base = request.query_params.get("note", ""), number_asked(request, "base")
        return read_text(request.data), note, base
    wanted = read_document(Publication, request.data)
    if (wanted.sheet is None) == (not wanted.text):
        raise BadFields(
            [Problem(field="text", detail="Send the circuit as 'text' or as 'sheet', one of both.")]
        )
    if wanted.sheet is None:
        return read_text(wanted.text), wanted.note, wanted.base
    return read_data(wanted.sheet), wanted.note, wanted.base
