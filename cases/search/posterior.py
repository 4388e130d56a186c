"""How likely each fault is by what cases of it showed, and by what the engine says they show.

For each reading asked, the cases of a fault that measured the same slot are counted in bins of
size. Few cases say little: their counts are added to `ENGINE_CASES` imagined ones, spread as the
engine predicts, or as all cases together lie where nothing is predicted (shrinkage, after W. James
and C. Stein, 1961, from memory). Codes and words are counted alike. One fault after the other is
made likelier or less likely by Bayes' rule, and each step is kept, so the steps add up to the end.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cases.search.evidence import MOST_STEPS, STEPS_PER_SIZE
from cases.search.scoring import BINS, TELLING_SIZE, WORD_WEIGHT, bins_of
from cases.search.sight import Sight
from cases.search.terms import NO_TERM

FloatArray = NDArray[np.float64]

LARGEST_SIZE = MOST_STEPS / STEPS_PER_SIZE
#: So many cases' worth is what the engine says of a fault. Chosen on simulated cases.
ENGINE_CASES = 5.0
#: Between 0, where rare faults count like common ones, and 1, where only how common it is counts.
RANKING_PRIOR = 0.5
#: One slip of the pen must not rule a fault out for good.
LOWEST_POINTS = -8.0
#: The share of what no fault here explains. Common practice, no source.
OUTSIDE_SHARE = 0.05
#: What nobody has had yet counts as this part of a case, times how common its kind is.
UNSEEN_CASES = 0.3
#: What a step that a reading takes is called.
READING = "reading"
# A figure on the edge of a bin belongs to both.
_SPREAD = (0.2, 0.6, 0.2)


@dataclass(frozen=True, slots=True)
class AskedSize:
    """One reading that is asked for: the number of its slot, and how far it is from healthy."""

    term: int
    size: float
    #: By fault number: the engine's share of the bin of this size, where it predicts the slot.
    predicted: Mapping[int, float] = field(default_factory=dict)

    @property
    def steps(self) -> int:
        return round(max(-LARGEST_SIZE, min(LARGEST_SIZE, self.size)) * STEPS_PER_SIZE)

    @property
    def bin(self) -> int:
        return int(bins_of(np.array([self.steps]))[0])

    @property
    def tells(self) -> bool:
        return abs(self.size) >= TELLING_SIZE


@dataclass(frozen=True, slots=True)
class Step:
    """What one thing asked for says of each fault: log-likelihoods (F + 1,), the last outside."""

    what: str
    number: int
    likelihood: FloatArray
    #: What the cases alone add to what the engine says, for the faults (F,).
    learned: FloatArray


class Posterior:
    """How likely the faults are in the light of what is asked.

    `faults` (F,) are those of the circuit, where one is given, whether anybody had them or not,
    with how common each is by its kind alone; else those that visible cases have.
    """

    def __init__(
        self,
        sight: Sight,
        readings: Sequence[AskedSize],
        codes: Sequence[int],
        words: Sequence[tuple[int, float]],
        *,
        of_circuit: Mapping[int, float] | None = None,
    ) -> None:
        self.sight = sight
        if of_circuit is None:
            of_circuit = {fault: 1.0 for fault in sight.faults.tolist() if fault != NO_TERM}
        self.faults = list(of_circuit)
        self._unseen = UNSEEN_CASES * np.array(list(of_circuit.values()), dtype=np.float64)
        self._place = {fault: place for place, fault in enumerate(self.faults)}
        self.steps = [
            *self._read(readings),
            *self._shared("code", codes, np.ones(len(codes))),
            *self._shared(
                "word",
                [term for term, _ in words],
                WORD_WEIGHT * np.array([likeness for _, likeness in words], dtype=np.float64),
            ),
        ]

    @cached_property
    def _from_sight(self) -> NDArray[np.int64]:
        """For each fault of the sight its place here; F, one too many, for those left out."""
        return self._places_of(self.sight.faults)

    @cached_property
    def _from_local(self) -> list[FloatArray]:
        """For each view (F + 1, local faults): a one where a fault of its segment stands here."""
        found = []
        for view in self.sight.views:
            places = self._places_of(view.segment.fault_numbers)
            found.append((np.arange(len(self.faults) + 1)[:, None] == places).astype(np.float64))
        return found

    def _places_of(self, faults: NDArray[np.int32]) -> NDArray[np.int64]:
        left_out = len(self.faults)
        return np.array(
            [self._place.get(fault, left_out) for fault in faults.tolist()], dtype=np.int64
        )

    @cached_property
    def cases(self) -> FloatArray:
        """How many cases each fault has (F,), unproven ones counted in part."""
        counts = np.zeros(len(self.faults) + 1)
        for view, faults in zip(self.sight.views, self.sight.block_faults, strict=True):
            np.add.at(counts, self._from_sight[faults], view.block_tenths())
        return np.asarray(counts[:-1] / 10)

    @cached_property
    def prior(self) -> FloatArray:
        """How common each fault is (F + 1,), the last for what is none of them; together one."""
        counted = self.cases + self._unseen
        inside = counted / counted.sum() * (1 - OUTSIDE_SHARE) if len(counted) else counted
        return np.append(inside, OUTSIDE_SHARE)

    def _counted(self, terms: Sequence[int], bins: int) -> FloatArray:
        """Return how many cases of each fault (terms, F + 1, bins) have terms, by the size there.

        Tenths are whole, so that no order of adding them up makes a difference.
        """
        counts = np.zeros((len(terms), len(self.faults) + 1, bins))
        for view, places in zip(self.sight.views, self._from_local, strict=True):
            counts += places @ np.array([view.counted(term, bins) for term in terms])
        return counts / 10

    def _read(self, asked: Sequence[AskedSize]) -> list[Step]:
        """Return what readings say."""
        if not asked:
            return []
        counts = self._counted([reading.term for reading in asked], BINS)
        each, there = np.arange(len(asked)), np.array([reading.bin for reading in asked])
        pool = counts.sum(axis=1) + ENGINE_CASES / BINS  # (readings, bins)
        imagined = np.repeat((pool[each, there] / pool.sum(axis=1))[:, None], len(self.faults), 1)
        for number, reading in enumerate(asked):
            for fault, chance_there in reading.predicted.items():
                imagined[number, self._place[fault]] = chance_there
        counts = counts[:, :-1]
        have = counts.sum(axis=2)
        less, same, more = (
            counts[each, :, np.clip(there + step, 0, BINS - 1)] * share
            for step, share in zip((-1, 0, 1), _SPREAD, strict=True)
        )
        chance = (less + same + more + ENGINE_CASES * imagined) / (have + ENGINE_CASES)
        tells = np.array([reading.tells for reading in asked])
        learned = np.log(chance / imagined) * tells[:, None]
        outside = np.full((len(asked), 1), 1 / BINS)
        likelihoods = np.log(np.concatenate([chance, outside], axis=1))
        return [
            Step(READING, number, likelihoods[number], learned[number])
            for number in range(len(asked))
        ]

    def _shared(self, what: str, terms: Sequence[int], weights: FloatArray) -> list[Step]:
        """Return what it says that these codes or words are shared."""
        if not terms:
            return []
        having = self._counted(terms, 1)[:, :, 0]
        everybody = (having.sum(axis=1, keepdims=True) + 0.5) / (self.sight.observations + 1.0)
        chance = (having[:, :-1] + ENGINE_CASES * everybody) / (self.cases + ENGINE_CASES)
        learned = weights[:, None] * np.log(chance / everybody)
        likelihoods = weights[:, None] * np.log(np.concatenate([chance, everybody], axis=1))
        return [
            Step(what, number, likelihoods[number], learned[number]) for number in range(len(terms))
        ]

    @cached_property
    def probability(self) -> FloatArray:
        """The stated probability of each fault (F + 1,), how common it is in full measure."""
        total = np.log(self.prior) + self._evidence
        return np.asarray(np.exp(total - _log_sum(total)))

    @property
    def _evidence(self) -> FloatArray:
        return np.asarray(sum((step.likelihood for step in self.steps), np.zeros_like(self.prior)))

    def told_beside_readings(self) -> FloatArray:
        """Return what codes and words say of each fault: log-likelihoods (F + 1,)."""
        told = (step.likelihood for step in self.steps if step.what != READING)
        return np.asarray(sum(told, np.zeros_like(self.prior)))

    @cached_property
    def after_each(self) -> FloatArray:
        """Points (steps + 1, F) for ranking: at first, and after each step.

        They are log-probabilities beside those of faults that are all alike, so what cannot be
        compared has none.
        """
        start = RANKING_PRIOR * np.log(self.prior)
        sums = start + np.cumsum(
            [np.zeros_like(start), *(step.likelihood for step in self.steps)], axis=0
        )
        alike = -np.log(len(self.faults) + 1)
        return np.asarray((sums - _log_sum(sums)[:, None] - alike)[:, :-1])

    @cached_property
    def points(self) -> FloatArray:
        """What a fault's likelihood is worth to its cases (F,)."""
        return np.asarray(np.maximum(self.after_each[-1], LOWEST_POINTS))

    @cached_property
    def learned(self) -> FloatArray:
        """How much past cases alone speak for each fault (F,)."""
        return np.asarray(sum((step.learned for step in self.steps), np.zeros(len(self.faults))))

    def points_of_sight(self) -> FloatArray:
        """Return the points for each fault of the sight; none for those not told apart."""
        return np.append(self.points, 0.0)[self._from_sight]

    def learned_of_sight(self) -> FloatArray:
        """Return what past cases say, for each fault of the sight."""
        return np.append(self.learned, 0.0)[self._from_sight]

    def place_of(self, fault: int) -> int | None:
        """Return where a fault stands among `faults`."""
        return self._place.get(fault)


def _log_sum(logarithms: FloatArray) -> FloatArray:
    highest = logarithms.max(axis=-1, keepdims=True)
    return np.asarray(
        (highest + np.log(np.exp(logarithms - highest).sum(axis=-1, keepdims=True)))[..., 0]
    )
