"""Circuits confirmed on vehicles, and pins checked on the car."""

from datetime import datetime
from typing import Annotated

from pydantic import AliasPath, Field, StringConstraints

from api.serializers.documents import Shown
from cases.documents.base import Document, Text
from circuits.models import WORDS_LENGTH
from circuits.on_vehicles.confirmations import FIRST_YEAR, LAST_YEAR

Words = Annotated[Text, StringConstraints(max_length=WORDS_LENGTH)]


class ConfirmationShown(Shown):
    """A kind of vehicle on which a revision was found to be right."""

    revision: int = Field(validation_alias=AliasPath("revision", "number"))
    make: str
    model: str
    year: int | None
    engine: str
    note: str
    confirmed_by: str = Field(validation_alias=AliasPath("confirmed_by", "username"))
    confirmed_at: datetime


class ConfirmationsShown(Shown):
    """All vehicles on which a circuit was confirmed."""

    circuit: str
    confirmations: tuple[ConfirmationShown, ...]


class ConfirmationWanted(Document):
    """A kind of vehicle; no plate and no VIN, since every shop sees a circuit."""

    make: Words
    model: Words
    year: Annotated[int, Field(ge=FIRST_YEAR, le=LAST_YEAR)] | None = None
    engine: Words = ""
    note: Words = ""


class TickShown(Shown):
    """Who checked a pin on the car, when, and with which revision."""

    revision: int = Field(validation_alias=AliasPath("revision", "number"))
    checked_by: str = Field(validation_alias=AliasPath("checked_by", "username"))
    checked_at: datetime


class PinShown(Shown):
    """A connection with its ticks; `outdated` are those of what has been redrawn since."""

    pin: str = Field(validation_alias=AliasPath("connection", "node"))
    current: tuple[TickShown, ...]
    outdated: tuple[TickShown, ...]


class PinsShown(Shown):
    """The connections of a circuit's newest revision, with their ticks."""

    circuit: str
    revision: int
    pins: tuple[PinShown, ...]


class TicksWanted(Document):
    """Pins that were checked on the car, or whose own ticks are taken back."""

    pins: tuple[Annotated[str, StringConstraints(max_length=40)], ...]
    checked: bool = True
