"""Readings of healthy vehicles: kept with a circuit, taken back, and what they say of its bands.

Circuits are seen by every shop on the server, so a reference names a kind of vehicle and never one
vehicle or its owner.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import AnonymousUser, User
from django.db import transaction

from circuits.engine import AS_IT_STANDS, EngineError, Meter, Place, Rig, predict
from circuits.engine.instruments import meter_bound
from circuits.errors import BadReference, UnknownPlace, UnknownReference
from circuits.models import WORDS_LENGTH, Circuit, Reference, Revision
from circuits.on_vehicles.confirmations import holds_vin
from circuits.on_vehicles.open_rules import require_measurable
from circuits.on_vehicles.seen import Seen, SeenReading, narrowed_by
from circuits.predicting.tables import References
from circuits.services import latest_revision, network_of, sheet_of
from circuits.sheet import PlaceEntry, Sheet, engine_place
from circuits.units import UnitError, format_in, parse_quantity, parse_reading

MOST_METER_FRACTION = 0.1
MOST_METER_COUNTS = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceLine:
    """A reference as the circuit's page lists it.

    It no longer `holds` where its place or phase has been drawn anew since. `doubt` says that it
    lies outside what the drawing allows.
    """

    reference: Reference
    holds: bool
    is_mine: bool
    doubt: str


@transaction.atomic
def keep_reference(
    *,
    circuit: Circuit,
    place: str,
    phase: str,
    reading: str,
    vehicle: str,
    by: User,
    at: datetime,
    unplugged: Collection[str] = (),
    lamp: str = "",
    meter_fraction: float | None = None,
    meter_counts: float | None = None,
) -> Reference:
    """Keep what a healthy vehicle showed at a place of the newest revision.

    Raises
    ------
    BadReference, UnknownPlace
        It cannot be kept as it was given.
    NotMeasuredHere
        The circuit is one at which no reading is asked for.
    """
    revision = latest_revision(circuit)
    sheet, network = sheet_of(revision), network_of(revision)
    require_measurable(sheet)
    entry = next((each for each in sheet.places if each.key == place), None)
    if entry is None or entry.not_computed or phase not in sheet.phase_keys:
        raise UnknownPlace(place, phase)
    usual = Meter()
    kept = Reference(
        revision=revision,
        place=place,
        phase=phase,
        vehicle=_vehicle_words(vehicle),
        unplugged=sorted(set(unplugged)),
        lamp=lamp.strip(),
        meter_fraction=usual.reading_fraction if meter_fraction is None else meter_fraction,
        meter_counts=usual.counts if meter_counts is None else meter_counts,
        kept_by=by,
        kept_at=at,
    )
    if not 0 <= kept.meter_fraction <= MOST_METER_FRACTION:
        raise BadReference("meter_fraction", "a meter is off by 0 to 10 % of its reading.")
    if not 0 <= kept.meter_counts <= MOST_METER_COUNTS:
        raise BadReference("meter_counts", "a meter is off by 0 to 100 counts.")
    _take_reading(kept, reading, entry)
    try:
        rig = _rig_of(kept).for_place(engine_place(entry))
        predict(network, [engine_place(entry)], rig=rig)
    except (EngineError, UnitError) as error:
        raise BadReference("rig", str(error)) from error
    kept.save()
    return kept


def take_back_reference(*, circuit: Circuit, number: int, by: User) -> None:
    """Take one's own reference back.

    Raises
    ------
    UnknownReference
        There is none of this number, or it is somebody else's.
    """
    own = Reference.objects.filter(revision__circuit=circuit, kept_by=by, pk=number)
    if not own.delete()[0]:
        raise UnknownReference


def references_of(revision: Revision, user: User | AnonymousUser) -> list[ReferenceLine]:
    """Return the references of a circuit up to a revision, by place and phase."""
    return [
        ReferenceLine(
            reference=reference,
            holds=holds,
            is_mine=reference.kept_by_id == user.pk,
            doubt=_doubt(revision, reference) if holds else "",
        )
        for reference in _up_to(revision)
        for holds in (_holds(reference, sheet_of(revision)),)
    ]


def references_at(revision: Revision) -> References:
    """Return what healthy vehicles showed as they stand, by phase and place of a revision."""
    sheet = sheet_of(revision)
    found: dict[tuple[str, str], list[SeenReading]] = {}
    for reference in _up_to(revision):
        if _rig_of(reference) == AS_IT_STANDS and _holds(reference, sheet):
            seat = (reference.phase, reference.place)
            place = engine_place(sheet.place(reference.place))
            found.setdefault(seat, []).append(_seen(reference, place))
    return found


def narrowed_at(revision: Revision) -> Mapping[tuple[str, str], Seen]:
    """Return where healthy vehicles narrow the band of a revision, by phase and place."""
    references = references_at(revision)
    if not references:
        return {}
    sheet = sheet_of(revision)
    keys = dict.fromkeys(place for _, place in references)
    drawn = predict(network_of(revision), [engine_place(sheet.place(key)) for key in keys])
    seen = {seat: narrowed_by(drawn[seat], readings) for seat, readings in references.items()}
    return {seat: each for seat, each in seen.items() if each.is_narrower}


def _vehicle_words(vehicle: str) -> str:
    words = " ".join(vehicle.split())
    if not words:
        raise BadReference("vehicle", "say what kind of vehicle it was: make, model, year, engine.")
    if len(words) > WORDS_LENGTH:
        raise BadReference("vehicle", f"keep to {WORDS_LENGTH} characters.")
    if holds_vin(words):
        raise BadReference(
            "vehicle", "leave the VIN out: a circuit is seen by every shop on the server."
        )
    return words


def _take_reading(kept: Reference, reading: str, entry: PlaceEntry) -> None:
    try:
        typed = parse_reading(reading, entry.unit)
    except UnitError as error:
        raise BadReference("reading", str(error)) from error
    if typed is None or typed.value is None or typed.step is None:
        raise BadReference("reading", "give the number that the meter showed; OL narrows nothing.")
    kept.typed, kept.value, kept.step = typed.text, typed.value, typed.step


def _rig_of(reference: Reference) -> Rig:
    if not reference.unplugged and not reference.lamp:
        return AS_IT_STANDS
    watts = parse_quantity(reference.lamp, "W").number if reference.lamp else None
    if watts is not None and watts <= 0:
        raise BadReference("lamp", "a test lamp has more than 0 W, such as 21 W.")
    return Rig(unplugged=frozenset(reference.unplugged), lamp_watts=watts)


def _up_to(revision: Revision) -> list[Reference]:
    found = Reference.objects.filter(
        revision__circuit=revision.circuit_id, revision__number__lte=revision.number
    )
    return list(found.select_related("revision", "kept_by"))


def _holds(reference: Reference, sheet: Sheet) -> bool:
    """Return whether place and phase still mean what they meant when it was kept."""
    then = sheet_of(reference.revision)
    if reference.phase not in sheet.phase_keys:
        return False
    if not set(reference.unplugged) <= {part.name for part in sheet.parts}:
        return False
    return _said(then, reference) == _said(sheet, reference)


def _said(sheet: Sheet, reference: Reference) -> object:
    places = [
        (place.red, place.black, place.through, place.against, place.unit, place.not_computed)
        for place in sheet.places
        if place.key == reference.place
    ]
    phases = [
        (phase.key_state, phase.words, phase.temperature, phase.since)
        for phase in sheet.phases
        if phase.key == reference.phase
    ]
    return places, phases


def _doubt(revision: Revision, reference: Reference) -> str:
    """Say that a reference lies outside what the drawing allows; empty where it lies within."""
    entry = sheet_of(revision).place(reference.place)
    place = engine_place(entry)
    rig = _rig_of(reference).for_place(place)
    drawn = predict(network_of(revision), [place], rig=rig)[reference.phase, reference.place]
    if not _seen(reference, place).is_outside(drawn):
        return ""
    low, high = (format_in(value, entry.unit) for value in (drawn.low, drawn.high))
    return (
        f"the drawing allows {low} to {high}: look at the circuit's values, at the supply and "
        "whether that vehicle was healthy"
    )


def _seen(reference: Reference, place: Place) -> SeenReading:
    meter = Meter(reading_fraction=reference.meter_fraction, counts=reference.meter_counts)
    bound = meter_bound(meter, place, reference.value, reference.step)
    # Bands hold what a common meter may be off for its reading, but not its last digits.
    held = meter_bound(Meter(), place, reference.value, 0.0)
    return SeenReading(value=reference.value, bound=bound, beyond_band=max(bound - held, 0.0))
