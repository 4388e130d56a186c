"""The form in which predictions travel: REST and the commands use it."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Final, Literal

from pydantic import Field

from circuits.documents.base import CircuitName, Document, NamedDocument, Unbounded
from circuits.engine import Fault
from circuits.on_vehicles.open_rules import OpenRule
from circuits.on_vehicles.seen import Seen
from circuits.predicting.severities import fault_words
from circuits.predicting.tables import Cell, PlaceLine, PredictedTable, Shown
from circuits.sheet import Sheet

PREDICTION_SCHEMA: Final = "copperlog-prediction/1"
ALL_FAULTS_SCHEMA: Final = "copperlog-all-faults/1"


class PhaseWords(Document):
    """A phase of the circuit, in words."""

    key: str
    words: str


class FaultWords(Document):
    """The fault that the circuit was given."""

    suspect: str
    unit: str
    severity: Unbounded
    words: str


class PredictedReading(Document):
    """What a meter shows: `value`, `low` and `high` in V, A or ohms, `shown` as on the display.

    `low` to `high` is the range that part tolerances and the meter leave open. A place that
    `floats` is joined to nothing; where it `chatters` the range spans both states.
    An ohmmeter that shows OL is `over_range`; the value is then the top of its range.
    """

    value: float
    low: float
    high: float
    shown: str
    floating: bool
    chatters: bool
    over_range: bool = False


class SeenOnVehicles(Document):
    """What healthy vehicles showed here, in V, A or ohms.

    From three vehicles on it narrows the healthy band (`narrowed`), unless some of them lie
    `outside` what the drawing allows: then its values are in doubt, and the band stays.
    """

    vehicles: int
    lowest: float
    highest: float
    narrowed: bool
    outside: int


class PredictedPhase(Document):
    """A place in one phase: healthy, and with the fault where one was asked for."""

    phase: str
    healthy: PredictedReading
    faulty: PredictedReading | None = None
    tells_apart: bool | None = Field(
        default=None, description="Whether this reading parts the faulty circuit from the healthy."
    )
    seen: SeenOnVehicles | None = None


class PartingReading(Document):
    """A reading that tells an assumed rule from its alternative."""

    place: str
    phase: str
    drawn: PredictedReading
    alternative: PredictedReading
    words: str


class OpenRuleShown(Document):
    """An assumed rule, what it may be instead, and the readings that part them, best first."""

    rule: str
    drawn: str
    alternative: str
    partings: tuple[PartingReading, ...]


class PredictedPlace(Document):
    """A place in all phases; without readings where nothing is computed, and why."""

    key: str
    label: str
    shown_unit: str
    not_computed: str = ""
    readings: tuple[PredictedPhase, ...] = ()


class PredictionDocument(NamedDocument):
    """What every place of a circuit shows in every phase.

    Typical values of the drawing, no specification: the maker's procedure comes first.
    """

    schema_name: Annotated[Literal["copperlog-prediction/1"], Field(alias="schema")] = (
        PREDICTION_SCHEMA
    )
    circuit: CircuitName
    phases: tuple[PhaseWords, ...]
    fault: FaultWords | None = None
    places: tuple[PredictedPlace, ...]
    open_rules: tuple[OpenRuleShown, ...] = ()


class FaultyReading(PredictedReading):
    """What one place shows in one phase with a fault, and whether that parts it from healthy."""

    place: str
    phase: str
    tells_apart: bool


class FaultReadings(Document):
    """One fault at one severity, and every reading with it."""

    fault: FaultWords
    readings: tuple[FaultyReading, ...]


class AllFaultsDocument(NamedDocument):
    """What every place shows in every phase: healthy, and with every fault from mild to worst.

    Typical values of the drawing, no specification: the maker's procedure comes first.
    """

    schema_name: Annotated[Literal["copperlog-all-faults/1"], Field(alias="schema")] = (
        ALL_FAULTS_SCHEMA
    )
    circuit: CircuitName
    phases: tuple[PhaseWords, ...]
    places: tuple[PredictedPlace, ...]
    faults: tuple[FaultReadings, ...]


def prediction_document(
    sheet: Sheet, table: PredictedTable, rules: Sequence[OpenRule] = ()
) -> PredictionDocument:
    """Return a table of predictions as it travels, with the assumed rules that may be otherwise."""
    return PredictionDocument(
        circuit=_circuit(sheet),
        phases=_phases(table),
        fault=_fault(table.fault) if table.fault is not None else None,
        places=tuple(map(_place, table.lines)),
        open_rules=tuple(map(open_rule_shown, rules)),
    )


def open_rule_shown(rule: OpenRule) -> OpenRuleShown:
    """Return an assumed rule as it travels."""
    return OpenRuleShown(
        rule=rule.name,
        drawn=rule.drawn_words,
        alternative=rule.other_words,
        partings=tuple(
            PartingReading(
                place=parting.place.key,
                phase=parting.phase.key,
                drawn=_reading(parting.drawn),
                alternative=_reading(parting.other),
                words=parting.words,
            )
            for parting in rule.partings
        ),
    )


def all_faults_document(
    sheet: Sheet, healthy: PredictedTable, tables: Sequence[PredictedTable]
) -> AllFaultsDocument:
    """Return the tables of all faults as they travel."""
    return AllFaultsDocument(
        circuit=_circuit(sheet),
        phases=_phases(healthy),
        places=tuple(map(_place, healthy.lines)),
        faults=tuple(
            FaultReadings(fault=_fault(table.fault), readings=tuple(_faulty_readings(table)))
            for table in tables
            if table.fault is not None
        ),
    )


def _faulty_readings(table: PredictedTable) -> Iterator[FaultyReading]:
    for line in table.lines:
        for cell in line.cells:
            if cell.faulty is not None:
                yield FaultyReading(
                    place=line.place.key,
                    phase=cell.phase,
                    tells_apart=cell.tells_apart,
                    **_reading(cell.faulty).model_dump(),
                )


def _circuit(sheet: Sheet) -> CircuitName:
    return CircuitName(key=sheet.vehicle.key, title=sheet.vehicle.title)


def _phases(table: PredictedTable) -> tuple[PhaseWords, ...]:
    return tuple(PhaseWords(key=phase.key, words=phase.words) for phase in table.phases)


def _fault(fault: Fault) -> FaultWords:
    suspect = fault.suspect
    return FaultWords(
        suspect=suspect.id, unit=suspect.unit, severity=fault.severity, words=fault_words(fault)
    )


def _place(line: PlaceLine) -> PredictedPlace:
    return PredictedPlace(
        key=line.place.key,
        label=line.label,
        shown_unit=line.place.unit,
        not_computed=line.place.not_computed,
        readings=tuple(map(_phase, line.cells)),
    )


def _phase(cell: Cell) -> PredictedPhase:
    return PredictedPhase(
        phase=cell.phase,
        healthy=_reading(cell.healthy),
        faulty=_reading(cell.faulty) if cell.faulty is not None else None,
        tells_apart=cell.tells_apart if cell.faulty is not None else None,
        seen=_seen(cell.seen) if cell.seen is not None else None,
    )


def _seen(seen: Seen) -> SeenOnVehicles:
    return SeenOnVehicles(
        vehicles=seen.count,
        lowest=seen.lowest,
        highest=seen.highest,
        narrowed=seen.is_narrower,
        outside=seen.outside,
    )


def _reading(shown: Shown) -> PredictedReading:
    prediction = shown.prediction
    return PredictedReading(
        value=prediction.value,
        low=prediction.low,
        high=prediction.high,
        shown=shown.value,
        floating=prediction.floating,
        chatters=prediction.chatters,
        over_range=prediction.over_range,
    )
