"""Bring controls without memory to rest: a generator at its limit, a motor that stalls, a diode.

Each trial goes at its own pace. First all its controls turn at once as they ask for; most rest
after a turn or two. Who comes back to where it stood would go round for ever and follows the line
of its solution instead (see `following`). Who finds no rest there either stands at a corner, where
rounding decides: it is tried once more with a wider gap about the thresholds.
"""

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.wiring import IntArray
from circuits.engine.settling.following import Following
from circuits.engine.settling.watching import NO_MEMORY_GAP, Look, Watch

# A diode this little beyond its bend carries what rounding makes of nothing.
IDLE_GAP = 1e-9
# Where two of them turn at one severity, rounding may keep them from resting; they are then this
# near to it.
CORNER_GAP = 1e-6
SIMULTANEOUS_ROUNDS = 8
#: In which manner a trial is brought to rest; in the last it is left as it stands.
AT_ONCE, ALONG_THE_LINE, AT_A_CORNER, LEFT = range(4)
# No pieces have this code.
NOWHERE = -1


class Resting:
    """The ways of E trials to rest, step by step.

    Attributes
    ----------
    restless : (E,)
        Which have found no rest, at any time.
    """

    def __init__(self, watch: Watch) -> None:
        count = len(watch.pieces)
        self._watch = watch
        self._states = watch.stage.crowd.states
        self._following = Following(watch)
        self._has_diodes = bool(watch.is_diode.any())
        self.restless = np.zeros(count, dtype=bool)
        self._manner = np.full(count, AT_ONCE)
        self._turns = np.zeros(count, dtype=np.intp)
        #: By turn, the codes of the pieces in which a trial has stood since it began.
        codes = self._states.codes(watch.pieces[:0])
        self._trail = np.full((count, SIMULTANEOUS_ROUNDS), NOWHERE, dtype=codes.dtype)
        #: Which have let idle diodes go, and how they stood before.
        self._lets_go = np.zeros(count, dtype=bool)
        self._before = np.zeros_like(watch.pieces)
        #: Which have the wider gap of a corner, and how they stood when they came to it.
        self._is_wider = np.zeros(count, dtype=bool)
        self._at_corner = np.zeros_like(watch.pieces)

    def begin(self, trials: IntArray) -> None:
        """Let trials (A,) that stand otherwise now find their rest anew."""
        self._lets_go[trials] = False
        self._begin(trials, AT_ONCE)

    def _begin(self, trials: IntArray, manner: int) -> None:
        self._manner[trials] = manner
        wider = trials[self._is_wider[trials]]
        if wider.size:
            self._watch.widen(wider, NO_MEMORY_GAP)
            self._is_wider[wider] = False
        self._turns[trials] = 0
        self._trail[trials] = NOWHERE

    def step(self, look: Look) -> BoolArray:
        """Take trials one step on, those that are not at rest; return which (A,) are."""
        turns = (look.wanted != look.piece) & self._watch.quick
        at_rest: BoolArray = ~turns.any(axis=1)
        manner = self._manner[look.trials]
        if manner.any():
            at_rest |= manner == LEFT
            along = ~at_rest & (manner == ALONG_THE_LINE)
            if along.any():
                given_up = self._following.step(look.take(along))
                if given_up.size:
                    self._come_to_corner(given_up)
            turning = ~at_rest & ~along
        else:
            turning = ~at_rest
        if turning.any():
            self._turn(look.take(turning))
        if self._has_diodes and at_rest.any():
            at_rest[at_rest] = ~self._let_go(look.take(at_rest))
        return at_rest

    def _turn(self, look: Look) -> None:
        """Give all controls without memory what they ask for.

        Who comes back to where it stood is spared the turns that are left, and stands where they
        would have ended.
        """
        trials, turn = look.trials, self._turns[look.trials]
        there = np.where(self._watch.quick, look.wanted, look.piece)
        self._trail[trials, turn] = self._states.codes(look.piece)
        again = self._trail[trials] == self._states.codes(there)[:, None]
        goes_round = again.any(axis=1)
        if goes_round.any():
            first = np.argmax(again[goes_round], axis=1)
            last = first + (SIMULTANEOUS_ROUNDS - first) % (turn[goes_round] + 1 - first)
            there[goes_round] = self._states.decoded(self._trail[trials[goes_round], last])
        self._watch.pieces[trials] = there
        self._turns[trials] = turn + 1
        ended = trials[goes_round | (turn + 1 == SIMULTANEOUS_ROUNDS)]
        if not ended.size:
            return
        cornered = self._manner[ended] == AT_A_CORNER
        self._leave(ended[cornered])
        follows = ended[~cornered]
        self._manner[follows] = ALONG_THE_LINE
        self._following.begin(follows)

    def _come_to_corner(self, trials: IntArray) -> None:
        self._at_corner[trials] = self._watch.pieces[trials]
        self._begin(trials, AT_A_CORNER)
        self._watch.widen(trials, CORNER_GAP)
        self._is_wider[trials] = True

    def _leave(self, trials: IntArray) -> None:
        """Leave trials that find no rest as they came to their corner, or with no diode let go."""
        lets_go = self._lets_go[trials, None]
        stood = np.where(lets_go, self._before[trials], self._at_corner[trials])
        self._begin(trials, LEFT)
        self._watch.pieces[trials] = stood
        self.restless[trials[~lets_go[:, 0]]] = True

    def _let_go(self, look: Look) -> BoolArray:
        """Let diodes block that conduct no current, and conduct again if they then would.

        One that began to conduct on the way to rest would keep a loose place at its volts. Return
        which trials (A,) have let some go.
        """
        watch, trials = self._watch, look.trials
        idle = (look.piece == 1) & watch.is_diode
        idle &= look.watched <= watch.rising[0, trials] + IDLE_GAP
        idling = idle.any(axis=1) & ~self._lets_go[trials] & (self._manner[trials] != LEFT)
        if idling.any():
            letting = trials[idling]
            self._before[letting] = look.piece[idling]
            watch.pieces[letting] = np.where(idle[idling], 0, look.piece[idling])
            self.begin(letting)
            self._lets_go[letting] = True
        return np.asarray(idling)
