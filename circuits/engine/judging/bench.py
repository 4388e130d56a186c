"""Try every suspect at every severity against the readings of one case."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial

import numpy as np

from circuits.engine.ambient import at_ambient, noted_celsius
from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Trials
from circuits.engine.equations.wiring import IntArray, Situation
from circuits.engine.faults import Scales, Suspect, format_ohms
from circuits.engine.instruments import ohmmeter_of
from circuits.engine.judging.chi_square import chi_square_limit
from circuits.engine.judging.joint import JointTest
from circuits.engine.judging.shortlist import may_show
from circuits.engine.judging.sitting import Sitting
from circuits.engine.judging.tried import Tried
from circuits.engine.judging.verdict import HEALTHY, Finding, Outcome, Slip
from circuits.engine.judging.weighing import Expected, Weighed
from circuits.engine.laws import FloatArray
from circuits.engine.network import Network
from circuits.engine.readings import Bound, Reading
from circuits.engine.settling.phases import Went
from circuits.engine.settling.ranges import COVERAGE_FACTOR
from circuits.engine.settling.settle import Settled

#: Says of trials, by their numbers (A,) and those of some readings (q,), by what they show of these
#: and half the span of a chatter (A, q), which fit (A,).
Fits = Callable[[IntArray, IntArray, FloatArray, FloatArray], BoolArray]

REFINING_ROUNDS = 3
# With fewer readings, leaving one out leaves too little to say anything.
FEWEST_FOR_A_SLIP = 3
REFINING_POINTS = 9
# Where in a stretch between two changes of state to try, besides the common grid.
STRETCH_PARTS = (0.001, 0.5, 0.999)
EDGE_ROUNDS = 2
EDGE_POINTS = 5
# Severities closer than this ratio are one.
LEAST_GAP = 1.0005
MINIMA_TO_REFINE = 2
# A misfit that is the same on both sides, within so much, has no dip that would tell anything.
LEAST_DIP = 1e-3
AT_ITS = {Bound.EXACT: "", Bound.FROM_BELOW: " at its lowest", Bound.FROM_ABOVE: " at its highest"}
# Misfits that differ by no more, as a share, are the same: the mildest severity is told.
SAME_MISFIT = 1e-9
# Suspects whose misfit may be no more than so many times its limit are tried jointly throughout:
# who nearly fits is told with its true misfit.
NEARLY = 10.0


class Bench:
    """Tries suspects at severities against the readings of one case."""

    def __init__(
        self, network: Network, readings: Sequence[Reading], listed: Sequence[Suspect]
    ) -> None:
        self.network = network
        self.readings = tuple(readings)
        self.suspects = (None, *listed)
        self.scales = Scales(self.suspects)
        self.sittings: dict[float | None, Sitting] = {}
        self.where: list[tuple[Sitting, Situation, int]] = []
        for reading in readings:
            celsius = noted_celsius(network, reading)
            if celsius not in self.sittings:
                self.sittings[celsius] = Sitting(at_ambient(network, celsius), self.suspects)
            sitting = self.sittings[celsius]
            self.where.append((sitting, *sitting.seat(reading)))
        self.joint = JointTest(self.readings, self.where)
        self.logged, self.meter_variance = self.joint.logged, self.joint.meter_variance
        self.limit, self.open_side = self.joint.limit, self.joint.open_side
        for sitting in self.sittings.values():
            sitting.draw_chart()
        #: What came of the single faults, once `findings` has tried them.
        self.tried: Tried | None = None

    def findings(self, doubted: int | None = None) -> tuple[Finding, list[Finding]]:
        """Return what the readings say of healthy and of every suspect.

        Suspects are tried jointly at all severities if all readings taken one by one might allow
        them, or all but the `doubted` one; where nothing fits, also if all but any one might.
        """
        grid = _Grid(self, *self.grid())
        others = np.arange(len(self.readings)) != doubted
        near = np.unique(grid.move[grid.shows[:, others].all(axis=1) | (grid.move == 0)])
        tried = self._refined(grid.tried(np.isin(grid.move, near) | grid.nearest()), near)
        if len(self.readings) >= FEWEST_FOR_A_SLIP and not (tried.misfit <= self.limit).any():
            but_one = np.unique(grid.move[grid.shows.sum(axis=1) >= len(self.readings) - 1])
            further = np.setdiff1d(but_one, near)
            if further.size:
                near = np.union1d(near, further)
                tried = grid.tried(np.isin(grid.move, near) | grid.nearest())
                tried = self._refined(tried, near)
        self.tried = tried
        healthy_row = int(np.flatnonzero(tried.move == 0)[0])
        healthy = self._finding(tried, np.array([healthy_row]), None)
        findings = []
        for number, rows in enumerate(self._by_severity(tried)):
            if self.suspects[number] is not None:
                findings.append(self._finding(tried, rows[tried.jointly[rows]], healthy))
        return healthy, findings

    def _refined(self, tried: Tried, suspects: IntArray) -> Tried:
        """Return trials with more of some suspects, where they fit best and where they begin to."""
        for finer, rounds in ((self._closer, REFINING_ROUNDS), (self._edges, EDGE_ROUNDS)):
            for _ in range(rounds):
                move, severity = finer(tried, suspects)
                if not move.size:
                    break
                tried = tried.joined(self._try(move, severity))
        return tried

    def grid(self) -> tuple[IntArray, FloatArray]:
        """Return the severities that are tried of each suspect at first, and of whom each is."""
        grids = [
            np.array([0.0]) if suspect is None else suspect.severity_grid()
            for suspect in self.suspects
        ]
        of_grids = np.repeat(np.arange(len(grids)), [len(grid) for grid in grids])
        of_stretches, in_stretches = self._stretch_severities()
        return (
            np.concatenate([of_grids, of_stretches]),
            np.concatenate([*grids, in_stretches]),
        )

    def _stretch_severities(self) -> tuple[IntArray, FloatArray]:
        """Return severities inside every stretch, so that no short one is missed, and of whom."""
        charts = [sitting.chart for sitting in self.sittings.values() if sitting.chart is not None]
        moves, severities = [np.zeros(0, dtype=np.intp)], [np.zeros(0)]
        for stretches in (chart.stretches for chart in charts):
            for part in STRETCH_PARTS:
                share = stretches.low + part * (stretches.high - stretches.low)
                severity = self.scales.severities(stretches.suspect, share)
                usable = np.isfinite(severity) & (severity > 0)
                usable &= self.scales.can_be(stretches.suspect, severity)
                moves.append(stretches.suspect[usable])
                severities.append(severity[usable])
        return np.concatenate(moves), np.concatenate(severities)

    def _by_severity(self, tried: Tried) -> list[IntArray]:
        """Return what was tried of each suspect, as rows of rising severity."""
        order = np.lexsort((tried.severity, tried.move))
        first = np.searchsorted(tried.move[order], np.arange(len(self.suspects)))
        return np.split(order, first[1:])

    def _graded(
        self, tried: Tried, suspects: IntArray
    ) -> Iterator[tuple[int, FloatArray, FloatArray]]:
        """Yield suspects with the finite severities tried of each, rising, and their misfits."""
        by_severity = self._by_severity(tried)
        for number in suspects.tolist():
            rows = by_severity[number]
            severity = tried.severity[rows]
            usable = np.isfinite(severity) & (severity > 0)
            if self.suspects[number] is not None:
                yield number, severity[usable], tried.misfit[rows[usable]]

    def _closer(self, tried: Tried, suspects: IntArray) -> tuple[IntArray, FloatArray]:
        """Return finer severities around the best ones of some suspects."""
        gaps = []
        for number, severity, misfit in self._graded(tried, suspects):
            padded = np.pad(misfit, 1, constant_values=np.inf)
            minima = np.flatnonzero((misfit <= padded[:-2]) & (misfit <= padded[2:]))
            for minimum in minima[np.argsort(misfit[minima])][:MINIMA_TO_REFINE]:
                low, high = max(minimum - 1, 0), min(minimum + 1, len(severity) - 1)
                if max(misfit[low], misfit[high]) - misfit[minimum] > LEAST_DIP:
                    gaps.append((number, severity[low], severity[high]))
        return _fill(gaps, REFINING_POINTS)

    def _edges(self, tried: Tried, suspects: IntArray) -> tuple[IntArray, FloatArray]:
        """Return severities between one that passes and its neighbour that does not."""
        gaps = []
        for number, severity, misfit in self._graded(tried, suspects):
            passes = misfit <= self.limit
            for edge in np.flatnonzero(passes[1:] != passes[:-1]):
                gaps.append((number, severity[edge], severity[edge + 1]))
        return _fill(gaps, EDGE_POINTS)

    @property
    def most_at_once(self) -> int:
        """Return how many trials may be weighed at once."""
        return self.joint.most_at_once

    def _try(self, move: IntArray, severity: FloatArray) -> Tried:
        most = self.most_at_once
        parts = [
            self._try_some(move[begin : begin + most], severity[begin : begin + most])
            for begin in range(0, len(move), most)
        ]
        tried = parts[0]
        for part in parts[1:]:
            tried = tried.joined(part)
        return tried

    def _try_some(self, move: IntArray, severity: FloatArray) -> Tried:
        return Tried.of(move, severity, self.weigh(self.trials(move, severity)))

    def trials(self, move: IntArray, severity: FloatArray) -> Trials:
        """Return trials of suspects, by their numbers, at severities, (E,) each."""
        return Trials.of_singles(move, *self.scales.shares(move, severity))

    def sound(self) -> Trials:
        """Return the one trial of the circuit in order."""
        return self.trials(np.array([0]), np.array([0.0]))

    @property
    def has_curves(self) -> bool:
        """Whether what a load draws is no straight line."""
        return any(sitting.chart is None for sitting in self.sittings.values())

    def weigh(self, trials: Trials) -> Weighed:
        """Return how the readings stand to what trials predict."""
        return self.weigh_settled(trials, self.settle(trials))

    def settle(self, trials: Trials) -> dict[Sitting, Went]:
        """Return where trials come to rest in the situations of all readings."""
        return {sitting: sitting.settle(trials) for sitting in self.sittings.values()}

    def weigh_settled(self, trials: Trials, went: Mapping[Sitting, Went]) -> Weighed:
        """Return how the readings stand to what trials predict that have come to rest."""
        return self.joint.weigh(trials, went)

    def allowed(self, miss: FloatArray, readings: IntArray) -> FloatArray:
        """Return misses of some readings (E, q) without what a bound leaves open."""
        return np.where(self.open_side[readings] * miss < 0, 0.0, miss)

    def show(self, trials: Trials) -> tuple[FloatArray, FloatArray]:
        """Return what trials show for each reading (E, m), and half the span of a chatter."""
        return self.joint.shown(self.settle(trials))

    def expect(self, trials: Trials, went: Mapping[Sitting, Went]) -> Expected:
        """Return what trials show for each reading, and how sure that is, each by itself."""
        return self.joint.expect(trials, went)

    def sift(self, trials: Trials, fits: Fits) -> tuple[IntArray, FloatArray, FloatArray]:
        """Return the trials (indices) of which each reading says that it fits, and what they show.

        What no longer fits is taken through no further phases. The last two are those of `show`.
        """
        number = np.arange(len(trials))
        went: dict[Sitting, Went] = {}
        for sitting in self.sittings.values():
            stays = partial(self._stay, sitting, fits, number)
            kept, there = sitting.run.sift(trials.take(number), sitting.readers, stays)
            number = number[kept]
            went = {each: _taken(earlier, kept) for each, earlier in went.items()}
            went[sitting] = there
        return number, *self.joint.shown(went)

    def _stay(
        self,
        sitting: Sitting,
        fits: Fits,
        number: IntArray,
        situation: Situation,
        settled: Settled,
        own: IntArray,
    ) -> BoolArray:
        """Return which trials (A,) fit the readings that are taken in a situation."""
        readings = [n for n, there in enumerate(self.where) if there[:2] == (sitting, situation)]
        seats = [self.where[reading][2] for reading in readings]
        low, high = settled.low[:, seats], settled.high[:, seats]
        return fits(number[own], np.array(readings), (low + high) / 2, (high - low) / 2)

    # ------------------------------------------------------------------------- findings

    def slips(self) -> tuple[Slip, ...]:
        """Return the readings without which something fits, where nothing fits them all."""
        tried, count = self.tried, len(self.readings)
        if tried is None or count < FEWEST_FOR_A_SLIP or (tried.misfit <= self.limit).any():
            return ()
        limit = chi_square_limit(count - 1)
        found = []
        for number in range(count):
            rows = np.flatnonzero(tried.without[:, number] <= limit)
            if not rows.size:
                continue
            rows = rows[np.argsort(tried.without[rows, number])]
            listed = dict.fromkeys(self.suspects[move] for move in tried.move[rows].tolist())
            found.append(
                Slip(
                    reading=number,
                    fits=tuple(each.id if each is not None else HEALTHY for each in listed),
                    predicted=float(tried.predicted[rows[0], number]),
                )
            )
        return tuple(found)

    def _finding(self, tried: Tried, rows: IntArray, healthy: Finding | None) -> Finding:
        suspect = self.suspects[int(tried.move[rows[0]])]
        least = float(tried.misfit[rows].min())
        best_ones = rows[tried.misfit[rows] <= least + SAME_MISFIT * (1 + least)]
        best = int(best_ones[-1 if suspect is not None and suspect.is_path else 0])
        passing = rows[tried.misfit[rows] <= self.limit]
        outcome = Outcome.DOES_NOT_FIT
        if passing.size:
            undecided = healthy is not None and healthy.passes
            outcome = Outcome.CANNOT_SAY if undecided else Outcome.FITS
        severity = low = high = None
        if suspect is not None:
            severity = float(tried.severity[best])
            if passing.size:
                low, high = float(tried.severity[passing[0]]), float(tried.severity[passing[-1]])
        deciding = self._deciding(tried.weight[best], outcome, healthy)
        return Finding(
            suspect=suspect,
            outcome=outcome,
            misfit=float(tried.misfit[best]),
            misfit_limit=self.limit,
            severity=severity,
            severity_low=low,
            severity_high=high,
            predicted=tuple(tried.predicted[best].tolist()),
            distance=tuple(tried.distance[best].tolist()),
            deciding=deciding,
            because=self._because(tried, best, outcome, deciding, healthy),
            model_reach=tuple(self._model_reach(tried, best).tolist()),
        )

    def _model_reach(self, tried: Tried, row: int) -> FloatArray:
        """Return how far tolerances move what one trial predicts (m,), without the meter."""
        variance = np.maximum(tried.uncertainty[row] ** 2 - self.meter_variance, 0.0)
        reach = COVERAGE_FACTOR * np.sqrt(variance) + tried.half_span[row]
        return np.asarray(reach, dtype=np.float64)

    def _deciding(
        self, weight: FloatArray, outcome: Outcome, healthy: Finding | None
    ) -> int | None:
        """Return the reading that excludes the suspect, or that excludes healthy in its favour."""
        if outcome is Outcome.DOES_NOT_FIT:
            return int(np.argmax(weight))
        if outcome is Outcome.FITS and healthy is not None:
            return int(np.argmax(np.abs(healthy.distance)))
        return None

    def _because(
        self,
        tried: Tried,
        row: int,
        outcome: Outcome,
        deciding: int | None,
        healthy: Finding | None,
    ) -> str:
        if outcome is Outcome.CANNOT_SAY:
            return (
                "a healthy circuit reads the same, so these readings neither support nor exclude it"
            )
        if deciding is None:
            return "every reading lies where a healthy circuit would put it"
        reading = self.readings[deciding]
        logged = _show(reading.value, reading) + AT_ITS[reading.bound]
        at = f"{reading.place.key} in '{reading.phase}'"
        predicted = _show(float(tried.predicted[row, deciding]), reading)
        if outcome is Outcome.DOES_NOT_FIT:
            return f"{at} was logged as {logged}; at its best it would read {predicted}"
        assert healthy is not None
        sound = _show(healthy.predicted[deciding], reading)
        return f"{at} was logged as {logged}; it would read {predicted}, a healthy circuit {sound}"


def _taken(went: Went, kept: IntArray) -> Went:
    return {each: (stage, settled.take(kept)) for each, (stage, settled) in went.items()}


class _Grid:
    """The severities that are tried at first, with what each reading by itself allows of them."""

    def __init__(self, bench: Bench, move: IntArray, severity: FloatArray) -> None:
        order = np.lexsort((severity, move))
        self.bench = bench
        self.move, self.severity = move[order], severity[order]
        self.trials = bench.trials(self.move, self.severity)
        self.went = bench.settle(self.trials)
        self._weighed: Weighed | None = None
        if bench.has_curves:
            # How sure one reading is comes no cheaper there than all of them together.
            self._weighed = self._weigh(np.arange(len(self.move)))
            self.expected = self._weighed.one_by_one()
        else:
            self.expected = self._expect()
        self.miss = self.expected.miss(bench.logged, bench.open_side)
        #: Which readings (E, m) could lie between one trial and the next, nearly.
        self.shows = self._may_show(self.expected)

    def _expect(self) -> Expected:
        """Return what trials show; corners are looked at where readings elsewhere leave a trial.

        One of these may be a slip. To look at corners of all would take as long as all else.
        """
        joint = self.bench.joint
        plain = joint.expect_as_drawn(self.trials, self.went)
        if not joint.near_corners.any():
            return plain
        excluded = ~self._may_show(plain)[:, ~joint.near_corners]
        hopeful: BoolArray = excluded.sum(axis=1) <= 1
        # What a trial shows counts for the stretch before it as well.
        hopeful[1:] |= hopeful[:-1]
        return joint.widened(plain, self.trials, self.went, np.flatnonzero(hopeful))

    def _may_show(self, expected: Expected) -> BoolArray:
        reach = np.sqrt(NEARLY * self.bench.limit) * expected.uncertainty + expected.half_span
        low, high = expected.predicted - reach, expected.predicted + reach
        return may_show(self.move, low, high, self.bench.logged, self.bench.open_side)

    def nearest(self) -> BoolArray:
        """Return of each suspect the trial (E,) whose readings are least off, one by one."""
        off = (self.miss**2 / self.expected.variance).sum(axis=1)
        order = np.lexsort((off, self.move))
        nearest = np.zeros(len(off), dtype=bool)
        nearest[order[np.append(True, self.move[1:] != self.move[:-1])]] = True
        return nearest

    def tried(self, jointly: BoolArray) -> Tried:
        """Return what came of all, the chosen ones (E,) tried jointly."""
        if self._weighed is not None:
            return Tried.of(self.move, self.severity, self._weighed)
        rows, rest = np.flatnonzero(jointly), np.flatnonzero(~jointly)
        together = Tried.of(self.move[rows], self.severity[rows], self._weigh(rows))
        alone = self.expected.take(rest)
        return together.joined(
            Tried.one_by_one(self.move[rest], self.severity[rest], alone, self.miss[rest])
        )

    def _weigh(self, rows: IntArray) -> Weighed:
        most = self.bench.most_at_once
        parts = [rows[begin : begin + most] for begin in range(0, len(rows), most)]
        return Weighed.joined(
            [
                self.bench.weigh_settled(
                    self.trials.take(part),
                    {sitting: _taken(went, part) for sitting, went in self.went.items()},
                )
                for part in parts
            ]
        )


def _fill(gaps: Sequence[tuple[int, float, float]], points: int) -> tuple[IntArray, FloatArray]:
    """Return severities inside gaps, evenly on a logarithmic scale, with their suspects."""
    wide = [(number, low, high) for number, low, high in gaps if high / low > LEAST_GAP]
    moves = np.repeat(np.array([number for number, _, _ in wide], dtype=np.intp), points)
    low, high = (np.array([gap[end] for gap in wide]) for end in (1, 2))
    finer = np.geomspace(low, high, points + 2, axis=1)[:, 1:-1] if wide else np.zeros((0, points))
    return moves, finer.ravel()


def _show(value: float, reading: Reading) -> str:
    unit = reading.place.unit
    if unit == "ohm":
        beyond = value >= ohmmeter_of(reading).most_ohms
        return "OL" if beyond else f"{'-' if value < 0 else ''}{format_ohms(abs(value))}"
    if abs(value) < 0.1 and (value or reading.step < 0.01):
        return f"{value * 1000:.3g} m{unit}"
    return f"{value:.2f} {unit}" if abs(value) < 100 else f"{value:.1f} {unit}"
