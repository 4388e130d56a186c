"""What the places of a circuit show in each phase, as a table: healthy, and with a fault."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from circuits.engine import (
    AS_IT_STANDS,
    Fault,
    Meter,
    Network,
    Prediction,
    Rig,
    Sweep,
    suspects,
    sweep,
)
from circuits.on_vehicles.seen import Seen, SeenReading, narrowed_by
from circuits.predicting.severities import SeverityScale, fault_words
from circuits.sheet import OHM_UNITS, PhaseEntry, PlaceEntry, Sheet, engine_places
from circuits.units import base_units_in, format_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What a meter shows, in the unit of its place, and the range that is still normal."""

    prediction: Prediction
    unit: str

    @property
    def value(self) -> str:
        if self.prediction.over_range:
            return "OL"
        return format_in(self.prediction.value, self.unit)

    @property
    def step(self) -> float:
        """The last digit of the display, in the base unit."""
        digits = format_in(self.prediction.value, self.unit).partition(" ")[0]
        return base_units_in(self.unit) * 10.0 ** -len(digits.partition(".")[2])

    @property
    def low(self) -> str:
        return format_in(self.prediction.low, self.unit)

    @property
    def high(self) -> str:
        return format_in(self.prediction.high, self.unit)

    @property
    def words(self) -> str:
        """Return the reading in words where a number alone would mislead."""
        if self.prediction.over_range:
            return "OL: no path"
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
    #: What healthy vehicles showed here; `healthy` has its band narrowed by it.
    seen: Seen | None = None

    @property
    def seen_words(self) -> str:
        """Say what was seen on healthy vehicles; empty where nobody kept a reading."""
        if self.seen is None:
            return ""
        low, high = (
            format_in(value, self.healthy.unit) for value in (self.seen.lowest, self.seen.highest)
        )
        cars = (
            "1 healthy vehicle" if self.seen.count == 1 else f"{self.seen.count} healthy vehicles"
        )
        return f"seen on {cars}: {low if low == high else f'{low} to {high}'}"

    @property
    def tells_apart(self) -> bool:
        """Whether this reading parts the faulty circuit from the healthy one."""
        if self.faulty is None:
            return False
        one, other = self.healthy.prediction, self.faulty.prediction
        # Where both are next to nothing, the display's own counts are all that parts them.
        counts = Meter().counts * max(self.healthy.step, self.faulty.step)
        return max(other.low - one.high, one.low - other.high) > counts


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceLine:
    """One place in all phases; without cells where nothing is predicted."""

    place: PlaceEntry
    cells: tuple[Cell, ...]

    @property
    def label(self) -> str:
        """Return what the place is, with what has to be done before ohms are read."""
        if self.place.unit in OHM_UNITS:
            return f"{self.place.label} (battery disconnected)"
        return self.place.label

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
        return fault_words(self.fault) if self.fault else ""


Predictions = Mapping[tuple[str, str], Prediction]
#: What healthy vehicles showed, by phase and place.
References = Mapping[tuple[str, str], Sequence[SeenReading]]
NO_REFERENCES: References = MappingProxyType({})


def predicted_table(
    sheet: Sheet,
    network: Network,
    *,
    fault: Fault | None = None,
    rig: Rig = AS_IT_STANDS,
    meter: Meter | None = None,
    phases: tuple[str, ...] = (),
    references: References = NO_REFERENCES,
) -> PredictedTable:
    """Return what every place shows; `phases` narrows the table, empty means all.

    `references` are readings of healthy vehicles, which narrow the healthy bands; they are of
    vehicles as they stand and say nothing with another rig.

    Raises
    ------
    BadPlace
        The rig names something that is not in the circuit.
    """
    asked = [None, fault] if fault is not None else [None]
    shown = sweep(network, engine_places(sheet), asked, rig=rig, meter=meter)
    if rig != AS_IT_STANDS:
        references = NO_REFERENCES
    return _table(sheet, shown, 1 if fault is not None else None, phases, references)


def tables_of_all_faults(
    sheet: Sheet,
    network: Network,
    *,
    rig: Rig = AS_IT_STANDS,
    meter: Meter | None = None,
    phases: tuple[str, ...] = (),
) -> tuple[PredictedTable, ...]:
    """Return a table for every fault of the circuit: at some severities between, and at its worst.

    Raises
    ------
    BadPlace
        The rig names something that is not in the circuit.
    """
    faults = [
        Fault(suspect=suspect, severity=severity)
        for suspect in suspects(network)
        for scale in (SeverityScale(suspect),)
        for severity in (*scale.middles, scale.end)
    ]
    shown = sweep(network, engine_places(sheet), [None, *faults], rig=rig, meter=meter)
    return tuple(_table(sheet, shown, number, phases) for number in range(1, len(faults) + 1))


def _table(
    sheet: Sheet,
    shown: Sweep,
    number: int | None,
    phases: tuple[str, ...],
    references: References = NO_REFERENCES,
) -> PredictedTable:
    kept = tuple(phase for phase in sheet.phases if not phases or phase.key in phases)
    healthy = shown.predictions(0)
    faulty = shown.predictions(number) if number is not None else None
    return PredictedTable(
        phases=kept,
        lines=tuple(_line(place, kept, healthy, faulty, references) for place in sheet.places),
        fault=shown.faults[number] if number is not None else None,
    )


def _line(
    place: PlaceEntry,
    phases: tuple[PhaseEntry, ...],
    healthy: Predictions,
    faulty: Predictions | None,
    references: References,
) -> PlaceLine:
    if place.not_computed:
        return PlaceLine(place=place, cells=())
    cells = []
    for phase in phases:
        seat = (phase.key, place.key)
        readings = references.get(seat, ())
        seen = narrowed_by(healthy[seat], readings) if readings else None
        drawn = seen.narrowed if seen is not None else healthy[seat]
        cells.append(
            Cell(
                phase=phase.key,
                healthy=Shown(prediction=drawn, unit=place.unit),
                faulty=Shown(prediction=faulty[seat], unit=place.unit)
                if faulty is not None
                else None,
                seen=seen,
            )
        )
    return PlaceLine(place=place, cells=tuple(cells))
