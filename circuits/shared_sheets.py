"""The other sheets of a vehicle: what they share with this one, and what a fault does there."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import OuterRef, Subquery

from circuits.engine import UnknownSuspect, find_suspect
from circuits.faults import named_fault
from circuits.models import Circuit, Revision
from circuits.paths import Complaint, complaint_of
from circuits.services import network_of, sheet_of
from circuits.sheet import sharers


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherSheet:
    """Another circuit of the same vehicle, and the things both sheets share."""

    revision: Revision
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """A connection at which a sheet ends; no circuit where that sheet is not here."""

    node: str
    key: str
    circuit: Circuit | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ComplaintElsewhere:
    """What a fault of a shared part does on another sheet; None where it is no fault there."""

    sheet: OtherSheet
    complaint: Complaint | None


def other_sheets(revision: Revision) -> tuple[OtherSheet, ...]:
    """Return the newest sheets of the same vehicle that share something with this one."""
    shared = set(revision.shared)
    if not shared:
        return ()
    newest = Revision.objects.filter(circuit=OuterRef("circuit")).order_by("-number")
    of_vehicle = (
        Revision.objects.filter(
            number=Subquery(newest.values("number")[:1]),
            make__iexact=revision.make,
            model__iexact=revision.model,
        )
        .exclude(circuit=revision.circuit_id)
        .exclude(shared=[])
        .select_related("circuit")
        .order_by("circuit__system", "circuit__title")
    )
    return tuple(
        OtherSheet(revision=other, names=tuple(names))
        for other in of_vehicle
        if _may_be_one_engine(revision, other)
        and (names := [name for name in revision.shared if name in set(other.shared)])
    )


def ends_of_sheet(revision: Revision) -> tuple[End, ...]:
    """Return where a sheet ends, with the circuits on which it goes on."""
    ends = sheet_of(revision).vehicle.goes_on
    known = {each.key: each for each in Circuit.objects.filter(key__in=[e.circuit for e in ends])}
    return tuple(
        End(node=end.node, key=end.circuit, circuit=known.get(end.circuit)) for end in ends
    )


def complaints_elsewhere(revision: Revision, suspect_id: str) -> tuple[ComplaintElsewhere, ...]:
    """Return what a fault, as bad as it can be, does on the sheets that share its part.

    Empty where the circuit cannot have the fault, or no other sheet shares the part.
    """
    return tuple(_complaints(revision, suspect_id))


def _complaints(revision: Revision, suspect_id: str) -> Iterator[ComplaintElsewhere]:
    sheet = sheet_of(revision)
    try:
        target = find_suspect(network_of(revision), suspect_id).target
    except UnknownSuspect:
        return
    names = {name for name in revision.shared if target in sharers(sheet, name)}
    for other in other_sheets(revision):
        if names.isdisjoint(other.names):
            continue
        complaint = None
        network = network_of(other.revision)
        try:
            find_suspect(network, suspect_id)
        except UnknownSuspect:
            pass
        else:
            fault = named_fault(network, suspect_id, "")
            complaint = complaint_of(sheet_of(other.revision), network, fault)
        yield ComplaintElsewhere(sheet=other, complaint=complaint)


def _may_be_one_engine(one: Revision, other: Revision) -> bool:
    """Return whether the two may be of one vehicle; an engine that is not named may be any."""
    return not one.engine or not other.engine or one.engine.lower() == other.engine.lower()
