"""`manage.py demo` as a person meets it. Common practice, no source."""

import os
import re
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError

from api.database import locks
from api.management.commands.demo import Command

REPOSITORY = Path(__file__).resolve().parents[2]


@pytest.fixture
def at_a_url(settings) -> None:
    settings.DATABASE_URL = "postgres://db.example/garage"


@pytest.mark.django_db
def test_a_database_with_people_of_its_own_gets_no_public_passwords(at_a_url) -> None:
    User.objects.create_user("a colleague")

    with pytest.raises(CommandError, match="people of its own"):
        Command().refuse_people_of_their_own()


@pytest.mark.django_db
def test_a_database_that_holds_the_demo_alone_is_served_again(at_a_url) -> None:
    User.objects.create_user("tamsin")  # of the invented shop

    Command().refuse_people_of_their_own()


def test_a_database_at_a_url_is_never_emptied(settings, monkeypatch) -> None:
    monkeypatch.setitem(settings.DATABASES["default"], "EMBEDDED_FOLDER", None)

    with pytest.raises(CommandError, match="DATABASE_URL"):
        Command().reset_database()


class Demo:
    """A running demo."""

    def __init__(self, folder: Path, *options: str) -> None:
        inherited = {k: v for k, v in os.environ.items() if not k.startswith("COPPERLOG_")}
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", "demo", *options],
            cwd=REPOSITORY,
            env={**inherited, "COPPERLOG_DATA": str(folder), "COPPERLOG_OWN_PYTHON": "1"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert self.process.stdout
        self.lines = self.process.stdout
        self.said = ""

    def wait_for(self, pattern: str) -> str:
        for line in self.lines:
            self.said += line
            if found := re.search(pattern, line):
                return found[0]
        raise AssertionError(self.said)

    def address(self) -> str:
        return self.wait_for(r"http://127\.0\.0\.1:\d+/")

    def stop(self, by: signal.Signals) -> int:
        self.process.send_signal(by)
        self.said += self.process.communicate(timeout=60)[0]
        return self.process.returncode


@pytest.mark.long
def test_the_demo_serves_its_pages_and_leaves_nothing_running(open_home) -> None:
    server_lock = open_home / "pg18" / "server.lock"
    first = Demo(open_home)
    first_address = first.address()
    second = Demo(open_home)
    second_address = second.address()
    for address in (first_address, second_address):
        with urllib.request.urlopen(f"{address}sign-in/", timeout=30) as page:
            assert page.status == 200
    first_left = first.stop(by=signal.SIGINT)
    still_served = locks.is_held(server_lock)
    second_left = second.stop(by=signal.SIGTERM)

    assert first_address != second_address
    assert "Case 1 of" in first.said
    assert "Case 1 of" not in second.said
    assert (first_left, second_left) == (0, 0)
    assert still_served
    assert not locks.is_held(server_lock)


@pytest.mark.long
def test_a_demo_that_is_stopped_while_it_loads_goes_on_where_it_was(open_home) -> None:
    cut_short = Demo(open_home)
    cut_short.wait_for("Case 3 of")
    assert cut_short.stop(by=signal.SIGTERM) == 0
    assert not locks.is_held(open_home / "pg18" / "server.lock")

    again = Demo(open_home)
    again.address()
    again.stop(by=signal.SIGTERM)

    assert "Case 1 of" not in again.said
    assert "Case 5 of" in again.said
