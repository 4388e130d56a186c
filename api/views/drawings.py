"""Drawings over REST: the same SVG as on the page, the ways of a pin, parts moved."""

from collections.abc import Mapping

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.errors import BadFields, Problem
from api.renderers import SvgRenderer
from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.drawings import (
    DrawingShown,
    LineShown,
    MeasuresShown,
    MovedPart,
    NudgeInput,
    NudgesShown,
    PinReportShown,
)
from api.views.circuits import REVISION, revision_asked
from api.views.finding import signed_in, the_revision
from cases.errors import PhaseNotInCircuit
from circuits.drawing import Marks, draw
from circuits.drawn_words import Line, connection_lines, part_lines
from circuits.faults import named_fault
from circuits.nudges import nudge_part, nudges_of, put_all_back
from circuits.paths import pin_report, pin_ways
from circuits.services import circuit_by_key, network_of, sheet_of


class Drawings(APIView):
    """The schematic of a circuit."""

    renderer_classes = (JSONRenderer, SvgRenderer)

    @operation(
        "The drawing of a circuit, at rest or in a phase, healthy or with a fault",
        answer={"application/json": DrawingShown, "image/svg+xml": OpenApiTypes.STR},
        parameters=(
            REVISION,
            OpenApiParameter("phase", description="The phase to draw; left out, at rest."),
            OpenApiParameter("fault", description="A suspect, such as `resistance:C40`."),
            OpenApiParameter("severity", description="How bad: `1.1 Ohm`, `open`, `short`."),
            OpenApiParameter("pin", description="A connection whose ways are marked."),
        ),
        words="As SVG alone: ask for `image/svg+xml`, or with `?format=svg`. In the JSON the same"
        " picture comes with everything it shows in words. Typical values of the drawing, no"
        " specification; the maker's procedure comes first.",
        operation_id="drawing",
    )
    def get(self, request: Request, key: str) -> Response:
        asked = request.query_params
        circuit = circuit_by_key(key)
        revision = the_revision(circuit, revision_asked(request))
        sheet = sheet_of(revision)
        phase = asked.get("phase") or None
        if phase is not None and phase not in sheet.phase_keys:
            raise PhaseNotInCircuit(phase, sheet.phase_keys)
        network, fault = network_of(revision), None
        marked: Marks | None = None
        if phase is None and (asked.get("fault") or asked.get("pin")):
            problem = "A fault and the ways of a pin show in a phase; say in which."
            raise BadFields([Problem(field="phase", detail=problem)])
        if asked.get("fault"):
            fault = named_fault(network, asked["fault"], asked.get("severity", ""))
        if phase is not None and asked.get("pin"):
            marked = pin_ways(sheet, network, asked["pin"], phase, fault).marked
        nudges = nudges_of(circuit)
        drawing = draw(sheet, phase=phase, fault=fault, nudges=nudges, marked=marked)
        if request.accepted_renderer.format == SvgRenderer.format:
            return Response(drawing.svg)
        healthy = draw(sheet, phase=phase, nudges=nudges).state
        faulty = drawing.state if fault is not None else None
        shown = DrawingShown(
            circuit=key,
            revision=revision.number,
            phase=phase,
            fault=str(fault) if fault is not None else None,
            width=drawing.width,
            height=drawing.height,
            measures=MeasuresShown.model_validate(drawing.measures),
            connections=_shown(connection_lines(sheet, healthy, faulty)),
            parts=_shown(part_lines(sheet, healthy, faulty)),
            svg=drawing.svg,
        )
        return Response(as_json(shown))


def _shown(lines: list[Line]) -> tuple[LineShown, ...]:
    return tuple(map(LineShown.model_validate, lines))


class PinPaths(APIView):
    """What belongs to a pin."""

    @operation(
        "Supply and way back of a pin, its neighbours, and what a fault there changes",
        answer=PinReportShown,
        parameters=(
            REVISION,
            OpenApiParameter("pin", required=True, description="A connection, such as `K87`."),
        ),
        words="By phase; `blocked_by` names what is open or absent on a way.",
        operation_id="pin_paths",
    )
    def get(self, request: Request, key: str) -> Response:
        revision = the_revision(circuit_by_key(key), revision_asked(request))
        pin = request.query_params.get("pin", "")
        if not pin:
            raise BadFields([Problem(field="pin", detail="Name a connection of the circuit.")])
        return Response(
            PinReportShown.of(pin_report(sheet_of(revision), network_of(revision), pin))
        )


class Nudges(APIView):
    """Parts of a drawing that somebody moved."""

    @operation("Parts that were moved in the drawing", answer=NudgesShown, operation_id="nudges")
    def get(self, request: Request, key: str) -> Response:
        return _moved(key, nudges_of(circuit_by_key(key)))

    @operation(
        "Move a part in the drawing",
        takes=NudgeInput,
        answer=NudgesShown,
        refusals=(409,),
        words="The drawings of later revisions keep it; no revision is made and no case rejudged.",
        operation_id="nudge",
    )
    def post(self, request: Request, key: str) -> Response:
        wanted = read_document(NudgeInput, request.data)
        moved = nudge_part(
            circuit=circuit_by_key(key),
            part=wanted.part,
            right=wanted.right,
            down=wanted.down,
            by=signed_in(request),
            at=timezone.now(),
        )
        return _moved(key, moved)

    @operation(
        "Put all parts of the drawing back", answer=NudgesShown, operation_id="put_nudges_back"
    )
    def delete(self, request: Request, key: str) -> Response:
        circuit = circuit_by_key(key)
        put_all_back(circuit=circuit, by=signed_in(request))
        return _moved(key, nudges_of(circuit))


def _moved(key: str, nudges: Mapping[str, tuple[int, int]]) -> Response:
    moved = tuple(
        MovedPart(part=part, right=right, down=down) for part, (right, down) in nudges.items()
    )
    return Response(as_json(NudgesShown(circuit=key, moved=moved)))
