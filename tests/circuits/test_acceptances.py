"""Findings that somebody accepted: with a reason, kept from revision to revision, never lost."""

from datetime import timedelta

import pytest

from circuits.acceptances import (
    accept_finding,
    finding_named,
    inspection_of,
    take_back_acceptance,
)
from circuits.errors import NotAccepted, ReasonMissing, UnknownFinding
from circuits.models import Acceptance
from circuits.services import import_text
from tests.cast import MONDAY, Cast
from tests.circuits.drawn import drawn_text

FUSED = "F1 fuse BP - A 10 A, cold 7.7 mOhm\nW1 wire A - L 1.5 mm2, 1 m"
UNFUSED = "W1 wire BP - L 1.5 mm2, 1 m"
THINNER = "W1 wire BP - L 1 mm2, 1 m"
TUESDAY = MONDAY + timedelta(days=1)


def text(feed):
    return drawn_text(
        f"B1 battery BP - BN 12.6 V, 11 mOhm | measured\n{feed}\nH1 lamp L - BN 21 W | base"
    )


@pytest.fixture
def revision(cast: Cast):
    return import_text(text(UNFUSED), note="first drawing", by=cast.technician, at=MONDAY)


def revise(revision, feed, cast):
    return import_text(
        text(feed), circuit=revision.circuit, note="redrawn", by=cast.owner, at=TUESDAY
    )


def ids(lines):
    return [line.finding.id for line in lines]


def accept(revision, cast, reason="sheathed to the box, as the maker draws it"):
    return accept_finding(
        circuit=revision.circuit,
        finding_id="no-fuse:W1",
        reason=reason,
        by=cast.technician,
        at=MONDAY,
    )


def test_an_accepted_finding_says_who_when_and_why(cast, revision):
    assert ids(inspection_of(revision).open) == ["no-fuse:W1"]
    accept(revision, cast)

    inspection = inspection_of(revision)
    assert inspection.open == ()
    acceptance = inspection.accepted[0].acceptance
    assert acceptance is not None
    assert acceptance.accepted_by == cast.technician
    assert acceptance.accepted_at == MONDAY
    assert acceptance.reason == "sheathed to the box, as the maker draws it"


def test_nothing_is_accepted_without_a_reason_or_where_there_is_nothing_to_accept(cast, revision):
    with pytest.raises(ReasonMissing):
        accept(revision, cast, reason="  ")
    with pytest.raises(UnknownFinding):
        accept_finding(
            circuit=revision.circuit, finding_id="no-fuse:W9", reason="x", by=cast.owner, at=MONDAY
        )
    with pytest.raises(NotAccepted):
        take_back_acceptance(
            circuit=revision.circuit, finding_id="no-fuse:W1", by=cast.owner, at=MONDAY
        )
    assert not Acceptance.objects.exists()


def test_a_new_revision_keeps_what_was_accepted_and_tells_when_it_says_something_else_now(
    cast, revision
):
    accept(revision, cast)
    newer = revise(revision, THINNER, cast)
    line = inspection_of(newer).accepted[0]

    assert "1 mm²" in line.finding.problem
    assert "1.5 mm²" in line.said_then


def test_what_was_mended_and_comes_back_is_open_again(cast, revision):
    accept(revision, cast)
    mended = revise(revision, FUSED, cast)
    assert ids(inspection_of(mended).open + inspection_of(mended).accepted) == []
    again = import_text(
        text(THINNER), circuit=revision.circuit, note="fuse gone", by=cast.owner, at=TUESDAY
    )

    assert ids(inspection_of(again).open) == ["no-fuse:W1"]
    ended = Acceptance.objects.get()
    assert (ended.ended_by, ended.ended_why) == (cast.owner, "gone in revision 2")


def test_an_acceptance_is_taken_back_or_replaced_and_never_lost(cast, revision):
    accept(revision, cast)
    accept(revision, cast, reason="measured: the cable is in a steel tube")
    replaced = inspection_of(revision).accepted[0].acceptance
    assert replaced is not None
    assert replaced.reason.startswith("measured")
    take_back_acceptance(
        circuit=revision.circuit, finding_id="no-fuse:W1", by=cast.owner, at=TUESDAY
    )

    assert ids(inspection_of(revision).open) == ["no-fuse:W1"]
    assert Acceptance.objects.count() == 2
    assert finding_named(revision, "no-fuse:W1").gravity == "danger"
