"""The form in which a case travels: REST, commands and files use it.

Readings keep the digits as typed; `None` is "not measured".
"""

from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, Final, Literal, Self

from pydantic import (
    Field,
    StringConstraints,
    model_validator,
)

from cases.documents.base import (
    Document,
    Moment,
    NamedDocument,
    Short,
    Stored,
    Text,
)
from cases.documents.readings import ReadingDocument
from cases.models.choices import (
    CODE_LENGTH,
    CodeStatus,
    Outcome,
    Symptom,
)
from circuits.codes.failure_modes import MOST_FMI, with_fmi, without_fmi
from circuits.documents.base import Unbounded

CASE_SCHEMA: Final = "copperlog-case/1"


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
    """A fault code: the code, its failure-type byte, the module that gave it, and how it stood.

    A heavy vehicle's code has an FMI: told as `fmi` or written behind the code, it is both.
    """

    code: CodeText
    fmi: Annotated[int, Field(ge=0, le=MOST_FMI)] | None = None
    failure_type: Annotated[
        str,
        StringConstraints(strip_whitespace=True, to_upper=True, pattern=r"^([0-9A-Fa-f]{2})?$"),
    ] = ""
    module: Annotated[Short, StringConstraints(max_length=60)] = ""
    status: CodeStatus | Literal[""] = ""

    @model_validator(mode="before")
    @classmethod
    def _with_fmi_both_ways(cls, told: Any) -> Any:
        if not isinstance(told, dict) or not isinstance(told.get("code"), str):
            return told
        code, fmi = told["code"].strip(), told.get("fmi")
        written = without_fmi(code)[1]
        if written is not None and fmi is None:
            return {**told, "fmi": written}
        if written is None and isinstance(fmi, int) and code:
            return {**told, "code": with_fmi(code, fmi)}
        return told

    @model_validator(mode="after")
    def _one_meaning(self) -> Self:
        if self.fmi is not None and self.fmi != without_fmi(self.code)[1]:
            raise ValueError(f"the code is {self.code} and the FMI {self.fmi}; tell one of them")
        return self

    def as_kept(self) -> dict[str, Any]:
        """Return the code as a row keeps it: the FMI is part of what the code is called."""
        return self.model_dump(exclude={"fmi"})


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


class CircuitReference(Document):
    """The circuit of a case: its whole text, the stored circuit it was judged with, or a file.

    `file` is for case files alone: the path of the circuit's file, seen from the case's own.
    """

    circuit: Short = ""
    revision: int | None = None
    digest: Short = ""
    text: Stored = ""
    file: Short = ""


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


class CaseDocument(CaseFacts, NamedDocument):
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
