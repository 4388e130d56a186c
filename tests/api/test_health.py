"""The two pages that tell a watcher how the server is."""

import pytest
from django.db import OperationalError, connection

from api import health


@pytest.fixture(autouse=True)
def nothing_seen_yet(monkeypatch) -> None:
    monkeypatch.setattr(health, "_migrated", False)


def test_a_living_process_says_so_without_the_database(client) -> None:
    answer = client.get("/healthz")  # without the database fixture, any query would fail

    assert (answer.status_code, answer.content) == (200, b"alive\n")


@pytest.mark.django_db
def test_a_server_with_its_database_and_all_migrations_is_ready(client) -> None:
    answer = client.get("/readyz")

    assert (answer.status_code, answer.content) == (200, b"ready\n")


@pytest.mark.django_db
def test_a_migration_that_was_not_run_keeps_the_server_from_being_ready(client) -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'sessions'")
    answer = client.get("/readyz")

    assert (answer.status_code, answer.content) == (503, b"migrations missing\n")


@pytest.mark.django_db
def test_a_lost_database_keeps_the_server_from_being_ready(client, monkeypatch) -> None:
    def lost() -> None:
        raise OperationalError("connection refused")

    monkeypatch.setattr(connection, "cursor", lost)
    answer = client.get("/readyz")

    assert (answer.status_code, answer.content) == (503, b"no database\n")
