"""The other sheets of a vehicle, and what a fault of a shared part does there."""

from pydantic import Field

from api.serializers.documents import Shown
from circuits.documents.base import Unbounded


class ChangeShown(Shown):
    """A consumer whose amps the fault changes in a phase."""

    part: str
    phase: str
    healthy_amps: Unbounded
    faulty_amps: Unbounded


class OtherSheetShown(Shown):
    """Another circuit of the vehicle, and the things that both sheets show by the same name."""

    circuit: str
    title: str
    revision: int
    shared: tuple[str, ...]
    fault_is_there: bool | None = Field(
        default=None,
        description="Whether that sheet can have the fault that was asked for; null if none was, or"
        " if its part is not shared with that sheet.",
    )
    changes: tuple[ChangeShown, ...] = Field(
        default=(), description="What the fault does there, as bad as it can be."
    )


class SheetEndShown(Shown):
    """A connection at which the sheet ends, and the circuit on which it goes on."""

    connection: str
    circuit: str
    is_here: bool


class OtherSheetsShown(Shown):
    """How a sheet hangs together with the others of its vehicle."""

    circuit: str
    revision: int
    others: tuple[OtherSheetShown, ...]
    ends: tuple[SheetEndShown, ...]
