"""What is counted of a segment whoever asks, kept from one search to the next.

Most of what a person may see is what everybody may see. So how many cases of each fault have a
term, by the size there, is counted once for the rows that are shared; for one person it is put
right by the few rows that are theirs alone, or hidden from them. Weights are whole tenths, so that
taking away leaves nothing of what was added, and no day changes them.
"""

import numpy as np

from cases.search.evidence import HELD_NUMBER, VERIFIED_NUMBER
from cases.search.postings import Posting
from cases.search.scoring import BIN_OF_BYTE, STANDING_POINTS, TENTHS, by_standing
from cases.search.segment import FloatArray, Segment


class Tally:
    """What each row of a segment stands for on one day."""

    def __init__(self, segment: Segment, day: int) -> None:
        self.day = day
        rows = segment.rows
        # A repair counts as held from an hour of its day on: here from the next day, never sooner.
        held = (rows.standings == VERIFIED_NUMBER) & (rows.held_from < day)
        self.standings = np.where(held, HELD_NUMBER, rows.standings).astype(np.int8)  # (n,)
        self.points = by_standing(STANDING_POINTS)[self.standings]  # (n,)


def tally_of(segment: Segment, day: int) -> Tally:
    """Return the tally of a segment on a day; it is kept with the segment, and goes with it."""
    tally = segment.tally
    if tally is None or tally.day != day:
        tally = segment.tally = Tally(segment, day)
    return tally


def counted(segment: Segment, posting: Posting, bins: int) -> FloatArray:
    """Return the tenths of cases (local faults, bins) in a posting, by the size there."""
    numbers, places = segment.coded_faults
    place = places[posting.rows].astype(np.int64)
    if bins > 1:
        place = place * bins + BIN_OF_BYTE[posting.steps.view(np.uint8)]
    weights = TENTHS[segment.rows.standings[posting.rows]]
    counts = np.bincount(place, weights=weights, minlength=len(numbers) * bins)
    return np.asarray(counts.reshape(-1, bins))


def counted_shared(segment: Segment, term: int, bins: int) -> FloatArray:
    """Return the tenths of cases (local faults, bins) with a term that everybody may see."""
    found = segment.counts.get((term, bins))
    if found is None:
        posting = segment.posting(term).up_to(segment.shared_stop)
        found = segment.counts[term, bins] = counted(segment, posting, bins)
    return found
