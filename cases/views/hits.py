"""What a search shows: hits grouped by fault, in the words their reader may see."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.http import QueryDict
from django.utils.text import Truncator

from cases.models import Case, Shop
from cases.search.evidence import speech_of
from cases.search.results import (
    Facets,
    FacetValue,
    Hit,
    OldFault,
    PartingPlace,
    PredictedFault,
    Reason,
    SearchResult,
    Speaks,
    Term,
    Transfer,
)
from cases.search.speech import Speech, speech_in
from cases.search.words import marked
from cases.services.sharing import CaseSummary, claim_words, summaries

LONGEST_COMPLAINT = 100
# Nobody can promise more, or less, from a handful of cases.
LEAST_CHANCE, MOST_CHANCE = 0.01, 0.99
TRANSFER_MARKS = {
    Transfer.FITS: "fits",
    Transfer.EXCLUDED: "does-not-fit",
    Transfer.CANNOT_SAY: "cannot-say",
    Transfer.NOT_COMPARED: "note",
    Transfer.DUE: "note",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReasonLine:
    """One or several terms of a score on one line; the points of all lines add up to it."""

    speaks: Speaks
    words: str
    points: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HitRow:
    """One past case with its reasons; the complaint in pieces, the words it shares marked."""

    summary: CaseSummary
    complaint: tuple[tuple[str, bool], ...]
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
    likely: str
    #: The address of a search for more of this fault; empty where there is none to give.
    more: str = ""

    @property
    def unseen(self) -> int:
        """How many more cases claim this fault than are listed."""
        return self.count - len(self.rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class FacetLine:
    """One thing that a result can be narrowed by: its values with their addresses."""

    name: str
    values: tuple[tuple[FacetValue, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultSheet:
    """A search's result as a page shows it."""

    groups: tuple[HitGroup, ...]
    partings: tuple[PartingPlace, ...]
    not_parted: tuple[str, ...]
    spelled: tuple[tuple[str, str], ...]
    compared: int
    nothing_similar: bool
    predicted: tuple[tuple[PredictedFault, str], ...]
    outside: str
    #: How likely it is a fault that no case in sight had; empty where that is not likely.
    unseen: str = ""
    facets: tuple[FacetLine, ...] = ()
    verdict_is_due: bool = False


def reason_lines(reasons: Iterable[Reason]) -> Iterator[ReasonLine]:
    """Yield reasons as lines: readings, codes, standing and the fault on their own, words together.

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


def result_sheet(
    result: SearchResult, user: User, *, at: datetime, asked: QueryDict | None = None
) -> ResultSheet:
    """Return a result in the words this person may see, in a fixed number of queries.

    `asked` is what stands in the address of the search; it makes the addresses of narrower ones.
    """
    found = Case.objects.visible_to(user).filter(pk__in=[hit.case.pk for hit in result.hits])
    by_case = {line.case.pk: line for line in summaries(found.with_facts(), user, at=at)}
    speech = speech_of(list(Shop.objects.visible_to(user).values_list("pk", flat=True)))
    return ResultSheet(
        groups=tuple(
            HitGroup(
                fault=group.fault,
                words=claim_words(by_case[group.hits[0].case.pk].case),
                mark=TRANSFER_MARKS[group.fault.transfer],
                count=group.count,
                rows=tuple(
                    HitRow(
                        summary=by_case[hit.case.pk],
                        complaint=_complaint(by_case[hit.case.pk], hit, speech),
                        score=hit.score,
                        reasons=tuple(reason_lines(hit.reasons)),
                        copies=hit.copies,
                    )
                    for hit in group.hits
                ),
                likely=chance_words(group.probability),
                more=changed(asked, fault=group.key) if asked is not None and group.key else "",
            )
            for group in result.groups
        ),
        partings=result.partings,
        not_parted=result.not_parted,
        spelled=tuple((word, ", ".join(read)) for word, read in result.spelled.items()),
        compared=result.compared,
        nothing_similar=result.nothing_similar,
        predicted=tuple((each, chance_words(each.probability)) for each in result.predicted),
        outside=chance_words(result.outside),
        unseen=chance_words(result.unseen) if result.likely_unseen else "",
        facets=tuple(_facet_lines(result.facets, asked)) if asked is not None else (),
        verdict_is_due=result.verdict_is_due,
    )


def _complaint(summary: CaseSummary, hit: Hit, own: Speech) -> tuple[tuple[str, bool], ...]:
    """Return a complaint in pieces; of another shop's people only their languages are known."""
    words = Truncator(summary.complaint).chars(LONGEST_COMPLAINT)
    speech = own if summary.is_own else speech_in(summary.case.shop.languages)
    return tuple(marked(words, hit.words, speech=speech))


def _facet_lines(facets: Facets, asked: QueryDict) -> Iterator[FacetLine]:
    """Yield what the result can still be narrowed by: what all cases share narrows nothing."""
    for name, values in (
        ("standing", facets.standings),
        ("shop", facets.shops),
        ("vehicle", facets.vehicles),
    ):
        if len(values) > 1:
            addresses = (changed(asked, **{name: value.value}) for value in values)
            yield FacetLine(name=name, values=tuple(zip(values, addresses, strict=True)))


def changed(asked: QueryDict, **fields: str) -> str:
    """Return the query of a search with some fields changed."""
    query = asked.copy()
    for name, value in fields.items():
        query[name] = value
    return query.urlencode()


def chance_words(probability: float | None) -> str:
    """Return a probability as people say it, never surer than it is; empty where none is known."""
    if probability is None:
        return ""
    if probability < LEAST_CHANCE:
        return f"under {LEAST_CHANCE:.0%}"
    return f"about {min(probability, MOST_CHANCE):.0%}"
