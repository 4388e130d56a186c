"""The cast, the circuit, and a browserless visitor for each of the cast."""

from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from django.test import Client

from circuits.models import Revision
from tests.cast import Cast, call_cast, publish

Visit = Callable[[User], Client]


@pytest.fixture
def cast(db: None) -> Cast:
    return call_cast()


@pytest.fixture
def fuel_pump(cast: Cast) -> Revision:
    return publish("fuel_pump.txt", by=cast.technician)


@pytest.fixture
def visit() -> Visit:
    """Return a client in which this person is signed in."""

    def signed_in(user: User) -> Client:
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return signed_in
