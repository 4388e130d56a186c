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
from circuits.engine.settling.room import room_around
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
    """The way of E trials from their starting pieces to rest, each at its own pace.

    In every round those on their way are looked at together, and each takes its next step.
    """

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
        self.watch = Watch(stage, moved, start, harder)
        self.resting = Resting(self.watch)
        self.places = places
        self.find_room = find_room
        #: Which trials stood in which pieces when their controls without memory were at rest.
        self._stood: list[tuple[IntArray, IntArray]] = []
        #: The states that trials moved on from, a column (L,) for each, or NOWHERE.
        self._left = np.full((FIRST_ROOM, count), NOWHERE)
        self._left_count = np.zeros(count, dtype=np.intp)
        #: The state in which a trial came back to one that it had left, or NOWHERE.
        self._goes_round = np.full(count, NOWHERE)
        #: Where trials that go round stood on their way: whose, the pieces and the bend.
        self._passed: list[tuple[IntArray, IntArray, FloatArray]] = []

    def run(self) -> Settled:
        active = np.arange(len(self.moved))
        while active.size:
            look = self.watch.look(active)
            at_rest = self.resting.step(look)
            if not at_rest.any():
                continue
            goes_on = ~at_rest
            goes_on[at_rest] = self._move_on(look.take(at_rest))
            active = active[goes_on]
        watch = self.watch
        values, floating, meter_share = self._read()
        room_low, room_high, rounds = self.share, self.share, dict[int, IntArray]()
        if self.find_room:
            room_low, room_high = self._rooms()
            rounds = self._rounds()
        return Settled(
            pieces=watch.pieces,
            chatters=self.resting.restless | (self._goes_round != NOWHERE),
            low=values[0],
            high=values[1],
            floating=floating,
            meter_share=meter_share,
            bend=watch.bend,
            room_low=room_low,
            room_high=room_high,
            rounds=rounds,
        )

    def _move_on(self, look: Look) -> BoolArray:
        """Move the first relay or rule that asks for it; return which trials (A,) have one.

        The contacts of one relay move together. A trial moves until it has gone round once.
        """
        watch, trials = self.watch, look.trials
        if self.find_room:
            self._stood.append((trials, look.piece))
        wrong = (look.wanted != look.piece) & ~watch.quick
        moves: BoolArray = wrong.any(axis=1)
        if not moves.any():
            return moves
        moves[moves] = self._is_new(trials[moves], look.piece[moves])
        moving = trials[moves]
        wrong, piece = wrong[moves], look.piece[moves]
        passes = self._goes_round[moving] != NOWHERE
        if passes.any():
            self._passed.append((moving[passes], piece[passes], watch.bend[moving[passes]]))
        turns = wrong & self.stage.wiring.together[np.argmax(wrong, axis=1)]
        watch.pieces[moving] = np.where(turns, look.wanted[moves], piece)
        self.resting.begin(moving)
        return moves

    def _is_new(self, trials: IntArray, pieces: IntArray) -> BoolArray:
        """Return which trials have not yet gone round once, and note where they move on from."""
        state = self.stage.crowd.states.numbers(pieces)
        turned_in = self._goes_round[trials]
        straight = turned_in == NOWHERE
        seen = (self._left[:, trials] == state).any(axis=0)
        turning = straight & seen
        self._goes_round[trials[turning]] = state[turning]
        going, own = self._left_count[trials[straight]], trials[straight]
        if going.max(initial=0) == len(self._left):
            self._left = np.vstack([self._left, np.full_like(self._left, NOWHERE)])
        self._left[going, own] = state[straight]
        self._left_count[own] = going + 1
        return np.asarray(state != turned_in)

    def _read(self) -> tuple[FloatArray, BoolArray, FloatArray]:
        """Return what meters show, low and high (2, E, R), where they float, and their share."""
        watch, count = self.watch, len(self.moved)
        share = np.ones((count, self.places))
        if not self.places:
            return np.zeros((2, count, 0)), share > 1, share
        # Whoever was watched where it stands has had its curved laws obeyed.
        is_bent = bool(self.stage.control_count)
        values, floating = self.stage.read_moved(
            self.moved, watch.pieces, watch.bend, is_bent=is_bent, share=share
        )
        low, high = values, values.copy()
        for trials, pieces, bend in self._passed:
            shown, loose = self.stage.read_moved(
                self.moved.take(trials), pieces, bend, is_bent=is_bent
            )
            low[trials] = np.minimum(low[trials], shown)
            high[trials] = np.maximum(high[trials], shown)
            floating[trials] &= loose
        return np.stack([low, high]), floating, share

    def _rounds(self) -> dict[int, IntArray]:
        """Return the pieces (n, K) that each trial goes round in where it chatters."""
        restless = np.flatnonzero(self.resting.restless | (self._goes_round != NOWHERE))
        rounds: dict[int, list[IntArray]] = {trial: [] for trial in restless.tolist()}
        for trials, pieces, _ in self._passed:
            for trial, row in zip(trials.tolist(), pieces, strict=True):
                rounds[trial].append(row)
        return {
            trial: np.array([*rows, self.watch.pieces[trial]]) for trial, rows in rounds.items()
        }

    def _rooms(self) -> tuple[FloatArray, FloatArray]:
        """Return the room of each trial, narrowed by all the pieces in which it stood."""
        room_low, room_high = np.zeros(len(self.share)), np.ones(len(self.share))
        trial, pieces = (np.concatenate(rows) for rows in zip(*self._stood, strict=True))
        low, high = room_around(self.stage, self.moved.take(trial), self.share[trial], pieces)
        np.maximum.at(room_low, trial, low)
        np.minimum.at(room_high, trial, high)
        return room_low, room_high
