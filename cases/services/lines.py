"""Take in lines of a log that were written elsewhere: all of them, or none and every reason."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from django.contrib.auth.models import User

from cases.circuit import circuit_of
from cases.documents.readings import ReadingDocument
from cases.errors import BadFact, BadRows, CaseError, CircuitNotKnown, RowProblem
from cases.models import Case, LoggedReading
from cases.services.reading_photos import photos_to_keep
from cases.services.readings import reading_values


@dataclass(frozen=True, slots=True)
class WrittenLine:
    """A line with where it stands: in which line of a file, or under which path of a document.

    `counted_as` is its number in the case where the reading's own is not: one reading may stand
    for all the lines that say the same.
    """

    reading: ReadingDocument
    line: int = 0
    column: str = ""
    counted_as: int = 0

    @property
    def number(self) -> int:
        return self.counted_as or self.reading.number


@dataclass(frozen=True, slots=True, eq=False)
class TakenLine:
    """A line that can be kept: all fields of its row but the case and what it corrects."""

    reading: ReadingDocument
    values: Mapping[str, Any]
    corrects: "TakenLine | None"


def keep_lines(
    case: Case,
    written: Sequence[WrittenLine],
    *,
    by: User,
    at: datetime,
    borrowed: bool = False,
) -> list[LoggedReading]:
    """Save lines with their own people and moments, where these are told and known, and photos.

    Raises
    ------
    BadRows
        Every line that cannot be taken; then none is, once the transaction around it ends.
    """
    people = members_by_name(case.shop_id)
    taken = taken_lines(case, written, people=people, by=by, at=at, borrowed=borrowed)
    rows: dict[TakenLine, LoggedReading] = {}
    problems = []
    for line, entry in zip(taken, written, strict=True):
        corrects = rows[line.corrects] if line.corrects is not None else None
        rows[line] = row = LoggedReading(case=case, corrects=corrects, **line.values)
        row.save()
        try:
            photos = photos_to_keep(row, entry.reading.photos, by=by, at=at)
        except BadFact as error:
            problems.append(RowProblem(entry.line, entry.column, str(error)))
            continue
        for photo in photos:
            photo.save()
    if problems:
        raise BadRows(problems)
    return list(rows.values())


def taken_lines(
    case: Case,
    written: Sequence[WrittenLine],
    *,
    people: Mapping[str, User],
    by: User,
    at: datetime,
    borrowed: bool,
    values_of: Callable[[ReadingDocument], Mapping[str, Any]] | None = None,
) -> list[TakenLine]:
    """Return lines as they can be kept; raises as `keep_lines` does.

    `values_of` is for who has worked out before what a row keeps of a reading itself.
    """
    if case.revision is None:
        raise CircuitNotKnown("log readings, because a reading needs a place with two leads")
    values_of = values_of or partial(reading_values, circuit_of(case.revision))
    taken: dict[int, TakenLine] = {}
    problems = []
    for entry in written:
        reading = entry.reading
        try:
            values = {
                **values_of(reading),
                "by_id": people.get(reading.by, by).pk,
                "at": told_moment(reading.at, at),
                "borrowed": borrowed,
            }
            corrects = _corrected(entry, taken)
            if corrects is not None:
                values["correction_reason"] = reading.correction_reason
            taken[entry.number] = TakenLine(reading, values, corrects)
        except CaseError as error:
            problems.append(RowProblem(entry.line, entry.column, str(error)))
    if problems:
        raise BadRows(problems)
    return list(taken.values())


def members_by_name(shop_pk: int) -> dict[str, User]:
    """Return the people of a shop. Asks the database."""
    return {user.username: user for user in User.objects.filter(memberships__shop=shop_pk)}


def told_moment(moment: datetime | None, at: datetime) -> datetime:
    """Return when it was as far as that is told; a time without a zone is in that of `at`."""
    if moment is None:
        return at
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=at.tzinfo)


def _corrected(entry: WrittenLine, taken: Mapping[int, TakenLine]) -> TakenLine | None:
    """Return the line that one corrects, if it corrects any."""
    reading = entry.reading
    if entry.number in taken:
        raise BadFact("number", f"two lines have the number {entry.number}.")
    if reading.corrects is None:
        return None
    corrected = taken.get(reading.corrects)
    if corrected is None:
        raise BadFact("corrects", f"line {reading.corrects} does not stand above this one.")
    if any(other.corrects is corrected for other in taken.values()):
        raise BadFact("corrects", f"line {reading.corrects} is corrected twice.")
    if not reading.correction_reason:
        raise BadFact("correction_reason", "a correction needs its reason.")
    return corrected
