"""Searches that you kept; each is an address of the search page."""

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.searches import KeptSearch, KeptSearches, SearchToKeep
from api.views.finding import signed_in
from cases.services.saved_searches import forget, keep, searches_of


class Searches(APIView):
    """The searches that you kept."""

    @operation("The searches that you kept", answer=KeptSearches)
    def get(self, request: Request) -> Response:
        kept = tuple(map(KeptSearch.model_validate, searches_of(signed_in(request))))
        return Response(as_json(KeptSearches(searches=kept)))

    @operation(
        "Keep a search, or give one of that name another question",
        takes=SearchToKeep,
        answer=KeptSearch,
        status=201,
        words="It shows on the search page too, and is seen by nobody else.",
    )
    def post(self, request: Request) -> Response:
        wanted = read_document(SearchToKeep, request.data)
        kept = keep(name=wanted.name, asked=wanted.asked, by=signed_in(request), at=timezone.now())
        return Response(as_json(KeptSearch.model_validate(kept)), status=status.HTTP_201_CREATED)


class OneSearch(APIView):
    """One of the searches that you kept."""

    @operation("Forget a search", answer=None, status=204)
    def delete(self, request: Request, pk: int) -> Response:
        user = signed_in(request)
        forget(search=get_object_or_404(searches_of(user), pk=pk), by=user)
        return Response(status=status.HTTP_204_NO_CONTENT)
