"""A circuit in one situation with its suspects and places, ready to be read in any state.

Trials in the same pieces share a factorisation, and what the watched quantities and the places
are in it, so a reading of a trial is a handful of multiplications.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from circuits.engine.equations.bends import Bends
from circuits.engine.equations.corners import Corners, find_corners
from circuits.engine.equations.crowd import Crowd, Stances
from circuits.engine.equations.factors import Factor
from circuits.engine.equations.grip import Grip, take_hold
from circuits.engine.equations.moves import BoolArray, Moved, Moves, WorstCases, compile_moves
from circuits.engine.equations.views import Rows, Solved, View
from circuits.engine.equations.wiring import IntArray, Situation, law_array, wire_up
from circuits.engine.errors import BadPlace
from circuits.engine.faults import Suspect
from circuits.engine.laws import FloatArray
from circuits.engine.network import Network
from circuits.engine.readings import Place

# How many volts of a volt put into a fault reach a place that is beyond it; the rest is rounding.
REACHED = 1e-9


@dataclass(frozen=True, slots=True)
class Trials:
    """E trials of s suspects at once: their numbers, shares and 1 - share, each (E, s)."""

    suspect: IntArray
    share: FloatArray
    rest: FloatArray

    @classmethod
    def of_singles(cls, suspect: IntArray, share: FloatArray, rest: FloatArray) -> "Trials":
        """Return trials of one suspect each, from (E,) arrays."""
        return cls(suspect[:, None].astype(np.intp), share[:, None], rest[:, None])

    def __len__(self) -> int:
        return len(self.suspect)

    def take(self, chosen: IntArray) -> "Trials":
        return Trials(self.suspect[chosen], self.share[chosen], self.rest[chosen])


class Crowded(NamedTuple):
    """Trials (indices) sorted: plain ones, solved together, and odd ones."""

    plain: Sequence[tuple[IntArray, Stances]]
    odd: IntArray

    @property
    def is_of_one_kind(self) -> bool:
        """Return whether all are plain and move as many things: in their order, then."""
        return len(self.plain) == 1 and not self.odd.size


class Stage:
    """A network in one situation with its suspects and places.

    `suspects` has None for the healthy circuit; `input_ohms` is the meter of each place. What the
    stages of a circuit can share of its suspects is in `worst_cases`.

    Raises
    ------
    BadPlace
        A place is not in the network.
    """

    def __init__(
        self,
        network: Network,
        situation: Situation,
        suspects: Sequence[Suspect | None],
        places: Sequence[Place],
        input_ohms: Sequence[float],
        worst_cases: WorstCases,
    ) -> None:
        _check_places(network, places)
        self.wiring = wire_up(network, situation)
        #: Whether a lamp or a meter stands in the circuit as a part.
        self.is_loaded = situation.load is not None
        self.places = tuple(places)
        self.input_ohms = np.array(input_ohms, dtype=float)
        self.reads_volts = np.array([place.unit == "V" for place in places], dtype=bool)
        self.place_rows = np.array([self.wiring.place_row(place) for place in places]).reshape(
            len(self.places), self.wiring.size
        )
        self.lead_nodes = np.array(
            [(self.wiring.node(p.red), self.wiring.node(p.black)) for p in self.places],
            dtype=np.intp,
        ).reshape(len(self.places), 2)
        self.moves: Moves = compile_moves(
            network, situation, self.wiring, suspects, self.lead_nodes, worst_cases
        )
        self.bends = Bends(self.wiring, self.moves)
        self.curved_branches = self.bends.branches
        self._curved_columns = self.wiring.node_count + self.curved_branches
        curves = [
            self.wiring.volts_row(*self.wiring.ends[branch]) for branch in self.curved_branches
        ]
        curves += [self.wiring.amps_row(int(branch)) for branch in self.curved_branches]
        self.port_rows = np.array(curves).reshape(len(curves), self.wiring.size)
        self._views: dict[bytes, View] = {}

    @property
    def control_count(self) -> int:
        return len(self.wiring.controlled)

    def control_names(self) -> list[str]:
        return [self.wiring.branches[branch].name for branch in self.wiring.controlled]

    def starting(self, count: int, before: Mapping[str, IntArray]) -> IntArray:
        """Return pieces to start E trials from (E, K): relays and rules as `before`, by name."""
        resting = self.wiring.resting_pieces[self.wiring.controlled]
        start = np.repeat(resting[None], count, axis=0)
        for row, name in enumerate(self.control_names()):
            if name in before and self.wiring.remembers[row]:
                start[:, row] = before[name]
        return start

    def piece_of_branches(self, pieces: IntArray) -> IntArray:
        """Return the piece of every branch (B,) for given pieces of the controlled ones (K,)."""
        piece_of = self.wiring.resting_pieces.copy()
        piece_of[self.wiring.controlled] = pieces
        return piece_of

    # ------------------------------------------------------------------------------ views

    def view(self, pieces: IntArray) -> View:
        """Return the factorisation with the controlled branches in these pieces (K,)."""
        key = pieces.astype(np.int8).tobytes()
        view = self._views.get(key)
        if view is None:
            view = self._views[key] = self._look(pieces)
        return view

    def _look(self, pieces: IntArray) -> View:
        factor = Factor(self.wiring, self.moves, self.piece_of_branches(pieces))
        columns = self._curved_columns
        nodes = self.wiring.node_count
        node_rows = self.place_rows[:, :nodes]
        # Amps put in at red and taken out at black.
        into = factor.inverse[:, :nodes] @ node_rows.T  # (n, R)
        return View(
            factor=factor,
            watched=Rows.of(factor, self.wiring.watched, columns),
            places=Rows.of(factor, self.place_rows, columns),
            ports=Rows.of(factor, self.port_rows, columns),
            curves_felt=factor.feel[:, columns],
            source_ohms=np.einsum("rn,nr->r", self.place_rows, into),
            places_felt=factor.feel[:, :nodes] @ node_rows.T,
            lead_islands=factor.island[self.lead_nodes],
        )

    def groups(self, pieces: IntArray) -> list[tuple[View, IntArray]]:
        """Return the trials (indices) that share pieces (E, K), with their view."""
        if not len(pieces):
            return []
        same = (pieces == pieces[0]).all(axis=1)
        if same.all():
            return [(self.view(pieces[0]), np.arange(len(pieces)))]
        found = [(self.view(pieces[0]), np.flatnonzero(same))]
        rest = np.flatnonzero(~same)
        while rest.size:
            same = (pieces[rest] == pieces[rest[0]]).all(axis=1)
            found.append((self.view(pieces[rest[0]]), rest[same]))
            rest = rest[~same]
        return found

    # ------------------------------------------------------------------------------ crowd

    @cached_property
    def crowd(self) -> Crowd:
        return Crowd(self.wiring, self.moves, self.place_rows, self.working_rows, self.port_rows)

    @cached_property
    def valves(self) -> IntArray:
        """Return the controls (rows) without memory that go by the volts across their own branch.

        A diode, a clamp, a regulated supply that stands off while its volts are high enough.
        """
        wiring = self.wiring
        across = np.array(
            [wiring.volts_row(*wiring.ends[branch]) for branch in wiring.controlled]
        ).reshape(wiring.watched.shape)
        return np.flatnonzero(~wiring.remembers & (across == wiring.watched).all(axis=1))

    @cached_property
    def wobbling_branches(self) -> IntArray:
        """Return the branch of each of the P tolerances."""
        return np.array([branch for branch, _ in self.wiring.wobbles], dtype=np.intp)

    @cached_property
    def wobble_widths(self) -> FloatArray:
        """Return how each tolerance, at its edge, moves its law: (3 terms, P, pieces)."""
        widths = law_array(wobble.half_width for _, wobble in self.wiring.wobbles)
        return np.ascontiguousarray(widths.transpose(2, 0, 1))

    @cached_property
    def corners(self) -> Corners:
        return find_corners(self.wiring, self.wobble_widths)

    @cached_property
    def working_rows(self) -> FloatArray:
        """Return the rows (2 P, n) of volts, then amps, of the branches that have a tolerance."""
        wiring, branches = self.wiring, self.wobbling_branches
        volts = [wiring.volts_row(*wiring.ends[branch]) for branch in branches]
        amps = [wiring.amps_row(int(branch)) for branch in branches]
        return np.array([*volts, *amps]).reshape(-1, wiring.size)

    def crowded(
        self,
        moved: Moved,
        pieces: IntArray,
        bend: FloatArray | None = None,
        *,
        is_bent: bool = False,
    ) -> Crowded:
        """Return which trials are plain, these solved together, and which are odd.

        `bend` (E, J), a guess at what the curved laws differ by, is improved for the plain ones;
        `is_bent` says that it is no guess.
        """
        plain: list[tuple[IntArray, Stances]] = []
        odd: list[IntArray] = []
        for slots, own in moved.by_slots() if len(moved) else ():
            few, in_pieces = moved.first(slots), pieces
            if len(own) < len(moved):
                few, in_pieces = few.take(own), pieces[own]
            state, pair, is_plain = self.crowd.pairs.of(few.move, in_pieces)
            if not is_plain.all():
                odd.append(own[~is_plain])
                own, state, pair = own[is_plain], state[is_plain], pair[is_plain]
                few = few.take(is_plain)
            if own.size:
                stances = self.crowd.stances(state, pair, few)
                if self.curved_branches.size:
                    guess = self.straight(len(own)) if bend is None else bend[own]
                    stances = self._bent_crowd(stances, few, guess, is_bent=is_bent)
                    if bend is not None:
                        bend[own] = stances.bend
                plain.append((own, stances))
        return Crowded(plain, np.concatenate(odd) if odd else np.zeros(0, dtype=np.intp))

    def _bent_crowd(
        self, stances: Stances, moved: Moved, guess: FloatArray, *, is_bent: bool
    ) -> Stances:
        """Return plain trials with their curved laws obeyed."""
        if is_bent:
            return replace(stances, bend=guess)
        ports = self.crowd.ports
        gain = stances.curve_gain(ports)
        return replace(stances, bend=self.bends.solve(moved, gain, stances.values(ports), guess))

    def watched_lines(
        self, moved: Moved, pieces: IntArray
    ) -> Iterator[tuple[IntArray, FloatArray, FloatArray, FloatArray]]:
        """Yield trials of one move with the lines of what is watched: still, slope, stiffer.

        At share u it is still + slope * u / (1 + stiffer * u), (E, K), (E, K) and (E,).
        """
        crowded = self.crowded(moved, pieces)
        for plain, stances in crowded.plain:
            yield plain, *self.crowd.watched.line(stances.pair[:, 0])
        for view, some in self.groups(pieces[crowded.odd]):
            chosen = crowded.odd[some]
            factor, move = view.factor, moved.move[chosen, 0]
            slope = view.watched.response[move] * factor.drive[move, None]
            still = np.repeat(view.watched.unmoved[None], len(chosen), axis=0)
            # A path into a loose island only shifts its volts, by as much at every severity.
            shifts = factor.shifts[move] & (moved.share[chosen, 0] > 0)
            if shifts.any():
                settled = self.solve(view, moved.take(chosen)).values(view.watched)
                still[shifts], slope[shifts] = settled[shifts], 0.0
            yield chosen, still, slope, np.where(shifts, 0.0, factor.stiffness[move] - 1.0)

    # ---------------------------------------------------------------------------- reading

    def moved(self, trials: Trials) -> Moved:
        """Return what trials move here."""
        return self.moves.moved_by(trials.suspect, trials.share, trials.rest)

    def hold(self, view: View, trials: Trials) -> Grip:
        """Return the grip of trials that share the pieces of a view."""
        return take_hold(view.factor, self.moved(trials))

    def solve(
        self,
        view: View,
        moved: Moved,
        bend: FloatArray | None = None,
        *,
        is_bent: bool = False,
    ) -> Solved:
        """Solve trials that share the pieces of a view; `bend` (E, J) is a guess, or `is_bent`."""
        bend = self.straight(len(moved)) if bend is None else bend
        solved = Solved(view, take_hold(view.factor, moved), bend)
        return solved if is_bent or not len(self.curved_branches) else self._bent(solved, moved)

    def _bent(self, guess: Solved, moved: Moved) -> Solved:
        """Return the trials with their curved laws obeyed."""
        ports = guess.view.ports
        gain = guess.curve_gain(ports)
        straight = guess.values(ports) - np.einsum("erj,ej->er", gain, guess.bend)
        return replace(guess, bend=self.bends.solve(moved, gain, straight, guess.bend))

    def straight(self, count: int) -> FloatArray:
        """Return the guess that every curved law follows its chord (E, J)."""
        return np.zeros((count, len(self.curved_branches)))

    def watched(self, moved: Moved, pieces: IntArray, bend: FloatArray) -> FloatArray:
        """Return the watched quantities (E, K) of trials in given pieces; `bend` is improved."""
        watched = np.empty((len(moved), self.control_count))
        if self.control_count:
            crowded = self.crowded(moved, pieces, bend)
            if crowded.is_of_one_kind:
                return crowded.plain[0][1].values(self.crowd.watched)
            for plain, stances in crowded.plain:
                watched[plain] = stances.values(self.crowd.watched)
            for view, some in self.groups(pieces[crowded.odd]):
                chosen = crowded.odd[some]
                solved = self.solve(view, moved.take(chosen), bend[chosen])
                watched[chosen], bend[chosen] = solved.values(view.watched), solved.bend
        return watched

    def unknowns(self, trials: Trials, pieces: IntArray) -> FloatArray:
        """Return node volts and branch amps (E, n)."""
        unknowns = np.empty((len(trials), self.wiring.size))
        everything = np.eye(self.wiring.size)
        moved = self.moved(trials)
        for view, chosen in self.groups(pieces):
            solved = self.solve(view, moved.take(chosen))
            unknowns[chosen] = solved.values(self.rows(view, everything))
        return unknowns

    def rows(self, view: View, rows: FloatArray) -> Rows:
        """Return what rows of unknowns (r, n) are in a view."""
        return Rows.of(view.factor, rows, self._curved_columns)

    def read(
        self,
        trials: Trials,
        pieces: IntArray,
        bend: FloatArray | None = None,
        *,
        is_bent: bool = False,
        share: FloatArray | None = None,
    ) -> tuple[FloatArray, BoolArray]:
        """Return what meters show at all places (E, R), and where they float.

        `bend` (E, J), a guess at what the curved laws differ by, is improved, unless it `is_bent`
        as they are already. `share` (E, R) is filled with what meters leave of the volts.
        """
        return self.read_moved(self.moved(trials), pieces, bend, is_bent=is_bent, share=share)

    def read_moved(
        self,
        moved: Moved,
        pieces: IntArray,
        bend: FloatArray | None = None,
        *,
        is_bent: bool = False,
        share: FloatArray | None = None,
    ) -> tuple[FloatArray, BoolArray]:
        """Return the same by what trials move."""
        bend = self.straight(len(moved)) if bend is None else bend
        share = np.empty((len(moved), len(self.places))) if share is None else share
        values = np.empty((len(moved), len(self.places)))
        floating = np.zeros((len(moved), len(self.places)), dtype=bool)
        if self.places:
            crowded = self.crowded(moved, pieces, bend, is_bent=is_bent)
            for plain, stances in crowded.plain:
                share[plain], floating[plain] = self.meter_share_of_crowd(stances)
                values[plain] = stances.values(self.crowd.places) * share[plain]
            for view, some in self.groups(pieces[crowded.odd]):
                chosen = crowded.odd[some]
                solved = self.solve(view, moved.take(chosen), bend[chosen], is_bent=is_bent)
                share[chosen], floating[chosen] = self.meter_share(view, solved.grip)
                values[chosen] = solved.values(view.places) * share[chosen]
                bend[chosen] = solved.bend
        return values, floating

    def meter_share(self, view: View, grip: Grip) -> tuple[FloatArray, BoolArray]:
        """Return what share of the open-circuit volts a meter shows, and where a place floats.

        The meter's input resistance and the source resistance seen from its leads divide the
        volts. Between two islands that source resistance is infinite: the meter shows 0.
        """
        along = grip.along(view.places.response)  # (E, k, R)
        ohms = view.source_ohms - (along * view.places_felt[grip.move]).sum(axis=1)
        apart = ~grip.together(view.lead_islands)
        return self._shown(ohms, apart | grip.left_free(view.places.response, REACHED))

    def meter_share_of_crowd(self, stances: Stances) -> tuple[FloatArray, BoolArray]:
        """Return the same of plain trials."""
        crowd = self.crowd
        islands = crowd.states.islands[stances.state]
        loose = islands[:, self.lead_nodes[:, 0]] != islands[:, self.lead_nodes[:, 1]]
        if stances.free is not None:
            response = crowd.places.response(stances.pair)  # (E, k, R)
            reached = np.abs(np.swapaxes(stances.free, 1, 2) @ response) > REACHED
            loose |= reached.any(axis=1)
        return self._shown(crowd.place_ohms(stances), loose)

    def _shown(self, ohms: FloatArray, loose: BoolArray) -> tuple[FloatArray, BoolArray]:
        floating = self.reads_volts & loose
        shown = np.where(self.reads_volts, 1 / (1 + np.maximum(ohms, 0.0) / self.input_ohms), 1.0)
        return np.where(floating, 0.0, shown), floating


def _check_places(network: Network, places: Sequence[Place]) -> None:
    """Refuse a place whose leads or part are not in the network."""
    nodes, parts = set(network.nodes), {part.name for part in network.parts}
    for place in places:
        if place.reads_amps:
            if place.through not in parts:
                raise BadPlace(place.key, f"there is no part {place.through} to clamp")
            continue
        for lead, node in (("red", place.red), ("black", place.black)):
            if node not in nodes:
                raise BadPlace(
                    place.key, f"the {lead} lead is on {node}, but no part is connected there"
                )
