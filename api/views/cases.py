"""Cases: list, log, read, and everything that a shop does with one of its own."""

from django.db.models import QuerySet
from django.utils import timezone
from django_filters import rest_framework as filters
from rest_framework import generics, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from api.errors import BadFields, Problem
from api.schema import operation
from api.serializers.cases import (
    CaseRow,
    CaseShown,
    CircuitChoice,
    ClaimInput,
    NewCase,
    Reason,
    SharePreview,
)
from api.serializers.documents import as_json, read_document
from api.views.finding import newest_revision_named, shop_named, signed_in, the_case
from cases.documents.cases import CaseFacts, Repair
from cases.models import Case, EarnedStanding, Outcome, Symptom
from cases.services import cases as services
from cases.services import sharing
from cases.services.intake import write_up_case


class CaseFilters(filters.FilterSet):
    """What cases can be looked up by; never by what stays in a shop."""

    shop = filters.CharFilter(field_name="shop__slug", help_text="Short name of a shop.")
    circuit = filters.CharFilter(field_name="revision__circuit__key", help_text="Key of a circuit.")
    system = filters.CharFilter(lookup_expr="iexact")
    make = filters.CharFilter(field_name="vehicle__make", lookup_expr="iexact")
    model = filters.CharFilter(field_name="vehicle__model", lookup_expr="iexact")
    code = filters.CharFilter(
        field_name="codes__code", lookup_expr="iexact", distinct=True, help_text="A fault code."
    )
    claim = filters.CharFilter(
        field_name="claimed_suspect", help_text="A suspect, such as resistance:C40."
    )
    symptom = filters.ChoiceFilter(choices=Symptom.choices)
    outcome = filters.ChoiceFilter(choices=Outcome.choices)
    standing = filters.ChoiceFilter(
        field_name="earned_standing",
        choices=EarnedStanding.choices,
        help_text="Verified takes in those that have held since.",
    )
    shared = filters.BooleanFilter(field_name="shared_at", lookup_expr="isnull", exclude=True)
    opened_from = filters.DateFilter(
        field_name="opened_at", lookup_expr="date__gte", help_text="On this day (UTC) or later."
    )
    opened_before = filters.DateFilter(
        field_name="opened_at", lookup_expr="date__lt", help_text="Before this day (UTC)."
    )


class Cases(generics.ListAPIView[Case]):
    """The cases of your shops, and those that other shops share."""

    filterset_class = CaseFilters
    queryset = Case.objects.none()

    def get_queryset(self) -> QuerySet[Case]:
        """Return what this person may see."""
        return Case.objects.visible_to(signed_in(self.request)).with_facts()

    @operation("Cases, the newest first", answer=CaseRow)
    def get(self, request: Request) -> Response:
        page = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        rows = sharing.summaries(page or (), signed_in(request), at=timezone.now())
        return self.get_paginated_response([CaseRow.of(row) for row in rows])

    @operation(
        "Log a case",
        takes=NewCase,
        answer=CaseShown,
        status=201,
        refusals=(403, 409),
        words="With its readings, all or nothing. Digits stay as typed: comma and point are both"
        " decimal marks, `OL` is over range, an empty text is not measured. The maker's"
        " procedure, local codes and licensed practice come first.",
    )
    def post(self, request: Request) -> Response:
        wanted = read_document(NewCase, request.data)
        case = write_up_case(
            shop=shop_named(request, wanted.shop, "shop"),
            facts=wanted.facts,
            readings=wanted.readings,
            revision=(newest_revision_named(wanted.circuit, "circuit") if wanted.circuit else None),
            comeback_of=_earlier_case(request, wanted.comeback_of),
            by=signed_in(request),
            at=timezone.now(),
        )
        answer = shown(request, case.pk)
        answer.status_code = status.HTTP_201_CREATED
        answer["Location"] = reverse("rest:case", args=(case.pk,), request=request)
        return answer


class OneCase(APIView):
    """A case."""

    @operation(
        "A case, with readings, verdict and standing",
        answer=CaseShown,
        words="Whole in your own shop. From another shop, where it is shared: without VIN, plate"
        " and people.",
    )
    def get(self, request: Request, pk: int) -> Response:
        return shown(request, pk)


class Facts(APIView):
    """What was told about the job."""

    @operation(
        "Mend the facts of a case; what they were is kept",
        takes=CaseFacts,
        answer=CaseShown,
        refusals=(409,),
    )
    def put(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        facts = read_document(CaseFacts, request.data)
        services.edit_case(case=case, facts=facts, by=signed_in(request), at=timezone.now())
        return shown(request, pk)


class CircuitOfCase(APIView):
    """Which circuit a case is about."""

    @operation(
        "Choose the circuit of a case", takes=CircuitChoice, answer=CaseShown, refusals=(409,)
    )
    def put(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        choice = read_document(CircuitChoice, request.data)
        revision = newest_revision_named(choice.circuit, "circuit")
        services.choose_circuit(
            case=case, revision=revision, by=signed_in(request), at=timezone.now()
        )
        return shown(request, pk)


class ClaimOfCase(APIView):
    """The fault that a case claims."""

    @operation(
        "Claim a fault; the readings are judged against it at once",
        takes=ClaimInput,
        answer=CaseShown,
        refusals=(409,),
    )
    def put(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        claim = read_document(ClaimInput, request.data)
        services.claim_fault(
            case=case,
            suspect=claim.suspect,
            severity=claim.severity,
            by=signed_in(request),
            at=timezone.now(),
        )
        return shown(request, pk)

    @operation("Take a claim back", answer=CaseShown, refusals=(409,))
    def delete(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        services.take_back_claim(case=case, by=signed_in(request), at=timezone.now())
        return shown(request, pk)


class RepairOfCase(APIView):
    """What was done, and how it ended."""

    @operation("Record the repair", takes=Repair, answer=CaseShown, refusals=(409,))
    def put(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        repair = read_document(Repair, request.data)
        services.record_repair(case=case, repair=repair, by=signed_in(request), at=timezone.now())
        return shown(request, pk)


class Withdrawal(APIView):
    """Withdraw a case."""

    @operation(
        "Withdraw a case: it stays in the shop with the reason",
        takes=Reason,
        answer=CaseShown,
        refusals=(409,),
    )
    def put(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        reason = read_document(Reason, request.data).reason
        services.withdraw_case(case=case, reason=reason, by=signed_in(request), at=timezone.now())
        return shown(request, pk)


class Share(APIView):
    """Whether all shops on this server see a case."""

    @operation(
        "What other shops see of your case, or would see",
        answer=SharePreview,
        refusals=(403,),
        words="Look here before you share: names that are on no list cannot be taken out.",
    )
    def get(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        preview = sharing.share_preview(case=case, by=signed_in(request), at=timezone.now())
        seen = CaseShown.model_validate(preview)
        return Response(as_json(SharePreview(is_shared=case.is_shared, seen_by_others=seen)))

    @operation("Share a case with all shops on this server", answer=CaseShown, refusals=(409,))
    def put(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        sharing.share_case(case=case, by=signed_in(request), at=timezone.now())
        return shown(request, pk)

    @operation(
        "Take a shared case back; nobody outside the shop sees it any more",
        answer=CaseShown,
        refusals=(409,),
    )
    def delete(self, request: Request, pk: int) -> Response:
        case = the_case(request, pk)
        sharing.take_back_share(case=case, by=signed_in(request), at=timezone.now())
        return shown(request, pk)


def shown(request: Request, pk: int) -> Response:
    """Return the case as this person may see it now."""
    view = sharing.shared_view(the_case(request, pk), signed_in(request), at=timezone.now())
    return Response(CaseShown.of(view))


def _earlier_case(request: Request, pk: int | None) -> Case | None:
    if pk is None:
        return None
    earlier = Case.objects.visible_to(signed_in(request)).filter(pk=pk).first()
    if earlier is None:
        problem = Problem(
            field="comeback_of", detail="There is no such case, or you may not see it."
        )
        raise BadFields([problem])
    return earlier
