"""Take in lines of a log that were written elsewhere: all of them, or none and every reason."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User

from cases.circuit import circuit_of
from cases.documents.readings import ReadingDocument
from cases.errors import BadFact, BadRows, CaseError, CircuitNotKnown, RowProblem
from cases.models import Case, LoggedReading
from cases.services.reading_photos import photos_to_keep
from cases.services.readings import reading_row


@dataclass(frozen=True, slots=True)
class WrittenLine:
    """A line with where it stands: in which line of a file, or under which path of a document."""

    reading: ReadingDocument
    line: int = 0
    column: str = ""


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
    rows = rows_of(case, written, people=people, by=by, at=at, borrowed=borrowed)
    problems = []
    for row, entry in zip(rows, written, strict=True):
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
    return rows


def rows_of(
    case: Case,
    written: Sequence[WrittenLine],
    *,
    people: Mapping[str, User],
    by: User,
    at: datetime,
    borrowed: bool,
) -> list[LoggedReading]:
    """Return lines as rows that are not saved yet; raises as `keep_lines` does."""
    if case.revision is None:
        raise CircuitNotKnown("log readings, because a reading needs a place with two leads")
    circuit = circuit_of(case.revision)
    rows: dict[int, LoggedReading] = {}
    problems = []
    for entry in written:
        reading = entry.reading
        try:
            row = reading_row(
                case,
                circuit,
                reading,
                by=people.get(reading.by, by),
                at=told_moment(reading.at, at),
            )
            row.borrowed = borrowed
            _link_correction(row, reading, rows)
            rows[reading.number] = row
        except CaseError as error:
            problems.append(RowProblem(entry.line, entry.column, str(error)))
    if problems:
        raise BadRows(problems)
    return list(rows.values())


def members_by_name(shop_pk: int) -> dict[str, User]:
    """Return the people of a shop. Asks the database."""
    return {user.username: user for user in User.objects.filter(memberships__shop=shop_pk)}


def told_moment(moment: datetime | None, at: datetime) -> datetime:
    """Return when it was as far as that is told; a time without a zone is in that of `at`."""
    if moment is None:
        return at
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=at.tzinfo)


def _link_correction(
    row: LoggedReading, reading: ReadingDocument, rows: Mapping[int, LoggedReading]
) -> None:
    if reading.number in rows:
        raise BadFact("number", f"two lines have the number {reading.number}.")
    if reading.corrects is None:
        return
    corrected = rows.get(reading.corrects)
    if corrected is None:
        raise BadFact("corrects", f"line {reading.corrects} does not stand above this one.")
    if any(other.corrects is corrected for other in rows.values()):
        raise BadFact("corrects", f"line {reading.corrects} is corrected twice.")
    if not reading.correction_reason:
        raise BadFact("correction_reason", "a correction needs its reason.")
    row.corrects = corrected
    row.correction_reason = reading.correction_reason
