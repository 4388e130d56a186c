"""Take trials through the phases of a circuit in order, relays keeping their memory.

A phase is entered from the one before. What is unplugged, bridged or loaded for a reading is done
while the phase lasts, so that situation starts where the phase stands.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np

from circuits.engine.equations.moves import BoolArray, WorstCases
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import IntArray, Situation
from circuits.engine.faults import Suspect
from circuits.engine.network import Network
from circuits.engine.readings import Place
from circuits.engine.settling.chart import Chart
from circuits.engine.settling.kept import Steps, kept_chart
from circuits.engine.settling.loading import with_meters
from circuits.engine.settling.settle import Settled, settle

# Two members of a compound that are there in full from the first, two opens say, may leave a place
# without volts: then its line has no formula.
MOST_AT_ONCE = 1

#: The places read in a situation, each with the ohms of its meter.
Seats = Sequence[tuple[Place, float]]
Went = dict[Situation, tuple[Stage, Settled]]
#: Says of trials (A,), by their numbers, which stay after they have settled in a situation.
Stays = Callable[[Situation, Settled, IntArray], BoolArray]


class PhaseRun:
    """A network with its suspects, ready to be taken through its phases."""

    def __init__(self, network: Network, suspects: Sequence[Suspect | None]) -> None:
        self.network = network
        self.suspects = tuple(suspects)
        self._worst_cases = WorstCases()
        self._stages: dict[tuple[Situation, tuple[tuple[Place, float], ...]], Stage] = {}

    def stage(self, situation: Situation, seats: Seats) -> Stage:
        """Return the stage of a situation with its places; equal ones share their solves."""
        key = (situation, tuple(seats))
        if key not in self._stages:
            self._stages[key] = Stage(
                self.network,
                situation,
                self.suspects,
                [place for place, _ in seats],
                [input_ohms for _, input_ohms in seats],
                self._worst_cases,
            )
        return self._stages[key]

    def go(
        self, trials: Trials, seats: Mapping[Situation, Seats], *, all_phases: bool = False
    ) -> Went:
        """Settle trials in every phase up to the last one asked for, and in every situation."""
        return self._sifted(trials, seats, None, all_phases=all_phases)[1]

    def sift(
        self, trials: Trials, seats: Mapping[Situation, Seats], stays: Stays
    ) -> tuple[IntArray, Went]:
        """Settle trials as `go` does, but those that do not stay no further.

        Return which trials (indices) stayed to the end, and where these came to rest.
        """
        return self._sifted(trials, seats, stays, all_phases=False)

    def _sifted(
        self,
        trials: Trials,
        seats: Mapping[Situation, Seats],
        stays: Stays | None,
        *,
        all_phases: bool,
    ) -> tuple[IntArray, Went]:
        went: Went = {}
        number = np.arange(len(trials))
        pieces: dict[Situation | None, dict[str, IntArray]] = {None: {}}
        for situation, entered_from in self.steps(seats, all_phases=all_phases):
            stage = self.stage(situation, seats.get(situation, ()))
            settled = settle(stage, trials, stage.starting(len(trials), pieces[entered_from]))
            pieces[situation] = {
                name: settled.pieces[:, row] for row, name in enumerate(stage.control_names())
            }
            if situation in seats:
                settled = with_meters(stage, trials, settled)
            went[situation] = stage, settled
            if stays is None or situation not in seats:
                continue
            kept = np.flatnonzero(stays(situation, settled, number))
            if len(kept) < len(number):
                trials, number = trials.take(kept), number[kept]
                went = {each: (stage, rest.take(kept)) for each, (stage, rest) in went.items()}
                pieces = {
                    each: {name: piece[kept] for name, piece in by_name.items()}
                    for each, by_name in pieces.items()
                }
        return number, went

    def chart(self, seats: Mapping[Situation, Seats]) -> Chart | None:
        """Return where the states of all suspects change, or None where a law is curved."""
        steps = tuple(self.steps(seats, all_phases=False))
        return kept_chart(self.network, self.suspects, steps, lambda: self._draw(steps, seats))

    def _draw(self, in_order: Steps, seats: Mapping[Situation, Seats]) -> Chart | None:
        steps = [
            (self.stage(situation, seats.get(situation, ())), situation, entered_from)
            for situation, entered_from in in_order
        ]
        if any(stage.curved_branches.size for stage, _, _ in steps):
            return None
        at_once = np.max([stage.moves.there_at_once() for stage, _, _ in steps], axis=0)
        moves = [stage.moves for stage, _, _ in steps]
        single = np.logical_and.reduce([each.single(each.of_suspect) for each in moves])
        graded = np.array([each is None or each.graded for each in self.suspects], dtype=bool)
        chart = Chart(
            np.flatnonzero(at_once <= MOST_AT_ONCE),
            points=np.flatnonzero(~single & ~graded),
            jumping=np.flatnonzero(at_once),
        )
        for stage, situation, entered_from in steps:
            chart.add(situation, stage, entered_from)
        return chart

    def read_charted(self, chart: Chart, trials: Trials, seats: Mapping[Situation, Seats]) -> Went:
        """Read trials of one suspect each in every situation, in the states that the chart knows.

        A trial whose suspect is not on the chart is settled anew.
        """
        stretch = chart.holding(trials)
        went: Went = {}
        for situation, places in seats.items():
            stage = self.stage(situation, places)
            went[situation] = stage, chart.settled(situation, stage, trials, stretch)
        again = np.flatnonzero(stretch < 0)
        if again.size:
            anew = self.go(trials.take(again), seats)
            for situation in seats:
                went[situation][1].put(again, anew[situation][1])
        return {
            situation: (stage, with_meters(stage, trials, settled))
            for situation, (stage, settled) in went.items()
        }

    def steps(
        self, seats: Mapping[Situation, Seats], *, all_phases: bool
    ) -> Iterator[tuple[Situation, Situation | None]]:
        """Yield situations in order, each with the one it is entered from."""
        asked_phases = {situation.phase for situation in seats}
        before: Situation | None = None
        for phase in self.network.phases:
            plain = Situation(phase=phase.name)
            yield plain, before
            for situation in seats:
                if situation.phase == phase.name and situation != plain:
                    yield situation, plain
            before = plain
            asked_phases.discard(phase.name)
            if not asked_phases and not all_phases:
                return
