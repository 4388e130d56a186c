"""How close the engine has to come to a judge, and where it does not."""

import os
from collections.abc import Iterator, Mapping

import pytest

from tests.judges import ngspice
from tests.judges.elements import Fan
from tests.judges.standing import Standing

STRAIGHT_VOLTS = 10e-6
CURVED_VOLTS = 1e-3
CURVED_FRACTION = 1e-4

#: Under CI nobody is there to install it: there the tests run, and fail without it.
needs_ngspice = pytest.mark.skipif(
    not ngspice.is_there() and os.environ.get("CI", "").lower() not in ("1", "true"),
    reason="ngspice is not installed; the stored answers judge",
)


def close_volts(expected: float, *, curved: bool) -> float:
    """Return how far a place may be off: 10 microvolts, or 1 mV and 0.01 % with curved laws."""
    if not curved:
        return STRAIGHT_VOLTS
    return max(CURVED_VOLTS, CURVED_FRACTION * abs(expected))


def differing_places(
    expected: Mapping[str, float], standing: Standing, *, curved: bool
) -> Iterator[str]:
    """Say at which places the engine is off, or hangs loose where the judge has volts."""
    for node, volts in expected.items():
        ours = standing.volts.get(node)
        if ours is None:
            yield f"{node} hangs loose for the engine, the judge reads {volts:.6f} V"
        elif not abs(ours - volts) <= close_volts(volts, curved=curved):
            yield f"{node} is at {ours:.9f} V for the engine, the judge reads {volts:.9f} V"


def differences(answer: ngspice.Answer, case: ngspice.Case, standing: Standing) -> Iterator[str]:
    """Say where the engine and ngspice differ on one case.

    A place that only a standing fan holds is anywhere below 0 V for one as for the other: that the
    engine names volts there is no difference.
    """
    # Ends of a fault's own that the engine does not know.
    expected = {node: volts for node, volts in answer.volts.items() if "behind the" not in node}
    yield from differing_places(expected, standing, curved=bool(case.circuit.curved))
    if not any(isinstance(element, Fan) for element in case.circuit.curved):
        for node in standing.volts.keys() - expected.keys():
            yield f"{node} is at {standing.volts[node]:.6f} V for the engine and hangs loose"
