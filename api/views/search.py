"""Past cases that are like a job: like an open case, or by what is typed in."""

from django.contrib.auth.models import User
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.cases import CaseRow
from api.serializers.documents import as_json, read_document
from api.serializers.search import (
    FacetsShown,
    GroupShown,
    HitShown,
    OldFaultShown,
    PartingShown,
    PredictedShown,
    ReasonShown,
    SearchInput,
    SearchShown,
)
from api.views.finding import newest_revision_named, signed_in, the_case
from cases.models import Case
from cases.search.results import SearchResult
from cases.services.searching import search_cases, similar_to
from cases.services.sharing import summaries


class Similar(APIView):
    """Past cases like this one."""

    @operation(
        "Past cases like this one, with reasons",
        answer=SearchShown,
        words="Compared by readings, codes and words with every case you may see; what was not"
        " measured never counts as agreement.",
    )
    def get(self, request: Request, pk: int) -> Response:
        user = signed_in(request)
        result = similar_to(the_case(request, pk), user=user, at=timezone.now())
        return Response(as_json(_shown(result, user)))


class Search(APIView):
    """Past cases by what is typed in."""

    post_reads = True

    @operation(
        "Search past cases by readings, codes and words",
        takes=SearchInput,
        answer=SearchShown,
        refusals=(409,),
        words="Nothing is kept of what is asked. Each hit comes with the terms of its score, what"
        " agrees with both values, what conflicts, what was not measured there, and whether its"
        " fault fits the readings here.",
    )
    def post(self, request: Request) -> Response:
        user = signed_in(request)
        asked = read_document(SearchInput, request.data)
        result = search_cases(
            user=user,
            at=timezone.now(),
            revision=newest_revision_named(asked.circuit, "circuit") if asked.circuit else None,
            system=asked.system,
            readings=asked.readings,
            codes=asked.codes,
            words=asked.words,
            limit=asked.limit,
            only_fault=asked.fault,
            narrowing=asked.narrowing,
            other_makes=asked.other_makes,
            waits_for_verdict=asked.waits_for_verdict,
        )
        return Response(as_json(_shown(result, user)))


def _shown(result: SearchResult, user: User) -> SearchShown:
    found = Case.objects.visible_to(user).with_facts()
    cases = found.filter(pk__in=[hit.case.pk for hit in result.hits])
    rows = {
        row.case.pk: CaseRow.model_validate(row)
        for row in summaries(cases, user, at=timezone.now())
    }
    return SearchShown(
        groups=tuple(
            GroupShown(
                fault=OldFaultShown.model_validate(group.fault),
                hits=tuple(
                    HitShown(
                        case=rows[hit.case.pk],
                        score=hit.score,
                        reasons=tuple(map(ReasonShown.model_validate, hit.reasons)),
                        copies=hit.copies,
                    )
                    for hit in group.hits
                ),
                count=group.count,
                key=group.key,
                probability=group.probability,
            )
            for group in result.groups
        ),
        partings=tuple(map(PartingShown.model_validate, result.partings)),
        not_parted=result.not_parted,
        spelled=result.spelled,
        compared=result.compared,
        nothing_similar=result.nothing_similar,
        predicted=tuple(map(PredictedShown.model_validate, result.predicted)),
        outside=result.outside,
        unseen=result.unseen,
        facets=FacetsShown.model_validate(result.facets),
        verdict_is_due=result.verdict_is_due,
    )
