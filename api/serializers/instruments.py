"""The instruments of a person over REST."""

from datetime import datetime

from pydantic import Field

from api.serializers.documents import Shown
from circuits.documents.base import Unbounded


class InstrumentShown(Shown):
    """One of your instruments; what is null is that of a common multimeter."""

    id: int = Field(validation_alias="pk")
    name: str = Field(description="By this a reading names it.")
    input_ohms: Unbounded | None
    reading_fraction: float | None = Field(description="Accuracy, in parts of the reading.")
    counts: float | None = Field(description="Accuracy, in steps of the last digit.")
    floor_amps: float | None
    lead_ohms: float | None
    used_at: datetime | None = Field(description="When a reading was last logged with it.")


class InstrumentsShown(Shown):
    """Your instruments, the one used last first."""

    instruments: tuple[InstrumentShown, ...]
