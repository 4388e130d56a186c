"""Walk-throughs: kept whole or not at all, changed by their writer alone."""

import pytest
from django.contrib.auth.models import User

from circuits.errors import BadWalk, NotYourWalk
from circuits.services import publish_revision
from circuits.sheet import read_text, write_text
from circuits.walks import Step, remove_walk, shown_steps, steps_of, walks_of, write_walk
from tests.circuits.test_nudges import AT, PUMP

pytestmark = pytest.mark.django_db
STEPS = [
    Step(sentence="At rest all is open."),
    Step(sentence="The relay feeds the pump.", phase="prime", pin="K87"),
    Step(sentence="A poor joint.", phase="prime", suspect="resistance:C40", severity="1.1 Ohm"),
]


@pytest.fixture
def writer():
    return User.objects.create_user("brandt")


@pytest.fixture
def circuit(writer):
    return publish_revision(sheet=PUMP, note="First.", by=writer, at=AT).circuit


def written(circuit, writer, steps=STEPS, walk=None):
    return write_walk(
        circuit=circuit, title="How it is fed", steps=steps, by=writer, at=AT, walk=walk
    )


def test_steps_are_drawn_in_their_order_with_fault_and_ways(circuit, writer):
    shown = shown_steps(written(circuit, writer))

    assert shown[0].state_words == "at rest"
    assert shown[1].state_words.endswith(", ways of K87 marked")
    assert shown[2].state_words.endswith(", C40: 1.1 Ohm added resistance")
    assert shown[0].drawing.state is None
    assert "d-way-supply" in shown[1].drawing.svg
    assert "d-fault" in shown[2].drawing.svg
    assert "d-fault" not in shown[1].drawing.svg


def test_every_wrong_step_is_told_and_nothing_is_kept(circuit, writer):
    walk = written(circuit, writer)
    wrong = [
        Step(sentence=" ", phase="primo"),
        Step(sentence="x", pin="K87"),
        Step(sentence="x", phase="prime", suspect="resistance:C40", severity="1 V"),
    ]
    with pytest.raises(BadWalk) as told:
        written(circuit, writer, wrong, walk)

    assert [(number, field) for number, field, _ in told.value.problems] == [
        (1, "sentence"),
        (1, "phase"),
        (2, "phase"),
        (3, "severity"),
    ]
    assert steps_of(walk) == STEPS


def test_only_its_writer_changes_or_removes_it(circuit, writer):
    walk, other = written(circuit, writer), User.objects.create_user("lindqvist")
    with pytest.raises(NotYourWalk):
        written(circuit, other, STEPS[:1], walk)
    with pytest.raises(NotYourWalk):
        remove_walk(walk=walk, by=other)
    assert written(circuit, other).number == 2

    written(circuit, writer, STEPS[::-1], walk)
    assert steps_of(walk) == STEPS[::-1]
    remove_walk(walk=walk, by=writer)
    assert [each.number for each in walks_of(circuit)] == [2]


def test_what_a_later_revision_has_no_more_is_named(circuit, writer):
    walk = written(circuit, writer)
    renamed = read_text(write_text(PUMP).replace("K87", "K3/87"))
    publish_revision(circuit=circuit, sheet=renamed, note="Renamed.", by=writer, at=AT, base=1)
    shown = shown_steps(walk)

    assert shown[1].missing == ("connection K87",)
    assert "d-way-supply" not in shown[1].drawing.svg
