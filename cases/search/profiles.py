"""What the engine says that each fault of a circuit shows at each slot, before anybody had it.

This is what makes an empty base useful. Every suspect is taken at severities spread as the engine
spreads them, and at those between; every place is read in every phase as the circuit stands, and
what the meter would show is counted in the same bins of size as the readings of past cases.

The supply's own place is left out: how many volts a battery has on the day says little of what is
broken, and the other readings are shifted by it anyway.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cases.circuit import CaseCircuit, circuit_of
from cases.documents.readings import Rig
from cases.models import FaultProfile
from cases.search.evidence import STEPS_PER_SIZE, slot_of
from cases.search.posterior import LARGEST_SIZE
from cases.search.scoring import BINS, bins_of
from circuits.engine import ENGINE_VERSION, EngineError, sweep, weigh_suspects
from circuits.models import Revision

FloatArray = NDArray[np.float64]
PROFILES_KEPT = 64
# Half of the 99.5 % range of a normal distribution, in standard deviations.
_HALF_RANGE = 2.807
# The next reading of the same fault lies a standard uncertainty off, up or down.
_SCATTER = ((-1.0, 0.25), (0.0, 0.5), (1.0, 0.25))
# Severities lie half a decade apart; a car's own is somewhere between.
STEPS_BETWEEN = 6
#: So much of a fault's readings is as the drawing does not foretell.
ANYTHING_ELSE = 0.01
#: Raised where profiles are computed otherwise; with the engine's, because they follow both.
PROFILE_VERSION = f"{ENGINE_VERSION}.3"


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Profile:
    """Shares of bins by fault and slot, both in words: (faults, slots, bins)."""

    faults: tuple[str, ...]
    slots: Mapping[str, int]
    chances: NDArray[np.float32]

    def at(self, slot: str) -> dict[str, FloatArray]:
        """Return what each fault shows at a slot; nothing where the engine predicts nothing."""
        column = self.slots.get(slot)
        if column is None:
            return {}
        return {
            fault: self.chances[number, column].astype(np.float64)
            for number, fault in enumerate(self.faults)
        }

    def in_bin(self, slot: str, size_bin: int) -> list[float]:
        """Return how likely each fault shows that bin at a slot; empty: nothing is predicted."""
        column = self.slots.get(slot)
        return self.chances[:, column, size_bin].tolist() if column is not None else []


#: Of a circuit that cannot be solved, or of which nothing is read but the supply.
NO_PROFILE = Profile(faults=(), slots={}, chances=np.empty((0, 0, BINS), dtype=np.float32))


def profile_of(circuit: CaseCircuit) -> Profile:
    """Return what every fault of a circuit shows wherever the circuit lists a place.

    Raises
    ------
    EngineError
        The circuit cannot be solved.
    """
    hypotheses = weigh_suspects(circuit.network)
    faults = hypotheses.faults
    places = [
        place
        for key, place in circuit.places.items()
        if not place.reads_ohms and key not in circuit.supply_places
    ]
    if not places:
        return NO_PROFILE
    shown = sweep(circuit.network, places, [None, *faults])
    healthy = shown.values[0]
    uncertainty = np.maximum((shown.high[0] - shown.low[0]) / 2 / _HALF_RANGE, 1e-9)
    entries: dict[str, list[int]] = {}
    for entry, fault in enumerate(faults, start=1):
        if fault is not None:
            entries.setdefault(fault.suspect.id, []).append(entry)
    suspects = sorted(entries)
    sizes = _size((shown.values - healthy) / uncertainty).reshape(len(shown.values), -1)
    cells: dict[str, list[int]] = {}
    for row, phase in enumerate(shown.phases):
        for column, place in enumerate(shown.places):
            slot = slot_of(circuit, place, phase, Rig())
            cells.setdefault(slot, []).append(row * len(shown.places) + column)
    chances = np.array(
        [
            _counted(sizes[entries[name]], hypotheses.probability[np.array(entries[name]) - 1])
            for name in suspects
        ]
    )
    # Phases that differ in a source alone have one slot: a reading there may be of any of them.
    of_slot = [chances[:, same].mean(axis=1) for same in cells.values()]
    return Profile(
        faults=tuple(suspects),
        slots={slot: number for number, slot in enumerate(cells)},
        chances=np.stack(of_slot, axis=1).astype(np.float32),
    )


def _counted(sizes: FloatArray, probability: FloatArray) -> FloatArray:
    """Return the shares (cells, bins) of one fault's sizes (E, cells) at its severities."""
    cells = sizes.shape[1]
    counts = np.zeros((cells, BINS))
    every_cell = np.arange(cells)
    for size, weight in _between(sizes, probability):
        distance = np.copysign(2 ** np.abs(size) - 1, size)
        for scatter, share in _SCATTER:
            steps = np.rint(_size(distance + scatter) * STEPS_PER_SIZE)
            counts[every_cell, bins_of(steps)] += share * weight
    counts += counts.sum(axis=-1, keepdims=True) * ANYTHING_ELSE / BINS
    return np.asarray(counts / counts.sum(axis=-1, keepdims=True))


def _between(sizes: FloatArray, probability: FloatArray) -> Iterator[tuple[FloatArray, float]]:
    """Yield sizes (cells,) with their shares, at severities that run from one to the next.

    The last severity is an end, an open or a dead short, and keeps what it has; the others give
    theirs to the stretches beside them.
    """
    inner = len(sizes) - 1
    yield sizes[inner], float(probability[inner])
    for low, high in pairwise(range(inner)):
        # The outermost have a stretch on one side alone, and it gets all of theirs.
        shares = [
            float(probability[each]) / (1 if each in (0, inner - 1) else 2) for each in (low, high)
        ]
        for step in range(STEPS_BETWEEN):
            along = (step + 0.5) / STEPS_BETWEEN
            weight = shares[round(along)] / (STEPS_BETWEEN / 2)
            yield sizes[low] + along * (sizes[high] - sizes[low]), weight
    if inner == 1:
        yield sizes[0], float(probability[0])


def _size(distance: FloatArray) -> FloatArray:
    """Return sizes of distances from healthy in uncertainties, none beyond the largest."""
    distance = np.nan_to_num(distance, nan=0.0, posinf=1e9, neginf=-1e9)
    size = np.copysign(np.log2(1 + np.abs(distance)), distance)
    return np.asarray(np.clip(size, -LARGEST_SIZE, LARGEST_SIZE))


def keep_profile(revision: Revision, *, at: datetime) -> bool:
    """Compute and keep the profile of a revision; say whether it foretells anything.

    Of a circuit that cannot be solved an empty one is kept, so that nobody tries again.
    """
    profile = _computed(circuit_of(revision)) or NO_PROFILE
    FaultProfile.objects.update_or_create(
        revision=revision,
        defaults={
            "engine_version": PROFILE_VERSION,
            "faults": list(profile.faults),
            "slots": list(profile.slots),
            "chances": profile.chances.astype("<f4").tobytes(),
            "computed_at": at,
        },
    )
    return bool(profile.faults)


@lru_cache(maxsize=PROFILES_KEPT)
def profile_for(circuit: CaseCircuit) -> Profile | None:
    """Return the profile of a circuit: kept, or computed on the spot; either way remembered.

    None where the circuit cannot be solved.
    """
    key = circuit.sheet.vehicle.key
    newest = (
        FaultProfile.objects.filter(revision__circuit__key=key, engine_version=PROFILE_VERSION)
        .order_by("-revision__number")
        .values_list("pk", "computed_at")
        .first()
    )
    return _kept(*newest) if newest is not None else _computed(circuit)


def _computed(circuit: CaseCircuit) -> Profile | None:
    try:
        return profile_of(circuit)
    except EngineError:
        return None


def _kept(revision_pk: int, computed_at: datetime) -> Profile:
    kept = FaultProfile.objects.get(pk=revision_pk)
    chances = np.frombuffer(kept.chances, dtype="<f4")
    return Profile(
        faults=tuple(kept.faults),
        slots={slot: number for number, slot in enumerate(kept.slots)},
        chances=chances.reshape(len(kept.faults), len(kept.slots), BINS),
    )
