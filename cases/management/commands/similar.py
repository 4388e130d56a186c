"""`manage.py similar`: the past cases that resemble a case file, with reasons."""

from argparse import ArgumentParser
from collections.abc import Iterable, Iterator
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from cases.errors import BadFact
from cases.management.case_command import CaseCommand
from cases.search.query import query_for_readings
from cases.search.results import FaultGroup, Hit, SearchResult
from cases.search.scope import Scope, scope_of, shared_scope
from cases.search.similar import DEFAULT_LIMIT, find_similar, parted
from cases.services.files import CaseFile
from circuits.management.answering import DONE

SCHEMA = "copperlog-similar/1"


class Command(CaseCommand):
    help = (
        "Find the past cases that resemble a case file. Without --as, only cases that are shared "
        "with all shops are looked at. Exit status: 0 done, 2 bad input, 70 a mistake of ours."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--as", dest="username", help="see what this person may see")
        parser.add_argument("--limit", type=int, default=DEFAULT_LIMIT, help="how many cases")

    def answer(
        self, case: CaseFile, options: dict[str, Any]
    ) -> tuple[int, dict[str, Any], Iterable[str]]:
        if options["limit"] < 1:
            raise BadFact("--limit", "ask for one case or more.")
        document = case.document
        query = query_for_readings(
            circuit=case.circuit,
            lines=case.lines,
            codes=[code.code for code in document.codes],
            words=f"{document.complaint} {document.conditions}",
        )
        scope = _scope_for(options["username"])
        found = find_similar(query, scope, at=timezone.now(), limit=options["limit"])
        result = parted(query, found)
        return DONE, _data(result), _lines(result)


def _scope_for(username: str | None) -> Scope:
    if username is None:
        return shared_scope()
    user = User.objects.filter(username=username).first()
    if user is None:
        raise BadFact("--as", f"there is no person called '{username}'.")
    return scope_of(user)


def _data(result: SearchResult) -> dict[str, Any]:
    return {
        "schema": SCHEMA,
        "nothing_similar": result.nothing_similar,
        "compared": result.compared,
        "outside": result.outside,
        "predicted": [
            {
                "suspect": fault.suspect,
                "words": fault.words,
                "probability": fault.probability,
                "cases": fault.cases,
            }
            for fault in result.predicted
        ],
        "groups": [_group_data(group) for group in result.groups],
        "partings": [
            {
                "first": parting.first,
                "second": parting.second,
                "place": parting.place,
                "phase": parting.phase,
                "words": parting.words,
            }
            for parting in result.partings
        ],
        "not_parted": list(result.not_parted),
        "spelled": {word: list(others) for word, others in result.spelled.items()},
    }


def _group_data(group: FaultGroup) -> dict[str, Any]:
    return {
        "suspect": group.fault.suspect,
        "words": group.fault.words,
        "here": group.fault.transfer.value,
        "because": group.fault.because,
        "count": group.count,
        "probability": group.probability,
        "cases": [_hit_data(hit) for hit in group.hits],
    }


def _hit_data(hit: Hit) -> dict[str, Any]:
    return {
        "case": hit.case.key,
        "score": hit.score,
        "standing": hit.standing,
        "copies": list(hit.copies),
        "reasons": [
            {
                "term": reason.term.value,
                "speaks": reason.speaks.value,
                "points": reason.points,
                "words": reason.words,
            }
            for reason in hit.reasons
        ],
    }


def _lines(result: SearchResult) -> Iterator[str]:
    if result.nothing_similar:
        yield f"Nothing similar among {result.compared} cases."
    if result.predicted:
        yield "What these readings make likely"
        for likely in result.predicted:
            behind = "seen in past cases" if likely.cases else "prediction, not experience"
            yield f"  {likely.words}: about {likely.probability:.0%}, {behind}"
    for word, others in result.spelled.items():
        yield f"'{word}' was read as {', '.join(others)}."
    for group in result.groups:
        more = f", {group.count} cases" if group.count > 1 else ""
        yield f"{group.fault.words or 'no fault claimed'}: {group.fault.transfer}{more}"
        if group.fault.because:
            yield f"  {group.fault.because}"
        for hit in group.hits:
            about = f"{hit.standing}, {hit.case.about}"
            yield f"  {hit.case.key} ({about}): {hit.score:.2f}"
            yield from (
                f"    {reason.points:+.2f} {reason.speaks}: {reason.words}"
                for reason in hit.reasons
            )
    if result.partings or result.not_parted:
        yield "What parts them"
        yield from (f"  {parting.words}" for parting in result.partings)
        yield from (f"  {words}" for words in result.not_parted)
    yield "A past case is a suspect, not a diagnosis."
