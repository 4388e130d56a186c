"""Which state holds at which severity: the engine's cut lines against solves point by point.

The engine says for each suspect between which severities each state holds, and reads any severity
in closed form. The judge solves the node equations anew at every point of a grid and follows the
states itself (see `severity_grid`); it knows of no lines and cuts. Both must name the same state
of every relay, rule and chatter and the same volts, but within 1e-9 of a cut.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import pytest

from circuits.engine import FaultKind, Network, Potentiometer, Suspect, suspects
from circuits.engine.equations.stage import Trials
from circuits.engine.equations.wiring import Situation
from circuits.engine.settling.chart import Chart
from circuits.engine.settling.phases import PhaseRun
from tests.circuits.reference_networks import reference_circuit
from tests.fresh import DrawsSeed, fresh_seeds, seed_of_this_code
from tests.judges import phase_grid
from tests.judges.corpus import stored_circuits
from tests.judges.drawn_circuits import draw_circuit
from tests.judges.elements import Floats
from tests.judges.plain import plain_circuit
from tests.judges.severity_grid import SeverityGrid, members_in_full

AT_CUT = 1e-9
# Parts that block or conduct turn within a billionth of a volt of their bend.
CLOSE_VOLTS = 5e-6
# Both sides of each cut, closer than any grid comes by chance.
BESIDE_A_CUT = (2e-9, 1e-8, 1e-6)

STRAIGHT_KEYS = ("C01", "C02", "C03", "C05", "C09", "C10", "C14")
POINTS_IN_THE_SUITE = 200_000
POINTS_IN_THE_LONG_RUN = 2_500_000
FRESH_CIRCUITS = 8
FRESH_SUSPECTS = 12
FRESH_POINTS = 60


@dataclass
class Compared:
    """How many points were compared, and where the two differ."""

    points: int = 0
    cuts: int = 0
    chattering: int = 0
    differences: list[str] = field(default_factory=list)


class ChartedCircuit:
    """A network with the engine's chart of every suspect, to be held against a grid."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.suspects = suspects(network)
        self.run = PhaseRun(network, (None, *self.suspects))
        seats = {Situation(phase=phase.name): () for phase in network.phases}
        chart = self.run.chart(seats)
        assert chart is not None, "a circuit with a curved law has no chart"
        self.chart: Chart = chart
        # Two opens at once have no line; ngspice judges them at single severities.
        lines = [members_in_full(suspect) < 2 for suspect in self.suspects]
        self.on_chart = np.flatnonzero(lines)
        assert {0, *(self.on_chart + 1).tolist()} == set(chart.stretches.suspect.tolist())

    def compare(self, number: int, shares: Floats, compared: Compared) -> None:
        """Hold the points of one suspect (its number counts from 0) against the chart."""
        suspect, move = self.suspects[number], number + 1
        if is_a_point(suspect):
            shares = np.ones(1)
        cuts = self.cuts(move)
        beside = [cut + side for cut in cuts for gap in BESIDE_A_CUT for side in (-gap, gap)]
        if not is_a_point(suspect):
            shares = np.concatenate([shares, [u for u in beside if 0 < u < 1]])
        compared.points += len(shares) * len(self.network.phases)
        compared.cuts += len(cuts)
        trials = Trials.of_singles(np.full(len(shares), move), shares, 1 - shares)
        stretch = self.chart.stretches.holding(trials)
        near_cut = (
            np.abs(shares[:, None] - cuts).min(axis=1, initial=1.0) < AT_CUT
            if len(cuts)
            else np.zeros(len(shares), dtype=bool)
        )
        for phase, (grid, points) in (
            SeverityGrid(self.network, suspect, shares).through_phases().items()
        ):
            situation = Situation(phase=phase)
            stage = self.run.stage(situation, ())
            pieces = self.chart.pieces[situation][stretch]
            chatters = self.chart.chatters[situation][stretch]
            compared.chattering += int(points.chatters.sum())
            names = stage.control_names()
            for column, moved in enumerate(grid.moved):
                theirs, ours = points.passed[:, column], pieces[:, names.index(moved.name)]
                wrong = (theirs != ours) & ~near_cut & ~chatters & ~points.chatters
                compared.differences += self._told(wrong, suspect, shares, phase, moved.name)
            wrong = (chatters != points.chatters) & ~near_cut
            compared.differences += self._told(wrong, suspect, shares, phase, "chatter")
            unknowns = stage.unknowns(trials, pieces)
            for column, node in enumerate(grid.nodes):
                off = np.abs(unknowns[:, stage.wiring.node(node)] - points.volts[:, column])
                with np.errstate(invalid="ignore"):
                    wrong = (off > CLOSE_VOLTS) & ~near_cut & ~points.chatters
                compared.differences += self._told(wrong, suspect, shares, phase, node, off)

    def cuts(self, move: int) -> Floats:
        own = self.chart.stretches.suspect == move
        return self.chart.stretches.low[own][1:]

    @staticmethod
    def _told(
        wrong: np.ndarray,
        suspect: Suspect,
        shares: Floats,
        phase: str,
        what: str,
        off: Floats | None = None,
    ) -> Iterator[str]:
        for point in np.flatnonzero(wrong)[:3]:
            by = f" by {off[point]:.3g} V" if off is not None else ""
            yield f"{suspect.id} at share {shares[point]!r} in '{phase}': {what} differs{by}"


def compare_circuit(
    network: Network, points_each: int, dice: np.random.Generator, *, most_suspects: int = 10_000
) -> Compared:
    compared = Compared()
    charted = ChartedCircuit(network)
    numbers = charted.on_chart
    if len(numbers) > most_suspects:
        numbers = dice.choice(numbers, most_suspects, replace=False)
    for number in numbers.tolist():
        charted.compare(number, dice.random(points_each), compared)
    return compared


def is_a_point(suspect: Suspect) -> bool:
    """Whether it is there or not, and of several moves: the engine knows it where it is there."""
    return not suspect.graded and bool(suspect.members)


def is_straight(network: Network) -> bool:
    return not any(plain_circuit(network, phase).curved for phase in network.phases)


def lines_of(key: str) -> int:
    """Return how many lines of severity a circuit has, counted in every phase."""
    network = reference_circuit(key).network
    charted = ChartedCircuit(network)
    lines = [number for number in charted.on_chart if not is_a_point(charted.suspects[number])]
    return len(lines) * len(network.phases)


ALL_LINES = sum(lines_of(key) for key in STRAIGHT_KEYS)


@pytest.mark.parametrize("key", STRAIGHT_KEYS)
def test_a_reference_circuit_has_at_every_severity_the_state_that_a_plain_solve_finds(
    key: str,
) -> None:
    points_each = math.ceil(POINTS_IN_THE_SUITE / ALL_LINES)
    compared = compare_circuit(
        reference_circuit(key).network, points_each, np.random.default_rng(seed_of_this_code())
    )

    assert compared.points >= points_each * lines_of(key)
    assert not compared.differences, "\n".join(compared.differences[:20])


def test_the_reference_circuits_have_cuts_and_severities_at_which_relays_chatter() -> None:
    """C05 by itself: its pump relay drops out and in as its feed gets worse, and may chatter."""
    compared = compare_circuit(reference_circuit("C05").network, 20, np.random.default_rng(5))

    assert compared.cuts > 100
    assert compared.chattering > 20


@pytest.mark.parametrize("seed", [23, 63])
def test_a_corner_where_two_parts_turn_at_once_is_not_taken_for_chatter(seed: int) -> None:
    """A diode blocks where a consumer lets go: for a hundred-millionth the two never rested."""
    charted = ChartedCircuit(stored_circuits()[seed].network)
    stretches = charted.chart.stretches
    width = stretches.high - stretches.low

    slivers = [
        width[chatters].min() for chatters in charted.chart.chatters.values() if chatters.any()
    ]

    assert not slivers or min(slivers) > 1e-6


def test_a_grid_that_looks_for_every_point_slowly_finds_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The judge's two ways to its pieces; the drawn circuits have wipers without ohms."""
    shares = np.array([1e-12, 0.02, 0.3, 0.7, 0.999])
    wipers = 0
    for seed in (5_000_069, 5_000_073, 5_000_129, 5_000_176):
        network = draw_circuit(seed).network
        for suspect in suspects(network):
            worn = network.part(suspect.target) if suspect.kind is FaultKind.RESISTANCE else None
            if not isinstance(worn, Potentiometer):
                continue
            wipers += 1
            quick = SeverityGrid(network, suspect, shares).through_phases()
            with monkeypatch.context() as slowed:
                slowed.setattr(phase_grid, "QUICK_ROUNDS", 0)
                slow = SeverityGrid(network, suspect, shares).through_phases()
            for phase, (_, points) in quick.items():
                assert np.array_equal(slow[phase][1].passed, points.passed)
                np.testing.assert_allclose(slow[phase][1].volts, points.volts, atol=1e-6)

    assert wipers >= 4


@fresh_seeds
def test_a_fresh_circuit_has_at_every_severity_the_state_that_a_plain_solve_finds(
    draw_seed: DrawsSeed,
) -> None:
    seed = draw_seed()
    found: list[str] = []
    points = circuits = 0

    while circuits < FRESH_CIRCUITS:
        seed += 1
        network = draw_circuit(seed).network
        if not is_straight(network):
            continue
        circuits += 1
        compared = compare_circuit(
            network, FRESH_POINTS, np.random.default_rng(seed), most_suspects=FRESH_SUSPECTS
        )
        points += compared.points
        found += [f"seed {seed}, {difference}" for difference in compared.differences]

    assert points >= FRESH_CIRCUITS * FRESH_SUSPECTS * FRESH_POINTS
    assert not found, "\n".join(found[:20])


@pytest.mark.long
@pytest.mark.parametrize("key", STRAIGHT_KEYS)
def test_a_reference_circuit_agrees_with_plain_solves_on_millions_of_points(key: str) -> None:
    points_each = math.ceil(POINTS_IN_THE_LONG_RUN / ALL_LINES)
    compared = compare_circuit(reference_circuit(key).network, points_each, np.random.default_rng())

    assert compared.points >= points_each * lines_of(key)
    assert not compared.differences, "\n".join(compared.differences[:20])


@pytest.mark.long
def test_every_stored_straight_circuit_agrees_with_plain_solves() -> None:
    found: list[str] = []
    circuits = 0

    for circuit in stored_circuits():
        if not is_straight(circuit.network):
            continue
        circuits += 1
        dice = np.random.default_rng(circuit.seed)
        compared = compare_circuit(circuit.network, 25, dice, most_suspects=40)
        found += [f"seed {circuit.seed}, {difference}" for difference in compared.differences]

    assert circuits > 100
    assert not found, "\n".join(found[:20])
