"""Cases that many tests of cases share."""

import pytest

from cases.models import Case
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    Cast,
    logged,
)


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
