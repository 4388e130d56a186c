"""What came of suspects at severities: tried jointly, or bounded by their readings one by one."""

from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.wiring import IntArray
from circuits.engine.judging.weighing import Expected, Weighed
from circuits.engine.laws import FloatArray


@dataclass(frozen=True, slots=True)
class Tried:
    """Trials of one suspect each with their severities and what came of them.

    Of those that were not tried `jointly` the misfit is the least that it can be, what the worst of
    their readings makes of it alone; what else comes of the joint test is that of single readings.
    """

    move: IntArray  # (E,)
    severity: FloatArray  # (E,)
    jointly: BoolArray  # (E,)
    misfit: FloatArray  # (E,)
    predicted: FloatArray  # (E, m)
    uncertainty: FloatArray  # (E, m), standard, of logged less predicted
    distance: FloatArray  # (E, m)
    weight: FloatArray  # (E, m), what each reading adds to the misfit
    without: FloatArray  # (E, m), the misfit of the others when a reading is left out
    log_precision: FloatArray  # (E,), of the determinant of the joint covariance's inverse
    half_span: FloatArray  # (E, m), of a chatter

    @classmethod
    def of(cls, move: IntArray, severity: FloatArray, weighed: Weighed) -> "Tried":
        """Return trials that were tried jointly."""
        return cls(
            move=move,
            severity=severity,
            jointly=np.ones(len(move), dtype=bool),
            misfit=weighed.misfit,
            predicted=weighed.predicted,
            uncertainty=weighed.uncertainty,
            distance=weighed.distance,
            weight=weighed.weight,
            without=weighed.without,
            log_precision=weighed.log_precision,
            half_span=weighed.half_span,
        )

    @classmethod
    def one_by_one(
        cls, move: IntArray, severity: FloatArray, expected: Expected, miss: FloatArray
    ) -> "Tried":
        """Return trials that were not, by how far each reading is off (E, m)."""
        distance = miss / expected.uncertainty
        square = distance**2
        worst = square.argmax(axis=1)[:, None]
        others = square.copy()
        np.put_along_axis(others, worst, 0.0, axis=1)
        misfit = square.max(axis=1)
        without = np.repeat(misfit[:, None], square.shape[1], axis=1)
        np.put_along_axis(without, worst, others.max(axis=1)[:, None], axis=1)
        return cls(
            move=move,
            severity=severity,
            jointly=np.zeros(len(move), dtype=bool),
            misfit=misfit,
            predicted=expected.predicted,
            uncertainty=expected.uncertainty,
            distance=distance,
            weight=square,
            without=without,
            log_precision=-np.log(expected.variance).sum(axis=1),
            half_span=expected.half_span,
        )

    def joined(self, other: "Tried") -> "Tried":
        return Tried(
            *(
                np.concatenate([getattr(self, name), getattr(other, name)])
                for name in self.__slots__
            )
        )
