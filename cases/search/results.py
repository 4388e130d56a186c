"""What a search gives back: cases with the terms of their score, grouped by fault."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

LIKELIER_THAN_NOT = 0.5


class Term(StrEnum):
    """What a part of a score comes from."""

    READING = "reading"
    CODE = "code"
    WORD = "word"
    STANDING = "standing"
    FAULT = "fault"


class Speaks(StrEnum):
    """Which way a term points."""

    FOR = "agrees"
    AGAINST = "conflicts"
    SILENT = "not measured"
    WEIGHS = "weighs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One term of a score, in words, with both values; the points of all terms add up to it."""

    term: Term
    speaks: Speaks
    points: float
    words: str


class Transfer(StrEnum):
    """What the old case's fault does with the new readings, in the new circuit."""

    FITS = "fits here"
    EXCLUDED = "excluded here"
    CANNOT_SAY = "cannot say"
    NOT_COMPARED = "not compared"
    DUE = "being worked out"


@dataclass(frozen=True, slots=True, kw_only=True)
class OldFault:
    """The fault of a past case, tried on the new readings."""

    suspect: str
    words: str
    transfer: Transfer
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PastCase:
    """What a search says of a case; whoever shows more of it fetches it as they may see it.

    `values` are what was logged behind the slots, or the roles, that were compared, by term.
    """

    pk: int
    key: str
    about: str
    values: Mapping[int, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A past case that resembles what is searched for.

    `copies` are keys of copies of it, `words` the words that it shares, as they are kept.
    """

    case: PastCase
    score: float
    standing: str
    reasons: tuple[Reason, ...]
    fault: OldFault
    copies: tuple[str, ...] = ()
    words: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultGroup:
    """The hits that claim one fault.

    `count` is how many cases claim it, copies not counted; `key` names the fault among those of
    all circuits and is empty where none is claimed. `probability` is how likely the fault is by
    past cases and by the circuit, None where it cannot be compared or nothing was read.
    """

    fault: OldFault
    hits: tuple[Hit, ...]
    count: int
    key: str = ""
    probability: float | None = None

    @property
    def score(self) -> float:
        return self.hits[0].score

    @property
    def is_excluded(self) -> bool:
        return self.fault.transfer is Transfer.EXCLUDED


@dataclass(frozen=True, slots=True, kw_only=True)
class PartingPlace:
    """A reading that tells two faults apart, with what each would show there."""

    first: str
    second: str
    place: str
    phase: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictedFault:
    """A fault that the circuit itself makes likely; `cases` had it, unproven ones in part."""

    suspect: str
    words: str
    probability: float
    cases: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FacetValue:
    """One value that the cases found have, and how many of them."""

    value: str
    words: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Facets:
    """What the cases found may be narrowed to."""

    standings: tuple[FacetValue, ...] = ()
    shops: tuple[FacetValue, ...] = ()
    vehicles: tuple[FacetValue, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchResult:
    """All that a search found. `spelled` shows which words were read as which.

    `predicted` is what the circuit says by itself: prediction, not experience. `outside` is the
    probability that it is none of the faults compared; `unseen` that it is one of the circuit's
    that no case in sight had. Both are None where nothing was read. Where `verdict_is_due` it is
    not known yet which faults the readings exclude: nothing is predicted, and `unseen` is None.
    """

    groups: tuple[FaultGroup, ...]
    spelled: dict[str, tuple[str, ...]]
    compared: int
    partings: tuple[PartingPlace, ...] = ()
    not_parted: tuple[str, ...] = ()
    predicted: tuple[PredictedFault, ...] = ()
    outside: float | None = None
    unseen: float | None = None
    facets: Facets = Facets()
    verdict_is_due: bool = False

    @property
    def hits(self) -> tuple[Hit, ...]:
        """All hits, best first; those whose fault the new readings exclude come last."""
        found = [(group.is_excluded, hit) for group in self.groups for hit in group.hits]
        found.sort(key=lambda entry: (entry[0], -entry[1].score, entry[1].case.pk))
        return tuple(hit for _, hit in found)

    @property
    def nothing_similar(self) -> bool:
        """Whether no case was found, or the new readings exclude the fault of each."""
        return all(group.is_excluded for group in self.groups)

    @property
    def likely_unseen(self) -> bool:
        """Whether it is likelier than not a fault that no case in sight had.

        Of readings that the car in order gives as well nothing of the kind can be said.
        """
        undecided = any(group.fault.transfer is Transfer.CANNOT_SAY for group in self.groups)
        return self.unseen is not None and self.unseen > LIKELIER_THAN_NOT and not undecided
