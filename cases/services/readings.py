"""Log readings, correct them by newer lines, log after-readings."""

import re
from collections.abc import Sequence
from datetime import datetime
from itertools import zip_longest
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from cases.circuit import CaseCircuit, circuit_of
from cases.documents.readings import COMMON, Instrument, NewReading
from cases.errors import (
    AlreadyCorrected,
    BadFact,
    BadRows,
    CaseError,
    CircuitNotKnown,
    RowProblem,
    SentBefore,
    UnreadableReading,
)
from cases.judging.live_ohms import refuse_live_ohms
from cases.models import Case, LoggedReading, ReadingPhoto
from cases.services.after_work import reopen_undone
from cases.services.instruments import remember_used, with_own_instruments
from cases.services.reading_photos import photos_to_keep, require_room
from cases.services.record import instrument_of, locked_for, settle_record
from circuits.units import Quantity, UnitError, base_unit, parse_reading

#: What a form draws to name one sending; anything else names none.
_SENDING = re.compile(r"[0-9a-f-]{4,36}")
#: What differs between two rows of the same reading sent twice.
_OF_THE_SENDING = frozenset({"id", "at", "by", "sent_as"})


@transaction.atomic
def add_reading(*, case: Case, reading: NewReading, by: User, at: datetime) -> LoggedReading:
    """Log one reading; the verdict and the standing follow from it."""
    case = locked_for(case, by, "add readings")
    row = _row_to_log(case, _circuit(case), reading, by=by, at=at)
    remember_used([reading], by=by, at=at)
    _keep(case, [row], at=at)
    return row


@transaction.atomic
def add_readings(
    *,
    case: Case,
    readings: Sequence[NewReading],
    by: User,
    at: datetime,
    once: str = "",
    pictures: Sequence[bytes | None] = (),
) -> list[LoggedReading]:
    """Log several readings, all or none, each with the picture that stands in its turn.

    `once` names the sending: one that was taken already, though its answer was lost on the way,
    logs nothing again and returns what it logged then.

    Raises
    ------
    BadRows
        Every reading or picture that cannot be taken, with its number, counted from 1.
    SentBefore
        The sending was taken already, but with other readings than these.
    BadFact
        It was, and brings more photos than a reading may have.
    """
    case = locked_for(case, by, "add readings")
    circuit = _circuit(case)
    sent_as = once if _SENDING.fullmatch(once) else ""
    rows, photos, problems = [], [], []
    for number, (typed, picture) in enumerate(zip_longest(readings, pictures), start=1):
        try:
            row = _row_to_log(case, circuit, typed, by=by, at=at)
            contents = [picture] if picture is not None else []
            photos.append(photos_to_keep(row, contents, by=by, at=at))
            rows.append(row)
        except CaseError as error:
            problems.append(RowProblem(number, typed.place, str(error)))
    if problems:
        raise BadRows(problems)
    if sent_as:
        logged = list(LoggedReading.objects.filter(case=case, sent_as=sent_as).order_by("pk"))
        if logged:
            _require_the_same(logged, rows)
            _keep_photos(logged, photos)
            return logged
    for row in rows:
        row.sent_as = sent_as
    remember_used(readings, by=by, at=at)
    _keep(case, rows, at=at)
    _keep_photos(rows, photos)
    return rows


@transaction.atomic
def correct_reading(
    *, reading: LoggedReading, correction: NewReading, reason: str, by: User, at: datetime
) -> LoggedReading:
    """Correct a reading by a newer line with a reason; the old line stays as it was."""
    case = locked_for(reading.case, by, "correct its readings")
    if LoggedReading.objects.filter(corrects=reading).exists():
        raise AlreadyCorrected(reading.place_key)
    reason = reason.strip()
    if not reason:
        raise BadFact("reason", "say in a line why the reading is corrected.")
    before = instrument_of(reading)
    row = _row_to_log(case, _circuit(case), correction, by=by, at=at, before=before)
    row.corrects = reading
    row.correction_reason = reason
    _keep(case, [row], at=at)
    return row


def understand(circuit: CaseCircuit, reading: NewReading) -> tuple[Quantity | None, str]:
    """Return what the typed text comes to at its place, and the unit of bare digits there.

    Pages show the quantity's echo beside the input before it is saved; None is not measured.
    """
    entry = circuit.place_entry(reading.place)
    circuit.check_phase_at(reading.place, reading.phase)
    circuit.check_rig(reading.place, reading.rig)
    unit = reading.unit or entry.unit
    try:
        if base_unit(unit) != base_unit(entry.unit):
            raise UnreadableReading(
                reading.place, reading.text, f"this place reads {entry.unit}, not {unit}."
            )
        return parse_reading(reading.text, unit), unit
    except UnitError as error:
        raise UnreadableReading(reading.place, reading.text, str(error)) from None


def understand_to_log(circuit: CaseCircuit, reading: NewReading) -> None:
    """Refuse what must not be logged here: what cannot be read, and ohms on live parts."""
    quantity, _ = understand(circuit, reading)
    if quantity is not None:
        refuse_live_ohms(circuit, reading.place, reading.phase, reading.rig)


def reading_values(circuit: CaseCircuit, reading: NewReading) -> dict[str, Any]:
    """Return what a row keeps of a reading itself, by field."""
    quantity, unit = understand(circuit, reading)
    instrument = reading.instrument
    return {
        "place_key": reading.place,
        "phase_key": reading.phase,
        "text": reading.text,
        "unit": unit,
        "value": quantity.value if quantity is not None else None,
        "step": (quantity.step if quantity is not None else None) or 0.0,
        "over_range": quantity is not None and quantity.over_range,
        "unplugged": list(reading.rig.unplugged),
        "bridged": [list(pair) for pair in reading.rig.bridged],
        "lamp_watts": reading.rig.lamp_watts,
        "power_removed": circuit.rig_at(reading.place, reading.rig).power_removed,
        "ammeter_in": reading.rig.ammeter_in,
        "burden_ohms": reading.rig.burden_ohms,
        "by_drop": reading.rig.by_drop,
        "statistic": reading.statistic,
        "symptom_present": reading.symptom_present,
        "stage": reading.stage,
        "supply_volts": reading.supply_volts,
        "celsius": reading.celsius,
        "meter_input_ohms": instrument.input_ohms,
        "meter_reading_fraction": instrument.reading_fraction,
        "meter_counts": instrument.counts,
        "meter_floor_amps": instrument.floor_amps,
        "meter_lead_ohms": instrument.lead_ohms,
        "meter_name": instrument.name,
        "note": reading.note,
    }


def _row_to_log(
    case: Case,
    circuit: CaseCircuit,
    typed: NewReading,
    *,
    by: User,
    at: datetime,
    before: Instrument = COMMON,
) -> LoggedReading:
    """Return what was typed as a row, with the figures of this person's instrument; or refuse."""
    (reading,) = with_own_instruments([typed], by=by, before=before)
    understand_to_log(circuit, reading)
    return LoggedReading(case=case, by=by, at=at, **reading_values(circuit, reading))


def _keep(case: Case, rows: Sequence[LoggedReading], *, at: datetime) -> None:
    """Save new lines of a log, with what follows from them."""
    for row in rows:
        row.save()
    reopen_undone(case, rows)
    settle_record(case, at=at)


def _keep_photos(logged: Sequence[LoggedReading], photos: Sequence[Sequence[ReadingPhoto]]) -> None:
    """Save the photos of new lines; of a sending that came again only those it lacked before."""
    for reading, of_one in zip(logged, photos, strict=True):
        if not of_one:
            continue
        kept = {bytes(jpeg) for jpeg in reading.photos.values_list("jpeg", flat=True)}
        lacking = [photo for photo in of_one if photo.jpeg not in kept]
        require_room(reading, len(lacking))
        for photo in lacking:
            photo.reading = reading
            photo.save()


def _require_the_same(logged: Sequence[LoggedReading], rows: Sequence[LoggedReading]) -> None:
    """Refuse rows that say something else than what their sending logged."""

    def said(row: LoggedReading) -> dict[str, object]:
        fields = (field.attname for field in row._meta.concrete_fields)
        return {
            name: getattr(row, name)
            for name in fields
            if name.removesuffix("_id") not in _OF_THE_SENDING
        }

    if list(map(said, logged)) != list(map(said, rows)):
        raise SentBefore([f"{row.text or '–'} at {row.place_key}" for row in logged])


def _circuit(case: Case) -> CaseCircuit:
    if case.revision is None:
        raise CircuitNotKnown("log readings, because a reading needs a place with two leads")
    return circuit_of(case.revision)
