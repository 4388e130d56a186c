"""The cast, the circuit, and a program for each person of the cast."""

import pytest
from rest_framework.test import APIClient

from circuits.models import Revision
from tests.api.rest import program_of
from tests.cast import Cast, call_cast, publish


@pytest.fixture
def cast(db: None) -> Cast:
    return call_cast()


@pytest.fixture
def fuel_pump(cast: Cast) -> Revision:
    return publish("fuel_pump.txt", by=cast.technician)


@pytest.fixture
def technician(cast: Cast) -> APIClient:
    return program_of(cast.technician)


@pytest.fixture
def outsider(cast: Cast) -> APIClient:
    return program_of(cast.outsider)
