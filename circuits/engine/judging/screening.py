"""Which faults could show some readings at all, each by itself: asked before the joint test.

Where a log may have been meant in twenty ways, hardly any of them leaves a fault that fits. A fault
fits only where each reading lies within the root of the limit of what is predicted, in its own
uncertainty (see `shortlist`). All that is shown is worked out once for every way to be asked of.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from circuits.engine.faults import Suspect
from circuits.engine.instruments import compared_value, meter_variance
from circuits.engine.judging.bench import Bench
from circuits.engine.judging.chi_square import chi_square_limit
from circuits.engine.judging.shortlist import may_show
from circuits.engine.network import Network
from circuits.engine.readings import Bound, Reading

# How much farther than the limit a reading may lie: curved laws bend between two severities, and
# the uncertainty there is neither that of the one nor that of the other.
SLACK = 1.5


class Screen:
    """What each fault shows at every seat where some logs may have been read."""

    def __init__(
        self, network: Network, readings: Sequence[Reading], listed: Sequence[Suspect]
    ) -> None:
        self._column = {
            seat: number for number, seat in enumerate(dict.fromkeys(map(_seat, readings)))
        }
        bench = Bench(network, tuple(self._column), listed)
        self._suspects = bench.suspects
        move, severity = bench.grid()
        order = np.lexsort((severity, move))
        self._move, severity = move[order], severity[order]
        trials = bench.trials(self._move, severity)
        expected = bench.expect(trials, bench.settle(trials))
        self._variance = expected.variance - bench.meter_variance
        self._low = expected.predicted - expected.half_span
        self._high = expected.predicted + expected.half_span

    def may_fit(self, readings: Sequence[Reading]) -> tuple[bool, frozenset[str]]:
        """Return whether the car in order could show some of the readings, and which faults could.

        Faults are told by their ids.

        Raises
        ------
        KeyError
            A reading is at none of the seats of this screen.
        """
        columns = [self._column[_seat(reading)] for reading in readings]
        logged = np.array([compared_value(reading) for reading in readings])
        own = np.array([meter_variance(reading) for reading in readings])
        most = SLACK * np.sqrt(chi_square_limit(len(readings)))
        reach = most * np.sqrt(self._variance[:, columns] + own)
        low, high = self._low[:, columns] - reach, self._high[:, columns] + reach
        side = np.array([reading.bound.open_side for reading in readings])
        possible = may_show(self._move, low, high, logged, side)
        moves = np.unique(self._move[possible.all(axis=1)]).tolist()
        left = {self._suspects[move] for move in moves}
        return None in left, frozenset(each.id for each in left if each is not None)


def _seat(reading: Reading) -> Reading:
    """Return a reading without what the meter showed; of ohms that sets its range."""
    if reading.place.reads_ohms:
        return reading
    return replace(reading, value=0.0, step=reading.place.usual_step, bound=Bound.EXACT)
