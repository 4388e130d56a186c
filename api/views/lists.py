"""Lists: their pages, and filters that refuse what they do not know."""

from typing import Any, TypeVar

from django.db.models import Model, QuerySet
from django.http import HttpRequest
from django_filters.rest_framework import DjangoFilterBackend
from rapidfuzz import process
from rest_framework.pagination import PageNumberPagination
from rest_framework.settings import api_settings
from rest_framework.views import APIView

from api.errors import BadFields, Problem

Row = TypeVar("Row", bound=Model)


class Pages(PageNumberPagination):
    """Fifty rows to a page, or as many as are asked for."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200


class KnownFilters(DjangoFilterBackend):
    """Filter by the query, and refuse a word in it that is no filter.

    A misspelt filter that is passed over gives a list of everything, which looks like an answer.
    """

    def filter_queryset(
        self, request: HttpRequest, queryset: QuerySet[Row], view: APIView
    ) -> QuerySet[Row]:
        """Return the rows that the query asks for."""
        filterset = self.get_filterset(request, queryset, view)
        filters = list(filterset.filters) if filterset is not None else []
        known = [*filters, "page", "page_size", api_settings.URL_FORMAT_OVERRIDE]
        strange = [name for name in request.GET if name not in known]
        if strange:
            raise BadFields([Problem(field=name, detail=_unknown(name, known)) for name in strange])
        filtered: QuerySet[Row] = super().filter_queryset(request, queryset, view)
        return filtered


def _unknown(name: str, known: list[Any]) -> str:
    nearest = process.extractOne(name, known, score_cutoff=60)
    if nearest is not None:
        return f"There is no such filter. Did you mean {nearest[0]}?"
    return f"There is no such filter; there are {', '.join(known)}."
