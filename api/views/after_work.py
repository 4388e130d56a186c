"""The work after a repair: read it, add to it, tick it off."""

from django.utils import timezone
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.after_work import AfterLineWanted, AfterWorkShown, TickWanted
from api.serializers.documents import as_json, read_document
from api.views.finding import signed_in, the_case
from cases.services.after_work import add_after_work, tick_after_work
from cases.services.sharing import shared_view


class AfterWork(APIView):
    """What is to be undone, taught and registered after a repair."""

    @operation("The work after a repair; empty for other shops", answer=AfterWorkShown)
    def get(self, request: Request, pk: int) -> Response:
        return _shown(request, pk)

    @operation(
        "Add a line: a wire pierced, a module to teach, part numbers old and new",
        takes=AfterLineWanted,
        answer=AfterWorkShown,
        status=201,
        refusals=(409,),
    )
    def post(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        wanted = read_document(AfterLineWanted, request.data)
        add_after_work(
            case=case,
            kind=wanted.kind,
            words=wanted.words,
            by=signed_in(request),
            at=timezone.now(),
        )
        return _shown(request, pk, status=status.HTTP_201_CREATED)

    @operation(
        "Tick a line off, or take the tick back; the standing follows",
        takes=TickWanted,
        answer=AfterWorkShown,
        refusals=(409,),
    )
    def put(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        wanted = read_document(TickWanted, request.data)
        tick_after_work(
            case=case,
            key=wanted.key,
            done=wanted.done,
            by=signed_in(request),
            at=timezone.now(),
        )
        return _shown(request, pk)


def _shown(request: Request, pk: int, status: int = status.HTTP_200_OK) -> Response:
    view = shared_view(the_case(request, pk), signed_in(request), at=timezone.now())
    return Response(as_json(AfterWorkShown(lines=view.after_work)), status=status)
