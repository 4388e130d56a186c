"""Readings, places, phases, rigs and severities as a case's pages word them."""

from cases.circuit import CaseCircuit
from cases.documents.readings import Rig
from cases.documents.verdicts import FindingDocument
from cases.models import HEALTHY, Statistic, SymptomPresent
from cases.services.sharing import ReadingView
from cases.spots import BENCH
from circuits.units import format_quantity

DOES_NOT_FIT = "does not fit"


def place_label(circuit: CaseCircuit | None, key: str) -> str:
    """Return what a place is called beside its key; empty where the circuit does not say."""
    entry = circuit.entry_at(key) if circuit is not None else None
    return entry.label if entry is not None else ""


def phase_words(circuit: CaseCircuit | None, key: str) -> str:
    """Return a phase in the circuit's words."""
    if circuit is None:
        return key
    if key == BENCH:
        return "on the bench"
    return next((phase.words for phase in circuit.sheet.phases if phase.key == key), key)


def unit_at(circuit: CaseCircuit | None, place: str) -> str:
    """Return the unit in which a place is shown."""
    entry = circuit.entry_at(place) if circuit is not None else None
    return entry.unit if entry is not None else "V"


def rig_words(rig: Rig) -> str:
    """Return what was done for a reading, in words."""
    done = []
    if rig.unplugged:
        done.append(f"{', '.join(rig.unplugged)} unplugged")
    done.extend(f"{one} bridged to {other}" for one, other in rig.bridged)
    if rig.lamp_watts is not None:
        done.append(f"{rig.lamp_watts:g} W test lamp across")
    if rig.power_removed:
        done.append("power removed")
    if rig.ammeter_in:
        done.append(f"ammeter in series with {rig.ammeter_in}")
    if rig.by_drop:
        done.append("amps by the drop across it")
    return "; ".join(done)


def typed_words(reading: ReadingView) -> str:
    if not reading.text:
        return "–"
    bare = reading.text[-1:].isdigit() or reading.text[-1:] in ".,"
    return f"{reading.text} {reading.unit}" if bare else reading.text


def reading_tags(reading: ReadingView) -> tuple[str, ...]:
    tags = []
    if reading.symptom_present == SymptomPresent.YES:
        tags.append("symptom there")
    elif reading.symptom_present == SymptomPresent.NO:
        tags.append("symptom not there")
    if reading.statistic != Statistic.STEADY:
        tags.append(reading.statistic)
    if reading.supply_volts is not None:
        tags.append(f"battery {format_quantity(reading.supply_volts, 'V')}")
    if reading.celsius is not None:
        tags.append(f"{reading.celsius:g} °C")
    return tuple(tags)


def shown(value: float | None, unit: str) -> str:
    return format_quantity(value, unit) if value is not None else ""


def severity_words(finding: FindingDocument) -> str:
    if finding.severity is None or finding.suspect == HEALTHY:
        return ""
    best = finding.severity_words.partition(": ")[2] or finding.severity_words
    ends = [finding.severity_low, finding.severity_high]
    if None in ends or finding.outcome == DOES_NOT_FIT:
        return best
    low, high = sorted(end for end in ends if end is not None)
    unit = finding.severity_unit
    first, second = format_quantity(low, unit), format_quantity(high, unit)
    if first == second:
        return best
    return f"{best}; from {first} to {second} fits"
