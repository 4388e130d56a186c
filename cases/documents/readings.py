"""The forms in which readings travel: digits as typed, the rig, the instrument."""

from typing import Annotated

from pydantic import (
    Base64Bytes,
    Field,
    StringConstraints,
)

from cases.documents.base import (
    AboveZero,
    Celsius,
    Document,
    Moment,
    NoLessThanZero,
    Short,
    Stored,
    Text,
)
from cases.models.choices import (
    Stage,
    Statistic,
    SymptomPresent,
)


class Rig(Document):
    """What was unplugged, bridged or loaded for one reading, and how the meter stood in it.

    Ohms are read with the `power_removed`: every battery disconnected. `ammeter_in` is the part
    that an ammeter was put in series with, `burden_ohms` what that ammeter resists; `by_drop` says
    that amps were worked out from the drop across the part, a fuse or a shunt.
    """

    unplugged: tuple[Short, ...] = ()
    bridged: tuple[tuple[Short, Short], ...] = ()
    lamp_watts: AboveZero | None = None
    power_removed: bool = False
    ammeter_in: Short = ""
    burden_ohms: AboveZero | None = None
    by_drop: bool = False

    @property
    def is_loaded(self) -> bool:
        """Whether current can flow where the reading is taken."""
        if self.power_removed:
            return False
        return not self.unplugged or self.lamp_watts is not None

    @property
    def key(self) -> tuple[str, ...]:
        """What two rigs share when they are the same, whatever the order of the words."""
        words = [f"-{part}" for part in sorted(set(self.unplugged))]
        words.extend(sorted(f"{min(pair)}={max(pair)}" for pair in set(self.bridged)))
        if self.lamp_watts is not None:
            words.append(f"{self.lamp_watts:g}W")
        if self.power_removed:
            words.append("dead")
        if self.ammeter_in:
            words.append(f"amps in {self.ammeter_in}")
        if self.by_drop:
            words.append("by drop")
        return tuple(words)


class Instrument(Document):
    """The meter, where it is known: input ohms, accuracy, a clamp's floor, an ohmmeter's leads.

    Accuracy is in parts of the reading and in counts of the last digit. `name` is that of one of
    your own instruments: what is not told beside it is taken from there.
    """

    name: Annotated[Short, StringConstraints(max_length=60)] = ""
    input_ohms: AboveZero | None = None
    reading_fraction: Annotated[float, Field(ge=0, le=1)] | None = None
    counts: NoLessThanZero | None = None
    floor_amps: NoLessThanZero | None = None
    lead_ohms: Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)] | None = None


#: An instrument of which nothing is known.
COMMON = Instrument()


class NewReading(Document):
    """One line as it is typed: what the display showed, where and in which phase.

    `text` is empty where nothing was measured. `unit` is the unit of bare digits; left empty, it
    is the unit of the place.
    """

    place: Short
    phase: Short
    text: Annotated[Stored, StringConstraints(strip_whitespace=True, max_length=40)] = ""
    unit: Annotated[Stored, StringConstraints(strip_whitespace=True, max_length=8)] = ""
    rig: Rig = Rig()
    statistic: Statistic = Statistic.STEADY
    symptom_present: SymptomPresent = SymptomPresent.UNKNOWN
    stage: Stage = Stage.BEFORE
    supply_volts: AboveZero | None = None
    celsius: Celsius | None = None
    instrument: Instrument = Instrument()
    note: Text = ""


class ReadingDocument(NewReading):
    """A logged line. `number` counts the lines of the case from 1; `corrects` names one.

    `photos` are pictures in base64: JPEG as they go out, PNG or WebP too as they come in.
    """

    number: int
    by: Short = ""
    at: Moment | None = None
    corrects: int | None = None
    correction_reason: Text = ""
    photos: Annotated[tuple[Base64Bytes, ...], Field(max_length=4)] = ()
