"""What the places of a circuit show in each phase, as a table: healthy, and with a fault."""

from collections.abc import Mapping
from dataclasses import dataclass

from circuits.engine import AS_IT_STANDS, Fault, Meter, Network, Prediction, Rig, predict
from circuits.sheet import PhaseEntry, PlaceEntry, Sheet, engine_place
from circuits.units import format_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What a meter shows, in the unit of its place, and the range that is still normal."""

    prediction: Prediction
    unit: str

    @property
    def value(self) -> str:
        return format_in(self.prediction.value, self.unit)

    @property
    def low(self) -> str:
        return format_in(self.prediction.low, self.unit)

    @property
    def high(self) -> str:
        return format_in(self.prediction.high, self.unit)

    @property
    def words(self) -> str:
        """Return the reading in words where a number alone would mislead."""
        if self.prediction.chatters:
            return f"chatters, {self.low} to {self.high}"
        if self.prediction.floating:
            return f"floating, about {self.value}"
        return self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One place in one phase: healthy, and with the fault where one was asked for."""

    phase: str
    healthy: Shown
    faulty: Shown | None = None

    @property
    def tells_apart(self) -> bool:
        """Whether this reading parts the faulty circuit from the healthy one."""
        if self.faulty is None:
            return False
        one, other = self.healthy.prediction, self.faulty.prediction
        return one.high < other.low or other.high < one.low


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceLine:
    """One place in all phases; without cells where nothing is predicted."""

    place: PlaceEntry
    cells: tuple[Cell, ...]

    def in_phase(self, phase: str) -> Cell:
        return next(cell for cell in self.cells if cell.phase == phase)


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictedTable:
    """All places of a circuit in all its phases."""

    phases: tuple[PhaseEntry, ...]
    lines: tuple[PlaceLine, ...]
    fault: Fault | None = None

    @property
    def fault_words(self) -> str:
        return self.fault.suspect.describe(self.fault.severity) if self.fault else ""


Predictions = Mapping[tuple[str, str], Prediction]


def predicted_table(
    sheet: Sheet,
    network: Network,
    *,
    fault: Fault | None = None,
    rig: Rig = AS_IT_STANDS,
    meter: Meter | None = None,
    phases: tuple[str, ...] = (),
) -> PredictedTable:
    """Return what every place shows; `phases` narrows the table, empty means all.

    Raises
    ------
    BadPlace
        The rig names something that is not in the circuit.
    """
    computed = [engine_place(place) for place in sheet.places if not place.not_computed]
    healthy = predict(network, computed, rig=rig, meter=meter)
    faulty: Predictions | None = None
    if fault is not None:
        faulty = predict(network, computed, fault=fault, rig=rig, meter=meter)
    shown = tuple(phase for phase in sheet.phases if not phases or phase.key in phases)
    return PredictedTable(
        phases=shown,
        lines=tuple(_line(place, shown, healthy, faulty) for place in sheet.places),
        fault=fault,
    )


def _line(
    place: PlaceEntry,
    phases: tuple[PhaseEntry, ...],
    healthy: Predictions,
    faulty: Predictions | None,
) -> PlaceLine:
    if place.not_computed:
        return PlaceLine(place=place, cells=())
    return PlaceLine(
        place=place,
        cells=tuple(
            Cell(
                phase=phase.key,
                healthy=Shown(prediction=healthy[phase.key, place.key], unit=place.unit),
                faulty=Shown(prediction=faulty[phase.key, place.key], unit=place.unit)
                if faulty is not None
                else None,
            )
            for phase in phases
        ),
    )
