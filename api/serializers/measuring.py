"""Assumed rules that a reading settles, and readings of healthy vehicles."""

from datetime import datetime
from typing import Annotated

from pydantic import AliasPath, Field, StringConstraints

from api.serializers.documents import Shown
from cases.documents.base import Document, Text
from circuits.documents.predictions import OpenRuleShown
from circuits.models import KEY_LENGTH, LONGEST_READING, NAME_LENGTH, WORDS_LENGTH

Name = Annotated[str, StringConstraints(max_length=NAME_LENGTH)]
Key = Annotated[str, StringConstraints(max_length=KEY_LENGTH)]
Typed = Annotated[Text, StringConstraints(max_length=LONGEST_READING)]


class OpenRulesShown(Shown):
    """The assumed rules of a circuit's newest revision that say what they may be instead."""

    circuit: str
    revision: int
    rules: tuple[OpenRuleShown, ...]


class SettlementWanted(Document):
    """A reading at a place that parts a rule from its alternative."""

    rule: Name
    place: Name
    phase: Key
    reading: Typed = Field(description="As on the display, such as 11.9 V.")
    supply: Typed = Field(default="", description="Volts across the supply in that phase, if read.")
    base: int = Field(ge=1, description="Number of the revision that the rule was read in.")


class ReferenceShown(Shown):
    """A reading of a healthy vehicle; it `holds` while its place and phase stay as drawn."""

    number: int = Field(validation_alias=AliasPath("reference", "pk"))
    revision: int = Field(validation_alias=AliasPath("reference", "revision", "number"))
    place: str = Field(validation_alias=AliasPath("reference", "place"))
    phase: str = Field(validation_alias=AliasPath("reference", "phase"))
    reading: str = Field(validation_alias=AliasPath("reference", "typed"))
    value: float = Field(validation_alias=AliasPath("reference", "value"))
    vehicle: str = Field(validation_alias=AliasPath("reference", "vehicle"))
    unplugged: tuple[str, ...] = Field(validation_alias=AliasPath("reference", "unplugged"))
    lamp: str = Field(validation_alias=AliasPath("reference", "lamp"))
    meter_fraction: float = Field(validation_alias=AliasPath("reference", "meter_fraction"))
    meter_counts: float = Field(validation_alias=AliasPath("reference", "meter_counts"))
    kept_by: str = Field(validation_alias=AliasPath("reference", "kept_by", "username"))
    kept_at: datetime = Field(validation_alias=AliasPath("reference", "kept_at"))
    holds: bool
    doubt: str = Field(description="Empty, or what speaks against it or the circuit's values.")


class ReferencesShown(Shown):
    """All readings of healthy vehicles that are kept with a circuit."""

    circuit: str
    references: tuple[ReferenceShown, ...]


class ReferenceWanted(Document):
    """What a healthy vehicle showed; no plate, no VIN and no name, since every shop sees it."""

    place: Name
    phase: Key
    reading: Typed
    vehicle: Annotated[Text, StringConstraints(max_length=WORDS_LENGTH)]
    unplugged: tuple[Name, ...] = ()
    lamp: Typed = ""
    meter_fraction: float | None = None
    meter_counts: float | None = None
