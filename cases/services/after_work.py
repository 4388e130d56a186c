"""Tick off the work after a repair, and add to it by hand."""

import re
from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from pydantic import ValidationError

from cases.after_work import after_lines, undone_by
from cases.documents.cases import AfterKind, AfterLine
from cases.errors import BadFact
from cases.models import Case, LoggedReading
from cases.services.record import current_readings, line_of, locked_for, settle_story

MOST_LINES = 100
_OWN = re.compile(r"own [0-9]{1,6}")


@transaction.atomic
def add_after_work(*, case: Case, kind: str, words: str, by: User, at: datetime) -> Case:
    """Add a line by hand, such as a wire that was pierced or a module to be taught.

    Raises
    ------
    BadFact
        The kind is unknown, the words are missing or too long, or there are too many lines.
    """
    case = locked_for(case, by, "add to the work after the repair")
    if kind not in list(AfterKind):
        raise BadFact("kind", f"'{kind}' is none of {', '.join(AfterKind)}.")
    if len(case.after_work) >= MOST_LINES:
        raise BadFact("words", f"there are {MOST_LINES} lines already.")
    numbers = [int(line["key"][4:]) for line in case.after_work if _OWN.fullmatch(line["key"])]
    number = max(numbers, default=0) + 1
    try:
        line = AfterLine(key=f"own {number}", kind=AfterKind(kind), words=words)
    except ValidationError:
        raise BadFact("words", "say in one line of at most 200 characters what is to do.") from None
    return _keep(case, [*case.after_work, line.as_data()], at=at)


@transaction.atomic
def tick_after_work(*, case: Case, key: str, done: bool, by: User, at: datetime) -> Case:
    """Tick a line off, or take the tick back; the standing follows.

    Raises
    ------
    BadFact
        There is no such line.
    """
    case = locked_for(case, by, "tick off the work after the repair")
    lines = {
        line.key: line for line in after_lines(case, list(map(line_of, current_readings(case))))
    }
    if key not in lines:
        raise BadFact("key", f"there is no line '{key}' in the work after this repair.")
    update = {"done_by": by.username, "done_at": at} if done else {"done_by": "", "done_at": None}
    ticked = lines[key].model_copy(update=update).as_data()
    others = [line for line in case.after_work if line["key"] != key]
    return _keep(case, [*others, ticked], at=at)


def reopen_undone(case: Case, readings: Sequence[LoggedReading]) -> None:
    """Take back the ticks of what these new readings took apart once more; the caller settles."""
    again = {line.key for line in undone_by(map(line_of, readings))}
    kept = [line for line in case.after_work if line["key"] not in again]
    if len(kept) != len(case.after_work):
        case.after_work = kept
        case.save(update_fields=["after_work"])


def _keep(case: Case, lines: list[dict[str, object]], *, at: datetime) -> Case:
    case.after_work = lines
    case.save(update_fields=["after_work"])
    settle_story(case, at=at)
    return case
