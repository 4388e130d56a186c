"""Queries of the world as search takes them, and how well an answer, or an oracle, does."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from cases.circuit import CaseCircuit, circuit_from_sheet
from cases.documents.verdicts import FindingDocument, JudgedReading, Judgement, VerdictDocument
from cases.models import HEALTHY
from cases.search.compared import Compared
from cases.search.evidence import STEPS_PER_SIZE, SlotReading, fault_text
from cases.search.query import Query
from circuits.sheet import read_text
from tests.search_world import world as shares
from tests.search_world.tables import LIBRARY, NO_READING
from tests.search_world.world import Drawn, World

LISTED = 10
GROUPS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """One query and what was wrong with that car, as search names faults."""

    query: Query
    circuit: int
    truth: int
    read: NDArray[np.int8]
    codes: tuple[str, ...]
    words: tuple[str, ...]
    name: str


def queries_of(world: World, drawn: Sequence[Drawn]) -> Iterator[Asked]:
    """Yield queries; the circuit's verdict says nothing, so that search alone is measured."""
    for group in drawn:
        circuit = world.circuits[group.circuit]
        known = library()[circuit.key]
        for place, truth in enumerate(group.truth.tolist()):
            read = group.read[place]
            taken = np.flatnonzero(read != NO_READING).tolist()
            slots = tuple(
                SlotReading(circuit.slots[slot], int(read[slot]) / STEPS_PER_SIZE, number)
                for number, slot in enumerate(taken)
            )
            verdict = _silent_verdict(circuit.key, tuple(each.slot for each in slots))
            yield Asked(
                query=Query(
                    circuit=known,
                    circuit_key=circuit.key,
                    system=circuit.system,
                    slots=slots,
                    compared=_compared(verdict.before, slots),
                    verdict=verdict,
                    codes=frozenset(group.codes[place]),
                    words=group.words[place],
                ),
                circuit=group.circuit,
                truth=truth,
                read=read,
                codes=group.codes[place],
                words=group.words[place],
                name=fault_text(circuit.key, circuit.faults[truth]),
            )


@cache
def library() -> dict[str, CaseCircuit]:
    """Return the circuits of the library by key."""
    circuits = [
        circuit_from_sheet(read_text(path.read_text(encoding="utf-8")))
        for path in sorted(LIBRARY.glob("*.txt"))
    ]
    return {circuit.sheet.vehicle.key: circuit for circuit in circuits}


def _silent_verdict(key: str, slots: Sequence[str]) -> VerdictDocument:
    readings = tuple(
        JudgedReading(number=number, place=slot.split("|")[1], phase="asked", text="", value=0.0)
        for number, slot in enumerate(slots)
    )
    return VerdictDocument(
        engine_version="none",
        before=Judgement(
            readings=readings, healthy=_cannot_say(HEALTHY), findings=_silent_findings(key)
        ),
    )


def _compared(judgement: Judgement | None, slots: Sequence[SlotReading]) -> tuple[Compared, ...]:
    """Return readings that lie as far from what the car in order would show as they were drawn."""
    assert judgement is not None
    return tuple(
        Compared(
            number=reading.number,
            place=reading.place,
            phase=reading.phase,
            rig=reading.rig,
            statistic=reading.statistic,
            value=reading.value,
            predicted=0.0,
            distance=float(_distance(np.array(slot.size))),
        )
        for reading, slot in zip(judgement.readings, slots, strict=True)
    )


@cache
def _silent_findings(key: str) -> tuple[FindingDocument, ...]:
    return tuple(_cannot_say(name) for name in library()[key].suspects)


def _cannot_say(name: str) -> FindingDocument:
    return FindingDocument(
        suspect=name, words=name, outcome="cannot say", misfit=0.0, misfit_limit=1.0
    )


# ------------------------------------------------------------------------------- quality


def gain_at_ten(relevant: Sequence[bool], possible: int) -> float:
    """Return nDCG@10 with gains of 0 and 1 (Järvelin and Kekäläinen, 2002, from memory)."""
    found = sum(1 / math.log2(rank + 2) for rank, hit in enumerate(relevant[:LISTED]) if hit)
    best = sum(1 / math.log2(rank + 2) for rank in range(min(possible, LISTED)))
    return found / best if best else 0.0


class Oracle:
    """Knows how the world draws: how likely every fault is, by the generator's own shares."""

    def __init__(self, world: World) -> None:
        self.world = world

    def log_likelihood(self, asked: Asked) -> NDArray[np.float64]:
        """Return that of each fault of the circuit (F,), how common it is left out."""
        circuit = self.world.circuits[asked.circuit]
        return self._readings(circuit.sizes, asked) + self._codes(asked) + self._words(asked)

    def _readings(self, sizes: NDArray[np.int8], asked: Asked) -> NDArray[np.float64]:
        taken = np.flatnonzero(asked.read != NO_READING)
        if not len(taken):
            return np.zeros(len(sizes))
        shown = sizes[:, :, taken].astype(np.float64) / STEPS_PER_SIZE  # (F, cars, m)
        read = asked.read[taken].astype(np.float64) / STEPS_PER_SIZE
        away = _distance(read) - _distance(shown)
        slope = (1 + np.abs(_distance(read))) * math.log(2)  # density of sizes, not of distances
        close = np.exp(-(away**2) / 2) / math.sqrt(2 * math.pi) * slope
        chance = (1 - shares.WRONG_READING) * close + shares.WRONG_READING / 16
        chance = np.where(sizes[:, :, taken] == NO_READING, 1e-9, chance)
        return np.log(chance.prod(axis=2).mean(axis=1) + 1e-300)

    def _codes(self, asked: Asked) -> NDArray[np.float64]:
        own = self.world.fault_codes[asked.circuit]
        set_here = set(asked.codes)
        return np.log(
            [1 - shares.WITHOUT_CODE if code in set_here else shares.WITHOUT_CODE for code in own]
        )

    def _words(self, asked: Asked) -> NDArray[np.float64]:
        of_fault, of_circuit, of_any = shares.WORD_SHARES
        common = set(map(str, self.world.circuit_words[asked.circuit]))
        total = np.zeros(len(self.world.fault_words[asked.circuit]))
        for word in asked.words:
            other = of_any / shares.ANY_WORDS
            if word in common:
                other += of_circuit / shares.CIRCUIT_WORDS
            total += np.log(
                [
                    other + (of_fault / shares.FAULT_WORDS if word in own else 0.0)
                    for own in (
                        set(map(str, each)) for each in self.world.fault_words[asked.circuit]
                    )
                ]
            )
        return total

    def ranked(self, asked: Asked, *, prior: float) -> NDArray[np.int64]:
        """Return the faults of the circuit, the likeliest first."""
        common = prior * np.log(self.world.fault_shares[asked.circuit])
        return np.argsort(-(self.log_likelihood(asked) + common), kind="stable")


def _distance(size: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.copysign(2 ** np.abs(size) - 1, size))
