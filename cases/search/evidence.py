"""What search keeps of a case: how far each reading lay from healthy, codes, words, the fault.

A slot says where and how a reading was taken so that two cases can be compared: circuit, place,
key state, loads, rig and quantity, never the name of a phase. Its size is a signed logarithm of
the distance from the healthy prediction, in combined uncertainties: volts of a 12 V car and
millivolts across a fuse come to the same scale, and the supply of the day is already taken out.

A role says the same without the circuit, by what a place touches, so that other makes compare.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any, Final

import numpy as np
from django.db.models import F

from cases.circuit import CaseCircuit, circuit_of
from cases.documents.readings import Rig
from cases.documents.verdicts import VerdictDocument
from cases.judging.lines import BOUNDS
from cases.models import (
    HEALTHY,
    HELD,
    Case,
    CaseEvidence,
    EarnedStanding,
    Shop,
    Statistic,
    TermKind,
)
from cases.models.evidence import LONGEST_ROOM
from cases.privacy import Scrubber, scrubber_for
from cases.search.compared import Compared, compared_in
from cases.search.roles import RoleReading, role_readings
from cases.search.speech import ENGLISH, Speech, speech_in
from cases.search.terms import NO_TERM, numbers_for, term_text
from cases.search.words import words_of
from circuits.units import base_unit

# Sizes are kept in sixteenths: finer than any two meters agree.
STEPS_PER_SIZE = 16
# And in a byte: 2^7.9 uncertainties from healthy is as far as any.
MOST_STEPS = 127
SLOTS_KEPT: Final = 10_000
#: As they are kept, by number.
STANDINGS = (
    EarnedStanding.NOTE,
    EarnedStanding.CLAIMED,
    EarnedStanding.CONSISTENT,
    EarnedStanding.PROVEN,
    EarnedStanding.VERIFIED,
    EarnedStanding.DOUBTFUL,
    EarnedStanding.WITHDRAWN,
)
VERIFIED_NUMBER = STANDINGS.index(EarnedStanding.VERIFIED)
#: What time makes of a verified repair has a number too, though it is never kept.
HELD_NUMBER = len(STANDINGS)
STANDING_WORDS = (*map(str, STANDINGS), HELD)
NEVER = np.iinfo(np.int32).max
_EPOCH = datetime(1970, 1, 1).toordinal()


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


def steps_of(sizes: Sequence[float]) -> bytes:
    """Return sizes as they are kept, a byte each."""
    steps = np.rint(np.array(sizes, dtype=np.float64) * STEPS_PER_SIZE)
    return np.clip(steps, -MOST_STEPS, MOST_STEPS).astype(np.int8).tobytes()


def day_of(moment: datetime) -> int:
    """Return the day of a moment, counted from 1970."""
    return moment.toordinal() - _EPOCH


def measured_slots(circuit: CaseCircuit, compared: Iterable[Compared]) -> list[SlotReading]:
    """Return the slots that were measured before the repair; what was not measured has none."""
    found: dict[str, SlotReading] = {}
    for reading in compared:
        slot = slot_of(circuit, reading.place, reading.phase, reading.rig, reading.statistic)
        found[slot] = SlotReading(slot, size_of(reading.distance), reading.number)
    return list(found.values())


@lru_cache(maxsize=SLOTS_KEPT)
def slot_of(
    circuit: CaseCircuit,
    place: str,
    phase: str,
    rig: Rig,
    statistic: Statistic = Statistic.STEADY,
) -> str:
    """Return the slot of a reading in words that do not depend on what a phase is called.

    A minimum or maximum is a bound, and is compared with bounds of its own kind alone.
    """
    entry = circuit.entry_at(place)
    unit = base_unit(entry.unit) if entry is not None else "V"
    return "|".join(
        (
            circuit.sheet.vehicle.key,
            place,
            circuit.key_state(phase).value,
            circuit.load_mark(phase),
            unit,
            ",".join(rig.key),
            *([statistic.value] if statistic in BOUNDS else []),
        )
    )


def room_named(system: str) -> str:
    """Return the room in which the cases of a system are searched."""
    return system.strip().casefold()[:LONGEST_ROOM]


def fault_text(circuit_key: str, suspect: str) -> str:
    """Return how a fault is named among those of all circuits."""
    return f"{circuit_key}|{suspect}"


def fault_named(text: str) -> tuple[str, str]:
    """Return the circuit's key and the suspect of a fault's name; of no fault both are empty."""
    key, _, suspect = text.partition("|")
    return key, suspect


def vehicle_text(make: str, model: str) -> str:
    """Return how a kind of vehicle is named."""
    return f"{make} {model}".strip().casefold()


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What search compares of one case, still in words."""

    room: str
    fault: str
    vehicle: str
    slots: tuple[SlotReading, ...]
    roles: tuple[RoleReading, ...]
    codes: tuple[str, ...]
    words: tuple[str, ...]
    ruled_out: tuple[str, ...]


def write_evidence(case: Case, verdict: VerdictDocument | None, *, at: datetime) -> None:
    """Write what search compares of a case, in the transaction that changed the case."""
    compared = compared_in(verdict.before) if verdict is not None else []
    measured = measured_by(circuit_of(case.revision), compared) if case.revision else NOTHING
    (values,) = evidence_rows([(case, evidence_of(case, measured, beside(case)))], at=at)
    if not CaseEvidence.objects.filter(case=case).update(**values, stamp=F("stamp") + 1):
        CaseEvidence.objects.create(**values)


def evidence_rows(
    found: Sequence[tuple[Case, Evidence]], *, at: datetime
) -> Iterator[dict[str, Any]]:
    """Yield what search compares of cases as it is kept; terms that are new get their numbers."""
    texts: dict[TermKind, set[str]] = {kind: set() for kind in TermKind}
    for _, evidence in found:
        texts[TermKind.SLOT].update(entry.slot for entry in evidence.slots)
        texts[TermKind.ROLE].update(entry.role for entry in evidence.roles)
        texts[TermKind.CODE].update(evidence.codes)
        texts[TermKind.WORD].update(evidence.words)
        texts[TermKind.FAULT].update(filter(None, (*evidence.ruled_out, evidence.fault)))
        texts[TermKind.VEHICLE].update(filter(None, (evidence.vehicle,)))
    numbers = {kind: numbers_for(kind, wanted) if wanted else {} for kind, wanted in texts.items()}
    for case, evidence in found:
        yield _row(case, evidence, numbers, at=at)


def _row(
    case: Case,
    found: Evidence,
    numbers: Mapping[TermKind, Mapping[str, int]],
    *,
    at: datetime,
) -> dict[str, Any]:
    slots, roles = numbers[TermKind.SLOT], numbers[TermKind.ROLE]
    codes, words = numbers[TermKind.CODE], numbers[TermKind.WORD]
    faults, vehicles = numbers[TermKind.FAULT], numbers[TermKind.VEHICLE]
    return {
        "case_id": case.pk,
        "room": found.room,
        "shop_id": case.shop_id,
        "is_shared": case.shared_at is not None,
        "is_withdrawn": case.withdrawn_at is not None,
        "root": _root(case),
        "fault": faults.get(term_text(found.fault), NO_TERM),
        "circuit": case.revision.circuit_id if case.revision is not None else 0,
        "vehicle": vehicles.get(term_text(found.vehicle), NO_TERM),
        "standing": STANDINGS.index(EarnedStanding(case.earned_standing)),
        "held_from_day": held_from_day(case),
        "opened_day": day_of(case.opened_at),
        "slots": terms_as_bytes(slots[term_text(entry.slot)] for entry in found.slots),
        "sizes": steps_of([entry.size for entry in found.slots]),
        "readings": [entry.number for entry in found.slots],
        "roles": terms_as_bytes(roles[term_text(entry.role)] for entry in found.roles),
        "role_readings": [entry.number for entry in found.roles],
        "role_sizes": steps_of([entry.size for entry in found.roles]),
        "codes": terms_as_bytes(codes[term_text(code)] for code in found.codes),
        "words": terms_as_bytes(words[term_text(word)] for word in found.words),
        "ruled_out": terms_as_bytes(faults[term_text(text)] for text in found.ruled_out),
        "pending": True,
        "written_at": at,
    }


def stands_as(case: Case) -> None:
    """Let search know the standing of a case from now on, if it knows the case."""
    CaseEvidence.objects.filter(case=case).update(
        standing=STANDINGS.index(EarnedStanding(case.earned_standing)),
        pending=True,
        stamp=F("stamp") + 1,
    )


def hold_later(shop: Shop, *, days: int) -> None:
    """Let repairs of a shop count as held so many days later, or earlier."""
    CaseEvidence.objects.filter(shop=shop).exclude(held_from_day=NEVER).update(
        held_from_day=F("held_from_day") + days, pending=True, stamp=F("stamp") + 1
    )


def terms_as_bytes(numbers: Iterable[int]) -> bytes:
    """Return terms as they are kept, four bytes each."""
    return np.array(list(numbers), dtype="<i4").tobytes()


def held_from_day(case: Case) -> int:
    """Return the day from which a repair counts as held, if it does not come back."""
    if case.repaired_at is None:
        return NEVER
    return day_of(case.repaired_at) + case.shop.hold_days


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """What lies beside a case and belongs to its evidence; `speech` is that of its shop."""

    codes: Collection[str]
    in_vain: Sequence[str]
    scrubber: Scrubber
    speech: Speech


def beside(case: Case) -> Beside:
    """Return what lies beside a case. Asks the database."""
    return Beside(
        codes=[code.code for code in case.codes.all()],
        in_vain=[part.part for part in case.parts_in_vain.all()],
        scrubber=scrubber_for(case),
        speech=speech_of([case.shop_id]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What was measured in a case, for its own circuit and for other makes."""

    slots: tuple[SlotReading, ...] = ()
    roles: tuple[RoleReading, ...] = ()


NOTHING: Final = Measured()


def measured_by(circuit: CaseCircuit, compared: Sequence[Compared]) -> Measured:
    """Return what was measured by readings that lie beside the car in order."""
    return Measured(
        slots=tuple(measured_slots(circuit, compared)),
        roles=tuple(role_readings(circuit, compared)),
    )


def evidence_of(case: Case, measured: Measured, beside: Beside) -> Evidence:
    """Return what search compares of a case."""
    circuit = circuit_of(case.revision) if case.revision is not None else None
    key = circuit.sheet.vehicle.key if circuit is not None else ""
    texts = (
        case.complaint,
        case.conditions,
        case.part_replaced,
        case.what_misled,
        case.what_decided,
    )
    return Evidence(
        room=room_named(circuit.sheet.vehicle.system if circuit is not None else case.system),
        fault=fault_text(key, case.claimed_suspect) if case.claimed_suspect else "",
        vehicle=vehicle_text(case.vehicle.make, case.vehicle.model),
        slots=measured.slots,
        roles=measured.roles,
        codes=tuple(sorted(set(beside.codes))),
        words=tuple(words_of(*map(beside.scrubber.clean, texts), speech=beside.speech)),
        ruled_out=tuple(_ruled_out(case, circuit, beside.in_vain)),
    )


def speech_of(shops: Collection[int]) -> Speech:
    """Return how the people of some shops write; in no shop, in English. Asks the database."""
    found = list(
        Shop.objects.filter(pk__in=shops)
        .order_by("pk")
        .values_list("languages", "words__language", "words__said", "words__kept")
    )
    written = [language for languages, *_ in found for language in languages]
    own = [(language, said, kept) for _, language, said, kept in found if said is not None]
    return speech_in(written or [ENGLISH], own)


def _ruled_out(case: Case, circuit: CaseCircuit | None, in_vain: Sequence[str]) -> list[str]:
    """Return the faults that the case looked like and was not.

    What was claimed in the case that it came back from, if something else is claimed now; a claim
    that its own readings contradict; and all that may be wrong with a part fitted in vain.
    """
    if circuit is None:
        return []
    found: set[str] = set()
    earlier = case.comeback_of
    if earlier is not None and earlier.revision is not None:
        found.add(earlier.claimed_suspect)
    if case.earned_standing == EarnedStanding.DOUBTFUL:
        found.add(case.claimed_suspect)
    if case.claimed_suspect:
        found |= {
            suspect.id
            for suspect in circuit.suspects.values()
            if any(suspect.target in text.split() for text in in_vain)
        }
        if case.earned_standing != EarnedStanding.DOUBTFUL:
            found.discard(case.claimed_suspect)
    known = {*circuit.suspects, HEALTHY}
    return [fault_text(circuit.sheet.vehicle.key, name) for name in sorted(found & known)]


def _root(case: Case) -> int:
    """Return the case that this one was copied from in the end, or itself. Asks the database."""
    seen = {case.pk}
    source = case.copied_from
    root = case.pk
    while source is not None and source.pk not in seen:
        seen.add(source.pk)
        root, source = source.pk, source.copied_from
    return root
