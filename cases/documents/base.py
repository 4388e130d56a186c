"""What all documents that travel share: frozen, no unknown keys, and texts that can be stored."""

import json
from datetime import UTC, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from circuits.engine import COLDEST_CELSIUS, HOTTEST_CELSIUS


def _storable(text: str) -> str:
    halves = not text.isascii() and any("\ud800" <= each <= "\udfff" for each in text)
    if halves or "\x00" in text:
        raise ValueError("must hold no zero bytes and no halves of characters")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _in_utc(moment: datetime) -> datetime:
    if moment.tzinfo is None:
        return moment.replace(tzinfo=UTC)
    try:
        return moment.astimezone(UTC)
    except OverflowError:
        raise ValueError("must lie between the years 1 and 9999") from None


#: In UTC, as a bare time is taken: databases know no offset of 16 hours or more.
Moment = Annotated[datetime, AfterValidator(_in_utc)]
Stored = Annotated[str, AfterValidator(_storable)]
Short = Annotated[Stored, StringConstraints(strip_whitespace=True, max_length=120)]
Text = Annotated[Stored, StringConstraints(strip_whitespace=True, max_length=20_000)]
AboveZero = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NoLessThanZero = Annotated[float, Field(ge=0, allow_inf_nan=False)]
OutcomeWord = Literal["fits", "does not fit", "cannot say"]
#: Beyond these it is a slip of the pen, and the law of copper no longer holds.
Celsius = Annotated[float, Field(ge=COLDEST_CELSIUS, le=HOTTEST_CELSIUS)]


class Document(BaseModel):
    """What all documents share: frozen, no unknown keys, infinities as text."""

    model_config = ConfigDict(frozen=True, extra="forbid", ser_json_inf_nan="strings")

    def as_data(self) -> dict[str, Any]:
        """Return the document as JSON holds it; infinities are texts, which databases can keep."""
        data: dict[str, Any] = json.loads(self.model_dump_json())
        return data


class NamedDocument(Document):
    """A document of its own: it says which form it has under `schema`."""

    model_config = ConfigDict(validate_by_name=True, serialize_by_alias=True)
