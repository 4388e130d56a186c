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
from circuits.engine.settling.resting import rest_quickly
from circuits.engine.settling.room import room_around
from circuits.engine.settling.watching import Watch

# Where a trial has no state to name.
NOWHERE = -1


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
    #: Between these shares every trial of the suspect takes the same way to the same pieces.
    room_low: FloatArray  # (E,)
    room_high: FloatArray  # (E,)
    #: By trial, where it chatters: the pieces (n, K) that it goes round in; with the room alone
    rounds: Mapping[int, IntArray]
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
        """Return trials in known pieces, with what they read there and in the rounds they go."""
        bend = stage.straight(len(trials))
        meter_share = np.ones((len(trials), len(stage.places)))
        low, floating = stage.read(trials, pieces, bend, share=meter_share)
        high = low.copy()
        share = trials.share[:, 0]
        settled = cls(
            pieces, chatters, low, high, floating, meter_share, bend, share, share, rounds
        )
        if rounds:
            of_trial = np.array(list(rounds), dtype=np.intp)
            lengths = np.array([len(each) for each in rounds.values()])
            every = trials.take(np.repeat(of_trial, lengths))
            values, loose = stage.read(every, np.concatenate(list(rounds.values())))
            first = np.append(0, np.cumsum(lengths)[:-1])
            low[of_trial] = np.minimum.reduceat(values, first)
            high[of_trial] = np.maximum.reduceat(values, first)
            floating[of_trial] = np.logical_and.reduceat(loose, first)
        return settled

    def take(self, chosen: IntArray) -> "Settled":
        """Return chosen trials, in rising order."""
        number = {trial: row for row, trial in enumerate(chosen.tolist())}
        rounds = {number[trial]: each for trial, each in self.rounds.items() if trial in number}
        loaded = []
        for each in self.loaded:
            kept = np.flatnonzero(np.isin(each.trial, chosen))
            trial = np.searchsorted(chosen, each.trial[kept])
            loaded.append(Loaded(each.seat, trial, each.pieces[kept], each.bend[kept]))
        names = {each.name for each in fields(self)} - {"rounds", "loaded"}
        arrays = {name: getattr(self, name)[chosen] for name in names}
        return Settled(**arrays, rounds=rounds, loaded=tuple(loaded))

    def put(self, where: IntArray, other: "Settled") -> None:
        """Put other trials in the place of some of these."""
        for name in ("pieces", "chatters", "low", "high", "floating", "meter_share", "bend"):
            getattr(self, name)[where] = getattr(other, name)


def settle(
    stage: Stage,
    trials: Trials,
    start: IntArray,
    *,
    find_room: bool = False,
    harder: FloatArray | None = None,
) -> Settled:
    """Settle trials from the given pieces (E, K) and read all places.

    With `find_room` it is worked out instead between which shares none of the pieces would change,
    and no place is read; without, and where a load has a curved law, the room is the trial itself.
    `harder` (E, K) says by how much the thresholds lie higher than they are drawn.
    """
    find_room = find_room and not stage.curved_branches.size
    moved, share = stage.moved(trials), trials.share[:, 0]
    places = 0 if find_room else len(stage.places)
    return _Course(stage, moved, share, start, places, find_room=find_room, harder=harder).run()


def settle_unread(stage: Stage, moved: Moved, start: IntArray) -> Settled:
    """Settle whatever is moved from the given pieces (E, K), and read no place."""
    return _Course(stage, moved, moved.share[:, 0], start, places=0).run()


class _Course:
    """The way of E trials from their starting pieces to rest; everything in it moves along."""

    def __init__(
        self,
        stage: Stage,
        moved: Moved,
        share: FloatArray,
        start: IntArray,
        places: int,
        *,
        find_room: bool = False,
        harder: FloatArray | None = None,
    ) -> None:
        count = len(moved)
        self.stage = stage
        self.share = share
        self.moved = moved
        self.watch = Watch(stage, self.moved, start, harder)
        self.chatters = np.zeros(count, dtype=bool)
        self.low = np.full((count, places), np.inf)
        self.high = np.full((count, places), -np.inf)
        self.floating = np.ones((count, places), dtype=bool)
        self.meter_share = np.ones((count, places))
        self.find_room = find_room
        self.room_low = np.zeros(count) if find_room else self.share.copy()
        self.room_high = np.ones(count) if find_room else self.share.copy()
        #: Which trials stood in which pieces, a row for each time that all were at rest.
        self._stood: list[tuple[IntArray, IntArray]] = []
        #: The states that trials moved on from, a row (E,) for each time, or NOWHERE.
        self._left: list[IntArray] = []
        #: The state in which a trial came back to one that it had left, or NOWHERE.
        self._goes_round = np.full(count, NOWHERE)
        self._rounds: dict[int, list[IntArray]] = {}

    def run(self) -> Settled:
        watch = self.watch
        together = self.stage.wiring.together[np.ix_(watch.slow.columns, watch.slow.columns)]
        active = np.arange(len(self.chatters))
        while True:
            self.chatters[rest_quickly(watch, active)] = True
            piece = watch.piece(active, watch.slow)
            wanted = watch.wanted(active, watch.slow, piece)
            if self.find_room:
                self._stood.append((active, watch.pieces[active]))
            wrong = wanted != piece
            moves = self._moves_on(active, np.asarray(wrong.any(axis=1)))
            self._show(active[~moves | (self._goes_round[active] != NOWHERE)])
            if not moves.any():
                break
            active, wrong = active[moves], wrong[moves]
            turns = wrong & together[np.argmax(wrong, axis=1)]
            before = piece[moves]
            watch.stand(active, watch.slow, np.where(turns, wanted[moves], before), before)
        if self.find_room:
            self._narrow_room()
        return Settled(
            pieces=watch.pieces,
            chatters=self.chatters,
            low=self.low,
            high=self.high,
            floating=self.floating,
            meter_share=self.meter_share,
            bend=watch.bend,
            room_low=self.room_low,
            room_high=self.room_high,
            rounds={trial: np.array(pieces) for trial, pieces in self._rounds.items()},
        )

    def _moves_on(self, active: IntArray, wants_to: BoolArray) -> BoolArray:
        """Return which trials with a relay or rule to move do so: until one has gone round once."""
        if not wants_to.any():
            return wants_to
        trials = active[wants_to]
        state = self.stage.crowd.states.numbers(self.watch.pieces[trials])
        turned_in = self._goes_round[trials]
        going = turned_in != NOWHERE
        seen = np.zeros(len(trials), dtype=bool)
        for left in self._left:
            seen |= np.asarray(left[trials] == state)
        turning = trials[seen & ~going]
        self.chatters[turning] = True
        self._goes_round[turning] = state[seen & ~going]
        if not going.all():
            left = np.full(len(self.chatters), NOWHERE)
            left[trials[~going]] = state[~going]
            self._left.append(left)
        moves = wants_to.copy()
        moves[wants_to] = ~going | (state != turned_in)
        return moves

    def _show(self, shown: IntArray) -> None:
        """Widen what is read by what these trials read now: one that goes round is shown again."""
        watch = self.watch
        if self.find_room:
            for trial in shown[self.chatters[shown]].tolist():
                self._rounds.setdefault(trial, []).append(watch.pieces[trial].copy())
        if not self.low.shape[1]:
            return
        # Whoever was watched where it stands has had its curved laws obeyed.
        is_bent = watch.is_fresh(shown)
        moved, pieces, bend = self.moved.take(shown), watch.pieces[shown], watch.bend[shown]
        share = np.empty((len(shown), self.low.shape[1]))
        values, loose = self.stage.read_moved(moved, pieces, bend, is_bent=is_bent, share=share)
        self.meter_share[shown] = share
        watch.bend[shown] = bend
        self.low[shown] = np.minimum(self.low[shown], values)
        self.high[shown] = np.maximum(self.high[shown], values)
        self.floating[shown] &= loose

    def _narrow_room(self) -> None:
        """Narrow the room of each trial by all the pieces in which it stood on its way."""
        trial, pieces = (np.concatenate(rows) for rows in zip(*self._stood, strict=True))
        low, high = room_around(self.stage, self.moved.take(trial), self.share[trial], pieces)
        np.maximum.at(self.room_low, trial, low)
        np.minimum.at(self.room_high, trial, high)
