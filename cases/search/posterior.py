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
            *(self._reading(number, asked) for number, asked in enumerate(readings)),
            *(self._term("code", number, term, 1.0) for number, term in enumerate(codes)),
            *(
                self._term("word", number, term, WORD_WEIGHT * likeness)
                for number, (term, likeness) in enumerate(words)
            ),
        ]

    @cached_property
    def _from_sight(self) -> NDArray[np.int64]:
        """For each fault of the sight its place here; F, one too many, for those left out."""
        left_out = len(self.faults)
        return np.array(
            [self._place.get(fault, left_out) for fault in self.sight.faults.tolist()],
            dtype=np.int64,
        )

    @cached_property
    def _from_local(self) -> list[NDArray[np.int64]]:
        """For each view the places here of the faults of its segment; F for those left out."""
        left_out = len(self.faults)
        return [
            np.array(
                [self._place.get(fault, left_out) for fault in view.segment.fault_numbers.tolist()],
                dtype=np.int64,
            )
            for view in self.sight.views
        ]

    @cached_property
    def cases(self) -> FloatArray:
        """How many cases each fault has (F,), unproven ones counted in part."""
        counts = np.zeros(len(self.faults) + 1)
        for view, tally in zip(self.sight.views, self.sight.tallies, strict=True):
            place = self._from_sight[self.sight.fault_of_block(view)]
            np.add.at(counts, place, view.block_tenths(tally))
        return np.asarray(counts[:-1] / 10)

    @cached_property
    def prior(self) -> FloatArray:
        """How common each fault is (F + 1,), the last for what is none of them; together one."""
        counted = self.cases + self._unseen
        inside = counted / counted.sum() * (1 - OUTSIDE_SHARE) if len(counted) else counted
        return np.append(inside, OUTSIDE_SHARE)

    def _counted(self, term: int, bins: int) -> FloatArray:
        """Return how many cases of each fault (F + 1, bins) have a term, by the size there."""
        counts = np.zeros((len(self.faults) + 1, bins))
        for number, view in enumerate(self.sight.views):
            counted = view.counted(self.sight.tallies[number], term, bins)
            np.add.at(counts, self._from_local[number], counted)
        return counts / 10

    def _reading(self, number: int, asked: AskedSize) -> Step:
        counts = self._counted(asked.term, BINS)
        pool = counts.sum(axis=0) + ENGINE_CASES / BINS
        pool /= pool.sum()
        counts = _spread(counts[:-1])
        bin_asked = asked.bin
        imagined = np.full(len(self.faults), pool[bin_asked])
        for fault, chance_there in asked.predicted.items():
            imagined[self._place[fault]] = chance_there
        have = counts.sum(axis=1)
        chance = (counts[:, bin_asked] + ENGINE_CASES * imagined) / (have + ENGINE_CASES)
        learned = np.log(chance / imagined) if asked.tells else np.zeros(len(self.faults))
        return Step(READING, number, np.log(np.append(chance, 1 / BINS)), learned)

    def _term(self, what: str, number: int, term: int, weight: float) -> Step:
        having = self._counted(term, 1)[:, 0]
        everybody = (having.sum() + 0.5) / (self.sight.observations + 1.0)
        chance = (having[:-1] + ENGINE_CASES * everybody) / (self.cases + ENGINE_CASES)
        learned = weight * np.log(chance / everybody)
        return Step(
            what, number, np.append(weight * np.log(chance), weight * np.log(everybody)), learned
        )

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


def _spread(counts: FloatArray) -> FloatArray:
    """Return counts (F, bins) with a part of each bin in its neighbours."""
    padded = np.pad(counts, ((0, 0), (1, 1)), mode="edge")
    less, same, more = _SPREAD
    return np.asarray(less * padded[:, :-2] + same * padded[:, 1:-1] + more * padded[:, 2:])


def _log_sum(logarithms: FloatArray) -> FloatArray:
    highest = logarithms.max(axis=-1, keepdims=True)
    return np.asarray(
        (highest + np.log(np.exp(logarithms - highest).sum(axis=-1, keepdims=True)))[..., 0]
    )
