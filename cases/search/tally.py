"""What is counted of a segment whoever asks, kept from one search to the next.

Most of what a person may see is what everybody may see. So how many cases of each fault have a
term, by the size there, is counted once for the rows that are shared; for one person it is put
right by the few rows that are theirs alone, or hidden from them. Weights are whole tenths, so that
taking away leaves nothing of what was added.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from cases.search.evidence import HELD_NUMBER, VERIFIED_NUMBER
from cases.search.scoring import BIN_OF_BYTE, STANDING_POINTS, STANDING_WEIGHTS, by_standing
from cases.search.segment import LongArray, Posting, Segment

FloatArray = NDArray[np.float64]

TENTHS: Final = np.rint(10 * by_standing(STANDING_WEIGHTS))


class Tally:
    """What each row of a segment is worth on one day, and what is counted of those shared."""

    def __init__(self, segment: Segment, day: int) -> None:
        self.segment, self.day = segment, day
        rows = segment.rows
        held = (rows.standings == VERIFIED_NUMBER) & (rows.held_from <= day)
        self.standings = np.where(held, HELD_NUMBER, rows.standings).astype(np.int8)  # (n,)
        self.points = by_standing(STANDING_POINTS)[self.standings]  # (n,)
        self.tenths = TENTHS[self.standings]  # (n,)
        self._sums = np.concatenate([[0.0], np.cumsum(self.tenths, dtype=np.float64)])
        self._shared: dict[tuple[int, int], FloatArray] = {}

    def tenths_between(self, starts: LongArray, stops: LongArray) -> FloatArray:
        """Return what the rows of some stretches weigh together, in tenths of a case."""
        return np.asarray(self._sums[stops] - self._sums[starts])

    def counted(self, posting: Posting, bins: int) -> FloatArray:
        """Return the tenths of cases (local faults, bins) in a posting, by the size there."""
        place = self.segment.local_faults[posting.rows]
        if bins > 1:
            place = place * bins + BIN_OF_BYTE[posting.steps.view(np.uint8)]
        many = len(self.segment.fault_numbers) * bins
        counts = np.bincount(place, weights=self.tenths[posting.rows], minlength=many)
        return np.asarray(counts.reshape(-1, bins))

    def shared(self, term: int, bins: int) -> FloatArray:
        """Return the tenths of cases (local faults, bins) with a term that everybody may see."""
        found = self._shared.get((term, bins))
        if found is None:
            posting = self.segment.posting(term).between(0, self.segment.shared_stop)
            found = self._shared[term, bins] = self.counted(posting, bins)
        return found


def tally_of(segment: Segment, day: int) -> Tally:
    """Return the tally of a segment on a day; it is kept with the segment, and goes with it."""
    tally = segment.tally
    if tally is None or tally.day != day:
        tally = segment.tally = Tally(segment, day)
    return tally
