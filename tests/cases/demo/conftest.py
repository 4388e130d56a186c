"""The demo, loaded once for the tests of this folder and gone again before any other test."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest
from django.contrib.auth.models import User
from django.db import transaction
from pytest_django import DjangoDbBlocker

from cases.demo import load
from cases.demo.stories import CaseStory, read_cases
from cases.models import Case

TODAY = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)


@pytest.fixture(scope="package")
def loaded_once(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    with django_db_blocker.unblock(), transaction.atomic():
        load(now=TODAY)
        yield
        transaction.set_rollback(True)


@pytest.fixture
def demo(loaded_once: None, db: None) -> None:
    """Have the demo there; what a test changes is undone after it."""


@pytest.fixture
def case_of(demo: None) -> Callable[[int], Case]:
    """Return a case by the number of its story."""
    stories = {story.story: story for story in read_cases()}

    def found(number: int) -> Case:
        return case_told_by(stories[number])

    return found


def case_told_by(story: CaseStory) -> Case:
    return Case.objects.select_related("shop", "vehicle", "revision").get(
        shop__slug=story.shop, vehicle__plate=story.vehicle.plate
    )


def person(username: str) -> User:
    return User.objects.get(username=username)
