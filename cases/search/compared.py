"""Readings beside what the car in order would show: what search compares of a case.

A verdict tells it, once a case has one. Of a case that has none yet it is worked out without trying
any suspect, which for thousands of cases takes seconds where their verdicts take an hour.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from threading import Lock

from cases.circuit import CaseCircuit
from cases.documents.readings import Rig
from cases.documents.verdicts import JudgedReading, Judgement
from cases.judging.lines import NOT_NARROWED, Line, Narrowed, engine_readings, set_aside
from cases.models import Stage, Statistic
from circuits.engine import Seated, SoundCar


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """A reading beside the car in order; `number` is its own in the verdict or the log.

    `value` and `predicted` are in the base unit of the place, `distance` in combined standard
    uncertainties.
    """

    number: int
    place: str
    phase: str
    rig: Rig
    statistic: Statistic
    value: float
    predicted: float
    distance: float


def compared_in(judgement: Judgement | None) -> list[Compared]:
    """Return the readings that a judgement heard."""
    if judgement is None:
        return []
    healthy = judgement.healthy
    return [
        _compared(reading, reading.number, predicted, distance)
        for reading, predicted, distance in zip(
            judgement.readings, healthy.predicted, healthy.distance, strict=True
        )
    ]


def _compared(reading: JudgedReading, number: int, predicted: float, distance: float) -> Compared:
    return Compared(
        number=number,
        place=reading.place,
        phase=reading.phase,
        rig=reading.rig,
        statistic=reading.statistic,
        value=reading.value,
        predicted=predicted,
        distance=distance,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Ready:
    """A line made ready to be compared: its entry in a verdict, and its seat in the car."""

    entry: JudgedReading
    seated: Seated


class Comparer:
    """Compares the logs of many cases of one circuit with the car in order.

    `narrowed` is what healthy vehicles leave of the circuit's bands, by phase and place.
    """

    def __init__(self, circuit: CaseCircuit, narrowed: Narrowed = NOT_NARROWED) -> None:
        self._circuit, self._narrowed = circuit, narrowed
        self._car = SoundCar(circuit.network, circuit.supplies, tuple(circuit.places.values()))
        #: What the car shows is kept from one log to the next, and threads share it.
        self._lock = Lock()

    def ready(self, lines: Iterable[Line]) -> list[Ready]:
        """Return those lines of a log that a verdict would judge as taken before the repair."""
        before = [line for line in lines if line.stage == Stage.BEFORE]
        judged = [line for line in before if set_aside(self._circuit, line) is None]
        taken = engine_readings(self._circuit, judged, self._narrowed)
        with self._lock:
            return [Ready(entry, self._car.seated(reading)) for reading, entry in taken]

    def compared(self, log: Sequence[tuple[Ready, int]]) -> list[Compared]:
        """Return what a verdict would compare of a log; each line comes with its number.

        Raises
        ------
        EngineError
            The circuit cannot be solved with what was done for a reading; then no verdict can.
        """
        if not log:
            return []
        with self._lock:
            beside = self._car.beside([ready.seated for ready, _ in log])
        return [
            _compared(ready.entry, number, each.predicted, each.distance)
            for (ready, number), each in zip(log, beside, strict=True)
            if each is not None
        ]
