"""Follow the straight line to rest, from region to region of a piecewise-linear network.

Changing every control at once can go round in circles although a state exists. Walking from a
point towards the solution of its own region, and only as far as the next threshold, cannot: what is
left of the imbalance shrinks with every step (Katzenelson's method for piecewise-linear networks;
IEEE Trans. Circuit Theory 12, 1965, from memory). The walk needs the watched quantities only.
"""

import numpy as np

from circuits.engine.equations.wiring import IntArray
from circuits.engine.settling.watching import NO_MEMORY_GAP, Look, Watch, bounds_of

MOST_STEPS = 60
# A trial that has not set out yet.
AT_HOME = -1


class Following:
    """The walks of E trials, Q controls without memory each, step by step.

    Where rounding keeps one at a corner of regions it would go round there to the last step: it is
    spared the steps that are left, and stands where they would have ended. Brent's way of finding
    that it does: a mark is set at every power of two, and met again.
    """

    def __init__(self, watch: Watch) -> None:
        count, self._quick = len(watch.pieces), np.flatnonzero(watch.quick)
        self._watch = watch
        self._steps = np.full(count, AT_HOME)
        self._last_step = np.full(count, MOST_STEPS)
        self._mark = np.zeros(count, dtype=np.intp)
        self._here = np.zeros((count, len(self._quick)))
        self._marked_here = np.zeros((count, len(self._quick)))
        self._marked_piece = np.zeros((count, len(self._quick)), dtype=np.intp)

    def begin(self, trials: IntArray) -> None:
        self._steps[trials] = AT_HOME

    def step(self, look: Look) -> IntArray:
        """Take trials that are not at rest one step on; return those that give up."""
        at_home = self._steps[look.trials] == AT_HOME
        if at_home.any():
            self._set_out(look.take(at_home))
            if at_home.all():
                return look.trials[:0]
            look = look.take(~at_home)
        return self._walk(look)

    def _set_out(self, look: Look) -> None:
        trials = look.trials
        self._stand(trials, look.wanted[:, self._quick])
        self._steps[trials], self._mark[trials], self._last_step[trials] = 0, 0, MOST_STEPS
        self._here[trials] = self._marked_here[trials] = look.watched[:, self._quick]
        self._marked_piece[trials] = look.wanted[:, self._quick]

    def _stand(self, trials: IntArray, piece: IntArray) -> None:
        self._watch.pieces[trials[:, None], self._quick] = piece

    def _walk(self, look: Look) -> IntArray:
        trials, here = look.trials, self._here[look.trials]
        goal, piece = look.watched[:, self._quick], look.piece[:, self._quick]
        way = goal - here
        # Rising and falling thresholds are the same where there is no memory.
        below, above = bounds_of(self._watch.rising[:, trials][:, :, self._quick], piece)
        rises = goal > above + NO_MEMORY_GAP
        falls = goal < below - NO_MEMORY_GAP
        edge = np.where(rises, above, below)
        with np.errstate(all="ignore"):
            part = np.where(rises | falls, (edge - here) / way, np.inf)
        first = np.argmin(part, axis=1)
        rows = np.arange(len(trials))
        here = here + np.clip(part[rows, first], 0.0, 1.0)[:, None] * way
        piece[rows, first] += np.where(rises[rows, first], 1, -1)
        self._stand(trials, piece)
        self._here[trials] = here
        steps, mark = self._steps[trials] + 1, self._mark[trials]
        self._steps[trials] = steps
        # At rest again where it was marked, it goes round: so many steps are left of its last.
        back = (here == self._marked_here[trials]).all(axis=1) & (steps > mark)
        back &= (piece == self._marked_piece[trials]).all(axis=1)
        if back.any():
            left = (MOST_STEPS - steps[back]) % (steps - mark)[back]
            self._last_step[trials[back]] = np.minimum(
                self._last_step[trials[back]], steps[back] + left
            )
        marks = steps >= 2 * mark
        marked = trials[marks]
        self._mark[marked], self._marked_here[marked] = steps[marks], here[marks]
        self._marked_piece[marked] = piece[marks]
        return trials[self._last_step[trials] <= steps]
