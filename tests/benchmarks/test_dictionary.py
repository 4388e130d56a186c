"""The fault dictionary: every entry with its band, and every suspect's curve of 64 severities."""

import numpy as np

from circuits.engine import Network, Place, sweep
from circuits.engine.faults import Fault
from tests.benchmarks import report
from tests.benchmarks.reference import drawn_suspects, entry_count, halfway_faults, reference

CURVE_POINTS = 64


def dictionary(network: Network, places: tuple[Place, ...]) -> int:
    """Work out entries with bands, then state-correct curves; return how many entries."""
    banded = sweep(network, places, halfway_faults(network))
    shares = (np.arange(CURVE_POINTS) + 0.5) / CURVE_POINTS
    curves = [
        Fault(suspect=suspect, severity=suspect.severity_at(share))
        for suspect in drawn_suspects(network)
        for share in shares.tolist()
    ]
    curved = sweep(network, places, curves)
    assert len(curved.values) == CURVE_POINTS * len(banded.values)
    return banded.values.shape[0] * banded.values.shape[1]


def test_the_dictionary_with_bands_and_curves_cold(timed) -> None:
    network, places = reference()

    found = timed(report.DICTIONARY_COLD, lambda: dictionary(network, places), rounds=2)

    assert found == entry_count(network)
