"""Drawings of circuits, the ways of their pins, and parts moved in them, as REST shows them."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from api.serializers.documents import Shown
from circuits.models import FARTHEST

Steps = Annotated[int, Field(ge=-FARTHEST, le=FARTHEST)]


class SeenShown(Shown):
    """What the drawing shows of a connection or a part."""

    words: str
    band: int | None = Field(description="0 at 0 V to 4 at the supply; null floats or has none.")


class LineShown(Shown):
    """A connection or a part in the phase, healthy and with the fault where one is asked for."""

    name: str
    note: str
    healthy: SeenShown
    faulty: SeenShown | None


class MeasuresShown(Shown):
    """How good the drawing is; the first three are always 0."""

    false_joins: int
    through_parts: int
    overlaps: int
    crossings: int
    bends: int


class DrawingShown(Shown):
    """A drawing with what it shows in words."""

    circuit: str
    revision: int
    phase: str | None
    fault: str | None = Field(description="The fault in words.")
    width: int
    height: int
    measures: MeasuresShown
    connections: tuple[LineShown, ...]
    parts: tuple[LineShown, ...]
    svg: str


class WayShown(Shown):
    """Parts from the pin to the source, or to 0 V; `blocked_by` is open or absent."""

    parts: tuple[str, ...]
    end: str
    blocked_by: tuple[str, ...]


class PhaseWaysShown(Shown):
    """The ways of a pin in one phase; null where the drawing has none."""

    phase: str
    supply: WayShown | None
    back: WayShown | None


class SharedShown(Shown):
    """A fuse, splice or ground on the ways, and every consumer that hangs on it."""

    kind: str
    name: str
    consumers: tuple[str, ...]


class ChangeShown(Shown):
    """A consumer whose amps the fault changes."""

    part: str
    phase: str
    healthy_amps: float
    faulty_amps: float


class ComplaintShown(Shown):
    """A fault at the pin, and what it does."""

    words: str
    changes: tuple[ChangeShown, ...]


class PinReportShown(Shown):
    """What belongs to a pin."""

    pin: str
    ways: tuple[PhaseWaysShown, ...]
    shared: tuple[SharedShown, ...]
    complaints: tuple[ComplaintShown, ...]


class NudgeInput(BaseModel):
    """A part to be moved from where it is drawn now."""

    model_config = ConfigDict(extra="forbid")

    part: str
    right: Steps = Field(default=0, description="Steps to the right; a minus goes left.")
    down: Steps = Field(default=0, description="Rows down; a minus goes up.")


class MovedPart(Shown):
    """A part that was moved, from where the layout puts it."""

    part: str
    right: int
    down: int


class NudgesShown(Shown):
    """All parts of a circuit's drawing that were moved."""

    circuit: str
    moved: tuple[MovedPart, ...]
