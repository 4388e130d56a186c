"""Which state holds at which severity: the whole line of every suspect, cut where a state changes.

Between two changes of state a watched quantity is a Moebius function of the share, and its
threshold at most a straight line, so the share at which they meet is the root of a quadratic
equation, or of a polynomial of a few degrees more where a suspect moves several things. So lines
are settled whole and cut there (see `spans`). The phases are taken in order and each cuts the
stretches of the one before more finely, so a relay's memory is carried at every severity. On a
stretch every reading is a formula.
"""

from dataclasses import dataclass

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import IntArray, Situation
from circuits.engine.laws import FloatArray
from circuits.engine.settling.settle import Settled
from circuits.engine.settling.spans import Spans, settle_spans

#: The round of a stretch that chatters in no situation.
STEADY = -1


@dataclass(frozen=True, slots=True)
class Stretches:
    """S stretches of the suspects' lines, in order of suspect and share."""

    suspect: IntArray  # (S,)
    low: FloatArray  # (S,)
    high: FloatArray  # (S,)

    @classmethod
    def whole_lines(cls, suspects: IntArray, points: IntArray) -> "Stretches":
        """Return a stretch for each suspect; of some the last point alone is any use."""
        return cls(suspects, np.isin(suspects, points).astype(float), np.ones(len(suspects)))

    def __len__(self) -> int:
        return len(self.suspect)

    def take(self, chosen: IntArray) -> "Stretches":
        return Stretches(self.suspect[chosen], self.low[chosen], self.high[chosen])

    def holding(self, trials: Trials) -> IntArray:
        """Return the stretch on which each trial of one suspect lies (E,), or -1."""
        suspect, share = trials.suspect[:, 0], trials.share[:, 0]
        found = np.searchsorted(self.suspect + self.low, suspect + share, side="right") - 1
        # At share 1 of one suspect begins the line of the next.
        found = np.where(self.suspect[found] == suspect, found, found - 1)
        return np.where(self.suspect[found] == suspect, found, -1)


class Chart:
    """The stretches of a circuit's suspects through a row of situations.

    `pieces` and `chatters` hold, for each situation, the state on every stretch; where it chatters
    `rounds` holds the states that it goes round in, by their number in `round_of`. A circuit with
    curved laws has no chart: where its states change has no formula. Of some suspects the chart
    has `points` alone, at share 1: those that are there or not. Others are `jumping`: at their
    line's first point, where they are not there at all, they are not on the chart.
    """

    def __init__(self, suspects: IntArray, *, points: IntArray, jumping: IntArray) -> None:
        self.stretches = Stretches.whole_lines(suspects, points)
        self._jumping = jumping
        self.pieces: dict[Situation, IntArray] = {}
        self.chatters: dict[Situation, BoolArray] = {}
        self.rounds: dict[Situation, list[IntArray]] = {}
        self.round_of: dict[Situation, IntArray] = {}
        self._names: dict[Situation, list[str]] = {}

    def add(self, situation: Situation, stage: Stage, before: Situation | None) -> None:
        """Cut the stretches at the changes of state of a further situation.

        Relays and rules start as they stand in the situation `before`.
        """
        start = stage.starting(len(self.stretches), self._pieces_by_name(before))
        whole = self.stretches
        spans = settle_spans(stage, whole.suspect, whole.low, whole.high, start)
        round_of = np.full(len(spans.low), STEADY)
        round_of[list(spans.rounds)] = np.arange(len(spans.rounds))
        self.rounds[situation] = list(spans.rounds.values())
        self._names[situation] = stage.control_names()
        self._recut(situation, spans, round_of)

    def holding(self, trials: Trials) -> IntArray:
        """Return the stretch in which each trial of one suspect lies (E,), or -1."""
        stretch = self.stretches.holding(trials)
        jumps = (trials.share[:, 0] == 0) & np.isin(trials.suspect[:, 0], self._jumping)
        return np.where(jumps, -1, stretch)

    def settled(
        self, situation: Situation, stage: Stage, trials: Trials, stretch: IntArray
    ) -> Settled:
        """Return trials of one suspect each, by the stretches they lie on, and what they read."""
        chatters = self.chatters[situation][stretch] & (stretch >= 0)
        rounds = {
            trial: self.rounds[situation][self.round_of[situation][stretch[trial]]]
            for trial in np.flatnonzero(chatters).tolist()
        }
        return Settled.known(stage, trials, self.pieces[situation][stretch], chatters, rounds)

    def _recut(self, situation: Situation, spans: Spans, round_of: IntArray) -> None:
        parent, low, high = spans.stretch, spans.low, spans.high
        pieces, chatters = spans.pieces, spans.chatters
        order = np.lexsort((low, parent))
        # Two neighbours in one steady state are one stretch, whatever way each took to it.
        same = (parent[order][1:] == parent[order][:-1]) & ~chatters[order][1:]
        same &= ~chatters[order][:-1] & (pieces[order][1:] == pieces[order][:-1]).all(axis=1)
        first = np.flatnonzero(np.append(True, ~same)[: len(order)])
        high = np.maximum.reduceat(high[order], first)
        order = order[first]
        parent = parent[order]
        self.pieces = {known: found[parent] for known, found in self.pieces.items()}
        self.chatters = {known: found[parent] for known, found in self.chatters.items()}
        self.round_of = {known: found[parent] for known, found in self.round_of.items()}
        self.pieces[situation] = pieces[order]
        self.chatters[situation] = chatters[order]
        self.round_of[situation] = round_of[order]
        self.stretches = Stretches(self.stretches.suspect[parent], low[order], high)

    def _pieces_by_name(self, situation: Situation | None) -> dict[str, IntArray]:
        if situation is None:
            return {}
        pieces = self.pieces[situation]
        return {name: pieces[:, row] for row, name in enumerate(self._names[situation])}
