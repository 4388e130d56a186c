"""The form in which predictions travel: REST and the commands use it."""

from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema

from circuits.predictions import Cell, PlaceLine, PredictedTable, Shown
from circuits.sheet import Sheet

#: A number that may have no end, such as the added ohms of an open: JSON has no word for that, so
#: it travels as text.
Unbounded = Annotated[
    float,
    WithJsonSchema(
        {"anyOf": [{"type": "number"}, {"type": "string", "enum": ["Infinity", "-Infinity"]}]}
    ),
]
PREDICTION_SCHEMA: Final = "copperlog-prediction/1"


class Document(BaseModel):
    """What all documents here share: frozen, infinite ohms as text."""

    model_config = ConfigDict(frozen=True, ser_json_inf_nan="strings")


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
    """What a meter shows: `value`, `low` and `high` in V or A, `shown` as on the display.

    `low` to `high` is the range that part tolerances and the meter leave open. A place that
    `floats` is joined to nothing; where it `chatters` the range spans both states.
    """

    value: float
    low: float
    high: float
    shown: str
    floating: bool
    chatters: bool


class PredictedPhase(Document):
    """A place in one phase: healthy, and with the fault where one was asked for."""

    phase: str
    healthy: PredictedReading
    faulty: PredictedReading | None = None
    tells_apart: bool | None = Field(
        default=None, description="Whether this reading parts the faulty circuit from the healthy."
    )


class PredictedPlace(Document):
    """A place in all phases; without readings where nothing is computed, and why."""

    key: str
    label: str
    shown_unit: str
    not_computed: str = ""
    readings: tuple[PredictedPhase, ...] = ()


class CircuitName(Document):
    """Which circuit it is."""

    key: str
    title: str


class PredictionDocument(Document):
    """What every place of a circuit shows in every phase.

    Typical values of the drawing, no specification: the maker's procedure comes first.
    """

    model_config = ConfigDict(
        frozen=True,
        ser_json_inf_nan="strings",
        validate_by_name=True,
        validate_by_alias=True,
        serialize_by_alias=True,
    )

    schema_name: Annotated[Literal["copperlog-prediction/1"], Field(alias="schema")] = (
        PREDICTION_SCHEMA
    )
    circuit: CircuitName
    phases: tuple[PhaseWords, ...]
    fault: FaultWords | None = None
    places: tuple[PredictedPlace, ...]


def prediction_document(sheet: Sheet, table: PredictedTable) -> PredictionDocument:
    """Return a table of predictions as it travels."""
    fault = None
    if table.fault is not None:
        fault = FaultWords(
            suspect=table.fault.suspect.id,
            unit=table.fault.suspect.unit,
            severity=table.fault.severity,
            words=table.fault_words,
        )
    return PredictionDocument(
        circuit=CircuitName(key=sheet.vehicle.key, title=sheet.vehicle.title),
        phases=tuple(PhaseWords(key=phase.key, words=phase.words) for phase in table.phases),
        fault=fault,
        places=tuple(map(_place, table.lines)),
    )


def _place(line: PlaceLine) -> PredictedPlace:
    return PredictedPlace(
        key=line.place.key,
        label=line.place.label,
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
    )
