"""Searching past cases: what is asked, and what is found with its reasons."""

from typing import Annotated

from pydantic import Field

from api.serializers.cases import CaseRow
from api.serializers.documents import Shown
from cases.document_base import Document, Short, Text
from cases.documents import NewReading
from cases.search.results import Speaks, Term, Transfer
from cases.search.similar import DEFAULT_LIMIT

MOST_HITS = 50


class SearchInput(Document):
    """What is known of a job: readings in their circuit, codes, words. Each may be left out."""

    circuit: Short = Field(default="", description="Key of the circuit; readings need it.")
    system: Short = Field(default="", description="Where the circuit is not known: starting, ...")
    readings: Annotated[tuple[NewReading, ...], Field(max_length=1000)] = ()
    codes: Annotated[tuple[Short, ...], Field(max_length=100)] = ()
    words: Text = Field(default="", description="Complaint and conditions, as one would say them.")
    limit: Annotated[int, Field(ge=1, le=MOST_HITS)] = DEFAULT_LIMIT


class ReasonShown(Shown):
    """One term of a score, in words; the points of all terms add up to it."""

    term: Term
    speaks: Speaks
    points: float
    words: str


class OldFaultShown(Shown):
    """The fault of past cases, tried on the new readings in the new circuit."""

    suspect: str
    words: str
    transfer: Transfer
    because: str


class HitShown(Shown):
    """A past case that is like what was asked for."""

    case: CaseRow
    score: float
    reasons: tuple[ReasonShown, ...]
    copies: tuple[str, ...] = Field(description="Keys of copies of it, which count once.")


class GroupShown(Shown):
    """The past cases that claim one fault."""

    fault: OldFaultShown
    hits: tuple[HitShown, ...]
    count: int


class PartingShown(Shown):
    """A reading that tells two of the faults apart."""

    first: str
    second: str
    place: str
    phase: str
    words: str


class SearchShown(Shown):
    """What a search found, grouped by fault, the best first."""

    groups: tuple[GroupShown, ...]
    partings: tuple[PartingShown, ...]
    not_parted: tuple[str, ...]
    spelled: dict[str, tuple[str, ...]] = Field(description="Words that were read as others.")
    compared: int = Field(description="Cases that were compared.")
    nothing_similar: bool
