"""Older logs brought in whole, over REST."""

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter
from rest_framework import generics, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from api.errors import BadFields, Problem
from api.parsers import JsonLinesParser, LogParser
from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.older_logs import LogShown, ReasonShown, RefusedLineShown, WantedOfLog
from api.views.finding import signed_in, the_shop
from cases.models import LogState, OlderLog, RefusedLine, Wanted
from cases.services.older_logs.taking_in import (
    bring_in_log,
    go_on_with_log,
    has_stopped,
    take_log_away,
)

_WANTED = OpenApiParameter(
    "wanted",
    enum=Wanted.values,
    description="What is to be done with it; to check it, unless you say otherwise.",
)
_NAME = OpenApiParameter("name", description="What the file is called, for people.")


class OlderLogs(generics.ListAPIView[OlderLog]):
    """The older logs of a shop."""

    queryset = OlderLog.objects.none()
    parser_classes = (LogParser, JsonLinesParser)
    filter_backends = ()

    @operation("Older logs that were brought into a shop", answer=LogShown)
    def get(self, request: Request, slug: str) -> Response:
        logs = the_shop(request, slug).older_logs.defer("content").select_related("shop")
        page = self.paginate_queryset(logs)
        return self.get_paginated_response([_shown(log) for log in page or ()])

    @operation(
        "Bring an older log in: many cases in one file",
        takes={"text/csv": OpenApiTypes.STR, "application/x-ndjson": OpenApiTypes.STR},
        answer=LogShown,
        status=202,
        parameters=(_WANTED, _NAME),
        words="A table with a line for each case and one for each further reading, or a case"
        " document on each line. The worker goes through it; ask for the log to see how far it is."
        " Refused lines are told with their reasons, and bringing a log in twice doubles nothing."
        " Only an owner of the shop may.",
    )
    def post(self, request: Request, slug: str) -> Response:
        log = bring_in_log(
            shop=the_shop(request, slug),
            name=request.query_params.get("name", "").replace("\x00", "") or "log",
            content=request.data if isinstance(request.data, bytes) else b"",  # nothing sent
            wanted=_wanted(request),
            by=signed_in(request),
            at=timezone.now(),
        )
        return Response(
            _shown(log),
            status=status.HTTP_202_ACCEPTED,
            headers={"Location": reverse("rest:log", args=(log.pk,), request=request)},
        )


class OneOlderLog(APIView):
    """An older log."""

    @operation("How far an older log has come", answer=LogShown)
    def get(self, request: Request, pk: int) -> Response:
        return Response(_shown(_the_log(request, pk)))

    @operation(
        "Take an older log away; cases that came in stay", answer=None, status=204, refusals=(409,)
    )
    def delete(self, request: Request, pk: int) -> Response:
        take_log_away(log=_the_log(request, pk), by=signed_in(request))
        return Response(status=status.HTTP_204_NO_CONTENT)


class WantedWithLog(APIView):
    """What is done with an older log."""

    @operation(
        "Have something else done with a log that was checked or refused",
        takes=WantedOfLog,
        answer=LogShown,
        status=202,
        refusals=(409,),
        words="One that stopped on the way goes on as it was wanted.",
    )
    def post(self, request: Request, pk: int) -> Response:
        log = _the_log(request, pk)
        wanted = read_document(WantedOfLog, request.data).wanted
        log = go_on_with_log(log=log, wanted=wanted, by=signed_in(request))
        return Response(_shown(log), status=status.HTTP_202_ACCEPTED)


class RefusedLines(generics.ListAPIView[RefusedLine]):
    """What was refused of an older log."""

    queryset = RefusedLine.objects.none()
    filter_backends = ()

    @operation("Refused lines of an older log, with reasons", answer=RefusedLineShown)
    def get(self, request: Request, pk: int) -> Response:
        page = self.paginate_queryset(_the_log(request, pk).refused_lines.all())
        return self.get_paginated_response([_line_shown(line) for line in page or ()])


def _wanted(request: Request) -> Wanted:
    asked = request.query_params.get("wanted", Wanted.CHECK)
    if asked not in Wanted.values:
        known = ", ".join(Wanted.values)
        raise BadFields([Problem(field="wanted", detail=f"Write one of: {known}.")])
    return Wanted(asked)


def _the_log(request: Request, pk: int) -> OlderLog:
    logs: QuerySet[OlderLog] = OlderLog.objects.visible_to(signed_in(request)).without_content()
    return get_object_or_404(logs.select_related("shop"), pk=pk)


def _shown(log: OlderLog) -> dict[str, object]:
    return as_json(
        LogShown(
            id=log.pk,
            shop=log.shop.slug,
            name=log.name,
            wanted=Wanted(log.wanted),
            state=LogState(log.state),
            cases_in_all=log.cases_in_all,
            cases_done=log.cases_done,
            cases_good=log.cases_good,
            cases_known=log.cases_known,
            cases_refused=log.cases_refused,
            has_stopped=has_stopped(log),
            brought_at=log.brought_at,
            ended_at=log.ended_at,
        )
    )


def _line_shown(line: RefusedLine) -> dict[str, object]:
    reasons = tuple(
        ReasonShown(column=column, problem=problem, mend=mend)
        for column, problem, mend in line.reasons
    )
    return as_json(RefusedLineShown(line=line.line, cells=tuple(line.cells), reasons=reasons))
