"""A program for each person of the cast, and cases to ask for."""

import pytest
from rest_framework.test import APIClient

from cases.models import Case
from circuits.models import Revision
from tests.api.rest import program_of
from tests.cast import FEED_FAULT, FEED_READINGS, Cast, logged


@pytest.fixture
def technician(cast: Cast) -> APIClient:
    return program_of(cast.technician)


@pytest.fixture
def outsider(cast: Cast) -> APIClient:
    return program_of(cast.outsider)


@pytest.fixture
def case(cast: Cast, fuel_pump: Revision) -> Case:
    """The pump's feed joint with 1.1 Ohm too many, claimed and not repaired."""
    return logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)


@pytest.fixture
def blank_case(cast: Cast, fuel_pump: Revision) -> Case:
    """A case without a reading, for tests of what is refused."""
    return logged(cast, fuel_pump)
