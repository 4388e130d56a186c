import pytest


@pytest.mark.django_db
def test_a_server_with_its_database_and_all_migrations_says_it_is_ready(client):
    answer = client.get("/readyz")

    assert (answer.status_code, answer.content) == (200, b"ready\n")
