"""Find the state that each trial settles in, and what every place reads then.

A trial is the circuit under one suspect at one severity. Many trials go side by side: those in
the same pieces share a factorisation. Two kinds of control are settled in the order of the
physics: those without memory (a generator at its limit, a motor that stalls) at once, then relays
and rules, one at a time, from the state of the phase before. A trial whose relays come back to a
state they have been in has no steady state: it *chatters*, and its readings span that round.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np

from circuits.engine.equations.moves import BoolArray, Moved
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray
from circuits.engine.settling.resting import Resting
from circuits.engine.settling.watching import Look, Watch

# Where a trial has no state to name.
NOWHERE = -1
# How many moves of relays and rules there is room for at first.
FIRST_ROOM = 8


@dataclass(frozen=True, slots=True)
class Loaded:
    """Trials (A,) in which the meter at one place makes a diode conduct, and the pieces then."""

    seat: int
    trial: IntArray  # (A,)
    pieces: IntArray  # (A, K)
    bend: FloatArray  # (A, J)


@dataclass(frozen=True, slots=True)
class Settled:
    """Where E trials came to rest in one situation, and what R places read."""

    pieces: IntArray  # (E, K)
    chatters: BoolArray  # (E,)
    low: FloatArray  # (E, R), equal to high but where the trial chatters
    high: FloatArray  # (E, R)
    floating: BoolArray  # (E, R)
    meter_share: FloatArray  # (E, R), what the meters leave of the volts
    bend: FloatArray  # (E, J), what the curved laws differ by from their chords
    #: Readings that are taken in other pieces, because the meter itself turns a diode
    loaded: Sequence[Loaded] = ()

    @classmethod
    def known(
        cls,
        stage: Stage,
        trials: Trials,
        pieces: IntArray,
        chatters: BoolArray,
        rounds: Mapping[int, IntArray],
    ) -> "Settled":
        """Return trials in known pieces, with what they read there and in the rounds they go.

        `rounds` has, by trial, the pieces (n, K) that it goes round in where it chatters.
        """
        bend = stage.straight(len(trials))
        meter_share = np.ones((len(trials), len(stage.places)))
        low, floating = stage.read(trials, pieces, bend, share=meter_share)
        high = low.copy()
        if rounds:
            of_trial = np.array(list(rounds), dtype=np.intp)
            lengths = np.array([len(each) for each in rounds.values()])
            every = trials.take(np.repeat(of_trial, lengths))
            values, loose = stage.read(every, np.concatenate(list(rounds.values())))
            first = np.append(0, np.cumsum(lengths)[:-1])
            low[of_trial] = np.minimum.reduceat(values, first)
            high[of_trial] = np.maximum.reduceat(values, first)
            floating[of_trial] = np.logical_and.reduceat(loose, first)
        return cls(pieces, chatters, low, high, floating, meter_share, bend)

    def take(self, chosen: IntArray) -> "Settled":
        """Return chosen trials, in rising order."""
        loaded = []
        for each in self.loaded:
            kept = np.flatnonzero(np.isin(each.trial, chosen))
            trial = np.searchsorted(chosen, each.trial[kept])
            loaded.append(Loaded(each.seat, trial, each.pieces[kept], each.bend[kept]))
        names = {each.name for each in fields(self)} - {"loaded"}
        arrays = {name: getattr(self, name)[chosen] for name in names}
        return Settled(**arrays, loaded=tuple(loaded))

    def put(self, where: IntArray, other: "Settled") -> None:
        """Put other trials in the place of some of these."""
        for name in ("pieces", "chatters", "low", "high", "floating", "meter_share", "bend"):
            getattr(self, name)[where] = getattr(other, name)


def settle(
    stage: Stage, trials: Trials, start: IntArray, *, harder: FloatArray | None = None
) -> Settled:
    """Settle trials from the given pieces (E, K) and read all places.

    `harder` (E, K) says by how much the thresholds lie higher than they are drawn.
    """
    moved, places = stage.moved(trials), len(stage.places)
    return Course(stage, moved, start, places, harder=harder).run()


def settle_unread(stage: Stage, moved: Moved, start: IntArray) -> Settled:
    """Settle whatever is moved from the given pieces (E, K), and read no place."""
    return Course(stage, moved, start, places=0).run()


@dataclass(slots=True)
class History:
    """The states that E trials have moved on from, and in which of them they came back, if any."""

    left: IntArray  # (E, L), filled up with NOWHERE
    count: IntArray  # (E,) how many these are
    turned_in: IntArray  # (E,) or NOWHERE

    @classmethod
    def none(cls, trials: int) -> "History":
        return cls(
            np.full((trials, FIRST_ROOM), NOWHERE),
            np.zeros(trials, dtype=np.intp),
            np.full(trials, NOWHERE),
        )

    @classmethod
    def of(cls, parts: Sequence["History"]) -> "History":
        """Return the histories of all trials of several, one after the other."""
        most = max(each.left.shape[1] for each in parts)
        left = np.full((sum(len(each.count) for each in parts), most), NOWHERE)
        begin = 0
        for each in parts:
            end = begin + len(each.count)
            left[begin:end, : each.left.shape[1]] = each.left
            begin = end
        return cls(
            left,
            np.concatenate([each.count for each in parts]),
            np.concatenate([each.turned_in for each in parts]),
        )

    def take(self, chosen: IntArray) -> "History":
        return History(self.left[chosen], self.count[chosen], self.turned_in[chosen])

    def leave(self, trials: IntArray, state: IntArray) -> BoolArray:
        """Note that trials (A,) want to move on from states; return which do.

        Who comes back to a state that it had left goes round once from there and no further.
        """
        turned_in = self.turned_in[trials]
        straight = turned_in == NOWHERE
        seen = (self.left[trials] == state[:, None]).any(axis=1)
        turning = straight & seen
        self.turned_in[trials[turning]] = state[turning]
        own, number = trials[straight], self.count[trials[straight]]
        if number.max(initial=0) == self.left.shape[1]:
            self.left = np.hstack([self.left, np.full_like(self.left, NOWHERE)])
        self.left[own, number] = state[straight]
        self.count[own] = number + 1
        return np.asarray(state != turned_in)


class Course:
    """The way of E trials from their starting pieces to rest, each at its own pace.

    In every round those on their way are looked at together, and each takes its next step.

    Attributes
    ----------
    passed
        Where trials that go round stood on their way: whose, the pieces and the bend.
    """

    def __init__(
        self,
        stage: Stage,
        moved: Moved,
        start: IntArray,
        places: int,
        *,
        harder: FloatArray | None = None,
        history: History | None = None,
    ) -> None:
        self.stage = stage
        self.moved = moved
        self.watch = Watch(stage, moved, start, harder)
        self.history = History.none(len(moved)) if history is None else history
        self.passed: list[tuple[IntArray, IntArray, FloatArray]] = []
        self._resting = Resting(self.watch)
        self._places = places

    def at_rest(self, look: Look) -> None:
        """Do what there is to do where controls without memory are at rest."""

    def run(self) -> Settled:
        active = np.arange(len(self.moved))
        while active.size:
            look = self.watch.look(active)
            at_rest = self._resting.step(look)
            if not at_rest.any():
                continue
            rested = look.take(at_rest)
            self.at_rest(rested)
            goes_on = ~at_rest
            goes_on[at_rest] = self._move_on(rested)
            active = active[goes_on]
        watch = self.watch
        values, floating, meter_share = self._read()
        return Settled(
            pieces=watch.pieces,
            chatters=self._resting.restless | (self.history.turned_in != NOWHERE),
            low=values[0],
            high=values[1],
            floating=floating,
            meter_share=meter_share,
            bend=watch.bend,
        )

    def _move_on(self, look: Look) -> BoolArray:
        """Move the first relay or rule that asks for it; return which trials (A,) have one.

        The contacts of one relay move together. A trial moves until it has gone round once.
        """
        watch, trials = self.watch, look.trials
        wrong = (look.wanted != look.piece) & ~watch.quick
        moves: BoolArray = wrong.any(axis=1)
        if not moves.any():
            return moves
        state = self.stage.crowd.states.numbers(look.piece[moves])
        moves[moves] = self.history.leave(trials[moves], state)
        moving = trials[moves]
        wrong, piece = wrong[moves], look.piece[moves]
        passes = self.history.turned_in[moving] != NOWHERE
        if passes.any():
            self.passed.append((moving[passes], piece[passes], watch.bend[moving[passes]]))
        turns = wrong & self.stage.wiring.together[np.argmax(wrong, axis=1)]
        watch.pieces[moving] = np.where(turns, look.wanted[moves], piece)
        self._resting.begin(moving)
        return moves

    def _read(self) -> tuple[FloatArray, BoolArray, FloatArray]:
        """Return what meters show, low and high (2, E, R), where they float, and their share."""
        watch, count = self.watch, len(self.moved)
        share = np.ones((count, self._places))
        if not self._places:
            return np.zeros((2, count, 0)), share > 1, share
        # Whoever was watched where it stands has had its curved laws obeyed.
        is_bent = bool(self.stage.control_count)
        low, floating = self.stage.read_moved(
            self.moved, watch.pieces, watch.bend, is_bent=is_bent, share=share
        )
        high = low.copy()
        for trials, pieces, bend in self.passed:
            shown, loose = self.stage.read_moved(
                self.moved.take(trials), pieces, bend, is_bent=is_bent
            )
            low[trials] = np.minimum(low[trials], shown)
            high[trials] = np.maximum(high[trials], shown)
            floating[trials] &= loose
        return np.stack([low, high]), floating, share
