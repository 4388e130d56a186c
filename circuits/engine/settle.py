"""Find the state that each trial settles in, and what every place reads then.

A trial is the circuit under one suspect at one severity. Many trials go side by side: those in
the same pieces share a factorisation. Two kinds of control are settled in the order of the
physics: those without memory (a generator at its limit, a motor that stalls) at once, then relays
and rules, one at a time, from the state of the phase before. A trial whose relays come back to a
state they have been in has no steady state: it *chatters*, and its readings span that round.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine.errors import BadPlace
from circuits.engine.factors import BoolArray, Factor, Moves, compile_moves
from circuits.engine.faults import Suspect
from circuits.engine.laws import FloatArray
from circuits.engine.network import Network
from circuits.engine.readings import Place
from circuits.engine.wiring import IntArray, Situation, law_array, wire_up

# Controls without memory meet at their threshold; this keeps rounding from turning them about.
NO_MEMORY_GAP = 1e-9
SIMULTANEOUS_ROUNDS = 8
MOST_ROUNDS = 60
NEWTON_ROUNDS = 80
NEWTON_AMPS = 1e-9
NEWTON_STEP_VOLTS = 4.0


@dataclass(frozen=True, slots=True)
class Trials:
    """E trials: the number of a suspect, its share and 1 - share, each (E,)."""

    move: IntArray
    share: FloatArray
    rest: FloatArray

    def __len__(self) -> int:
        return len(self.move)

    def take(self, chosen: IntArray) -> "Trials":
        return Trials(self.move[chosen], self.share[chosen], self.rest[chosen])


@dataclass(frozen=True, slots=True)
class Settled:
    """Where E trials came to rest in one situation, and what R places read."""

    pieces: IntArray  # (E, K)
    chatters: BoolArray  # (E,)
    low: FloatArray  # (E, R), equal to high but where the trial chatters
    high: FloatArray  # (E, R)
    floating: BoolArray  # (E, R)


class Stage:
    """A network in one situation with its suspects and places, ready to settle trials."""

    def __init__(
        self,
        network: Network,
        situation: Situation,
        suspects: Sequence[Suspect | None],
        places: Sequence[Place],
        input_ohms: Sequence[float],
    ) -> None:
        for place in places:
            check_place(network, place)
        self.wiring = wire_up(network, situation)
        self.moves: Moves = compile_moves(network, situation, self.wiring, suspects)
        self.places = tuple(places)
        self.input_ohms = np.array(input_ohms, dtype=float)
        self.place_rows = np.array([self.wiring.place_row(place) for place in places]).reshape(
            len(self.places), self.wiring.size
        )
        curved = np.array([branch for branch, _ in self.wiring.curved], dtype=np.intp)
        self.curved_branches = curved
        curve_volts = [self.wiring.volts_row(*self.wiring.ends[branch]) for branch in curved]
        curve_amps = [self.wiring.amps_row(branch) for branch in curved]
        self.watched_rows = np.vstack(
            [self.wiring.watched, *curve_volts, *curve_amps]
        )  # (K + 2 J, n)
        self._factors: dict[bytes, Factor] = {}

    @property
    def control_count(self) -> int:
        return len(self.wiring.controlled)

    def factor(self, pieces: IntArray) -> Factor:
        """Return the factorisation with the controlled branches in these pieces (K,)."""
        key = pieces.astype(np.int8).tobytes()
        if key not in self._factors:
            all_pieces = self.wiring.resting_pieces.copy()
            all_pieces[self.wiring.controlled] = pieces
            self._factors[key] = Factor(self.wiring, self.moves, all_pieces)
        return self._factors[key]

    def control_names(self) -> list[str]:
        return [self.wiring.branches[branch].name for branch in self.wiring.controlled]

    def resting(self, count: int) -> IntArray:
        """Return the pieces in which nothing has happened yet, for E trials (E, K)."""
        resting = self.wiring.resting_pieces[self.wiring.controlled]
        return np.repeat(resting[None], count, axis=0)

    def starting(self, count: int, before: Mapping[str, IntArray]) -> IntArray:
        """Return the pieces to start from: relays and rules as they were `before` (by name)."""
        start = self.resting(count)
        for row, name in enumerate(self.control_names()):
            if name in before and self.wiring.remembers[row]:
                start[:, row] = before[name]
        return start

    # --------------------------------------------------------------------------- settling

    def settle(self, trials: Trials, start: IntArray) -> Settled:
        """Settle trials from the given pieces (E, K) and read all places."""
        count = len(trials)
        pieces = start.copy()
        chatters = np.zeros(count, dtype=bool)
        thresholds = self._thresholds(trials)
        low = np.full((count, len(self.places)), np.inf)
        high = np.full((count, len(self.places)), -np.inf)
        floating = np.zeros((count, len(self.places)), dtype=bool)
        seen: dict[int, set[bytes]] = {}
        round_again: dict[int, bytes] = {}
        active = np.arange(count)
        remembers = self.wiring.remembers
        while active.size:
            unsettled = self._settle_without_memory(trials, thresholds, pieces, active)
            chatters[unsettled] = True
            values, loose = self.read(trials.take(active), pieces[active])
            wanted = self._wanted(trials, thresholds, pieces, active)
            wrong = (wanted != pieces[active]) & remembers
            fresh = ~np.isin(active, list(round_again))
            self._widen(low, high, floating, active, values, loose, fresh=fresh)
            moving = []
            for position in np.flatnonzero(wrong.any(axis=1)):
                trial = int(active[position])
                key = pieces[trial].astype(np.int8).tobytes()
                if trial in round_again:
                    if key == round_again[trial]:
                        continue
                elif key in seen.setdefault(trial, set()):
                    chatters[trial] = True
                    round_again[trial] = key
                seen[trial].add(key)
                control = int(np.argmax(wrong[position]))
                pieces[trial, control] = wanted[position, control]
                moving.append(trial)
            active = np.array(moving, dtype=np.intp)
        return Settled(pieces, chatters, low, high, floating)

    @staticmethod
    def _widen(
        low: FloatArray,
        high: FloatArray,
        floating: BoolArray,
        active: IntArray,
        values: FloatArray,
        loose: BoolArray,
        *,
        fresh: BoolArray,
    ) -> None:
        """Keep the values of trials that still move; span those that go round."""
        new, round_ = active[fresh], active[~fresh]
        low[new] = high[new] = values[fresh]
        floating[new] = loose[fresh]
        low[round_] = np.minimum(low[round_], values[~fresh])
        high[round_] = np.maximum(high[round_], values[~fresh])
        floating[round_] &= loose[~fresh]

    def _thresholds(self, trials: Trials) -> tuple[FloatArray, FloatArray]:
        """Return rising and falling thresholds (E, K, 2), moved along with the suspects."""
        count = len(trials)
        rising = np.repeat(self.wiring.rising[None], count, axis=0)
        falling = np.repeat(self.wiring.falling[None], count, axis=0)
        moved = np.flatnonzero(self.moves.control[trials.move] >= 0)
        if moved.size:
            move = trials.move[moved]
            control = self.moves.control[move]
            share, rest = trials.share[moved, None], trials.rest[moved, None]
            for drawn, worst in (
                (rising, self.moves.worst_rising),
                (falling, self.moves.worst_falling),
            ):
                finite = np.isfinite(drawn[moved, control])
                with np.errstate(invalid="ignore"):
                    along = rest * drawn[moved, control] + share * worst[move]
                drawn[moved, control] = np.where(finite, along, np.inf)
        return rising, falling

    def _settle_without_memory(
        self,
        trials: Trials,
        thresholds: tuple[FloatArray, FloatArray],
        pieces: IntArray,
        active: IntArray,
    ) -> IntArray:
        """Move controls without memory until they rest; return the trials that never do."""
        quick = ~self.wiring.remembers
        restless = active
        if not quick.any():
            return restless[:0]
        for _ in range(SIMULTANEOUS_ROUNDS):
            wanted = self._wanted(trials, thresholds, pieces, restless)
            wrong = (wanted != pieces[restless]) & quick
            pieces[restless] = np.where(wrong, wanted, pieces[restless])
            restless = np.asarray(restless[wrong.any(axis=1)], dtype=np.intp)
            if not restless.size:
                return restless
        return self._follow_the_line(trials, thresholds, pieces, restless)

    def _follow_the_line(
        self,
        trials: Trials,
        thresholds: tuple[FloatArray, FloatArray],
        pieces: IntArray,
        restless: IntArray,
    ) -> IntArray:
        """Move from region to region along a straight line, one threshold at a time.

        Changing every control at once can go round in circles although a state exists. Walking
        from a point towards the solution of its own region, and only as far as the next
        threshold, cannot: what is left of the imbalance shrinks with every step (Katzenelson's
        method for piecewise-linear networks; IEEE Trans. Circuit Theory 12, 1965, from memory).
        The walk needs the watched quantities only.
        """
        quick = ~self.wiring.remembers
        here = self._watched(trials.take(restless), pieces[restless])
        start = self._wanted(trials, thresholds, pieces, restless)
        pieces[restless] = np.where(quick, start, pieces[restless])
        for _ in range(MOST_ROUNDS):
            goal = self._watched(trials.take(restless), pieces[restless])
            way = goal - here
            piece = pieces[restless]
            # Rising and falling thresholds are the same where there is no memory.
            bounds = np.pad(thresholds[0][restless], ((0, 0), (0, 0), (1, 1)))
            bounds[:, :, 0], bounds[:, :, -1] = -np.inf, np.inf
            below = np.take_along_axis(bounds, piece[:, :, None], axis=2)[:, :, 0]
            above = np.take_along_axis(bounds, piece[:, :, None] + 1, axis=2)[:, :, 0]
            rises = quick & (goal > above + NO_MEMORY_GAP)
            falls = quick & (goal < below - NO_MEMORY_GAP)
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
            pieces[restless[still], first[still]] += turn[still]
            restless = restless[still]
        return restless

    def _wanted(
        self,
        trials: Trials,
        thresholds: tuple[FloatArray, FloatArray],
        pieces: IntArray,
        active: IntArray,
    ) -> IntArray:
        """Return the pieces (A, K) that the watched quantities of these trials ask for."""
        watched = self._watched(trials.take(active), pieces[active])[:, : self.control_count]
        rising, falling = thresholds[0][active], thresholds[1][active]
        passed_before = pieces[active][:, :, None] > np.arange(rising.shape[2])
        gap = np.where(self.wiring.remembers, 0.0, NO_MEMORY_GAP)[None, :, None]
        passed = np.where(
            passed_before,
            watched[:, :, None] >= falling - gap,
            watched[:, :, None] > rising + gap,
        )
        wanted: IntArray = passed.sum(axis=2).astype(np.intp)
        return wanted

    # ---------------------------------------------------------------------------- reading

    def _groups(self, pieces: IntArray) -> list[tuple[Factor, IntArray]]:
        """Return the trials (indices) that share pieces, with their factorisation."""
        if not len(pieces):
            return []
        if not self.control_count:
            return [(self.factor(np.array([], dtype=np.intp)), np.arange(len(pieces)))]
        distinct, label = np.unique(pieces, axis=0, return_inverse=True)
        label = label.reshape(-1)
        order = np.argsort(label, kind="stable")
        bounds = np.searchsorted(label[order], np.arange(len(distinct) + 1))
        return [
            (self.factor(row), order[bounds[number] : bounds[number + 1]])
            for number, row in enumerate(distinct)
        ]

    def _watched(self, trials: Trials, pieces: IntArray) -> FloatArray:
        """Return the watched quantities (E, K) of trials in given pieces."""
        watched = np.empty((len(trials), self.control_count))
        for factor, chosen in self._groups(pieces):
            watched[chosen] = self._rows_of(factor, trials.take(chosen), self.wiring.watched)
        return watched

    def _rows_of(self, factor: Factor, trials: Trials, rows: FloatArray) -> FloatArray:
        """Return rows @ x for each trial, (E, rows)."""
        pull = factor.pull(trials.move, trials.share, trials.rest)
        way = pull * factor.drive[trials.move]
        moved = (rows @ factor.response.T)[:, trials.move].T
        values: FloatArray = (rows @ factor.unmoved)[None] + way[:, None] * moved
        if self.curved_branches.size:
            bend = self._bend(factor, trials, pull)
            values += np.einsum("erj,ej->er", self._curve_gain(factor, trials, pull, rows), bend)
        return values

    def _curve_gain(
        self, factor: Factor, trials: Trials, pull: FloatArray, rows: FloatArray
    ) -> FloatArray:
        """Return how `rows` answer to volts put into each curved branch, (E, rows, J)."""
        columns = self.wiring.node_count + self.curved_branches
        plain = rows @ factor.inverse[:, columns]
        moved = (rows @ factor.response.T)[:, trials.move].T
        felt = factor.feel[:, columns][trials.move]
        gain: FloatArray = plain[None] - pull[:, None, None] * moved[:, :, None] * felt[:, None]
        return gain

    def _bend(self, factor: Factor, trials: Trials, pull: FloatArray) -> FloatArray:
        """Return by how much each curved law differs from its chord (E, J), by Newton's method.

        The curved branches are ports of an otherwise linear network, so every trial is a system
        of J equations only. It starts from the chord, the working point of a healthy car.
        """
        count = len(self.curved_branches)
        rows = self.watched_rows[self.control_count :]
        way = pull * factor.drive[trials.move]
        moved = (rows @ factor.response.T)[:, trials.move].T
        straight = (rows @ factor.unmoved)[None] + way[:, None] * moved
        gain = self._curve_gain(factor, trials, pull, rows)
        bend = np.zeros((len(trials), count))
        identity = np.eye(count)
        for round_number in range(NEWTON_ROUNDS):
            ports = straight + np.einsum("erj,ej->er", gain, bend)
            volts, amps = ports[:, :count], ports[:, count:]
            miss = np.empty_like(volts)
            slope = np.empty_like(volts)
            for number, (_, curve) in enumerate(self.wiring.curved):
                miss[:, number] = curve.amps(volts[:, number]) - amps[:, number]
                slope[:, number] = curve.siemens(volts[:, number])
            if np.abs(miss).max() < NEWTON_AMPS:
                break
            jacobian = slope[:, :, None] * gain[:, :count] - gain[:, count:]
            jacobian += 1e-15 * identity
            step = np.linalg.solve(jacobian, -miss[:, :, None])[:, :, 0]
            step_volts = np.abs(np.einsum("erj,ej->er", gain[:, :count], step)).max(axis=1)
            most = NEWTON_STEP_VOLTS * 0.93**round_number
            bend += step * np.minimum(1.0, most / np.maximum(step_volts, 1e-30))[:, None]
        return bend

    def read(self, trials: Trials, pieces: IntArray) -> tuple[FloatArray, BoolArray]:
        """Return what meters show at all places (E, R), and where they float."""
        values = np.empty((len(trials), len(self.places)))
        floating = np.zeros((len(trials), len(self.places)), dtype=bool)
        for factor, chosen in self._groups(pieces):
            some = trials.take(chosen)
            open_circuit = self._rows_of(factor, some, self.place_rows)
            shown, loose = self._meter_factor(factor, some)
            values[chosen] = open_circuit * shown
            floating[chosen] = loose
        return values, floating

    def _meter_factor(self, factor: Factor, trials: Trials) -> tuple[FloatArray, BoolArray]:
        """Return what share of the open-circuit volts a meter shows, and where a place floats.

        The meter's input resistance and the source resistance seen from its leads divide the
        volts. Between two islands that source resistance is infinite: the meter shows 0.
        """
        volts = ~np.array([place.reads_amps for place in self.places], dtype=bool)
        nodes = self.wiring.node_count
        # Amps put in at red and taken out at black.
        into = factor.inverse[:, :nodes] @ self.place_rows[:, :nodes].T  # (n, R)
        source_ohms = np.einsum("rn,nr->r", self.place_rows, into)
        pull = factor.pull(trials.move, trials.share, trials.rest)
        moved = (self.place_rows @ factor.response.T)[:, trials.move].T  # (E, R)
        felt = (factor.feel[:, :nodes] @ self.place_rows[:, :nodes].T)[trials.move]
        ohms = source_ohms[None] - pull[:, None] * moved * felt
        crosses = self._crosses_islands(factor)
        cut_off = (factor.splits[trials.move] & (trials.rest == 0))[:, None]
        joins = (factor.joins[trials.move] & (trials.share > 0))[:, None]
        reached = np.abs(moved) > 1e-9
        floating = volts & ((crosses[None] & ~(joins & reached)) | (cut_off & reached))
        with np.errstate(divide="ignore"):
            path_ohms = (trials.rest / np.maximum(trials.share, 1e-300))[:, None]
        ohms = np.where(joins & reached, path_ohms, ohms)
        shown = np.where(volts, 1 / (1 + np.maximum(ohms, 0.0) / self.input_ohms), 1.0)
        return np.where(floating, 0.0, shown), floating

    def _crosses_islands(self, factor: Factor) -> BoolArray:
        crosses = [
            not place.reads_amps
            and factor.island[self.wiring.node(place.red)]
            != factor.island[self.wiring.node(place.black)]
            for place in self.places
        ]
        return np.array(crosses, dtype=bool)

    # ----------------------------------------------------------------------- tolerances

    def tolerance_names(self) -> list[tuple[str, str, bool]]:
        """Return (part branch, value, bound to one phase) of each of the P tolerances."""
        return [
            (self.wiring.branches[branch].name, wobble.name, wobble.phase_bound)
            for branch, wobble in self.wiring.wobbles
        ]

    def sensitivities(self, trials: Trials, pieces: IntArray) -> FloatArray:
        """Return how far each tolerance, at its edge, moves each reading: (E, R, P).

        One adjoint product a place gives the answer to volts put into any branch; a tolerance
        puts in what its law is off by at the working point.
        """
        result = np.zeros((len(trials), len(self.places), len(self.wiring.wobbles)))
        if not self.wiring.wobbles:
            return result
        branch = np.array([number for number, _ in self.wiring.wobbles], dtype=np.intp)
        half_width = law_array(wobble.half_width for _, wobble in self.wiring.wobbles)
        first, second = self.wiring.ends[branch].T
        amps_index = self.wiring.node_count + branch
        for factor, chosen in self._groups(pieces):
            some = trials.take(chosen)
            pull = factor.pull(some.move, some.share, some.rest)
            gain = (self.place_rows @ factor.inverse)[:, amps_index][None] - (
                pull[:, None, None]
                * (self.place_rows @ factor.response.T)[:, some.move].T[:, :, None]
                * factor.feel[:, amps_index][some.move][:, None, :]
            )
            unknowns = np.append(
                self._rows_of(factor, some, np.eye(self.wiring.size)),
                np.zeros((len(some), 1)),
                axis=1,
            )
            volts = unknowns[:, first] - unknowns[:, second]
            amps = unknowns[:, amps_index]
            piece = self._piece_of(pieces[chosen[0]])[branch]
            width = half_width[np.arange(len(branch)), piece]
            off = width[:, 2] - width[:, 0] * volts + width[:, 1] * amps  # (E, P)
            own = self.moves.branch[some.move][:, None] == branch[None]
            off = np.where(own, off * some.rest[:, None], off)
            shown, _ = self._meter_factor(factor, some)
            result[chosen] = gain * off[:, None, :] * shown[:, :, None]
        return result

    def _piece_of(self, pieces: IntArray) -> IntArray:
        all_pieces = self.wiring.resting_pieces.copy()
        all_pieces[self.wiring.controlled] = pieces
        return all_pieces

    def unknowns(self, trials: Trials, pieces: IntArray) -> FloatArray:
        """Return node volts and branch amps (E, n)."""
        values = np.empty((len(trials), self.wiring.size))
        everything = np.eye(self.wiring.size)
        for factor, chosen in self._groups(pieces):
            values[chosen] = self._rows_of(factor, trials.take(chosen), everything)
        return values


def check_place(network: Network, place: Place) -> None:
    """Refuse a place whose leads or part are not in the network."""
    if place.reads_amps:
        if place.through not in {part.name for part in network.parts}:
            raise BadPlace(place.key, f"there is no part {place.through} to clamp")
        return
    nodes = set(network.nodes)
    for lead, node in (("red", place.red), ("black", place.black)):
        if node not in nodes:
            raise BadPlace(
                place.key, f"the {lead} lead is on {node}, but no part is connected there"
            )
