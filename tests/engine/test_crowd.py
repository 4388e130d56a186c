"""Trials of many states solved side by side, against a factorisation for each state by itself.

Both are ours and judged elsewhere; here the quick way is held to the plain one where they part: on
every suspect of circuits with relays, diodes, motors, lamps and loose ends.
"""

import numpy as np
import pytest

from circuits.engine import suspects
from circuits.engine.phases import PhaseRun, Went
from circuits.engine.stage import Stage, Trials
from circuits.engine.tolerances import sensitivities, watched_sensitivities
from circuits.engine.wiring import Situation
from tests.circuits.reference_networks import ReferenceCircuit, reference_circuit

METER_OHMS = 10e6
CLOSE = 1e-9


def went(circuit: ReferenceCircuit, share: float) -> tuple[Trials, Went]:
    listed = suspects(circuit.network)
    shares = np.full(len(listed), share)
    trials = Trials.of_singles(np.arange(len(listed)), shares, 1 - shares)
    seats = {
        Situation(phase=phase.name): [(place, METER_OHMS) for place in circuit.places]
        for phase in circuit.network.phases
    }
    return trials, PhaseRun(circuit.network, listed).go(trials, seats)


def nobody_is_plain(
    stage: Stage, trials: Trials, pieces: object, bend: object = None, *, is_bent: bool = False
) -> object:
    everything = np.arange(len(trials))
    return everything[:0], None, everything


@pytest.mark.parametrize("key", ["C03", "C05", "C07", "C14"])
@pytest.mark.parametrize("share", [0.5, 1.0])
def test_a_crowd_reads_what_each_state_reads_by_itself(
    monkeypatch: pytest.MonkeyPatch, key: str, share: float
) -> None:
    circuit = reference_circuit(key)
    trials, together = went(circuit, share)
    wobbles = {
        situation: [
            spread(stage, trials, settled.pieces, settled.bend)
            for spread in (sensitivities, watched_sensitivities)
        ]
        for situation, (stage, settled) in together.items()
    }

    monkeypatch.setattr(Stage, "crowded", nobody_is_plain)
    _, apart = went(circuit, share)

    assert together.keys() == apart.keys()
    for situation, (stage, settled) in apart.items():
        ours = together[situation][1]
        np.testing.assert_array_equal(ours.pieces, settled.pieces)
        np.testing.assert_array_equal(ours.floating, settled.floating)
        np.testing.assert_allclose(ours.low, settled.low, atol=CLOSE)
        np.testing.assert_allclose(ours.high, settled.high, atol=CLOSE)
        for spread, found in zip(
            (sensitivities, watched_sensitivities), wobbles[situation], strict=True
        ):
            expected = spread(stage, trials, settled.pieces, settled.bend)
            np.testing.assert_allclose(found, expected, atol=CLOSE)
