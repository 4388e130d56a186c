"""What the engine foretells of a circuit, kept by the worker and read back by a search."""

import numpy as np
import pytest

from cases.circuit import circuit_of
from cases.search.profiles import keep_profile, profile_for, profile_of
from cases.services.searching import search_cases
from tests.cast import MONDAY, Cast, publish
from tests.readings import readings


def test_a_profile_that_was_kept_is_the_one_that_was_computed(cast: Cast) -> None:
    """In smart charging two phases differ in the volts commanded alone: a place has one slot."""
    revision = publish("smart_charging.txt", by=cast.technician)
    circuit = circuit_of(revision)
    computed = profile_of(circuit)
    keep_profile(revision, at=MONDAY)
    kept = profile_for(circuit)

    assert kept is not None
    assert len(computed.slots) < len(circuit.phases) * (len(circuit.places) - 1)
    assert (kept.faults, dict(kept.slots)) == (computed.faults, dict(computed.slots))
    assert np.array_equal(kept.chances, computed.chances)
    assert kept.chances.sum(axis=-1) == pytest.approx(1.0, abs=1e-5)
    found = search_cases(
        user=cast.technician, at=MONDAY, revision=revision, readings=readings("high\nTP3 0.40")
    )

    assert "resistance:W1" in {fault.suspect for fault in found.predicted}
