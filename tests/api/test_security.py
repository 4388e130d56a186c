"""What the browser is told, whom a lock-out hits, and on which addresses we serve."""

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command

from api.management.commands.runserver import is_loopback
from api.security import client_address
from api.serving import listen_on_loopback

WRONG, RIGHT = "a wrong password", "the right password"


def sources(policy: str, directive: str) -> list[str]:
    """Return what a Content-Security-Policy allows for one kind of thing (W3C CSP Level 3)."""
    directives = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    return directives[directive].split()


@pytest.mark.django_db
def test_a_page_may_run_scripts_from_this_server_alone(client) -> None:
    policy = client.get("/sign-in/").headers["Content-Security-Policy"]

    assert sources(policy, "script-src") == ["'self'"]
    assert sources(policy, "style-src") == ["'self'"]
    assert sources(policy, "default-src") == ["'self'"]
    assert sources(policy, "frame-ancestors") == ["'none'"]


@pytest.mark.django_db
def test_the_api_documentation_may_style_itself_and_still_runs_no_foreign_script(client) -> None:
    policy = client.get("/api/docs/").headers["Content-Security-Policy"]

    assert sources(policy, "style-src") == ["'self'", "'unsafe-inline'"]
    assert sources(policy, "script-src") == ["'self'"]


def sign_in(client, password: str, *, address: str) -> bool:
    client.post("/sign-in/", {"username": "mina", "password": password}, REMOTE_ADDR=address)
    signed_in = "_auth_user_id" in client.session
    client.logout()
    return signed_in


@pytest.mark.django_db
def test_ten_wrong_passwords_shut_that_name_out_from_that_address_alone(client) -> None:
    User.objects.create_user("mina", password=RIGHT)
    assert sign_in(client, RIGHT, address="192.0.2.1")

    for _ in range(10):
        assert not sign_in(client, WRONG, address="192.0.2.1")

    assert not sign_in(client, RIGHT, address="192.0.2.1")
    assert sign_in(client, RIGHT, address="192.0.2.2")


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        (0, "203.0.113.9", "192.0.2.1"),  # nobody of ours wrote that header
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "made.up, 203.0.113.9", "203.0.113.9"),
        (2, "made.up, 203.0.113.9, 10.0.0.1", "203.0.113.9"),
        (1, "", "192.0.2.1"),
        (3, "203.0.113.9", "192.0.2.1"),
    ],
)
def test_an_address_counts_only_if_our_own_proxy_wrote_it(
    rf, settings, proxies, forwarded, address
) -> None:
    settings.PROXIES = proxies
    headers = {"X-Forwarded-For": forwarded} if forwarded else {}
    request = rf.get("/", headers=headers, REMOTE_ADDR="192.0.2.1")

    assert client_address(request) == address


def test_the_next_free_port_is_taken_where_the_first_is_in_use() -> None:
    with listen_on_loopback(20_000, or_later=True) as first:
        port = first.getsockname()[1]
        with listen_on_loopback(port, or_later=True) as second:
            assert second.getsockname()[0] == "127.0.0.1"
            assert second.getsockname()[1] > port


def test_a_port_that_was_asked_for_is_never_swapped_for_another() -> None:
    with (
        listen_on_loopback(20_000, or_later=True) as first,
        pytest.raises(OSError, match="in use"),
    ):
        listen_on_loopback(first.getsockname()[1], or_later=False)


@pytest.mark.parametrize(
    ("host", "own_machine"),
    [
        ("127.0.0.1", True),
        ("127.8.0.1", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("::", False),
        ("192.0.2.1", False),
        ("shop.example", False),
    ],
)
def test_a_loopback_address_is_told_from_one_that_others_reach(host, own_machine) -> None:
    assert is_loopback(host) is own_machine


def test_the_development_server_keeps_debugging_pages_to_this_machine(settings) -> None:
    settings.DEBUG = True

    with pytest.raises(CommandError, match=r"others can reach 0\.0\.0\.0"):
        call_command("runserver", "0.0.0.0:0", "--noreload")
