"""The instruments of a person: kept under a name, chosen by it, the last one used remembered."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.contrib.auth.models import User

from cases.documents.readings import COMMON, Instrument, NewReading
from cases.errors import BadFact, NotYours
from cases.models import OwnInstrument

MOST_INSTRUMENTS = 50
FIGURES = ("input_ohms", "reading_fraction", "counts", "floor_amps", "lead_ohms")


def save_instrument(*, instrument: Instrument, by: User) -> OwnInstrument:
    """Keep an instrument under its name; one of that name gets the new figures.

    Raises
    ------
    BadFact
        It has no name, or this person has too many.
    """
    name = instrument.name.strip()
    if not name:
        raise BadFact("name", "give the instrument a name, such as 'yellow meter'.")
    own = OwnInstrument.objects.filter(owner=by)
    if not own.filter(name=name).exists() and own.count() >= MOST_INSTRUMENTS:
        raise BadFact("name", f"a person can keep {MOST_INSTRUMENTS} instruments; remove one.")
    figures = {figure: getattr(instrument, figure) for figure in FIGURES}
    saved, _ = OwnInstrument.objects.update_or_create(owner=by, name=name, defaults=figures)
    return saved


def instrument_names(of: User) -> list[str]:
    """Return what a person's instruments are called, the one used last first. Asks the database."""
    return list(OwnInstrument.objects.visible_to(of).values_list("name", flat=True))


def instruments_of(user: User) -> list[Instrument]:
    """Return a person's instruments, the one used last first."""
    return [instrument_document(saved) for saved in OwnInstrument.objects.visible_to(user)]


def instrument_called(name: str, *, of: User) -> Instrument:
    """Return a person's instrument of this name, or a common one. Asks the database."""
    # Compared here and not in the database: a name from outside may hold what that cannot store.
    for saved in OwnInstrument.objects.visible_to(of) if name else ():
        if saved.name == name:
            return instrument_document(saved)
    return COMMON


def remove_instrument(*, instrument: OwnInstrument, by: User) -> None:
    """Forget a person's own instrument; readings keep what they were taken with."""
    if instrument.owner_id != by.pk:
        raise NotYours("remove it")
    instrument.delete()


def instrument_document(saved: OwnInstrument) -> Instrument:
    """Return a saved instrument as it travels."""
    return Instrument(name=saved.name, **{name: getattr(saved, name) for name in FIGURES})


def with_own_instruments(
    readings: Iterable[NewReading], *, by: User, before: Instrument = COMMON
) -> list[NewReading]:
    """Return readings with the figures of the instruments that they name.

    A figure that is told beside the name is what it was for this reading, and stays. `before` is
    the instrument of a line that is corrected: it may be somebody else's.

    Raises
    ------
    BadFact
        A name stands alone, and this person has no such instrument.
    """
    taken = list(readings)
    names = {reading.instrument.name for reading in taken} - {""}
    saved = (
        {each.name: each for each in OwnInstrument.objects.filter(owner=by, name__in=names)}
        if names
        else {}
    )
    known = {name: instrument_document(own) for name, own in saved.items()}
    if before.name:
        known.setdefault(before.name, before)
    return [_filled(reading, known) for reading in taken]


def _filled(reading: NewReading, saved: dict[str, Instrument]) -> NewReading:
    told = reading.instrument
    if not told.name:
        return reading
    own = saved.get(told.name)
    if own is None:
        if not any(getattr(told, figure) is not None for figure in FIGURES):
            raise BadFact(
                "instrument",
                f"you have no instrument called '{told.name}'. Save it first, or tell its figures.",
            )
        return reading
    known = own.model_dump()
    known |= told.model_dump(exclude_none=True)
    return reading.model_copy(update={"instrument": Instrument.model_validate(known)})


def remember_used(readings: Sequence[NewReading], *, by: User, at: datetime) -> None:
    """Let the instrument that was used last be offered first."""
    names = [reading.instrument.name for reading in readings if reading.instrument.name]
    if names:
        OwnInstrument.objects.filter(owner=by, name=names[-1]).update(used_at=at)
