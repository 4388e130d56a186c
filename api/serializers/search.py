"""Searching past cases: what is asked, and what is found with its reasons."""

from typing import Annotated, Literal

from pydantic import Field

from api.serializers.cases import CaseRow
from api.serializers.documents import Shown
from cases.documents.base import Document, Moment, Short, Stored, Text
from cases.documents.readings import NewReading
from cases.search.results import Speaks, Term, Transfer
from cases.search.scope import Narrowing
from cases.search.similar import DEFAULT_LIMIT

MOST_HITS = 50
SearchedStanding = Literal[
    "note", "claimed", "consistent", "proven", "verified", "held", "doubtful"
]


class SearchInput(Document):
    """What is known of a job: readings in their circuit, codes, words. Each may be left out."""

    circuit: Short = Field(default="", description="Key of the circuit; readings need it.")
    system: Short = Field(default="", description="Where the circuit is not known: starting, ...")
    readings: Annotated[tuple[NewReading, ...], Field(max_length=1000)] = ()
    codes: Annotated[tuple[Short, ...], Field(max_length=100)] = ()
    words: Text = Field(default="", description="Complaint and conditions, as one would say them.")
    limit: Annotated[int, Field(ge=1, le=MOST_HITS)] = DEFAULT_LIMIT
    standings: Annotated[tuple[SearchedStanding, ...], Field(max_length=10)] = Field(
        default=(), description="Only cases that stand so."
    )
    shop: Short = Field(default="", description="Only cases of the shop of this short name.")
    vehicle: Short = Field(default="", description="Only cases of this make and model.")
    opened_since: Moment | None = None
    other_makes: bool = Field(
        default=False,
        description="Compare places by what they touch, in other circuits than this one.",
    )
    waits_for_verdict: bool = Field(
        default=True,
        description="False: list the cases at once. Whether their faults fit the readings here is"
        " then 'being worked out', unless it is known from before; ask again for the rest.",
    )
    fault: Annotated[Stored, Field(max_length=250)] = Field(
        default="", description="Key of a group that was found: list its cases alone."
    )

    @property
    def narrowing(self) -> Narrowing:
        """What the cases are narrowed to."""
        return Narrowing(
            standings=frozenset(self.standings),
            shop=self.shop,
            vehicle=self.vehicle,
            opened_since=self.opened_since,
        )


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
    key: str = Field(description="Name of the fault among those of all circuits; may be empty.")
    probability: float | None = Field(
        description="How likely the fault is by past cases and the circuit; null: not compared."
    )


class PredictedShown(Shown):
    """A fault that the readings make likely in this circuit, with how many cases had it."""

    suspect: str
    words: str
    probability: float
    cases: float


class FacetValueShown(Shown):
    """One value that cases found have, and how many of them."""

    value: str
    words: str
    count: int


class FacetsShown(Shown):
    """What the search can be narrowed to."""

    standings: tuple[FacetValueShown, ...]
    shops: tuple[FacetValueShown, ...]
    vehicles: tuple[FacetValueShown, ...]


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
    predicted: tuple[PredictedShown, ...] = Field(
        description="By the circuit and past cases; where a fault has no case it is prediction."
    )
    outside: float | None = Field(description="The share left for what is not in the drawing.")
    unseen: float | None = Field(
        description="How likely it is a fault of the circuit that none of these cases had, by the"
        " engine's misfit, codes and words; null: nothing was read."
    )
    facets: FacetsShown
    verdict_is_due: bool = Field(
        description="Not known yet: what the readings exclude, make likely, and what parts faults."
    )
