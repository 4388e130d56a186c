"""The only way into the store of circuits, and the usual ways out of it."""

from datetime import datetime
from functools import lru_cache

from django.contrib.auth.models import User
from django.db import transaction
from rapidfuzz import process

from circuits.engine import Network, Place
from circuits.errors import (
    CircuitExists,
    NoteMissing,
    NothingNew,
    OtherCircuit,
    RevisionMovedOn,
    UnknownCircuit,
    UnknownRevision,
)
from circuits.events import revision_published
from circuits.models import Circuit, Revision
from circuits.sheet import (
    Difference,
    Sheet,
    differences,
    engine_places,
    merge,
    proven_network,
    read_any,
    to_network,
    write_text,
)
from circuits.stored import digest_of, sheet_from_rows, vehicle_values, with_rows, write_rows

REVISIONS_KEPT = 64


@transaction.atomic
def publish_revision(
    *,
    circuit: Circuit | None = None,
    sheet: Sheet,
    note: str,
    by: User,
    at: datetime,
    base: int | None = None,
) -> Revision:
    """Store a sheet as a new circuit, or as the next revision of one.

    `base` is the number of the revision that the sheet was made from, 0 for a sheet that comes
    from elsewhere; leave it out only where nobody else can have published in between.

    Raises
    ------
    SheetErrors
        The sheet makes no circuit that can be solved.
    RevisionMovedOn
        `base` is not the newest revision any more; the error holds what both sides changed.
    CircuitExists, OtherCircuit, NothingNew, NoteMissing, UnknownRevision
        It cannot be published as asked.
    """
    if not note.strip():
        raise NoteMissing
    proven_network(sheet)
    digest = digest_of(sheet)
    if circuit is None:
        circuit, number = _new_circuit(sheet, at), 1
    else:
        circuit, number = _next_number(circuit, sheet, digest, base)
    values = vehicle_values(sheet)
    revision = Revision.objects.create(
        circuit=circuit, number=number, note=note.strip(), author=by, created_at=at, **values
    )
    write_rows(revision, sheet)
    # With its digest the revision is sealed: from here on the database refuses changes.
    revision.digest = digest
    revision.save(update_fields=["digest"])
    for name in ("title", "system", "make", "model"):
        setattr(circuit, name, values[name])
    circuit.save(update_fields=["title", "system", "make", "model"])
    revision_published.send(sender=Revision, revision=revision, by=by, at=at)
    return revision


def _new_circuit(sheet: Sheet, at: datetime) -> Circuit:
    vehicle = sheet.vehicle
    circuit, is_new = Circuit.objects.get_or_create(
        key=vehicle.key,
        defaults={"title": vehicle.title, "system": vehicle.system, "created_at": at},
    )
    if not is_new:
        raise CircuitExists(vehicle.key)
    return circuit


def _next_number(
    circuit: Circuit, sheet: Sheet, digest: str, base: int | None
) -> tuple[Circuit, int]:
    circuit = Circuit.objects.select_for_update().get(pk=circuit.pk)
    if sheet.vehicle.key != circuit.key:
        raise OtherCircuit(sheet.vehicle.key, circuit.key)
    newest = latest_revision(circuit)
    # The digest of an older revision may be of an older form of the sheet.
    if newest.digest == digest or sheet_of(newest) == sheet:
        raise NothingNew(circuit.key, newest.number)
    if base is not None and base != newest.number:
        raise moved_on(newest=newest, base=_base_of(circuit, newest, base), mine=sheet)
    return circuit, newest.number + 1


def _base_of(circuit: Circuit, newest: Revision, number: int) -> Revision:
    """Return the revision that a sheet was made from; one from elsewhere meets the newest."""
    base = circuit.revisions.filter(number=number).first() if number else newest
    if base is None:
        raise UnknownRevision(circuit.key, number, newest.number)
    return base


def moved_on(*, newest: Revision, base: Revision, mine: Sheet) -> RevisionMovedOn:
    """Return what the newest revision and a sheet each changed in the base, and both together.

    Where the base is the newest itself, the sheet came from elsewhere.
    """
    base_sheet, theirs = sheet_of(base), sheet_of(newest)
    return RevisionMovedOn(
        newest.circuit.key,
        base=base.number if base != newest else 0,
        newest=newest.number,
        theirs=differences(base_sheet, theirs),
        mine=differences(base_sheet, mine),
        merged=merge(base=base_sheet, theirs=theirs, mine=mine),
    )


def import_text(
    content: str | bytes,
    *,
    note: str,
    by: User,
    at: datetime,
    circuit: Circuit | None = None,
    base: int | None = None,
) -> Revision:
    """Publish a sheet in its text form or as JSON; as `publish_revision` does."""
    return publish_revision(
        circuit=circuit, sheet=read_any(content), note=note, by=by, at=at, base=base
    )


def export_text(revision: Revision) -> str:
    """Return a revision in the text form."""
    return write_text(sheet_of(revision))


# ----------------------------------------------------------------------------------- reads


def circuit_by_key(key: str) -> Circuit:
    """Return the circuit with this key.

    Raises
    ------
    UnknownCircuit
        There is none; the nearest keys are named.
    """
    circuit = Circuit.objects.filter(key=key).first()
    if circuit is None:
        known = list(Circuit.objects.values_list("key", flat=True))
        found = process.extract(key, known, limit=2, score_cutoff=60)
        raise UnknownCircuit(key, [name for name, _, _ in found])
    return circuit


def revision_saying(sheet: Sheet) -> Revision | None:
    """Return the stored revision that says what a sheet says, if there is one."""
    revisions = Revision.objects.select_related("circuit")
    found = revisions.filter(digest=digest_of(sheet)).first()
    if found is not None:
        return found
    # The digest of an older revision may be of an older form of the sheet.
    of_circuit = revisions.filter(circuit__key=sheet.vehicle.key).order_by("-number")
    return next((each for each in of_circuit if sheet_of(each) == sheet), None)


def latest_revision(circuit: Circuit) -> Revision:
    """Return the newest revision of a circuit."""
    return circuit.revisions.select_related("circuit").order_by("-number")[:1].get()


def compare_revisions(old: Revision, new: Revision) -> tuple[Difference, ...]:
    """Return what changed from one revision to another, in the order of the sheet."""
    return differences(sheet_of(old), sheet_of(new))


def sheet_of(revision: Revision) -> Sheet:
    """Return the sheet of a stored revision; the last ones asked for are kept."""
    return _sheet_of(revision.pk)


def network_of(revision: Revision) -> Network:
    """Return the engine's network of a stored revision."""
    return _network_of(revision.pk)


def places_of(revision: Revision) -> tuple[Place, ...]:
    """Return the places of a stored revision that the engine can predict."""
    return engine_places(sheet_of(revision))


# Revisions never change, so what was made of one holds as long as the process lives.
@lru_cache(maxsize=REVISIONS_KEPT)
def _sheet_of(revision_pk: int) -> Sheet:
    return sheet_from_rows(with_rows(Revision.objects.all()).get(pk=revision_pk))


@lru_cache(maxsize=REVISIONS_KEPT)
def _network_of(revision_pk: int) -> Network:
    return to_network(_sheet_of(revision_pk))
