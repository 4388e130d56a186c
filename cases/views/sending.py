"""A form that may be sent twice, or late: the key of its sending, and the answer to it."""

from collections.abc import Iterator
from contextlib import contextmanager
from uuid import uuid4

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from cases.errors import SentBefore

#: What the outbox of the browser sends along: it wants to be told in so many words.
FROM_OUTBOX = "X-From-Outbox"
NO_CONTENT = 204


class Sending:
    """One sending of a form; `key` is drawn with the form and comes back with what was typed."""

    def __init__(self, request: HttpRequest) -> None:
        self.key = request.POST.get("once") or str(uuid4())
        self._from_outbox = FROM_OUTBOX in request.headers

    @contextmanager
    def renewed_where_sent_before(self) -> Iterator[None]:
        """Draw another key where this one came with other readings before: these are further."""
        try:
            yield
        except SentBefore:
            self.key = str(uuid4())
            raise

    def taken(self, case_pk: int) -> HttpResponse:
        """Answer that all of it is logged.

        A redirect would not do for the outbox: one to the page for signing in looks the same.
        """
        if self._from_outbox:
            return HttpResponse(status=NO_CONTENT)
        return redirect("cases:case", pk=case_pk)
