"""What search keeps of a case: how far each reading lay from healthy, codes, words.

A slot says where and how a reading was taken so that two cases can be compared: circuit, place,
key state, loads, rig and quantity, never the name of a phase. Its size is a signed logarithm of
the distance from the healthy prediction, in combined uncertainties: volts of a 12 V car and
millivolts across a fuse come to the same scale, and the supply of the day is already taken out.
"""

import math
from dataclasses import dataclass
from datetime import datetime

from cases.circuit import CaseCircuit, circuit_of
from cases.documents import Judgement, Rig, VerdictDocument
from cases.models import Case, CaseEvidence
from cases.privacy import scrubber_for
from cases.search.words import words_of
from circuits.units import base_unit

# Sizes are kept in sixteenths: finer than any two meters agree.
STEPS_PER_SIZE = 16


@dataclass(frozen=True, slots=True)
class SlotReading:
    """One measured slot; `number` is the reading's number in the verdict it came from."""

    slot: str
    size: float
    number: int


def size_of(distance: float) -> float:
    """Return the signed log-size of a distance in combined uncertainties.

    >>> from cases.search.evidence import size_of
    >>> size_of(0.0), size_of(3.0), size_of(-7.0)
    (0.0, 2.0, -3.0)
    """
    size = math.copysign(math.log2(1 + abs(distance)), distance)
    return round(size * STEPS_PER_SIZE) / STEPS_PER_SIZE


def measured_slots(circuit: CaseCircuit, judgement: Judgement | None) -> list[SlotReading]:
    """Return the slots that were measured before the repair; what was not measured has none."""
    if judgement is None:
        return []
    found: dict[str, SlotReading] = {}
    for reading, distance in zip(judgement.readings, judgement.healthy.distance, strict=True):
        slot = slot_of(circuit, reading.place, reading.phase, reading.rig)
        found[slot] = SlotReading(slot, size_of(distance), reading.number)
    return list(found.values())


def slot_of(circuit: CaseCircuit, place: str, phase: str, rig: Rig) -> str:
    """Return the slot of a reading in words that do not depend on what a phase is called."""
    entry = circuit.entry_at(place)
    unit = base_unit(entry.unit) if entry is not None else "V"
    return "|".join(
        (
            circuit.sheet.vehicle.key,
            place,
            circuit.key_state(phase).value,
            circuit.load_mark(phase),
            unit,
            _rig_words(rig),
        )
    )


def _rig_words(rig: Rig) -> str:
    return ",".join(rig.key)


def write_evidence(case: Case, verdict: VerdictDocument | None, *, at: datetime) -> None:
    """Write what search compares of a case, in the transaction that changed the case."""
    slots: list[SlotReading] = []
    if verdict is not None and case.revision is not None:
        slots = measured_slots(circuit_of(case.revision), verdict.before)
    scrubber = scrubber_for(case)
    texts = (
        case.complaint,
        case.conditions,
        case.part_replaced,
        case.what_misled,
        case.what_decided,
    )
    CaseEvidence.objects.update_or_create(
        case=case,
        defaults={
            "slots": [entry.slot for entry in slots],
            "sizes": [entry.size for entry in slots],
            "readings": [entry.number for entry in slots],
            "codes": sorted({code.code for code in case.codes.all()}),
            "words": words_of(*map(scrubber.clean, texts)),
            "written_at": at,
        },
    )
