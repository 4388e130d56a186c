"""How alike two cases are: a sum of terms, each of which can be shown.

Readings: a masked kernel. Only slots that both cases measured are compared; each weighs
1 + |size|, because a reading far from healthy says more, and the sum is divided by the weight of
all that was asked, so that what the old case lacks never counts as agreement. Codes and words:
the log-odds of sharing one, by how many of the cases compared have it. Then how well the old
case stands.

The weights are set by hand (no source); points are natural logarithms of odds.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# A case that reads the same everywhere it was asked is e^6 (some 400) times likelier related.
READING_POINTS = 6.0
CODE_WEIGHT = 1.0
WORD_WEIGHT = 0.5
# Sizes are powers of two of the uncertainty: readings one doubling apart are still akin.
KERNEL_WIDTH = 1.0
#: By standing: what the readings of a case are worth as a story of what was wrong.
STANDING_POINTS = {
    "held": 0.6,
    "verified": 0.5,
    "proven": 0.4,
    "consistent": 0.2,
    "claimed": 0.0,
    "note": -0.2,
    "doubtful": -0.8,
}
#: Below this a likeness is an accident of words.
FLOOR = 0.3
#: A reading at least this size from healthy tells something: the 2.8 uncertainties from which on
#: the car in order would not give it. Agreement on what every sound car reads is no likeness.
TELLING_SIZE = math.log2(1 + 2.8)

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CaseRow:
    """What is compared of one case; `root` is the case it was copied from, or itself."""

    case: int
    root: int
    sizes: Mapping[str, float]
    codes: frozenset[str]
    words: frozenset[str]


def kernel_points(query_sizes: FloatArray, case_sizes: FloatArray) -> FloatArray:
    """Return the points of every reading of the query in every case, zero where it lacks it.

    `query_sizes` is (n,), `case_sizes` (cases, n) with NaN for what was not measured. Each point
    is between minus and plus its weight's share of `READING_POINTS`: full agreement is plus,
    no likeness at all is minus.
    """
    weight = 1 + np.abs(query_sizes)
    share = weight / weight.sum()
    distance = (case_sizes - query_sizes) / KERNEL_WIDTH
    likeness = 2 * np.exp(-(distance**2) / 2) - 1
    return np.where(np.isnan(case_sizes), 0.0, READING_POINTS * share * likeness)


def sizes_of(slots: Sequence[str], rows: Sequence[CaseRow]) -> FloatArray:
    """Return the sizes (cases, slots) that the cases measured, NaN for what they did not."""
    table = np.full((len(rows), len(slots)), np.nan)
    for number, row in enumerate(rows):
        for column, slot in enumerate(slots):
            size = row.sizes.get(slot)
            if size is not None:
                table[number, column] = size
    return table


class Rarity:
    """How much it says that two cases share a code or a word, by how many have it.

    Copies of one case are one observation, however often it was copied.
    """

    def __init__(self, rows: Sequence[CaseRow]) -> None:
        self.observations = len({row.root for row in rows})
        self._codes = _counts(rows, [row.codes for row in rows])
        self._words = _counts(rows, [row.words for row in rows])

    def code_points(self, code: str) -> float:
        return CODE_WEIGHT * self._log_odds(self._codes.get(code, 0))

    def word_points(self, word: str) -> float:
        return WORD_WEIGHT * self._log_odds(self._words.get(word, 0))

    @property
    def vocabulary(self) -> frozenset[str]:
        return frozenset(self._words)

    def _log_odds(self, having: int) -> float:
        lacking = self.observations - having
        return math.log(1 + (lacking + 0.5) / (having + 0.5))


def _counts(rows: Sequence[CaseRow], terms: Sequence[frozenset[str]]) -> dict[str, int]:
    seen: dict[str, set[int]] = {}
    for row, row_terms in zip(rows, terms, strict=True):
        for term in row_terms:
            seen.setdefault(term, set()).add(row.root)
    return {term: len(roots) for term, roots in seen.items()}
