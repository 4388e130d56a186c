"""Cases: what logging one takes, and what a person may see of one."""

from datetime import datetime
from typing import Annotated

from pydantic import AliasPath, Field, StringConstraints, computed_field

from api.serializers.documents import Shown
from cases.documents.base import Document, Short, Text
from cases.documents.cases import CaseFacts, CodeFacts, VainPart, VehicleFacts
from cases.documents.readings import Instrument, NewReading, Rig
from cases.documents.verdicts import VerdictDocument
from cases.models import EarnedStanding
from cases.vin import vin_warnings
from circuits.documents.base import Unbounded

Needed = Annotated[Short, StringConstraints(min_length=1)]


class NewCase(CaseFacts):
    """A new case: the facts, the circuit where it is known, and the readings taken so far."""

    shop: Needed = Field(description="Short name of your shop, as in /api/shops/.")
    circuit: Short = Field(default="", description="Key of the circuit; readings need it.")
    comeback_of: int | None = Field(
        default=None, description="The id of the earlier case, where the complaint came back."
    )
    readings: tuple[NewReading, ...] = ()

    @property
    def facts(self) -> CaseFacts:
        """The facts alone."""
        return CaseFacts.model_validate(
            {name: getattr(self, name) for name in CaseFacts.model_fields}
        )


class CircuitChoice(Document):
    """Which circuit a case is about."""

    circuit: Needed = Field(description="Key of the circuit; its newest revision is taken.")


class ClaimInput(Document):
    """The fault that is claimed."""

    suspect: Needed = Field(
        description="A suspect of the circuit, such as `resistance:C40`; or `healthy`, for the"
        " circuit in order."
    )
    severity: Annotated[Unbounded, Field(ge=0)] | None = Field(
        default=None,
        description="What was measured at the part itself, in the suspect's unit; `Infinity` for"
        " open. Left out, the readings say what it must have been.",
    )


class Reason(Document):
    """Why something is done."""

    reason: Annotated[Text, StringConstraints(min_length=1)]


class NewReadings(Document):
    """Readings to be logged, all or none."""

    readings: Annotated[tuple[NewReading, ...], Field(min_length=1, max_length=1000)]


class Correction(Reason):
    """A newer line for a reading; the old one stays as it was."""

    reading: NewReading


class CaseRow(Shown):
    """A case as a line of the list."""

    id: int = Field(validation_alias=AliasPath("case", "pk"))
    key: str = Field(description="What people call it: the shop's short name and a number.")
    shop: str = Field(validation_alias=AliasPath("case", "shop", "slug"))
    shop_name: str = Field(validation_alias="shop")
    is_own: bool = Field(description="Whether it is a case of your shop.")
    vehicle: str
    circuit: str = Field(
        default="", validation_alias=AliasPath("case", "revision", "circuit", "key")
    )
    system: str
    complaint: str
    symptom: str = Field(validation_alias=AliasPath("case", "symptom"))
    outcome: str = Field(validation_alias=AliasPath("case", "outcome"))
    standing: str = Field(validation_alias="standing_word")
    opened_at: datetime


class CircuitOfCase(Shown):
    """The circuit that a case is checked against."""

    key: str = Field(validation_alias=AliasPath("circuit", "key"))
    revision: int = Field(validation_alias="number")


class StandingShown(Shown):
    """How well a case stands by its record, and what is missing for the next step."""

    earned: EarnedStanding
    because: str
    missing: tuple[str, ...]
    earned_by: tuple[int, ...] = Field(description="Ids of the readings that earned it.")
    rivals: tuple[str, ...] = Field(description="Suspects that no reading excludes.")
    twins: tuple[str, ...] = Field(description="Suspects that no listed place parts from it.")
    is_proven: bool


class ReadingShown(Shown):
    """A logged line, with what the circuit in order and the claimed fault would show there.

    `value`, `healthy` and `claimed` are in the base unit (V, A); a distance is logged minus
    predicted, in combined uncertainties.
    """

    id: int = Field(validation_alias="pk", description="By this number verdicts refer to it.")
    number: int = Field(description="The line of the log, counted from 1.")
    place: str
    phase: str
    text: str = Field(description="As typed; empty where nothing was measured.")
    unit: str
    value: float | None
    over_range: bool
    rig: Rig
    is_loaded: bool = Field(validation_alias=AliasPath("rig", "is_loaded"))
    statistic: str
    symptom_present: str
    stage: str
    supply_volts: float | None
    celsius: float | None
    instrument: Instrument
    note: str
    by: str = Field(description="Empty outside the shop.")
    at: datetime
    corrects: int | None = Field(description="The line that this one corrects.")
    correction_reason: str
    corrected: bool = Field(description="Whether a newer line takes its place.")
    photos: tuple[int, ...] = Field(description="Photos of it; none outside the shop.")
    healthy: Unbounded | None
    healthy_distance: Unbounded | None
    claimed: Unbounded | None
    claimed_distance: Unbounded | None
    set_aside: str = Field(description="Why it speaks neither for nor against a fault.")


class CaseShown(Shown):
    """A case as you may see it: whole in your own shop, without VIN, plate and people elsewhere."""

    id: int = Field(validation_alias=AliasPath("case", "pk"))
    key: str
    shop: str = Field(validation_alias=AliasPath("case", "shop", "slug"))
    shop_name: str = Field(validation_alias="shop")
    is_own: bool
    vehicle: VehicleFacts
    circuit: CircuitOfCase | None = Field(
        default=None, validation_alias=AliasPath("case", "revision")
    )
    system: str
    complaint: str
    symptom: str
    conditions: str
    complaint_phase: str
    tries_before: int | None
    hits_before: int | None
    clean_tries_after: int | None
    codes: tuple[CodeFacts, ...]
    monitors_passed: tuple[str, ...] = Field(
        description="Codes that are not set although their monitor ran."
    )
    parts_in_vain: tuple[VainPart, ...]
    claim: str
    claim_words: str
    claimed_severity: Unbounded | None
    claimed_by: str
    claimed_at: datetime | None
    part_replaced: str
    outcome: str
    what_misled: str
    what_decided: str
    author: str
    opened_at: datetime
    repaired_at: datetime | None
    closed_at: datetime | None
    shared_at: datetime | None
    withdrawal_reason: str
    readings: tuple[ReadingShown, ...]
    verdict: VerdictDocument | None
    standing: StandingShown
    standing_word: str = Field(description="With time: a verified repair becomes held.")

    @computed_field(description="What looks odd about the VIN; a warning, no refusal.")  # type: ignore[prop-decorator]
    @property
    def vin_warnings(self) -> tuple[str, ...]:
        return vin_warnings(self.vehicle.vin)


class SharePreview(Shown):
    """What the other shops see of a case, or would see once it is shared."""

    is_shared: bool
    seen_by_others: CaseShown
