"""Older logs: how far each has come, and what was refused of it."""

from datetime import datetime

from pydantic import Field

from api.serializers.documents import Shown
from cases.documents.base import Document
from cases.models import LogState, Wanted


class LogShown(Shown):
    """An older log; what counts is cases, each of which may have several lines."""

    id: int
    shop: str
    name: str
    wanted: Wanted
    state: LogState
    cases_in_all: int
    cases_done: int = Field(description="Gone through so far.")
    cases_good: int = Field(description="Came in, or can come in where nothing did yet.")
    cases_known: int = Field(description="Here already, from an earlier time.")
    cases_refused: int
    has_stopped: bool = Field(description="The worker gave it up on the way; it can go on.")
    brought_at: datetime
    ended_at: datetime | None


class ReasonShown(Shown):
    """One thing that is wrong with a line."""

    column: str
    problem: str
    mend: str


class RefusedLineShown(Shown):
    """A line as it was; without a reason of its own where another line of its case has one."""

    line: int
    cells: tuple[str, ...] = Field(description="Those of a table; a line of JSON is one.")
    reasons: tuple[ReasonShown, ...]


class WantedOfLog(Document):
    """What is to be done with a log."""

    wanted: Wanted
