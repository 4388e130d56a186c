"""A case as one document, out and in without loss."""

import json
from base64 import b64encode
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from pydantic import ValidationError

from cases.circuit import circuit_of
from cases.documents.cases import CaseDocument, CaseFacts, CircuitReference, Claim, Origin, Repair
from cases.documents.readings import ReadingDocument
from cases.errors import BadFact, BadRows, CircuitNotKnown, RowProblem
from cases.judging.verdict import check_claim
from cases.models import Case, ReadingPhoto, Shop
from cases.services.cases import log_case
from cases.services.lines import WrittenLine, keep_lines, members_by_name, told_moment
from cases.services.record import settle_record
from cases.services.sharing import CaseView, ReadingView, shared_view
from cases.services.shops import require_member
from circuits.models import Circuit, Revision
from circuits.services import export_text, publish_revision, revision_saying
from circuits.sheet import SheetErrors, read_any

LARGEST_CHARACTERS = 30_000_000
_REPAIR_FIELDS = tuple(Repair.model_fields)
_FACT_FIELDS = tuple(CaseFacts.model_fields)


# ------------------------------------------------------------------------------------- out


def export_case(case: Case, *, by: User, at: datetime, is_whole: bool = True) -> CaseDocument:
    """Return a case as this person may see it, whole with its circuit's text and its photos.

    Photos stay in the shop of the case. The case must come from `Case.objects.visible_to(by)`.
    """
    return document_of(shared_view(case, by, at=at), is_whole=is_whole)


def document_of(view: CaseView, *, is_whole: bool = True) -> CaseDocument:
    """Return the document of a case as it is seen."""
    pictures = _pictures(view) if is_whole else {}
    values = {field: getattr(view, field) for field in _FACT_FIELDS}
    claim = None
    if view.claim:
        claim = Claim(
            suspect=view.claim,
            severity=view.claimed_severity,
            by=view.claimed_by,
            at=view.claimed_at,
        )
    return CaseDocument(
        **values,
        origin=Origin(shop=view.case.shop.slug, number=view.case.number),
        circuit=_circuit_reference(view.case.revision, with_text=is_whole),
        readings=tuple(
            reading_document(reading, [pictures[pk] for pk in reading.photos if pk in pictures])
            for reading in view.readings
        ),
        claim=claim,
        repair=Repair(**{field: getattr(view, field) for field in _REPAIR_FIELDS}),
        after_work=view.after_work,
        author=view.author,
        opened_at=view.opened_at,
        repaired_at=view.repaired_at,
        closed_at=view.closed_at,
    )


def _pictures(view: CaseView) -> dict[int, bytes]:
    """Return the pictures of the photos that are seen, by photo."""
    wanted = [pk for reading in view.readings for pk in reading.photos]
    if not wanted:
        return {}
    found = ReadingPhoto.objects.filter(pk__in=wanted).values_list("pk", "jpeg")
    return {pk: bytes(jpeg) for pk, jpeg in found}


def reading_document(reading: ReadingView, pictures: Sequence[bytes] = ()) -> ReadingDocument:
    """Return one logged line as it travels, with these of its photos."""
    return ReadingDocument(
        number=reading.number,
        place=reading.place,
        phase=reading.phase,
        text=reading.text,
        unit=reading.unit,
        rig=reading.rig,
        statistic=reading.statistic,
        symptom_present=reading.symptom_present,
        stage=reading.stage,
        supply_volts=reading.supply_volts,
        celsius=reading.celsius,
        instrument=reading.instrument,
        note=reading.note,
        by=reading.by,
        at=reading.at,
        corrects=reading.corrects,
        correction_reason=reading.correction_reason,
        photos=tuple(map(b64encode, pictures)),
    )


def _circuit_reference(revision: Revision | None, *, with_text: bool) -> CircuitReference | None:
    if revision is None:
        return None
    return CircuitReference(
        circuit=revision.circuit.key,
        revision=revision.number,
        digest=revision.digest,
        text=export_text(revision) if with_text else "",
    )


# -------------------------------------------------------------------------------------- in


def read_case_document(content: str | bytes | Mapping[str, Any]) -> CaseDocument:
    """Return the document in a file or in data already read.

    Raises
    ------
    BadRows
        All that is wrong with it, each with where it is and how to mend it.
    """
    data = content if isinstance(content, Mapping) else _read_json(content)
    try:
        return CaseDocument.model_validate(data)
    except ValidationError as error:
        raise BadRows([document_problem(details) for details in error.errors()]) from None


@transaction.atomic
def import_case(*, document: CaseDocument, shop: Shop, by: User, at: datetime) -> Case:
    """Take a case into a shop.

    A case that is on this server already, or that another shop logged, comes in as a copy: its
    story and readings are kept, but they prove nothing about a vehicle of this shop.

    Raises
    ------
    BadRows
        Every line that cannot be taken; then nothing is.
    """
    require_member(shop, by)
    revision = _revision_for(document, by=by, at=at)
    source = source_of(document, by)
    case = log_case(
        shop=shop,
        facts=facts_of(document),
        revision=revision,
        copied_from=source,
        by=by,
        at=told_moment(document.opened_at, at),
    )
    borrowed = is_borrowed(document, source, shop)
    if document.readings:
        written = [
            WrittenLine(reading, column=f"readings {place}")
            for place, reading in enumerate(document.readings, start=1)
        ]
        keep_lines(case, written, by=by, at=at, borrowed=borrowed)
    people = members_by_name(shop.pk)
    set_end(case, document, people=people, by=by, at=at, borrowed=borrowed)
    case.save()
    settle_record(case, at=at)
    return case


def facts_of(document: CaseDocument) -> CaseFacts:
    """Return what a document tells of the job itself."""
    return CaseFacts(**{field: getattr(document, field) for field in _FACT_FIELDS})


def is_borrowed(document: CaseDocument, source: Case | None, shop: Shop) -> bool:
    """Return whether readings of a document were taken elsewhere than in this shop."""
    return source is not None or document.origin.shop not in ("", shop.slug)


def set_end(
    case: Case,
    document: CaseDocument,
    *,
    people: Mapping[str, User],
    by: User,
    at: datetime,
    borrowed: bool,
) -> None:
    """Set claim and repair as they stand in the document, with their own moments; saves nothing."""
    claim = document.claim
    if claim is not None:
        if case.revision is None:
            raise CircuitNotKnown("claim a fault")
        check_claim(circuit_of(case.revision), claim.suspect)
        case.claimed_suspect = claim.suspect
        case.claimed_severity = claim.severity
        case.claimed_by = people.get(claim.by, by)
        case.claimed_at = told_moment(claim.at, at)
    for field in _REPAIR_FIELDS:
        setattr(case, field, getattr(document.repair, field))
    if not borrowed:
        case.after_work = [line.as_data() for line in document.after_work]
    case.repaired_at = document.repaired_at
    case.closed_at = document.closed_at
    if case.closed_at is not None and case.closed_at < case.opened_at:
        raise BadFact("closed_at", "a case cannot be closed before it is opened.")


def source_of(document: CaseDocument, by: User) -> Case | None:
    """Return the case on this server that the document came from, if this person may see it."""
    origin = document.origin
    if not origin.shop or origin.number is None:
        return None
    return Case.objects.visible_to(by).filter(shop__slug=origin.shop, number=origin.number).first()


def _revision_for(document: CaseDocument, *, by: User, at: datetime) -> Revision | None:
    """Return the stored circuit of a document; one that is not here yet is published.

    Where the document carries the circuit's text, its content decides, not what it is called.
    """
    reference = document.circuit
    if reference is None:
        return None
    if reference.text:
        return _stored_or_published(reference.text, by=by, at=at)
    revisions = Revision.objects.select_related("circuit")
    found = (
        revisions.filter(digest=reference.digest).first()
        if reference.digest
        else revisions.filter(
            circuit__key=reference.circuit, number=reference.revision or 0
        ).first()
    )
    if found is None:
        problem = f"there is no circuit '{reference.circuit}' revision {reference.revision} here."
        mend = "Publish it first, or export the case with its circuit."
        raise BadRows([RowProblem(0, "circuit", problem, mend)])
    return found


def _stored_or_published(text: str, *, by: User, at: datetime) -> Revision:
    try:
        sheet = read_any(text)
    except SheetErrors as error:
        raise BadRows(circuit_problems(error)) from None
    stored = revision_saying(sheet)
    if stored is not None:
        return stored
    key = sheet.vehicle.key
    if Circuit.objects.filter(key=key).exists():
        problem = f"the circuit '{key}' stored here says something else than the one in the file."
        mend = "Publish the file's circuit as a revision first, then take the case in."
        raise BadRows([RowProblem(0, "circuit", problem, mend)])
    return publish_revision(sheet=sheet, note="came with a case", by=by, at=at)


def circuit_problems(errors: SheetErrors) -> list[RowProblem]:
    """Return what is wrong with the circuit of a case, with the lines of its text."""
    return [
        RowProblem(flaw.line, f"circuit, {flaw.subject}", flaw.problem, flaw.mend)
        for flaw in errors.flaws
    ]


def _read_json(content: str | bytes) -> Any:
    if len(content) > LARGEST_CHARACTERS:
        problem = f"the file has more than {LARGEST_CHARACTERS:,} characters."
        raise BadRows([RowProblem(0, "", problem, "A case is smaller; is it the right file?")])
    try:
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content
        return json.loads(text.removeprefix("\ufeff"))
    except UnicodeDecodeError:
        problem = "the file is no text in UTF-8."
        raise BadRows([RowProblem(0, "", problem, "Save it as UTF-8 and try again.")]) from None
    except RecursionError:
        raise BadRows([RowProblem(0, "", "the file is nested too deeply to be a case.")]) from None
    except json.JSONDecodeError as error:
        problem = f"this is no JSON: {error.msg.lower()} at column {error.colno}."
        mend = "Mend that character, or export the case again."
        raise BadRows([RowProblem(error.lineno, "", problem, mend)]) from None


def document_problem(details: Mapping[str, Any]) -> RowProblem:
    """Return what is wrong in a document, by its path there."""
    path = " ".join(
        str(step + 1) if isinstance(step, int) else str(step) for step in details["loc"]
    )
    message = details["msg"].removeprefix("Value error, ")
    given = details.get("input")
    mend = f"Given: {given!r}." if isinstance(given, str | int | float) else ""
    return RowProblem(0, path or "the document", f"{message[:1].lower()}{message[1:]}.", mend)
