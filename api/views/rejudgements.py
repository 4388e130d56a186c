"""Cases judged once more: find those that changed, take the newer revision over or leave it."""

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django_filters import rest_framework as filters
from rest_framework import generics, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.rejudgements import (
    RejudgementRow,
    RejudgementShown,
    RejudgingShown,
    SettlementAsked,
)
from api.views.finding import signed_in, the_case
from cases.models import Rejudgement
from cases.models.rejudgements import RejudgementQuerySet
from cases.services.rejudging import leave_as_it_was, take_over
from cases.services.rejudging_queue import rejudge_again, rejudging_of
from cases.services.shops import require_member


class RejudgementFilters(filters.FilterSet):
    """What rejudgements can be looked up by."""

    waiting = filters.BooleanFilter(
        method="narrowed", help_text="true: only those that changed and that nobody settled yet."
    )
    case = filters.NumberFilter(field_name="case", help_text="The id of a case.")
    circuit = filters.CharFilter(field_name="revision__circuit__key")

    def narrowed(
        self, queryset: RejudgementQuerySet, name: str, value: bool
    ) -> QuerySet[Rejudgement]:
        return queryset.waiting() if value else queryset


class Rejudgements(generics.ListAPIView[Rejudgement]):
    """The cases of this person's shops that were judged once more."""

    queryset = Rejudgement.objects.none()
    filterset_class = RejudgementFilters

    def get_queryset(self) -> QuerySet[Rejudgement]:
        """Return those of this person's shops."""
        if getattr(self, "swagger_fake_view", False):
            return Rejudgement.objects.none()
        return Rejudgement.objects.visible_to(signed_in(self.request)).with_facts()

    @operation(
        "Cases of your shops that were judged once more, newest first", answer=RejudgementRow
    )
    def get(self, request: Request) -> Response:
        page = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        return self.get_paginated_response([RejudgementRow.of(row) for row in page or ()])


class OneRejudgement(APIView):
    """What a newer revision or engine says of a case."""

    @operation("What is different, with the whole verdict", answer=RejudgementShown)
    def get(self, request: Request, pk: int) -> Response:
        return Response(_shown(request, pk))


class SettlementOfRejudgement(APIView):
    """What is to become of it."""

    @operation(
        "Take the newer revision over for the case, or leave the case as it was",
        takes=SettlementAsked,
        answer=RejudgementShown,
        refusals=(409,),
        words="The verdict that was there stays in the history of the case either way.",
    )
    def post(self, request: Request, pk: int) -> Response:
        rejudgement = _found(request, pk)
        asked = read_document(SettlementAsked, request.data)
        settle = take_over if asked.how == "take over" else leave_as_it_was
        settle(rejudgement=rejudgement, by=signed_in(request), at=timezone.now())
        return Response(_shown(request, pk))


def _found(request: Request, pk: int) -> Rejudgement:
    seen = Rejudgement.objects.visible_to(signed_in(request)).with_facts()
    return get_object_or_404(seen, pk=pk)


def _shown(request: Request, pk: int) -> dict[str, Any]:
    return RejudgementShown.of(_found(request, pk))


class RejudgingOfCase(APIView):
    """Whether a case waits to be judged once more."""

    @operation(
        "How far a case is with being judged once more",
        answer=RejudgingShown,
        words="`state` is `not due` where nothing newer is there or it was judged already, `on its"
        " way` while the background judges, `no worker` where nobody works there, `given up` where"
        " five tries failed. For the shop of the case alone.",
    )
    def get(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        require_member(case.shop, signed_in(request))
        return Response(as_json(RejudgingShown(state=rejudging_of(case))))

    @operation(
        "Judge a case once more, where that was given up or has no worker",
        answer=RejudgingShown,
        status=202,
        refusals=(409,),
        words="Given up, it is queued once more. Without a worker it is judged before the answer"
        " comes.",
    )
    def post(self, request: Request, pk: int) -> Response:
        state = rejudge_again(case=the_case(request, pk), by=signed_in(request), at=timezone.now())
        return Response(as_json(RejudgingShown(state=state)), status=status.HTTP_202_ACCEPTED)
