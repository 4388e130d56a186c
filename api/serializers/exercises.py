"""Exercises: what a learner sees of a case before the fault is named, and what afterwards."""

from datetime import datetime
from typing import Annotated

from pydantic import AliasPath, Field

from api.serializers.cases import CaseShown, CircuitOfCase, Needed
from api.serializers.documents import Shown
from cases.documents.base import Document
from cases.documents.cases import CodeFacts, VehicleFacts
from cases.documents.readings import Rig
from cases.documents.verdicts import AnswerDocument


class NewExercise(Document):
    """A shared case to be set as an exercise."""

    case: int = Field(description="Id of a shared case that claims a fault.")
    shop: Needed = Field(description="Short name of the shop or class that is to work on it.")


class ExerciseRow(Shown):
    """An exercise as a line of the list: nothing that names part or outcome."""

    id: int
    shop: str
    opened_at: datetime
    vehicle: str
    system: str
    complaint: str


class TaskShown(Shown):
    """What is known of the case: no part, no outcome, nothing that names them."""

    id: int = Field(validation_alias=AliasPath("exercise", "pk"))
    shop: str = Field(validation_alias=AliasPath("exercise", "shop", "slug"))
    opened_at: datetime = Field(validation_alias=AliasPath("exercise", "opened_at"))
    vehicle: VehicleFacts
    circuit: CircuitOfCase = Field(validation_alias="revision")
    system: str
    complaint: str
    symptom: str
    conditions: str
    complaint_phase: str
    codes: tuple[CodeFacts, ...]


class Asking(Document):
    """A reading that is asked for."""

    place: Needed
    phase: Needed
    rig: Rig = Rig()


class Naming(Document):
    """The fault that a learner settled on."""

    suspect: Needed = Field(description="A suspect of the circuit, or `healthy`.")


class AskedShown(Shown):
    """A reading that was asked for, and what the meter showed."""

    place: str = Field(validation_alias="place_key")
    phase: str = Field(validation_alias="phase_key")
    unplugged: tuple[str, ...]
    bridged: tuple[tuple[str, str], ...]
    lamp_watts: float | None
    power_removed: bool
    text: str
    unit: str
    minutes: int = Field(description="What it cost.")
    at: datetime


class AttemptRow(Shown):
    """An attempt as a line of the list."""

    id: int = Field(validation_alias="pk")
    exercise: int = Field(validation_alias="exercise_id")
    started_at: datetime
    answered_at: datetime | None


class AttemptShown(Shown):
    """One's own attempt; `answer` and `case` are there once a fault has been named."""

    id: int
    started_at: datetime
    task: TaskShown
    asked: tuple[AskedShown, ...]
    minutes: Annotated[int, Field(description="What all readings cost together.")]
    answered_at: datetime | None
    answer: AnswerDocument | None
    case: CaseShown | None = Field(
        description="The case with part and outcome, as long as it is shared."
    )


class NamedShown(Shown):
    """A fault that somebody named, and what the verdict said of it on their readings."""

    suspect: str
    people: int
    fits: int
    does_not_fit: int
    cannot_say: int
    is_the_claim: bool
    is_a_twin: bool = Field(description="No listed place parts it from what the case found.")


class PlaceAskedShown(Shown):
    """A reading that somebody asked for, and how many did."""

    place: str
    phase: str
    rig: Rig
    people: int


class LeftStandingShown(Shown):
    """A fault that the readings of so many had not excluded when they named another."""

    suspect: str
    people: int


class ClassShown(Shown):
    """What a class made of an exercise; all below `counted` is about so many people."""

    began: int
    answered: int
    counted: int = Field(description="Five at a time, in the order in which they answered.")
    readings: float = Field(description="How many the person in the middle asked for.")
    minutes: float = Field(description="What they cost the person in the middle.")
    named: tuple[NamedShown, ...]
    asked: tuple[PlaceAskedShown, ...]
    left_standing: tuple[LeftStandingShown, ...]
