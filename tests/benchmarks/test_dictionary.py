"""The fault dictionary: every entry with its band, and every suspect's curve of 64 severities."""

import numpy as np

from circuits.engine import Network, Place, sweep
from circuits.engine.equations.stage import Trials
from circuits.engine.settling.kept import forget_charts
from circuits.engine.settling.phases import PhaseRun
from tests.benchmarks import report
from tests.benchmarks.reference import (
    drawn_suspects,
    entry_count,
    halfway_faults,
    reference,
    seats,
)

CURVE_POINTS = 64


def dictionary(network: Network, places: tuple[Place, ...]) -> int:
    """Work out entries with bands, then state-correct curves; return how many entries."""
    forget_charts()
    banded = sweep(network, places, halfway_faults(network))
    run, readers = PhaseRun(network, drawn_suspects(network)), seats(network, places)
    chart = run.chart(readers)
    assert chart is not None
    number, point = np.divmod(np.arange(len(run.suspects) * CURVE_POINTS), CURVE_POINTS)
    share = (point + 0.5) / CURVE_POINTS
    curves = run.read_charted(chart, Trials.of_singles(number, share, 1 - share), readers)
    assert all(len(shown.low) == len(share) for _, shown in curves.values())
    return banded.values.shape[0] * banded.values.shape[1]


def test_the_dictionary_with_bands_and_curves_cold(timed) -> None:
    network, places = reference()

    found = timed(report.DICTIONARY_COLD, lambda: dictionary(network, places), rounds=2)

    assert found == entry_count(network)
