"""A case as one document, out and in."""

from django.utils import timezone
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from api.parsers import CaseFileParser
from api.schema import operation
from api.serializers.cases import CaseShown
from api.serializers.documents import as_json, read_document
from api.views.cases import shown
from api.views.finding import signed_in, the_case, the_shop
from cases.documents.cases import CaseDocument
from cases.services.exchange import export_case, import_case


class CaseAsDocument(APIView):
    """A whole case as one document."""

    @operation(
        "A whole case as one document, with the text of its circuit",
        answer=CaseDocument,
        words="It can be taken into a shop on this or another server without loss. A case of"
        " another shop comes without VIN, plate and people.",
    )
    def get(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        return Response(as_json(export_case(case, by=signed_in(request), at=timezone.now())))


class CasesTakenIn(APIView):
    """Cases that come into a shop as documents."""

    parser_classes = (CaseFileParser,)

    @operation(
        "Take a case document into a shop, all or nothing",
        takes=CaseDocument,
        answer=CaseShown,
        status=201,
        refusals=(409,),
        words="A case that another shop logged comes in as a copy: its story is kept, but its"
        " readings prove nothing about a vehicle of this shop.",
    )
    def post(self, request: Request, slug: str) -> Response:
        shop = the_shop(request, slug)
        document = read_document(CaseDocument, request.data)
        case = import_case(document=document, shop=shop, by=signed_in(request), at=timezone.now())
        answer = shown(request, case.pk)
        answer.status_code = status.HTTP_201_CREATED
        answer["Location"] = reverse("rest:case", args=(case.pk,), request=request)
        return answer
