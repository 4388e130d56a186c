"""A browserless visitor for each of the cast."""

from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from django.test import Client

Visit = Callable[[User], Client]


@pytest.fixture
def visit() -> Visit:
    """Return a client in which this person is signed in."""

    def signed_in(user: User) -> Client:
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return signed_in
