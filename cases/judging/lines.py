"""Lines of a log as the engine takes them: what is judged, and what is set aside and why."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

from cases.circuit import CaseCircuit
from cases.documents.readings import Instrument, Rig
from cases.documents.verdicts import JudgedReading, SetAside
from cases.models.choices import Stage, Statistic, SymptomPresent
from circuits.engine import (
    Bound,
    Meter,
    Place,
    PowerNotRemoved,
    Reading,
    ohms_on_live_parts,
    reading_bound,
)
from circuits.engine import Rig as EngineRig
from circuits.on_vehicles.seen import Seen
from circuits.part_sheets.on_the_bench import BenchStep
from circuits.units import format_quantity

# Leads that were held together are known as well as they touch. Common practice, no source.
MEASURED_LEADS_TOLERANCE_OHMS = 0.05
# An OL has no last digit.
OVER_RANGE_STEP = 1.0
SYMPTOMS: Final = {SymptomPresent.YES: True, SymptomPresent.NO: False, SymptomPresent.UNKNOWN: None}
#: What the least and the most that a meter caught say of the steady figure.
BOUNDS: Final = {Statistic.MINIMUM: Bound.FROM_BELOW, Statistic.MAXIMUM: Bound.FROM_ABOVE}
STATISTIC_WORDS: Final = {
    Statistic.MINIMUM: (
        "is a minimum: the steady figure lies there or above, so it speaks only against what would "
        "read lower"
    ),
    Statistic.MAXIMUM: (
        "is a maximum: the steady figure lies there or below, so it speaks only against what would "
        "read higher"
    ),
    Statistic.AVERAGE: "is an average, and is taken as the steady figure of its phase",
}
#: What healthy vehicles leave of bands, by phase and place.
Narrowed = Mapping[tuple[str, str], Seen]
NOT_NARROWED: Narrowed = MappingProxyType({})
AS_IT_STANDS: Final = Rig()
# The last digit of a supply written beside a reading, where no text tells it.
NOTED_SUPPLY_STEP_VOLTS = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a log, as it is judged; `number` is how the verdict refers to it."""

    number: int
    place: str
    phase: str
    text: str
    value: float | None
    step: float
    over_range: bool = False
    rig: Rig = field(default_factory=Rig)
    statistic: Statistic = Statistic.STEADY
    symptom_present: SymptomPresent = SymptomPresent.UNKNOWN
    stage: Stage = Stage.BEFORE
    supply_volts: float | None = None
    celsius: float | None = None
    instrument: Instrument = field(default_factory=Instrument)
    borrowed: bool = False


def engine_readings(
    circuit: CaseCircuit, lines: Sequence[Line], narrowed: Narrowed = NOT_NARROWED
) -> list[tuple[Reading, JudgedReading]]:
    """Return lines as the engine takes them, each with its entry in a verdict.

    Supplies that were noted beside other readings come last, as readings of their own.
    """
    taken = [(_reading(circuit, line, narrowed), line) for line in lines]
    found = [
        (
            reading,
            JudgedReading(
                number=line.number,
                place=line.place,
                phase=line.phase,
                text=line.text,
                value=reading.value,
                loaded=line.rig.is_loaded,
                rig=line.rig,
                statistic=line.statistic,
                meter_reach=_meter_reach(reading),
            ),
        )
        for reading, line in taken
    ]
    return [*found, *_noted_supplies(circuit, lines)]


def _reading(circuit: CaseCircuit, line: Line, narrowed: Narrowed) -> Reading:
    seen = narrowed_at_line(line, narrowed)
    return Reading(
        place=circuit.rigged_place(line.place, line.rig),
        phase=circuit.engine_phase(line.phase),
        value=line.value if line.value is not None else math.inf,
        step=line.step or OVER_RANGE_STEP,
        rig=engine_rig(circuit, circuit.rig_at(line.place, line.rig)),
        meter=engine_meter(line.instrument),
        celsius=line.celsius,
        symptom=_symptom(line),
        tolerance_share=seen.share_left if seen is not None else 1.0,
        bound=BOUNDS.get(line.statistic, Bound.EXACT) if line.value is not None else Bound.EXACT,
    )


def statistic_notes(lines: Sequence[Line]) -> list[str]:
    """Say how readings were taken that are no steady figure."""
    return [
        f"{line.place} in '{line.phase}' {STATISTIC_WORDS[line.statistic]}"
        for line in lines
        if line.statistic in STATISTIC_WORDS
    ]


def _meter_reach(reading: Reading) -> float:
    return float(f"{reading_bound(reading):.4g}")


def aside_line(line: Line, because: str) -> SetAside:
    """Return a line that is not judged, with the reason."""
    return SetAside(
        number=line.number, place=line.place, phase=line.phase, text=line.text, because=because
    )


def set_aside(circuit: CaseCircuit, line: Line) -> SetAside | None:
    """Return why a line is not judged, or None where it is."""
    because = ""
    place = circuit.place_at(line.place)
    in_ohms = place is not None and place.reads_ohms
    step = circuit.bench_step(line.place)
    if step is not None:
        because = _bench_words(step, line)
    elif place is not None and in_ohms and line.text and not line.rig.power_removed:
        because = _live_words(circuit, place, line)
    elif line.over_range and not in_ohms:
        because = "the meter was over its range; that is no number to compare"
    elif line.value is None and not line.over_range:
        because = "not measured"
    elif place is None:
        entry = circuit.entry_at(line.place)
        reason = entry.not_computed if entry is not None else "this circuit has no such place"
        because = f"no prediction is made here: {reason}"
    return aside_line(line, because) if because else None


def _bench_words(step: BenchStep, line: Line) -> str:
    """Return why a reading on the bench is not judged with the circuit; empty where it is."""
    if line.value is None and not line.over_range:
        return "not measured"
    if step.is_alone:
        return ""
    value = math.inf if line.value is None else line.value
    return f"taken on the bench, where it says: {step.shows.compared(value)}"


def _live_words(circuit: CaseCircuit, place: Place, line: Line) -> str:
    """Return why ohms on live parts say nothing, and what the sound circuit would have shown."""
    refusal = PowerNotRemoved(place.key, place.red, place.black).problem
    shown = ohms_on_live_parts(circuit.network, [place])[line.phase, place.key]
    figure = "OL" if shown.over_range else format_quantity(shown.value, "ohm")
    return f"{refusal}. With its power on even the circuit in order would show {figure} here"


def engine_rig(circuit: CaseCircuit, rig: Rig) -> EngineRig:
    """Return what was done for a reading, as the engine takes it; the lamp is made for the car."""
    made = EngineRig(
        unplugged=frozenset(rig.unplugged),
        bridged=rig.bridged,
        lamp_watts=rig.lamp_watts,
        power_removed=rig.power_removed,
        ammeter_in=rig.ammeter_in,
    )
    if rig.lamp_watts is not None:
        made = replace(made, lamp_volts=float(circuit.sheet.vehicle.supply_volts))
    return made if rig.burden_ohms is None else replace(made, burden_ohms=rig.burden_ohms)


def engine_meter(instrument: Instrument) -> Meter:
    """Return the instrument; what is not known of it is a common multimeter."""
    known = instrument.model_dump(exclude_none=True, exclude={"name"})
    if "lead_ohms" in known:
        known["lead_tolerance_ohms"] = MEASURED_LEADS_TOLERANCE_OHMS
    return Meter(**known)


def narrowed_at_line(line: Line, narrowed: Narrowed) -> Seen | None:
    """Return what healthy vehicles leave of a band; they were read as they stood."""
    return narrowed.get((line.phase, line.place)) if line.rig == AS_IT_STANDS else None


def _symptom(line: Line) -> bool | None:
    """Return whether the symptom was there; after the repair its absence is what is hoped for."""
    return SYMPTOMS[line.symptom_present] if line.stage == Stage.BEFORE else None


def _noted_supplies(
    circuit: CaseCircuit, lines: Sequence[Line]
) -> list[tuple[Reading, JudgedReading]]:
    """Return the supply volts written beside other readings, once for each phase without its own.

    They are readings of the supply like any other; a phase in which the supply was logged as a
    reading of its own needs none.
    """
    logged = {line.phase for line in lines if line.place in circuit.supply_places}
    found = []
    for line in lines:
        if line.supply_volts is None or line.phase in logged:
            continue
        logged.add(line.phase)
        reading = Reading(
            place=circuit.supply_place,
            phase=line.phase,
            value=line.supply_volts,
            step=NOTED_SUPPLY_STEP_VOLTS,
            meter=engine_meter(line.instrument),
            symptom=_symptom(line),
        )
        entry = JudgedReading(
            number=line.number,
            place=circuit.supply_place.key,
            phase=line.phase,
            text=f"{line.supply_volts:g} V",
            value=line.supply_volts,
            noted=True,
            meter_reach=_meter_reach(reading),
        )
        found.append((reading, entry))
    return found
