"""How far logged readings are off what trials predict, tolerances shared between the readings.

A tolerance moves all the readings that its part touches together, so what it does to each reading
of a case stands in one column of the *spread*; the joint covariance is the spread times itself,
with what each reading's own meter adds (JCGM 100:2008, 5.2).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Stage
from circuits.engine.equations.wiring import IntArray, Situation
from circuits.engine.laws import FloatArray
from circuits.engine.settling.tolerances import tolerance_names

# Several bounds settle among themselves in so many rounds.
BOUND_ROUNDS = 30
# A bound that moves by a smaller share than this is at rest.
BOUND_RESTS = 1e-12

# Neighbouring columns of one situation, and where they stand among those of the case.
_Run = tuple[slice, slice]


@dataclass(frozen=True, slots=True)
class Expected:
    """What E trials show of m readings, and how sure that is, (E, m) each."""

    predicted: FloatArray
    half_span: FloatArray  # of a chatter
    variance: FloatArray  # of what is logged less what is predicted

    def take(self, chosen: IntArray) -> "Expected":
        return Expected(self.predicted[chosen], self.half_span[chosen], self.variance[chosen])

    @property
    def uncertainty(self) -> FloatArray:
        return np.asarray(np.sqrt(self.variance))

    def miss(self, logged: FloatArray, open_side: FloatArray) -> FloatArray:
        """Return how far logged readings are off, beyond a chatter and what a bound allows."""
        miss = logged - self.predicted
        miss = np.sign(miss) * np.maximum(np.abs(miss) - self.half_span, 0.0)
        return np.where(open_side * miss < 0, 0.0, miss)


@dataclass(frozen=True, slots=True)
class Weighed:
    """What trials predict of each of m readings, and how far the logged ones are off."""

    misfit: FloatArray  # (E,)
    predicted: FloatArray  # (E, m)
    uncertainty: FloatArray  # (E, m), standard, of logged less predicted
    distance: FloatArray  # (E, m)
    weight: FloatArray  # (E, m), what each reading adds to the misfit
    without: FloatArray  # (E, m), the misfit of the others when a reading is left out
    miss: FloatArray  # (E, m), logged less predicted, nought between two states of a chatter
    precision: FloatArray  # (E, m, m), the inverse of the joint covariance
    log_precision: FloatArray  # (E,), the logarithm of its determinant
    half_span: FloatArray  # (E, m), of a chatter: half of what lies between its two states

    @classmethod
    def joined(cls, parts: Sequence["Weighed"]) -> "Weighed":
        """Return all trials of several rows of them."""
        return cls(*(np.concatenate([getattr(p, n) for p in parts]) for n in cls.__slots__))

    def take(self, chosen: IntArray) -> "Weighed":
        return Weighed(*(getattr(self, name)[chosen] for name in self.__slots__))

    def put(self, where: IntArray, other: "Weighed") -> "Weighed":
        """Return these with other trials in the place of some; what is predicted stays."""
        mixed = {name: getattr(self, name).copy() for name in self.__slots__}
        for name, values in mixed.items():
            if name != "predicted":
                values[where] = getattr(other, name)
        return Weighed(**mixed)

    def held_by(self, margins: "Weighed") -> "Weighed":
        """Return these as far off as they are with margins weighed besides, after the readings."""
        own = slice(self.miss.shape[1])
        by_reading = {
            name: getattr(margins, name)[:, own]
            for name in ("distance", "weight", "without", "miss")
        }
        return replace(self, misfit=margins.misfit, **by_reading)

    def one_by_one(self) -> Expected:
        """Return what each reading says by itself."""
        return Expected(self.predicted, self.half_span, self.uncertainty**2)

    def where(self, chosen: BoolArray, other: "Weighed") -> "Weighed":
        """Return the chosen trials of these (E,), and of the others the rest."""
        mixed = {name: getattr(other, name).copy() for name in self.__slots__}
        for name, values in mixed.items():
            values[chosen] = getattr(self, name)[chosen]
        return Weighed(**mixed)


def weigh(
    logged: FloatArray,
    open_side: FloatArray,
    predicted: FloatArray,
    half_span: FloatArray,
    spread: FloatArray,
    variance: FloatArray,
) -> Weighed:
    """Return how logged readings (m,) stand to predicted ones (E, m).

    Parameters
    ----------
    open_side
        Which way the steady figure may lie off a logged least or most without limit, (m,).
    half_span
        Half of what lies between the two states of a chatter, (E, m): a meter may show anything
        there.
    spread
        How far each tolerance, at its edge, moves each reading, (E, m, P).
    variance
        What each reading's meter adds of its own, (E, m).
    """
    miss = logged - predicted
    miss = np.sign(miss) * np.maximum(np.abs(miss) - half_span, 0.0)
    covariance = spread @ spread.transpose(0, 2, 1)
    covariance /= 3
    diagonal = np.arange(len(logged))
    covariance[:, diagonal, diagonal] += variance
    precision = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    miss, gives = _given_way(miss, precision, open_side)
    pulled = (precision @ miss[:, :, None])[:, :, 0]
    weight = miss * pulled
    misfit = weight.sum(axis=1)
    uncertainty = np.sqrt(covariance[:, diagonal, diagonal])
    # Leaving one reading out of a joint test is a step of Schur's complement.
    alone = pulled**2 / precision[:, diagonal, diagonal]
    return Weighed(
        misfit=misfit,
        predicted=predicted,
        uncertainty=uncertainty,
        distance=np.where(gives, 0.0, miss / uncertainty),
        weight=weight,
        without=misfit[:, None] - alone,
        miss=miss,
        precision=precision,
        log_precision=_log_precision(precision, open_side),
        half_span=half_span,
    )


def _given_way(
    miss: FloatArray, precision: FloatArray, open_side: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Return misses (E, m) with each bound as far off as suits the rest, and which gave way.

    A least says nothing against a steady figure above it: of all figures on its open side the
    one is taken that makes the joint misfit least, one bound after the other until they rest.
    """
    gives = np.zeros(miss.shape, dtype=bool)
    bounds = np.flatnonzero(open_side)
    taken = miss.copy()
    moving = np.arange(len(miss))
    for _ in range(BOUND_ROUNDS if len(bounds) > 1 else len(bounds)):
        own, before = precision[moving], taken[moving]
        still = before.copy()
        for number in bounds.tolist():
            pulled = np.einsum("ej,ej->e", own[:, number], still)
            side, row = open_side[number], own[:, number, number]
            slack = side * (still[:, number] - pulled / row - miss[moving, number])
            gives[moving, number] = slack > 0
            still[:, number] = miss[moving, number] + side * np.maximum(slack, 0.0)
        taken[moving] = still
        moving = moving[(np.abs(still - before) > BOUND_RESTS * np.abs(still)).any(axis=1)]
        if not moving.size:
            break
    return taken, gives


def _log_precision(precision: FloatArray, open_side: FloatArray) -> FloatArray:
    """Return the logarithm of its determinant; a bound has no density of its own."""
    found = np.linalg.slogdet(precision)[1]
    bounds = np.flatnonzero(open_side)
    if bounds.size:
        found = found - np.linalg.slogdet(precision[:, bounds[:, None], bounds])[1]
    return np.asarray(found, dtype=np.float64)


class Columns:
    """Where the tolerances of several stages stand among the P of a case.

    One of the same part counts once, in whatever situation, unless it is drawn anew in each phase.
    """

    def __init__(self, stages: Iterable[tuple[Situation, Stage]]) -> None:
        self._numbers: dict[tuple[str, str, str], int] = {}
        self._runs: dict[int, list[_Run]] = {}
        for situation, stage in stages:
            self._runs[id(stage)] = _runs(
                [
                    self._numbers.setdefault(
                        (branch, value, situation.phase if phase_bound else ""), len(self._numbers)
                    )
                    for branch, value, phase_bound in tolerance_names(stage)
                ]
            )

    def __len__(self) -> int:
        return len(self._numbers)

    def put(self, spread: FloatArray, stage: Stage, own: FloatArray, share: float) -> None:
        """Put what the tolerances of a stage do to one reading (E, p) into its spread (E, P)."""
        for from_columns, to_columns in self._runs[id(stage)]:
            np.multiply(own[:, from_columns], share, out=spread[:, to_columns])


def _runs(numbers: Sequence[int]) -> list[_Run]:
    """Return stretches in which numbers count up by one, as slices from and to."""
    breaks = [at for at in range(1, len(numbers)) if numbers[at] != numbers[at - 1] + 1]
    return [
        (slice(begin, end), slice(numbers[begin], numbers[begin] + end - begin))
        for begin, end in zip([0, *breaks], [*breaks, len(numbers)], strict=True)
        if end > begin
    ]
