"""Circuits: their list, a circuit with its cautions, revisions, suspects, and what is published."""

from datetime import datetime
from typing import Annotated

from pydantic import Field, SkipValidation, StringConstraints
from rest_framework import serializers

from api.serializers.documents import Shown
from cases.documents.base import Document, Text
from circuits.models import Circuit, Revision
from circuits.sheet import Sheet


class CircuitRow(serializers.ModelSerializer[Circuit]):
    """A circuit as a line of the list."""

    newest_revision = serializers.IntegerField(source="latest_number", read_only=True)
    newest_at = serializers.DateTimeField(source="latest_at", read_only=True)

    class Meta:
        model = Circuit
        fields = ("key", "title", "system", "make", "model", "newest_revision", "newest_at")
        read_only_fields = fields


class RevisionRow(serializers.ModelSerializer[Revision]):
    """A revision as a line of the list: what changed and why, by whom, and when."""

    author = serializers.CharField(source="author.username", read_only=True)

    class Meta:
        model = Revision
        fields = ("number", "note", "author", "created_at", "digest")
        read_only_fields = fields


class CautionShown(Shown):
    """A danger of the circuit; a grave one means: stop, and hand over to someone trained for it."""

    kind: str
    title: str
    lines: tuple[str, ...]
    grave: bool


class RevisionShown(Shown):
    """A revision of a circuit: the sheet, and what to mind before a lead goes on it."""

    circuit: str = Field(description="The circuit's key.")
    number: int
    note: str = Field(description="What changed, and why.")
    created_at: datetime
    digest: str = Field(description="SHA-256 of the sheet; two with one digest say the same.")
    cautions: tuple[CautionShown, ...] = Field(
        description="The usual cautions; the maker's procedure, local codes and licensed practice"
        " come first."
    )
    sheet: Sheet


class DifferenceShown(Shown):
    """One thing that differs between two revisions; `old` and `new` are as written."""

    section: str = Field(description="vehicle, connections, phases, parts, places, codes, ...")
    name: str = Field(description="The part, place or other entry.")
    way: str = Field(description="added, taken out, changed.")
    about: str = Field(description="What of the entry; empty for a value or the whole of it.")
    phases: tuple[str, ...] = Field(description="Where it differs; empty for everywhere.")
    old: str
    new: str
    words: str


class ComparisonShown(Shown):
    """What changed from one revision of a circuit to another."""

    circuit: str
    old: int
    new: int
    differences: tuple[DifferenceShown, ...]


class SuspectShown(Shown):
    """A fault that the circuit can have; `id` is how to name it."""

    id: str
    kind: str
    target: str = Field(description="The part or connection that has it.")
    unit: str = Field(description="Unit of the severity.")
    words: str


class SuspectsShown(Shown):
    """Every single fault that the circuit can have."""

    circuit: str
    revision: int
    suspects: tuple[SuspectShown, ...]


class Publication(Document):
    """A circuit to be published: in the text form, or as the sheet that a revision is shown as."""

    note: Annotated[Text, StringConstraints(max_length=2000)] = Field(
        description="What changed and why; for a new circuit, where it comes from."
    )
    base: Annotated[int, Field(ge=0)] | None = Field(
        default=None,
        description="Number of the revision that yours was made from, so nobody is overwritten;"
        " 0 for a sheet that comes from elsewhere. Not for a new circuit.",
    )
    redrawn: bool | None = Field(
        default=None,
        description="Whether you drew it at the vehicle or anew in your own way. Needed, and true:"
        " a maker's page stays in its shop.",
    )
    text: str = Field(default="", description="The circuit in the text form.")
    # Not looked at here: the sheet's own reader tells every mistake with its place.
    sheet: SkipValidation[Sheet | None] = Field(
        default=None, description="The circuit as a sheet, instead of the text."
    )
