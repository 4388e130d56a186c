"""What holds for every test, and the people and the circuit that many share."""

import math
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from api.database import locks
from cases.judging import questions
from circuits.models import Revision
from tests.cast import Cast, call_cast, publish

BROWSER_TESTS = Path(__file__).parent / "pages" / "browser"


def pytest_configure() -> None:
    """Keep tests apart from the data of a person, and quick where speed costs no truth."""
    database = settings.DATABASES["default"]
    if "EMBEDDED_FOLDER" in database:
        database["EMBEDDED_FOLDER"] = settings.DATA_FOLDER / "tests"
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    # What a test finds must not hang on how fast the machine is.
    questions.MOST_SLIP_SECONDS = math.inf


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave the browser tests out unless they are asked for: they need a run of their own."""
    if collection_path != BROWSER_TESTS:
        return None
    asked_for = [Path(argument).resolve() for argument in config.args]
    return None if any(path.is_relative_to(BROWSER_TESTS) for path in asked_for) else True


@pytest.fixture
def open_home() -> Iterator[Path]:
    """A folder that every user can enter; pytest's own are closed to others.

    No database server may be left in it when the test ends.
    """
    home = Path(tempfile.mkdtemp(prefix="cl-", dir="/tmp"))
    home.chmod(0o755)
    yield home
    for lock in home.rglob("server.lock"):
        assert not locks.is_held(lock), f"a server of {lock.parent} was left behind"
    shutil.rmtree(home)


@pytest.fixture
def cast(db: None) -> Cast:
    return call_cast()


@pytest.fixture
def fuel_pump(cast: Cast) -> Revision:
    return publish("fuel_pump.txt", by=cast.technician)
