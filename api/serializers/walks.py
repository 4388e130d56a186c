"""Walk-throughs of circuits: what comes in and what goes out."""

from datetime import datetime

from pydantic import BaseModel, ConfigDict, Field

from api.serializers.documents import Shown


class StepWanted(BaseModel):
    """A state of the drawing and its sentence."""

    model_config = ConfigDict(extra="forbid")

    sentence: str
    phase: str = Field(default="", description="The phase drawn; left out, at rest.")
    suspect: str = Field(default="", description="A fault, such as `resistance:C40`.")
    severity: str = Field(default="", description="How bad: `1.1 Ohm`, `open`, `short`.")
    pin: str = Field(default="", description="A connection whose ways are marked.")


class WalkWanted(BaseModel):
    """A walk-through, whole: steps that are not sent are gone."""

    model_config = ConfigDict(extra="forbid")

    title: str
    steps: list[StepWanted]


class StepShown(Shown):
    """A step as it was written."""

    sentence: str
    phase: str
    suspect: str
    severity: str
    pin: str


class WalkShown(Shown):
    """A walk-through with its steps in order."""

    circuit: str
    number: int
    title: str
    written_by: str
    written_at: datetime
    steps: tuple[StepShown, ...]


class WalksShown(Shown):
    """All walk-throughs of a circuit."""

    circuit: str
    walks: tuple[WalkShown, ...]
