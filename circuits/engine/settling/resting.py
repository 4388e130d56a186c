"""Bring controls without memory to rest: a generator at its limit, a motor that stalls, a diode."""

import numpy as np

from circuits.engine.equations.wiring import IntArray
from circuits.engine.settling.watching import Watch, bounds_of

# Controls without memory meet at their threshold; this keeps rounding from turning them about.
NO_MEMORY_GAP = 1e-10
# A diode this little beyond its bend carries what rounding makes of nothing.
IDLE_GAP = 1e-9
# Where two of them turn at one severity, rounding may keep them from resting; they are then this
# near to it.
CORNER_GAP = 1e-6
SIMULTANEOUS_ROUNDS = 8
MOST_ROUNDS = 60


def rest_quickly(watch: Watch, trials: IntArray) -> IntArray:
    """Move controls without memory until they rest; return the trials that never do."""
    restless = _rest(watch, trials)
    _let_go(watch, np.setdiff1d(trials, restless) if restless.size else trials)
    return restless


def _let_go(watch: Watch, trials: IntArray) -> None:
    """Let diodes block that conduct no current, and conduct again if they then would.

    One that began to conduct on the way to rest would keep a loose place at its volts.
    """
    if not trials.size or not watch.is_diode.any():
        return
    quick = watch.quick
    piece = watch.piece(trials, quick)
    idle = (piece == 1) & watch.is_diode
    idle &= watch.watched(trials, quick) <= quick.rising[0, trials] + IDLE_GAP
    idling = idle.any(axis=1)
    if not idling.any():
        return
    letting, before = trials[idling], piece[idling]
    watch.stand(letting, quick, np.where(idle[idling], 0, before), before)
    restless = np.isin(letting, _rest(watch, letting))
    letting = letting[restless]
    watch.stand(letting, quick, before[restless], watch.piece(letting, quick))


def _rest(watch: Watch, trials: IntArray) -> IntArray:
    restless = trials
    if not watch.quick.columns.size or not trials.size:
        return restless[:0]
    restless = _turn_at_once(watch, restless)
    if not restless.size:
        return restless
    restless = _follow_the_line(watch, restless)
    if not restless.size:
        return restless
    piece = watch.piece(restless, watch.quick)
    never = np.isin(restless, _turn_at_once(watch, restless, CORNER_GAP))
    restless, piece = restless[never], piece[never]
    watch.stand(restless, watch.quick, piece, watch.piece(restless, watch.quick))
    return restless


def _turn_at_once(watch: Watch, restless: IntArray, gap: float = NO_MEMORY_GAP) -> IntArray:
    """Give all controls without memory what they ask for; return who is not at rest by then.

    Who comes back to where it stood would go round for ever: it is spared the rounds that are
    left, and stands where they would have ended.
    """
    trail = [watch.piece(restless, watch.quick)]
    going_round = []
    for _ in range(SIMULTANEOUS_ROUNDS):
        there = watch.wanted(restless, watch.quick, trail[-1], gap)
        turns = watch.stand(restless, watch.quick, there, trail[-1])
        for first, then in enumerate(trail[:-1]):
            again = turns & (there == then).all(axis=1)
            if again.any():
                last = first + (SIMULTANEOUS_ROUNDS - first) % (len(trail) - first)
                ends = trail[last][again]
                watch.stand(restless[again], watch.quick, ends, there[again])
                going_round.append(restless[again])
                turns &= ~again
        restless = restless[turns]
        if not restless.size:
            break
        trail = [stood[turns] for stood in (*trail, there)]
    return np.sort(np.concatenate([restless, *going_round]))


def _follow_the_line(watch: Watch, restless: IntArray) -> IntArray:
    """Move from region to region along a straight line, one threshold at a time.

    Changing every control at once can go round in circles although a state exists. Walking
    from a point towards the solution of its own region, and only as far as the next
    threshold, cannot: what is left of the imbalance shrinks with every step (Katzenelson's
    method for piecewise-linear networks; IEEE Trans. Circuit Theory 12, 1965, from memory).
    The walk needs the watched quantities only.

    Where rounding keeps one at a corner of regions it would go round there to the last step: it
    is spared the rounds that are left, and stands where they would have ended.
    """
    quick = watch.quick
    here, piece = watch.watched(restless, quick), watch.piece(restless, quick)
    wanted = watch.wanted(restless, quick, piece, NO_MEMORY_GAP)
    watch.stand(restless, quick, wanted, piece)
    last_step = np.full(len(restless), MOST_ROUNDS)
    mark, marked_here, marked_piece = 0, here, wanted
    given_up = [restless[:0]]
    for step_number in range(MOST_ROUNDS):
        goal = watch.watched(restless, quick)
        way = goal - here
        piece = watch.piece(restless, quick)
        # Rising and falling thresholds are the same where there is no memory.
        below, above = bounds_of(quick.rising[:, restless], piece)
        rises = goal > above + NO_MEMORY_GAP
        falls = goal < below - NO_MEMORY_GAP
        edge = np.where(rises, above, below)
        with np.errstate(all="ignore"):
            part = np.where(rises | falls, (edge - here) / way, np.inf)
        still = (rises | falls).any(axis=1)
        if not still.any():
            restless = restless[:0]
            break
        first = np.argmin(part, axis=1)
        rows = np.arange(len(restless))
        step = np.clip(np.where(still, part[rows, first], 0.0), 0.0, 1.0)
        here = here + step[:, None] * way
        before = piece.copy()
        piece[rows, first] += np.where(rises[rows, first], 1, -1)
        watch.stand(restless[still], quick, piece[still], before[still])
        # At rest again where it was marked, it goes round: so many steps are left of its last.
        back = (here == marked_here).all(axis=1) & (piece == marked_piece).all(axis=1)
        steps = step_number + 1
        if steps > mark:
            left = (MOST_ROUNDS - steps) % (steps - mark)
            last_step = np.where(back, np.minimum(last_step, steps + left), last_step)
        stops = still & (last_step <= steps)
        given_up.append(restless[stops])
        still &= ~stops
        here, restless, last_step = here[still], restless[still], last_step[still]
        marked_here, marked_piece = marked_here[still], marked_piece[still]
        if steps >= 2 * mark:
            mark, marked_here, marked_piece = steps, here, watch.piece(restless, quick)
    return np.sort(np.concatenate([*given_up, restless]))
