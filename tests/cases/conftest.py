"""The cast and the circuit that the tests of cases share."""

import pytest

from circuits.models import Revision
from tests.cast import Cast, call_cast, publish


@pytest.fixture
def cast(db: None) -> Cast:
    return call_cast()


@pytest.fixture
def fuel_pump(cast: Cast) -> Revision:
    return publish("fuel_pump.txt", by=cast.technician)
