"""What a search shows: hits grouped by fault, in the words their reader may see."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User

from cases.search.results import (
    OldFault,
    PartingPlace,
    Reason,
    SearchResult,
    Speaks,
    Term,
    Transfer,
)
from cases.services.sharing import CaseSummary, claim_words, summaries

TRANSFER_MARKS = {
    Transfer.FITS: "fits",
    Transfer.EXCLUDED: "does-not-fit",
    Transfer.CANNOT_SAY: "cannot-say",
    Transfer.NOT_COMPARED: "note",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReasonLine:
    """One or several terms of a score on one line; the points of all lines add up to it."""

    speaks: Speaks
    words: str
    points: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HitRow:
    """One past case with its reasons."""

    summary: CaseSummary
    score: float
    reasons: tuple[ReasonLine, ...]
    copies: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HitGroup:
    """The hits that claim one fault."""

    fault: OldFault
    words: str
    mark: str
    count: int
    rows: tuple[HitRow, ...]

    @property
    def unseen(self) -> int:
        """How many more cases claim this fault than are listed."""
        return self.count - len(self.rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultSheet:
    """A search's result as a page shows it."""

    groups: tuple[HitGroup, ...]
    partings: tuple[PartingPlace, ...]
    not_parted: tuple[str, ...]
    spelled: tuple[tuple[str, str], ...]
    compared: int


def reason_lines(reasons: Iterable[Reason]) -> Iterator[ReasonLine]:
    """Yield reasons as lines: readings, codes and standing each on its own, words together.

    What was not measured comes last and together: it counts for nothing, but it is worth knowing.
    """
    listed = list(reasons)
    words = [reason for reason in listed if reason.term == Term.WORD]
    silent = [reason for reason in listed if reason.speaks == Speaks.SILENT]
    for reason in listed:
        if reason not in words and reason not in silent:
            yield ReasonLine(speaks=reason.speaks, words=reason.words, points=reason.points)
    for together, what in ((words, "Words in common: "), (silent, "")):
        if together:
            yield ReasonLine(
                speaks=together[0].speaks,
                words=what + "; ".join(reason.words for reason in together),
                points=sum(reason.points for reason in together),
            )


def result_sheet(result: SearchResult, user: User, *, at: datetime) -> ResultSheet:
    """Return a result in the words this person may see, in a fixed number of queries."""
    lines = summaries([hit.case for hit in result.hits], user, at=at)
    by_case = {line.case.pk: line for line in lines}
    return ResultSheet(
        groups=tuple(
            HitGroup(
                fault=group.fault,
                words=claim_words(group.hits[0].case),
                mark=TRANSFER_MARKS[group.fault.transfer],
                count=group.count,
                rows=tuple(
                    HitRow(
                        summary=by_case[hit.case.pk],
                        score=hit.score,
                        reasons=tuple(reason_lines(hit.reasons)),
                        copies=hit.copies,
                    )
                    for hit in group.hits
                ),
            )
            for group in result.groups
        ),
        partings=result.partings,
        not_parted=result.not_parted,
        spelled=tuple((word, ", ".join(read)) for word, read in result.spelled.items()),
        compared=result.compared,
    )
