"""What the engine says that each fault of a circuit shows at each slot, before anybody had it.

This is what makes an empty base useful. Every suspect is taken at severities spread as the engine
spreads them, every place is read in every phase as the circuit stands, and what the meter would
show is counted in the same bins of size as the readings of past cases.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from cases.circuit import CaseCircuit, circuit_of
from cases.documents.readings import Rig
from cases.models import FaultProfile
from cases.search.evidence import STEPS_PER_SIZE, slot_of
from cases.search.posterior import BINS, LARGEST_SIZE, bins_of
from circuits.engine import ENGINE_VERSION, EngineError, sweep, weigh_suspects
from circuits.models import Revision

FloatArray = NDArray[np.float64]
PROFILES_KEPT = 64
# Half of the 99.5 % range of a normal distribution, in standard deviations.
_HALF_RANGE = 2.807
# The next reading of the same fault lies a standard uncertainty off, up or down.
_SCATTER = ((-1.0, 0.25), (0.0, 0.5), (1.0, 0.25))


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


def profile_of(circuit: CaseCircuit) -> Profile:
    """Return what every fault of a circuit shows wherever the circuit lists a place.

    Raises
    ------
    EngineError
        The circuit cannot be solved.
    """
    hypotheses = weigh_suspects(circuit.network)
    faults = hypotheses.faults
    places = [place for place in circuit.places.values() if not place.reads_ohms]
    shown = sweep(circuit.network, places, [None, *faults])
    healthy = shown.values[0]
    uncertainty = np.maximum((shown.high[0] - shown.low[0]) / 2 / _HALF_RANGE, 1e-9)
    names = [fault.suspect.id if fault is not None else "" for fault in faults]
    suspects = sorted({name for name in names if name})
    number_of = {name: number for number, name in enumerate(suspects)}
    slots = {
        slot_of(circuit, place, phase, Rig()): row * len(shown.places) + column
        for row, phase in enumerate(shown.phases)
        for column, place in enumerate(shown.places)
    }
    cells = healthy.size
    chances = np.zeros((len(suspects), cells, BINS))
    every_cell = np.arange(cells)
    for entry, (name, probability) in enumerate(
        zip(names, hypotheses.probability.tolist(), strict=True), start=1
    ):
        if not name:
            continue
        distance = ((shown.values[entry] - healthy) / uncertainty).reshape(-1)
        for scatter, share in _SCATTER:
            bins = _bins_at(distance + scatter)
            chances[number_of[name], every_cell, bins] += share * probability
    chances += chances.sum(axis=-1, keepdims=True) * 0.01 / BINS
    chances /= chances.sum(axis=-1, keepdims=True)
    return Profile(faults=tuple(suspects), slots=slots, chances=chances.astype(np.float32))


def _bins_at(distance: FloatArray) -> NDArray[np.int64]:
    distance = np.nan_to_num(distance, nan=0.0, posinf=1e9, neginf=-1e9)
    size = np.copysign(np.log2(1 + np.abs(distance)), distance)
    return bins_of(np.rint(np.clip(size, -LARGEST_SIZE, LARGEST_SIZE) * STEPS_PER_SIZE))


def keep_profile(revision: Revision, *, at: datetime) -> bool:
    """Compute and keep the profile of a revision; say whether it foretells anything.

    Of a circuit that cannot be solved an empty one is kept, so that nobody tries again.
    """
    profile = _computed(circuit_of(revision)) or Profile(
        faults=(), slots={}, chances=np.empty((0, 0, BINS), dtype=np.float32)
    )
    FaultProfile.objects.update_or_create(
        revision=revision,
        defaults={
            "engine_version": ENGINE_VERSION,
            "faults": list(profile.faults),
            "slots": list(profile.slots),
            "chances": profile.chances.astype("<f4").tobytes(),
            "computed_at": at,
        },
    )
    return bool(profile.faults)


def profile_for(circuit: CaseCircuit) -> Profile | None:
    """Return the profile of a circuit: kept, or computed on the spot and remembered.

    None where the circuit cannot be solved.
    """
    key = circuit.sheet.vehicle.key
    newest = (
        FaultProfile.objects.filter(revision__circuit__key=key, engine_version=ENGINE_VERSION)
        .order_by("-revision__number")
        .values_list("pk", "computed_at")
        .first()
    )
    return _kept(*newest) if newest is not None else _computed(circuit)


@lru_cache(maxsize=PROFILES_KEPT)
def _computed(circuit: CaseCircuit) -> Profile | None:
    try:
        return profile_of(circuit)
    except EngineError:
        return None


@lru_cache(maxsize=PROFILES_KEPT)
def _kept(revision_pk: int, computed_at: datetime) -> Profile:
    kept = FaultProfile.objects.get(pk=revision_pk)
    chances = np.frombuffer(kept.chances, dtype="<f4")
    return Profile(
        faults=tuple(kept.faults),
        slots={slot: number for number, slot in enumerate(kept.slots)},
        chances=chances.reshape(len(kept.faults), len(kept.slots), BINS),
    )
