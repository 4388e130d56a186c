"""The forms in which cases, readings and verdicts travel: REST, commands and files use these.

Every document that leaves carries a `schema` with a number. Readings keep the digits as typed;
`None` is "not measured"; infinite ohms travel as the text "Infinity".
"""

from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Final, Literal

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
)

from cases.code_documents import CodeEvidence, CodeSet
from cases.document_base import (
    AboveZero,
    Celsius,
    Document,
    Moment,
    OutcomeWord,
    Short,
    Stored,
    Text,
)
from cases.look_documents import LookAt, MendedSlip, OtherRule
from cases.models.choices import (
    CODE_LENGTH,
    CodeStatus,
    Outcome,
    Stage,
    Statistic,
    Symptom,
    SymptomPresent,
)
from circuits.documents import Unbounded

CASE_SCHEMA: Final = "copperlog-case/1"
VERDICT_SCHEMA: Final = "copperlog-verdict/2"
# The first form knew no slips, no pairs and no symptom; all of these may be left out.
FIRST_VERDICT_SCHEMA: Final = "copperlog-verdict/1"


def _newest_form(schema: object) -> object:
    return VERDICT_SCHEMA if schema == FIRST_VERDICT_SCHEMA else schema


# ----------------------------------------------------------------------------- what goes in


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
    """The meter, where it is known: input ohms, accuracy, a clamp's floor, an ohmmeter's leads."""

    input_ohms: AboveZero | None = None
    reading_fraction: Annotated[float, Field(ge=0, le=1)] | None = None
    counts: Annotated[float, Field(ge=0, allow_inf_nan=False)] | None = None
    floor_amps: Annotated[float, Field(ge=0, allow_inf_nan=False)] | None = None
    lead_ohms: Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)] | None = None


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


class VehicleFacts(Document):
    """A vehicle; plate and VIN stay in the shop."""

    make: Annotated[Short, StringConstraints(min_length=1, max_length=60)]
    model: Annotated[Short, StringConstraints(max_length=80)] = ""
    year: Annotated[int, Field(ge=1900, le=2100)] | None = None
    engine: Annotated[Short, StringConstraints(max_length=80)] = ""
    plate: Annotated[Short, StringConstraints(max_length=20)] = ""
    vin: Annotated[Short, StringConstraints(max_length=40)] = ""


CodeText = Annotated[
    Stored,
    StringConstraints(strip_whitespace=True, to_upper=True, min_length=1, max_length=CODE_LENGTH),
]


class CodeFacts(Document):
    """A fault code: the code, its failure-type byte, the module that gave it, and how it stood."""

    code: CodeText
    failure_type: Annotated[
        str,
        StringConstraints(strip_whitespace=True, to_upper=True, pattern=r"^([0-9A-Fa-f]{2})?$"),
    ] = ""
    module: Annotated[Short, StringConstraints(max_length=60)] = ""
    status: CodeStatus | Literal[""] = ""


class VainPart(Document):
    """A part that was fitted and did not cure the complaint."""

    part: Annotated[Short, StringConstraints(min_length=1)]
    hours: Annotated[Decimal, Field(ge=0, max_digits=6, decimal_places=2)] | None = None


class CaseFacts(Document):
    """What a person tells about a job, apart from readings, claim and repair.

    `monitors_passed` are codes that are not set although their monitor ran: only then does it say
    something that a code is not there.
    """

    vehicle: VehicleFacts
    complaint: Annotated[Text, StringConstraints(min_length=1)]
    system: Annotated[Short, StringConstraints(max_length=60)] = ""
    symptom: Symptom | Literal[""] = ""
    conditions: Text = ""
    complaint_phase: Short = ""
    tries_before: Annotated[int, Field(ge=0, le=9999)] | None = None
    hits_before: Annotated[int, Field(ge=0, le=9999)] | None = None
    codes: tuple[CodeFacts, ...] = ()
    monitors_passed: Annotated[tuple[CodeText, ...], Field(max_length=200)] = ()
    parts_in_vain: tuple[VainPart, ...] = ()


class Repair(Document):
    """What was done and how it ended; the two lines at the end are for whoever comes next."""

    part_replaced: Text = ""
    outcome: Outcome
    what_misled: Text = ""
    what_decided: Text = ""
    clean_tries_after: Annotated[int, Field(ge=0, le=9999)] | None = None


class AfterKind(StrEnum):
    """What sort of work it is; only undoing holds a case back."""

    UNDO = "undo"
    CODING = "coding"
    TEACH_IN = "teach-in"
    REGISTRATION = "battery registration"
    SOFTWARE = "software"
    PART_NUMBER = "part number"
    OTHER = "other"


class AfterLine(Document):
    """One line of the work after a repair; `key` is unique in its case."""

    key: Short
    kind: AfterKind
    words: Annotated[Stored, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
    done_by: Short = ""
    done_at: Moment | None = None

    @property
    def is_done(self) -> bool:
        return self.done_at is not None


# ---------------------------------------------------------------------------- what comes out


class CircuitReference(Document):
    """The circuit of a case: its whole text, the stored circuit it was judged with, or a file.

    `file` is for case files alone: the path of the circuit's file, seen from the case's own.
    """

    circuit: Short = ""
    revision: int | None = None
    digest: Short = ""
    text: Stored = ""
    file: Short = ""


class ReadingDocument(NewReading):
    """A logged line. `number` counts the lines of the case from 1; `corrects` names one."""

    number: int
    by: Short = ""
    at: Moment | None = None
    corrects: int | None = None
    correction_reason: Text = ""


class Claim(Document):
    """The fault a case claims, as a suspect's id, and its severity where it was measured."""

    suspect: Annotated[Short, StringConstraints(min_length=1)]
    severity: Annotated[Unbounded, Field(ge=0)] | None = None
    by: Short = ""
    at: Moment | None = None


class Origin(Document):
    """Where a case was logged first."""

    shop: Short = ""
    number: int | None = None


class CaseDocument(CaseFacts):
    """A whole case, as it goes out to a file or a program and comes back."""

    schema_name: Annotated[Literal["copperlog-case/1"], Field(alias="schema")] = CASE_SCHEMA
    origin: Origin = Origin()
    circuit: CircuitReference | None = None
    readings: tuple[ReadingDocument, ...] = ()
    claim: Claim | None = None
    repair: Repair = Repair(outcome=Outcome.OPEN)
    after_work: Annotated[tuple[AfterLine, ...], Field(max_length=200)] = ()
    author: Short = ""
    opened_at: Moment | None = None
    repaired_at: Moment | None = None
    closed_at: Moment | None = None

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        ser_json_inf_nan="strings",
        populate_by_name=True,
        serialize_by_alias=True,
    )


class FindingDocument(Document):
    """What the readings say about one suspect; `suspect` is "healthy" for the car in order.

    `predicted` and `distance` run in parallel with the readings of the judgement; distance is
    logged minus predicted in combined standard uncertainties, and `model_reach` how far the parts'
    tolerances let the prediction lie from `predicted`. `deciding` is the number of the reading
    that decided. `watts` is the heat in the fault and `overloads` the fuses that would
    not have stood its current: warnings, never a reason to exclude.
    """

    suspect: str
    words: str
    outcome: OutcomeWord
    misfit: Unbounded
    misfit_limit: Unbounded
    severity: Unbounded | None = None
    severity_low: Unbounded | None = None
    severity_high: Unbounded | None = None
    severity_unit: str = ""
    severity_words: str = ""
    watts: Unbounded | None = None
    overloads: tuple[str, ...] = ()
    predicted: tuple[Unbounded, ...] = ()
    distance: tuple[Unbounded, ...] = ()
    model_reach: tuple[Unbounded, ...] = ()
    deciding: int | None = None
    because: str = ""


class JudgedReading(Document):
    """A reading that was judged. `noted` marks the supply volts written beside another reading.

    `meter_reach` is how far the meter may be off; verdicts of older engines do not tell.
    """

    number: int
    place: str
    phase: str
    text: str = ""
    value: float
    loaded: bool = True
    rig: Rig = Rig()
    noted: bool = False
    statistic: Statistic = Statistic.STEADY
    meter_reach: Unbounded | None = None


class SetAside(Document):
    """A reading that speaks neither for nor against a fault, and why."""

    number: int
    place: str
    phase: str
    text: str = ""
    because: str


class TwinGroup(Document):
    """Suspects that no listed place can part, and the connections between them that would."""

    suspects: tuple[str, ...]
    between: tuple[str, ...] = ()


class PartingReading(Document):
    """The reading that parts two suspects best, and what each would show there."""

    first: str
    second: str
    phase: str
    place: str
    first_value: Unbounded
    second_value: Unbounded
    distance: Unbounded


class SlipDocument(Document):
    """A reading without which something fits, where nothing fits them all.

    It is reading `number`, kept as it was typed. `value` and `predicted`, what the best of those
    in `fits` would show in its stead, are in the unit of the place. `noted` as for the reading.
    """

    number: int
    place: str
    phase: str
    text: str = ""
    noted: bool = False
    value: Unbounded
    predicted: Unbounded
    fits: tuple[str, ...]


class PairedFault(Document):
    """One of two faults that fit together, at its best severity."""

    suspect: str
    words: str
    severity: Unbounded
    severity_unit: str = ""
    severity_words: str = ""


class PairDocument(Document):
    """Two faults that fit together where no single one does.

    `predicted` and `explained` run in parallel with the readings of the judgement: what both
    would show, and which of them answers for the reading; `neither` is as in the car in order.
    """

    first: PairedFault
    second: PairedFault
    misfit: Unbounded
    misfit_limit: Unbounded
    predicted: tuple[Unbounded, ...]
    explained: tuple[Literal["first", "second", "either", "together", "neither"], ...]


class Judgement(Document):
    """What one set of readings says: the claim, the car in order, and every other suspect.

    `without_symptom` are the numbers of readings taken without the symptom that the car in order
    explains: they are not judged. Where they are all there is, the claim cannot be told from
    anything and no finding is listed. Where nothing fits, `slips` are single readings that stand
    in the way, and `pairs` two faults at once; null means that they were not looked for yet. With
    them come `mended`, what a reading may have been meant as, and `other_rules` of the drawing.
    """

    readings: tuple[JudgedReading, ...]
    claim: FindingDocument | None = None
    healthy: FindingDocument
    findings: tuple[FindingDocument, ...] = ()
    twins: tuple[TwinGroup, ...] = ()
    partings: tuple[PartingReading, ...] = ()
    nothing_fits: bool = False
    notes: tuple[str, ...] = ()
    without_symptom: tuple[int, ...] = ()
    slips: tuple[SlipDocument, ...] = ()
    pairs: tuple[PairDocument, ...] | None = None
    mended: tuple[MendedSlip, ...] = ()
    other_rules: tuple[OtherRule, ...] = ()

    @property
    def lacks_pairs(self) -> bool:
        """Whether pairs of faults are still to be looked for."""
        return self.nothing_fits and self.pairs is None


class VerdictDocument(Document):
    """What the circuit says about a case.

    `before` judges the readings from before the repair against every fault, `after` those from
    after it against the car in order and the claim. `own` holds the same for the readings taken
    here, where others came with a copy. `failure` says why nothing could be judged. `codes` says
    what each code makes of the suspects, `code_set` what those that are set share. Where nothing
    fits, `look_at` says what to look at, in that order, and what speaks for it.
    """

    schema_name: Annotated[
        Literal["copperlog-verdict/2"], BeforeValidator(_newest_form), Field(alias="schema")
    ] = VERDICT_SCHEMA
    engine_version: str
    claim: str = ""
    outcome: OutcomeWord | Literal[""] = ""
    before: Judgement | None = None
    after: Judgement | None = None
    set_aside: tuple[SetAside, ...] = ()
    failure: str = ""
    codes: tuple[CodeEvidence, ...] = ()
    code_set: CodeSet | None = None
    look_at: tuple[LookAt, ...] = ()
    own: "VerdictDocument | None" = None

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        ser_json_inf_nan="strings",
        populate_by_name=True,
        serialize_by_alias=True,
    )


class AnswerDocument(Document):
    """How an exercise was answered: the verdict on the fault that was named, and the rivals.

    `claim` is what the case itself claims; a twin of it could not be told from it.
    """

    named: str
    outcome: OutcomeWord | Literal[""]
    because: str
    rivals: tuple[str, ...]
    claim: str
    is_the_claim: bool
    is_a_twin_of_the_claim: bool
    verdict: VerdictDocument
