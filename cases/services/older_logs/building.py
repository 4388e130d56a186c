"""A case of an older log as rows that are not written yet, by the rules of the other services."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.contrib.auth.models import User

from cases.documents.cases import CaseDocument
from cases.errors import BadFact, BadRows, CaseError, RowProblem
from cases.models import Case, Shop, Vehicle
from cases.services.cases import check_facts, fact_values, vehicle_values
from cases.services.exchange import facts_of, is_borrowed, set_end, source_of
from cases.services.lines import TakenLine, members_by_name, taken_lines, told_moment
from cases.services.older_logs.log_file import ToldCase
from cases.services.older_logs.naming import Circuits
from cases.services.older_logs.understanding import Understanding
from circuits.models import Revision

#: Clocks differ; more than this ahead is a slip of the pen.
AHEAD = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltCase:
    """A case with its vehicle and readings, none of it saved; a case without circuit has none."""

    told: ToldCase
    case: Case
    readings: Sequence[TakenLine]
    understanding: Understanding | None


class Builder:
    """Builds the cases that one person brings into one shop."""

    def __init__(self, shop: Shop, by: User, at: datetime) -> None:
        self.shop, self.by, self.at = shop, by, at
        self.people: Mapping[str, User] = members_by_name(shop.pk)
        self._circuits = Circuits()
        self._understandings: dict[int, Understanding] = {}

    def build(self, told: ToldCase) -> BuiltCase:
        """Return a case by what is told of it.

        Raises
        ------
        BadRows
            Everything that the rules refuse, by line and column.
        """
        document = told.document
        problems: list[RowProblem] = []
        revision: Revision | None = None
        with _noting(problems, told.line, "circuit"):
            revision = self._circuits.revision(document.circuit)
        if document.circuit is not None and revision is None:
            raise BadRows(problems)
        source = None
        with _noting(problems, told.line, "origin"):
            source = self._source(document)
        borrowed = is_borrowed(document, source, self.shop)
        case = self._case(document, revision, source)
        with _noting(problems, told.line, "complaint_phase"):
            check_facts(facts_of(document), revision)
        with _noting(problems, told.line, "opened_at"):
            self._check_opened(case)
        with _noting(problems, told.line, "claim"):
            set_end(case, document, people=self.people, by=self.by, at=self.at, borrowed=borrowed)
        readings: Sequence[TakenLine] = ()
        understanding = self._understanding(revision)
        with _noting(problems, told.line, "place"):
            if told.written:
                readings = taken_lines(
                    case,
                    told.written,
                    people=self.people,
                    by=self.by,
                    at=case.opened_at,
                    borrowed=borrowed,
                    values_of=understanding.values_of if understanding is not None else None,
                )
        if problems:
            raise BadRows(problems)
        return BuiltCase(told=told, case=case, readings=readings, understanding=understanding)

    def _understanding(self, revision: Revision | None) -> Understanding | None:
        if revision is None:
            return None
        if revision.pk not in self._understandings:
            self._understandings[revision.pk] = Understanding(revision)
        return self._understandings[revision.pk]

    def _case(self, document: CaseDocument, revision: Revision | None, source: Case | None) -> Case:
        return Case(
            shop=self.shop,
            vehicle=Vehicle(shop=self.shop, **vehicle_values(document.vehicle)),
            revision=revision,
            author=self.people.get(document.author, self.by),
            opened_at=told_moment(document.opened_at, self.at),
            copied_from=source,
            **fact_values(facts_of(document), revision),
        )

    def _source(self, document: CaseDocument) -> Case | None:
        """Return the case that another shop's was copied from; one of ours is here already."""
        source = source_of(document, self.by)
        if source is not None and source.shop_id == self.shop.pk:
            raise BadFact("origin", f"this is case {source.key} of your shop, which is here.")
        return source

    def _check_opened(self, case: Case) -> None:
        if case.opened_at > self.at + AHEAD:
            raise BadFact("opened_at", "lies in the future. Look at the year.")


@contextmanager
def _noting(problems: list[RowProblem], line: int, column: str) -> Iterator[None]:
    """Note what is refused, at the column it names or else at this one."""
    try:
        yield
    except BadRows as error:
        problems.extend(replace(each, line=each.line or line) for each in error.problems)
    except BadFact as error:
        problems.append(RowProblem(line, error.field, error.problem))
    except CaseError as error:
        problems.append(RowProblem(line, column, str(error)))
