"""Trials of many states solved side by side, against a factorisation for each state by itself.

Both are ours and judged elsewhere; here the quick way is held to the plain one where they part: on
every suspect of circuits with relays, diodes, motors, lamps and loose ends.
"""

from collections.abc import Callable

import numpy as np
import pytest

from circuits.engine import suspects
from circuits.engine.equations.moves import BoolArray, Moved
from circuits.engine.equations.stage import Crowded, Stage, Trials
from circuits.engine.equations.wiring import Situation
from circuits.engine.settling.phases import PhaseRun, Went
from circuits.engine.settling.settle import Settled
from circuits.engine.settling.tolerances import sensitivities, watched_sensitivities
from tests.circuits.reference_networks import ReferenceCircuit, reference_circuit

METER_OHMS = 10e6
CLOSE = 1e-9
PAIRS = 300
AT_THRESHOLD = 1e-6


def singles(circuit: ReferenceCircuit, share: float) -> Trials:
    listed = suspects(circuit.network)
    shares = np.full(len(listed), share)
    return Trials.of_singles(np.arange(len(listed)), shares, 1 - shares)


def pairs(circuit: ReferenceCircuit, share: float) -> Trials:
    """Two faults at once, one of them gone far enough, the other at any point of its line."""
    dice = np.random.default_rng(5)
    listed = suspects(circuit.network)
    chosen = np.array([dice.choice(len(listed), 2, replace=False) for _ in range(PAIRS)])
    shares = np.stack([np.full(PAIRS, share), dice.uniform(0, 1, PAIRS)], axis=1)
    return Trials(chosen, shares, 1 - shares)


def went(circuit: ReferenceCircuit, trials: Trials) -> Went:
    seats = {
        Situation(phase=phase.name): [(place, METER_OHMS) for place in circuit.places]
        for phase in circuit.network.phases
    }
    return PhaseRun(circuit.network, suspects(circuit.network)).go(trials, seats)


def stands_at_a_threshold(stage: Stage, trials: Trials, settled: Settled) -> BoolArray:
    """Where rounding says on which side a control is: two opens that leave a battery no amps."""
    watched = stage.watched(stage.moved(trials), settled.pieces, settled.bend.copy())
    near = np.abs(watched[:, :, None] - stage.wiring.rising) < AT_THRESHOLD
    return np.asarray(near.any(axis=(1, 2)))


def nobody_is_plain(
    stage: Stage, moved: Moved, pieces: object, bend: object = None, *, is_bent: bool = False
) -> Crowded:
    return Crowded([], np.arange(len(moved)))


@pytest.mark.parametrize("key", ["C03", "C05", "C07", "C14"])
@pytest.mark.parametrize("share", [0.5, 1.0])
@pytest.mark.parametrize("at_once", [singles, pairs])
def test_a_crowd_reads_what_each_state_reads_by_itself(
    monkeypatch: pytest.MonkeyPatch,
    at_once: Callable[[ReferenceCircuit, float], Trials],
    key: str,
    share: float,
) -> None:
    circuit = reference_circuit(key)
    trials = at_once(circuit, share)
    together = went(circuit, trials)
    wobbles = {
        situation: [
            spread(stage, trials, settled) for spread in (sensitivities, watched_sensitivities)
        ]
        for situation, (stage, settled) in together.items()
    }

    monkeypatch.setattr(Stage, "crowded", nobody_is_plain)
    apart = went(circuit, trials)

    assert together.keys() == apart.keys()
    for situation, (stage, settled) in apart.items():
        ours = together[situation][1]
        differs = (ours.pieces != settled.pieces).any(axis=1)
        assert differs.mean() < 0.01
        assert stands_at_a_threshold(stage, trials, settled)[differs].all()
        same = ~differs
        np.testing.assert_array_equal(ours.floating[same], settled.floating[same])
        np.testing.assert_allclose(ours.low[same], settled.low[same], atol=CLOSE)
        np.testing.assert_allclose(ours.high[same], settled.high[same], atol=CLOSE)
        for spread, found in zip(
            (sensitivities, watched_sensitivities), wobbles[situation], strict=True
        ):
            expected = spread(stage, trials, settled)
            np.testing.assert_allclose(found[same], expected[same], atol=CLOSE)
