"""The cast and the circuit that the tests of cases share."""

import pytest

from cases.models import Case
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    Cast,
    call_cast,
    logged,
    publish,
)


@pytest.fixture
def cast(db: None) -> Cast:
    return call_cast()


@pytest.fixture
def fuel_pump(cast: Cast) -> Revision:
    return publish("fuel_pump.txt", by=cast.technician)


@pytest.fixture
def twins(cast: Cast, fuel_pump: Revision) -> tuple[Case, Case]:
    """Two faults that put the same volts on the pump."""
    feed = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT, codes=())
    ground = logged(
        cast,
        fuel_pump,
        GROUND_READINGS,
        claim=GROUND_FAULT,
        codes=(),
        complaint="Cuts out when I corner hard.",
    )
    return feed, ground
