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
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from cases.search.evidence import MOST_STEPS, STANDING_WORDS, STEPS_PER_SIZE

# A case that reads the same everywhere it was asked is e^6 (some 400) times likelier related.
READING_POINTS = 6.0
CODE_WEIGHT = 1.0
WORD_WEIGHT = 0.5
# Sizes are powers of two of the uncertainty: readings one doubling apart are still akin.
KERNEL_WIDTH = 1.0
#: By standing: what the readings of a case are worth as a story of what was wrong.
STANDING_POINTS: Mapping[str, float] = MappingProxyType(
    {
        "held": 0.6,
        "verified": 0.5,
        "proven": 0.4,
        "consistent": 0.2,
        "claimed": 0.0,
        "note": -0.2,
        "doubtful": -0.8,
    }
)
#: By standing: how much a case counts where cases of one fault are counted.
STANDING_WEIGHTS: Mapping[str, float] = MappingProxyType(
    {"held": 1.0, "verified": 1.0, "proven": 0.9, "consistent": 0.7, "claimed": 0.4, "note": 0.2}
)
#: Below this a likeness is an accident of words.
FLOOR = 0.3
#: A reading at least this size from healthy tells something: the 2.8 uncertainties from which on
#: the car in order would not give it. Agreement on what every sound car reads is no likeness.
TELLING_SIZE = math.log2(1 + 2.8)

FloatArray = NDArray[np.float64]

#: Sizes are counted in so many bins; the one in the middle is healthy.
BINS = 21


def bins_of(steps: NDArray[np.int8] | NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the bins, 0 to 20, of sizes in sixteenths; 10 is healthy."""
    half = BINS // 2
    return (
        np.rint(np.asarray(steps, dtype=np.float64) * (half / MOST_STEPS)).astype(np.int64) + half
    )


#: The bin of a size in sixteenths, by the byte as which it is kept (256,).
BIN_OF_BYTE = bins_of(np.maximum(np.arange(256, dtype=np.uint8).view(np.int8), -MOST_STEPS))


def by_byte(table: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a table of sizes (255,), from -127 to 127 sixteenths, by the byte of each (256,)."""
    half = len(table) // 2
    return np.concatenate([table[half:], table[:1], table[:half]])


def shares_of(sizes: Sequence[float]) -> FloatArray:
    """Return how much each of the readings asked for weighs; together one."""
    weights = 1 + np.abs(np.array(sizes, dtype=np.float64))
    return np.asarray(weights / max(weights.sum(), 1.0))


def kernel_table(size: float, share: float) -> FloatArray:
    """Return the points of a reading for every size that an old case may have there.

    (255,), from -127 to 127 sixteenths: full agreement is plus the reading's share of
    `READING_POINTS`, no likeness at all is minus.
    """
    furthest = MOST_STEPS / STEPS_PER_SIZE
    return READING_POINTS * share * _likeness(min(max(size, -furthest), furthest))


@lru_cache(maxsize=2 * MOST_STEPS + 1)
def _likeness(size: float) -> FloatArray:
    """Return how alike every size is to this one (255,): 1 the same, -1 not at all."""
    sizes = np.arange(-MOST_STEPS, MOST_STEPS + 1) / STEPS_PER_SIZE
    distance = (sizes - size) / KERNEL_WIDTH
    return np.asarray(2 * np.exp(-(distance**2) / 2) - 1)


def rarity_points(having: int, observations: int, weight: float) -> float:
    """Return what it says that two cases share a code or a word that so many have."""
    return weight * math.log(1 + (observations - having + 0.5) / (having + 0.5))


def by_standing(worth: Mapping[str, float]) -> NDArray[np.float32]:
    """Return what each standing is worth, by its number; 0 where nothing is said."""
    return np.array([worth.get(word, 0.0) for word in STANDING_WORDS], dtype=np.float32)


#: How much a case counts by its standing, in tenths.
TENTHS = np.rint(10 * by_standing(STANDING_WEIGHTS))
