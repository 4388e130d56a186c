"""Settle whole stretches of severity at once: a trial is cut wherever a control crosses.

A span is a part of a suspect's line with one point of it that is settled for all. At each state in
which it rests on its way it is looked between which shares no control would cross its threshold.
What lies beyond goes the same way up to there and another one on: it becomes a span of its own,
with a point of its own, and sets out from there. So each part of a way is gone once.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray
from circuits.engine.settling.room import room_around
from circuits.engine.settling.settle import Course, History
from circuits.engine.settling.watching import Look

# Stretches shorter than this, as a share, are a boundary and no stretch.
LEAST_STRETCH = 1e-12
# Which point of a span is settled: no round fraction, so as not to hit a threshold exactly.
INSIDE = 0.4871


@dataclass(frozen=True, slots=True)
class Spans:
    """E parts of stretches: of which each is one, from where to where, and where it rests."""

    stretch: IntArray  # (E,)
    low: FloatArray  # (E,)
    high: FloatArray  # (E,)
    pieces: IntArray  # (E, K)
    chatters: BoolArray  # (E,)
    #: By span, where it chatters: the pieces (n, K) that it goes round in
    rounds: Mapping[int, IntArray]

    @classmethod
    def of(cls, parts: "Sequence[Spans]") -> "Spans":
        """Return the spans of several, one after the other."""
        before = np.cumsum([0, *(len(each.low) for each in parts)]).tolist()
        rounds = {
            first + span: pieces
            for first, each in zip(before, parts, strict=False)
            for span, pieces in each.rounds.items()
        }
        return cls(
            np.concatenate([each.stretch for each in parts]),
            np.concatenate([each.low for each in parts]),
            np.concatenate([each.high for each in parts]),
            np.concatenate([each.pieces for each in parts]),
            np.concatenate([each.chatters for each in parts]),
            rounds,
        )


def settle_spans(
    stage: Stage, suspect: IntArray, low: FloatArray, high: FloatArray, start: IntArray
) -> Spans:
    """Settle stretches of suspects (S,) from the given pieces (S, K), cut where states change.

    The laws of all loads have to be straight.
    """
    outset = _Outset(np.arange(len(suspect)), low, high, start, History.none(len(suspect)))
    found: list[Spans] = []
    while len(outset.stretch) or not found:
        course = _SpanCourse(stage, suspect[outset.stretch], outset)
        outset = _Outset.of(list(course.left_over()))
        found.append(course.spans())
    return Spans.of(found)


@dataclass(frozen=True, slots=True)
class _Outset:
    """Spans that set out: of which stretches, from where to where, their pieces and history."""

    stretch: IntArray  # (E,)
    low: FloatArray  # (E,)
    high: FloatArray  # (E,)
    start: IntArray  # (E, K)
    history: History

    @classmethod
    def of(cls, parts: "Sequence[_Outset]") -> "_Outset":
        """Return the spans of several, one after the other."""
        return cls(
            np.concatenate([each.stretch for each in parts]),
            np.concatenate([each.low for each in parts]),
            np.concatenate([each.high for each in parts]),
            np.concatenate([each.start for each in parts]),
            History.of([each.history for each in parts]),
        )


class _SpanCourse(Course):
    """The way of spans to rest, with all states in which they rested on it."""

    def __init__(self, stage: Stage, suspect: IntArray, outset: _Outset) -> None:
        self._outset = outset
        self._share = outset.low + INSIDE * (outset.high - outset.low)
        trials = Trials.of_singles(suspect, self._share, 1 - self._share)
        super().__init__(stage, stage.moved(trials), outset.start, 0, history=outset.history)
        nobody = np.zeros(0, dtype=np.intp)
        #: Who rested where, with what history; nobody at first, so that there is something.
        self._stood = [(nobody, outset.start[:0], outset.history.take(nobody))]
        self._settled = self.run()
        self._low, self._high = outset.low.copy(), outset.high.copy()
        self._rooms = self._look_around()

    def at_rest(self, look: Look) -> None:
        self._stood.append((look.trials, look.piece, self.history.take(look.trials)))

    def _look_around(self) -> tuple[FloatArray, FloatArray]:
        """Return between which shares nothing changes where spans stood, one after the other."""
        trial = np.concatenate([trials for trials, _, _ in self._stood])
        pieces = np.concatenate([pieces for _, pieces, _ in self._stood])
        return room_around(self.stage, self.moved.take(trial), self._share[trial], pieces)

    def left_over(self) -> Iterator[_Outset]:
        """Narrow the spans by all their rooms; yield what is left over on either side of each."""
        begin = 0
        for own, pieces, history in self._stood:
            here = slice(begin, begin + len(own))
            begin += len(own)
            low, high = self._low[own], self._high[own]
            room_low = np.maximum(self._rooms[0][here], low)
            room_high = np.minimum(self._rooms[1][here], high)
            room_low = np.where(room_low - low < LEAST_STRETCH, low, room_low)
            room_high = np.where(high - room_high < LEAST_STRETCH, high, room_high)
            self._low[own], self._high[own] = room_low, room_high
            for begins, ends in ((low, room_low), (room_high, high)):
                left = np.flatnonzero(begins < ends)
                if own.size and not left.size:
                    continue
                yield _Outset(
                    self._outset.stretch[own[left]],
                    begins[left],
                    ends[left],
                    pieces[left],
                    history.take(left),
                )

    def spans(self) -> Spans:
        """Return where the spans rest, as far as `left_over` has narrowed them."""
        rest = self._settled
        return Spans(
            self._outset.stretch, self._low, self._high, rest.pieces, rest.chatters, self._rounds()
        )

    def _rounds(self) -> dict[int, IntArray]:
        rounds: dict[int, list[IntArray]] = {
            span: [] for span in np.flatnonzero(self._settled.chatters).tolist()
        }
        for spans, pieces, _ in self.passed:
            for span, row in zip(spans.tolist(), pieces, strict=True):
                rounds[span].append(row)
        rest = self._settled.pieces
        return {span: np.array([*rows, rest[span]]) for span, rows in rounds.items()}
