"""Two faults at once where no single one fits: how far the search is, and once more."""

from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json
from api.serializers.verdicts import PairsShown
from api.views.finding import signed_in, the_case
from cases.services.pairs import look_again_for_pairs, pair_search_of
from cases.services.verdicts import latest_verdict


class Pairs(APIView):
    """The pairs of faults that explain a case together."""

    @operation(
        "Two faults at once, and how far the search for them is",
        answer=PairsShown,
        words="`search` is `not needed` where one fault fits, `on its way` while the background"
        " looks, `no worker` where nobody works there, `given up` where five tries failed.",
    )
    def get(self, request: Request, pk: int) -> Response:
        return _shown(request, pk)

    @operation(
        "Look again, where the search was given up or has no worker",
        answer=PairsShown,
        status=202,
        refusals=(409,),
        words="Given up, it is queued once more. Without a worker it is made before the answer"
        " comes, which may take a minute.",
    )
    def post(self, request: Request, pk: int) -> Response:
        look_again_for_pairs(case=the_case(request, pk), by=signed_in(request))
        return _shown(request, pk, status=status.HTTP_202_ACCEPTED)


def _shown(request: Request, pk: int, status: int = status.HTTP_200_OK) -> Response:
    case = the_case(request, pk)
    verdict = latest_verdict(case)
    found = verdict.before.pairs if verdict is not None and verdict.before is not None else None
    shown = PairsShown(search=pair_search_of(case), pairs=found or ())
    return Response(as_json(shown), status=status)
