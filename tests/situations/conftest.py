"""The cast of the situations."""

import pytest

from tests.cast import Cast, call_cast


@pytest.fixture
def cast(db: None) -> Cast:
    return call_cast()
