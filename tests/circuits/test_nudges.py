"""Parts moved in the drawing stay moved, and are no part of a revision."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.contrib.auth.models import User

from circuits.errors import TooFar, UnknownPart
from circuits.models import FARTHEST
from circuits.nudges import nudge_part, nudges_of, put_all_back
from circuits.services import export_text, publish_revision
from circuits.sheet import read_text, write_text

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
PUMP = read_text((LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8"))

pytestmark = pytest.mark.django_db


@pytest.fixture
def writer():
    return User.objects.create_user("brandt")


@pytest.fixture
def revision(writer):
    return publish_revision(sheet=PUMP, note="First drawing.", by=writer, at=AT)


def moved(revision, writer, part, right=0, down=0):
    return nudge_part(circuit=revision.circuit, part=part, right=right, down=down, by=writer, at=AT)


def test_moves_add_up_and_a_part_back_home_is_forgotten(revision, writer):
    assert moved(revision, writer, "PUMP", 3, 1) == {"PUMP": (3, 1)}
    assert moved(revision, writer, "PUMP", -1) == {"PUMP": (2, 1)}
    assert moved(revision, writer, "PUMP", -2, -1) == {}


def test_a_later_revision_keeps_them_and_the_text_form_does_not_know_them(revision, writer):
    moved(revision, writer, "PUMP", 3)
    longer = read_text(write_text(PUMP).replace("1.5 mm2, 1.6 m", "1.5 mm2, 1.8 m"))
    later = publish_revision(
        circuit=revision.circuit, sheet=longer, note="Longer wire.", by=writer, at=AT, base=1
    )

    assert nudges_of(later.circuit) == {"PUMP": (3, 0)}
    assert export_text(revision) == write_text(PUMP)


def test_a_part_that_is_not_there_is_refused_with_the_nearest(revision, writer):
    with pytest.raises(UnknownPart, match="Did you mean 'PUMP'"):
        moved(revision, writer, "PUNP", 1)
    assert nudges_of(revision.circuit) == {}


def test_no_part_leaves_the_paper(revision, writer):
    moved(revision, writer, "PUMP", FARTHEST)
    with pytest.raises(TooFar):
        moved(revision, writer, "PUMP", 1)

    assert nudges_of(revision.circuit) == {"PUMP": (FARTHEST, 0)}


def test_all_go_back_at_once(revision, writer):
    moved(revision, writer, "PUMP", 3)
    moved(revision, writer, "F15", 0, 1)

    assert put_all_back(circuit=revision.circuit, by=writer) == 2
    assert nudges_of(revision.circuit) == {}
