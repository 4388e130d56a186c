"""Confirm a circuit on a vehicle, and tick its pins as they are checked there."""

import re
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import AnonymousUser, User
from django.db import transaction

from circuits.errors import UnconfirmedVehicle, UnknownPin
from circuits.models import Circuit, Confirmation, PinCheck, Revision
from circuits.services import sheet_of
from circuits.sheet import Connection, Sheet

FIRST_YEAR, LAST_YEAR = 1950, 2100
_VIN = re.compile(r"\b[A-HJ-NPR-Z0-9]{17}\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class PinLine:
    """A connection of a revision as its page lists it, with who checked it on a vehicle."""

    connection: Connection
    current: tuple[PinCheck, ...]
    outdated: tuple[PinCheck, ...]
    is_mine: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PinTicks:
    """Who checked a pin on a vehicle; `outdated` are ticks of what has been redrawn since."""

    current: tuple[PinCheck, ...]
    outdated: tuple[PinCheck, ...]


def confirm_on_vehicle(
    *,
    revision: Revision,
    make: str,
    model: str,
    by: User,
    at: datetime,
    year: int | None = None,
    engine: str = "",
    note: str = "",
) -> Confirmation:
    """Say that a revision was found to be right on a vehicle of this kind.

    Raises
    ------
    UnconfirmedVehicle
        The vehicle is not named, its year cannot be, or a VIN stands among the words.
    """
    words = {
        name: text.strip()
        for name, text in (("make", make), ("model", model), ("engine", engine), ("note", note))
    }
    for name in ("make", "model"):
        if not words[name]:
            raise UnconfirmedVehicle(name, "name the make and the model of the vehicle.")
    for name, text in words.items():
        if holds_vin(text):
            raise UnconfirmedVehicle(
                name, "leave the VIN out: a circuit is seen by every shop on the server."
            )
    if year is not None and not FIRST_YEAR <= year <= LAST_YEAR:
        raise UnconfirmedVehicle("year", f"give a year from {FIRST_YEAR} to {LAST_YEAR}.")
    return Confirmation.objects.create(
        revision=revision, year=year, confirmed_by=by, confirmed_at=at, **words
    )


def holds_vin(text: str) -> bool:
    """Return whether a VIN stands among the words."""
    return _VIN.search(text) is not None


def confirmations_of(circuit: Circuit) -> list[Confirmation]:
    """Return the vehicles on which any revision of the circuit was found to be right."""
    found = Confirmation.objects.filter(revision__circuit=circuit)
    return list(found.select_related("revision__circuit", "confirmed_by"))


@transaction.atomic
def tick_pins(*, revision: Revision, pins: Collection[str], by: User, at: datetime) -> None:
    """Note that these pins of a revision were checked on a vehicle; those that are, stay.

    Raises
    ------
    UnknownPin
        The revision has no such connection.
    """
    _require_pins(revision, pins)
    PinCheck.objects.bulk_create(
        [
            PinCheck(revision=revision, node=pin, checked_by=by, checked_at=at)
            for pin in dict.fromkeys(pins)
        ],
        ignore_conflicts=True,
    )


@transaction.atomic
def take_back_ticks(*, revision: Revision, pins: Collection[str], by: User) -> None:
    """Take one's own ticks of these pins back; those of others stay."""
    _require_pins(revision, pins)
    own = PinCheck.objects.filter(revision__circuit=revision.circuit_id, checked_by=by)
    own.filter(node__in=pins, revision__number__lte=revision.number).delete()


def ticks_of(revision: Revision) -> dict[str, PinTicks]:
    """Return the ticks of each pin of a revision that has some.

    A tick of an earlier revision holds as long as the pin, and the parts that end there, are drawn
    as they were.
    """
    sheet = sheet_of(revision)
    checks = PinCheck.objects.filter(
        revision__circuit=revision.circuit_id, revision__number__lte=revision.number
    ).select_related("revision", "checked_by")
    by_pin: dict[str, tuple[list[PinCheck], list[PinCheck]]] = {}
    for check in checks:
        drawn_then = _drawn_at(sheet_of(check.revision), check.node)
        current, outdated = by_pin.setdefault(check.node, ([], []))
        still = drawn_then == _drawn_at(sheet, check.node)
        (current if still else outdated).append(check)
    return {
        pin: PinTicks(current=tuple(current), outdated=tuple(outdated))
        for pin, (current, outdated) in by_pin.items()
    }


def pin_lines(revision: Revision, user: User | AnonymousUser) -> list[PinLine]:
    """Return all connections of a revision with their ticks, this person's own marked."""
    ticks, none = ticks_of(revision), PinTicks(current=(), outdated=())
    return [
        PinLine(
            connection=connection,
            current=(found := ticks.get(connection.node, none)).current,
            outdated=found.outdated,
            is_mine=any(check.checked_by_id == user.pk for check in found.current),
        )
        for connection in sheet_of(revision).connections
    ]


def _drawn_at(sheet: Sheet, pin: str) -> tuple[object, ...]:
    """Return what the drawing says of a pin: what it is, and which parts end there."""
    return (
        *((each.kind, each.label) for each in sheet.connections if each.node == pin),
        *(
            (part.name, part.kind, part.first, part.second)
            for part in sorted(sheet.parts, key=lambda part: part.name)
            if pin in (part.first, part.second)
        ),
    )


def _require_pins(revision: Revision, pins: Collection[str]) -> None:
    known = [connection.node for connection in sheet_of(revision).connections]
    for pin in pins:
        if pin not in known:
            raise UnknownPin(pin, known)
