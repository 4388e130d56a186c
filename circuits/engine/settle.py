"""Find the state that each trial settles in, and what every place reads then.

A trial is the circuit under one suspect at one severity. Many trials go side by side: those in
the same pieces share a factorisation. Two kinds of control are settled in the order of the
physics: those without memory (a generator at its limit, a motor that stalls) at once, then relays
and rules, one at a time, from the state of the phase before. A trial whose relays come back to a
state they have been in has no steady state: it *chatters*, and its readings span that round.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from circuits.engine.laws import FloatArray
from circuits.engine.moves import BoolArray
from circuits.engine.stage import Stage, Trials
from circuits.engine.wiring import IntArray, row_keys

# Controls without memory meet at their threshold; this keeps rounding from turning them about.
NO_MEMORY_GAP = 1e-9
# Where two of them turn at one severity, rounding may keep them from resting; they are then this
# near to it.
CORNER_GAP = 1e-6
SIMULTANEOUS_ROUNDS = 8
MOST_ROUNDS = 60


@dataclass(frozen=True, slots=True)
class Settled:
    """Where E trials came to rest in one situation, and what R places read."""

    pieces: IntArray  # (E, K)
    chatters: BoolArray  # (E,)
    low: FloatArray  # (E, R), equal to high but where the trial chatters
    high: FloatArray  # (E, R)
    floating: BoolArray  # (E, R)
    bend: FloatArray  # (E, J), what the curved laws differ by from their chords
    #: Between these shares every trial of the suspect takes the same way to the same pieces.
    room_low: FloatArray  # (E,)
    room_high: FloatArray  # (E,)
    #: By trial, where it chatters: the pieces (n, K) that it goes round in; with the room alone
    rounds: Mapping[int, IntArray]

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
        low, floating = stage.read(trials, pieces, bend)
        high = low.copy()
        share = trials.share[:, 0]
        settled = cls(pieces, chatters, low, high, floating, bend, share, share, rounds)
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

    def put(self, where: IntArray, other: "Settled") -> None:
        """Put other trials in the place of some of these."""
        for name in ("pieces", "chatters", "low", "high", "floating", "bend"):
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
    return _Course(stage, trials, start, find_room=find_room, harder=harder).run()


class _Course:
    """The way of E trials from their starting pieces to rest; everything in it moves along."""

    def __init__(
        self,
        stage: Stage,
        trials: Trials,
        start: IntArray,
        *,
        find_room: bool,
        harder: FloatArray | None,
    ) -> None:
        count = len(trials)
        places = 0 if find_room else len(stage.places)
        self.stage = stage
        self.trials = trials
        self.quick = ~stage.wiring.remembers
        laws = stage.wiring.laws[stage.wiring.controlled]
        blocks = (laws[:, 0, [0, 2]] == 0.0).all(axis=1)
        self.is_diode = self.quick & blocks & (laws[:, 1, 0] != 0.0)
        self.rising, self.falling = _thresholds(stage, trials)
        if harder is not None:
            self.rising += harder[:, :, None]
            self.falling += harder[:, :, None]
        self._turning = self._turning_with(NO_MEMORY_GAP)
        self.pieces = start.copy()
        self.bend = stage.straight(count)
        self.chatters = np.zeros(count, dtype=bool)
        self.low = np.full((count, places), np.inf)
        self.high = np.full((count, places), -np.inf)
        self.floating = np.ones((count, places), dtype=bool)
        self.find_room = find_room
        self.room_low = np.zeros(count) if find_room else trials.share[:, 0].copy()
        self.room_high = np.ones(count) if find_room else trials.share[:, 0].copy()
        # What was watched last, and in which pieces: it is asked for again where nothing moved.
        self._watched_last = np.empty((count, stage.control_count))
        self._watched_in = np.full_like(start, -1)
        self._seen: dict[int, set[bytes]] = {}
        self._goes_round: dict[int, bytes] = {}
        self._rounds: dict[int, list[IntArray]] = {}

    def run(self) -> Settled:
        active = np.arange(len(self.trials))
        while True:
            self.chatters[self._rest_quickly(active)] = True
            wanted = self._wanted(active)
            if self.find_room:
                self._narrow_room(active)
            wrong = (wanted != self.pieces[active]) & ~self.quick
            moves = self._moves_on(active, wrong)
            self._show(active[~moves | np.isin(active, list(self._goes_round))])
            if not moves.any():
                break
            active, first = active[moves], np.argmax(wrong[moves], axis=1)
            turns = wrong[moves] & self.stage.wiring.together[first]
            self.pieces[active] = np.where(turns, wanted[moves], self.pieces[active])
        return Settled(
            pieces=self.pieces,
            chatters=self.chatters,
            low=self.low,
            high=self.high,
            floating=self.floating,
            bend=self.bend,
            room_low=self.room_low,
            room_high=self.room_high,
            rounds={trial: np.array(pieces) for trial, pieces in self._rounds.items()},
        )

    def _moves_on(self, active: IntArray, wrong: BoolArray) -> BoolArray:
        """Return which trials have a relay or rule to move, until one has gone round once."""
        moves = np.zeros(len(active), dtype=bool)
        positions = np.flatnonzero(wrong.any(axis=1))
        trials = active[positions]
        keys = row_keys(self.pieces[trials])
        for position, trial, key in zip(positions, trials.tolist(), keys, strict=True):
            if trial in self._goes_round:
                moves[position] = key != self._goes_round[trial]
                continue
            moves[position] = True
            if key in self._seen.setdefault(trial, set()):
                self.chatters[trial] = True
                self._goes_round[trial] = key
            self._seen[trial].add(key)
        return moves

    def _show(self, shown: IntArray) -> None:
        """Widen what is read by what these trials read now: one that goes round is shown again."""
        if self.find_room:
            for trial in shown[self.chatters[shown]].tolist():
                self._rounds.setdefault(trial, []).append(self.pieces[trial].copy())
        if not self.low.shape[1]:
            return
        trials, pieces, bend = self.trials.take(shown), self.pieces[shown], self.bend[shown]
        # Whoever was watched where it stands has had its curved laws obeyed.
        is_bent = bool(pieces.size and (pieces == self._watched_in[shown]).all())
        values, loose = self.stage.read(trials, pieces, bend, is_bent=is_bent)
        self.bend[shown] = bend
        self.low[shown] = np.minimum(self.low[shown], values)
        self.high[shown] = np.maximum(self.high[shown], values)
        self.floating[shown] &= loose

    def _watched(self, active: IntArray) -> FloatArray:
        moved = active[(self.pieces[active] != self._watched_in[active]).any(axis=1)]
        if moved.size:
            bend, pieces = self.bend[moved], self.pieces[moved]
            watched = self.stage.watched(self.trials.take(moved), pieces, bend)
            self.bend[moved] = bend
            either_way = self.stage.wiring.either_way
            self._watched_last[moved] = np.where(either_way, np.abs(watched), watched)
            self._watched_in[moved] = pieces
        return np.asarray(self._watched_last[active])

    def _turning_with(self, quick_gap: float) -> tuple[FloatArray, FloatArray]:
        """Return what must be exceeded to pass each threshold, and to stay beyond it (E, K, 2)."""
        gap = np.where(self.quick, quick_gap, 0.0)[:, None]
        # Who is just at the threshold on the way down stays.
        return self.rising + gap, np.nextafter(self.falling - gap, -np.inf)

    def _wanted(
        self, active: IntArray, turning: tuple[FloatArray, FloatArray] | None = None
    ) -> IntArray:
        """Return the pieces (A, K) that the watched quantities of these trials ask for."""
        watched = self._watched(active)[:, :, None]
        rising, falling = turning or self._turning
        passed_before = self.pieces[active][:, :, None] > np.arange(rising.shape[2])
        limit = np.where(passed_before, falling[active], rising[active])
        wanted: IntArray = (watched > limit).sum(axis=2, dtype=np.intp)
        return wanted

    def _rest_quickly(self, active: IntArray) -> IntArray:
        """Move controls without memory until they rest; return the trials that never do."""
        restless = self._rest(active)
        self._let_go(np.setdiff1d(active, restless))
        return restless

    def _let_go(self, active: IntArray) -> None:
        """Let diodes block that conduct no current, and conduct again if they then would.

        One that began to conduct on the way to rest would keep a loose place at its volts.
        """
        if not active.size or not self.is_diode.any():
            return
        conducts = (self.pieces[active] == 1) & self.is_diode
        idle = conducts & (self._watched(active) <= self.rising[active, :, 0] + NO_MEMORY_GAP)
        idling = idle.any(axis=1)
        before = self.pieces[active[idling]]
        self.pieces[active[idling]] = np.where(idle[idling], 0, before)
        restless = np.isin(active[idling], self._rest(active[idling]))
        self.pieces[active[idling][restless]] = before[restless]

    def _rest(self, active: IntArray) -> IntArray:
        restless = active
        if not self.quick.any() or not active.size:
            return restless[:0]
        restless = self._turn_at_once(restless)
        if not restless.size:
            return restless
        restless = self._follow_the_line(restless)
        if not restless.size:
            return restless
        wanted = self._wanted(restless, self._turning_with(CORNER_GAP))
        wrong = (wanted != self.pieces[restless]) & self.quick
        return np.asarray(restless[wrong.any(axis=1)], dtype=np.intp)

    def _turn_at_once(self, restless: IntArray) -> IntArray:
        """Give all controls without memory what they ask for; return who is not at rest by then.

        Who comes back to where it stood would go round for ever: it is spared the rounds that are
        left, and stands where they would have ended.
        """
        trail = [self.pieces[restless]]
        going_round = []
        for _ in range(SIMULTANEOUS_ROUNDS):
            here = trail[-1]
            there = np.where(self.quick, self._wanted(restless), here)
            self.pieces[restless] = there
            turns = (there != here).any(axis=1)
            for first, then in enumerate(trail[:-1]):
                again = turns & (there == then).all(axis=1)
                if again.any():
                    last = first + (SIMULTANEOUS_ROUNDS - first) % (len(trail) - first)
                    self.pieces[restless[again]] = trail[last][again]
                    going_round.append(restless[again])
                    turns &= ~again
            restless = restless[turns]
            if not restless.size:
                break
            trail = [stood[turns] for stood in (*trail, there)]
        return np.sort(np.concatenate([restless, *going_round]))

    def _follow_the_line(self, restless: IntArray) -> IntArray:
        """Move from region to region along a straight line, one threshold at a time.

        Changing every control at once can go round in circles although a state exists. Walking
        from a point towards the solution of its own region, and only as far as the next
        threshold, cannot: what is left of the imbalance shrinks with every step (Katzenelson's
        method for piecewise-linear networks; IEEE Trans. Circuit Theory 12, 1965, from memory).
        The walk needs the watched quantities only.
        """
        here = self._watched(restless)
        start = self._wanted(restless)
        self.pieces[restless] = np.where(self.quick, start, self.pieces[restless])
        for _ in range(MOST_ROUNDS):
            goal = self._watched(restless)
            way = goal - here
            piece = self.pieces[restless]
            # Rising and falling thresholds are the same where there is no memory.
            bounds = np.pad(self.rising[restless], ((0, 0), (0, 0), (1, 1)))
            bounds[:, :, 0], bounds[:, :, -1] = -np.inf, np.inf
            below = np.take_along_axis(bounds, piece[:, :, None], axis=2)[:, :, 0]
            above = np.take_along_axis(bounds, piece[:, :, None] + 1, axis=2)[:, :, 0]
            rises = self.quick & (goal > above + NO_MEMORY_GAP)
            falls = self.quick & (goal < below - NO_MEMORY_GAP)
            edge = np.where(rises, above, below)
            with np.errstate(all="ignore"):
                part = np.where(rises | falls, (edge - here) / way, np.inf)
            still = (rises | falls).any(axis=1)
            if not still.any():
                return restless[:0]
            first = np.argmin(part, axis=1)
            rows = np.arange(len(restless))
            step = np.clip(np.where(still, part[rows, first], 0.0), 0.0, 1.0)
            here = (here + step[:, None] * way)[still]
            turn = np.where(rises[rows, first], 1, -1)
            self.pieces[restless[still], first[still]] += turn[still]
            restless = restless[still]
        return restless

    def _narrow_room(self, active: IntArray) -> None:
        low, high = _room(self.stage, self.trials.take(active), self.pieces[active])
        self.room_low[active] = np.maximum(self.room_low[active], low)
        self.room_high[active] = np.minimum(self.room_high[active], high)


def _room(stage: Stage, trials: Trials, pieces: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the shares around each trial between which no control crosses a threshold.

    A watched quantity is w0 + a u / (1 - u + u s), its threshold T + u dT; they meet where

        -dT (s - 1) u**2 + ((w0 - T) (s - 1) - dT + a) u + (w0 - T) = 0.

    Where either direction of the amps counts, they meet -T as well.
    """
    count, controls = len(trials), stage.control_count
    low, high = np.zeros(count), np.ones(count)
    if not controls:
        return low, high
    moves = stage.moves
    move, share = (array[:, 0] for array in stage.moved(trials)[:2])
    passed = pieces[:, :, None] > np.arange(stage.wiring.rising.shape[1])
    healthy = np.where(passed, stage.wiring.falling, stage.wiring.rising)  # (E, K, 2)
    climb = np.zeros_like(healthy)
    own = np.flatnonzero(moves.control[move] >= 0)
    control = moves.control[move[own]]
    worst = np.where(
        passed[own, control], moves.worst_falling[move[own]], moves.worst_rising[move[own]]
    )
    drawn = healthy[own, control]
    with np.errstate(invalid="ignore"):
        climb[own, control] = np.where(np.isfinite(drawn), worst - drawn, 0.0)
    every, either_way = np.arange(controls), np.flatnonzero(stage.wiring.either_way)
    for chosen, still, slope, stiffer in stage.watched_lines(trials, pieces):
        here = share[chosen, None]
        for rows, sign in ((every, 1.0), (either_way, -1.0)):
            threshold = sign * healthy[np.ix_(chosen, rows)].transpose(2, 0, 1)
            rise = sign * climb[np.ix_(chosen, rows)].transpose(2, 0, 1)
            gap = still[:, rows] - threshold
            with np.errstate(invalid="ignore"):
                linear = gap * stiffer[:, None] - rise + slope[:, rows]
            roots = _roots(-rise * stiffer[:, None], linear, gap)  # (2 or 1, 2, E, K)
            below = np.where(roots < here, roots, 0.0).max(axis=(0, 1, 3), initial=0.0)
            above = np.where(roots > here, roots, 1.0).min(axis=(0, 1, 3), initial=1.0)
            low[chosen] = np.maximum(low[chosen], below)
            high[chosen] = np.minimum(high[chosen], above)
    return low, high


def _thresholds(stage: Stage, trials: Trials) -> tuple[FloatArray, FloatArray]:
    """Return rising and falling thresholds (E, K, 2), moved along with the suspects."""
    count = len(trials)
    rising = np.repeat(stage.wiring.rising[None], count, axis=0)
    falling = np.repeat(stage.wiring.falling[None], count, axis=0)
    move, share, rest = stage.moved(trials)
    moved, slot = np.nonzero(stage.moves.control[move] >= 0)
    if moved.size:
        own = move[moved, slot]
        control = stage.moves.control[own]
        along, back = share[moved, slot, None], rest[moved, slot, None]
        for drawn, worst in (
            (rising, stage.moves.worst_rising),
            (falling, stage.moves.worst_falling),
        ):
            finite = np.isfinite(drawn[moved, control])
            with np.errstate(invalid="ignore"):
                there = back * drawn[moved, control] + along * worst[own]
            drawn[moved, control] = np.where(finite, there, np.inf)
    return rising, falling


def _roots(square: FloatArray, linear: FloatArray, constant: FloatArray) -> FloatArray:
    """Return the roots of square u**2 + linear u + constant, stacked; NaN where there is none."""
    with np.errstate(all="ignore"):
        # Few suspects move a threshold; without one there is a single root.
        if not square.any():
            return np.asarray(-constant / linear)[None]
        discriminant = np.sqrt(linear**2 - 4 * square * constant)
        # Adding what has the same sign loses no digits; the other root follows from the product.
        larger = -(linear + np.copysign(discriminant, linear)) / 2
        return np.stack([constant / larger, larger / square])
