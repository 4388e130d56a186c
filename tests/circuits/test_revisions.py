"""Revisions side by side: what differs, and what two people who saved at once each changed.

The sentences are our own; that a merge takes what one side alone changed and leaves the rest to a
person is common practice, no source.
"""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.contrib.auth.models import User

from circuits.errors import RevisionMovedOn, UnknownRevision
from circuits.services import (
    compare_revisions,
    latest_revision,
    publish_revision,
    revision_saying,
    sheet_of,
)
from circuits.sheet import Sheet, differences, merge, read_text, write_text
from circuits.stored import digest_of

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
PUMP_TEXT = (LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8")
PUMP = read_text(PUMP_TEXT)

LONGER = ("K87 - INa    1.5 mm2, 1.6 m", "K87 - INa    1.5 mm2, 1.8 m [measured]")
SHORTER = ("K87 - INa    1.5 mm2, 1.6 m", "K87 - INa    1.5 mm2, 1.2 m")
WEAKER_IN_CRANK = ("crank: 10.75 V", "crank: 10.2 V")
CODE_WORDS = ("P0627: fuel pump control circuit", "P0627: pump control circuit, electrical")
LAMP_ADDED = ("PUMP     motor", "LAMP lamp PP - PN 21 W  | fitted later\nPUMP     motor")
INERTIA_GONE = (
    "INERT    switch     INa - INb    15 mOhm ",
    "INERT    wire     INa - INb    1.5 mm2, 0.1 m ",
)
REMARK = ("# opens in a crash", "# opens in a crash, reset by its button")


def changed(*changes: tuple[str, str], text: str = PUMP_TEXT) -> Sheet:
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return read_text(text)


def words(old: Sheet, new: Sheet) -> list[str]:
    return [difference.words for difference in differences(old, new)]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (LONGER, "W2: 1.6 m became 1.8 m [measured]"),
        (WEAKER_IN_CRANK, "SUP: 10.75 V became 10.2 V in crank"),
        (LAMP_ADDED, "LAMP: added: lamp PP - PN 21 W  | fitted later"),
        (REMARK, "INERT: remark opens in a crash became opens in a crash, reset by its button"),
        (("volts: 12 V", "volts: 24 V"), "vehicle: volts 12 V became 24 V"),
        (("after: open", "after, run: open"), "DRV: 500 mOhm became open in run"),
        (("outside: rail pressure; ", "outside: "), "vehicle: outside rail pressure; "),
    ],
    ids=["value", "phase", "added", "remark", "vehicle", "state", "outside"],
)
def test_a_change_is_said_in_words_with_its_phases(change, said) -> None:
    found = words(PUMP, changed(change))

    assert len(found) == 1, found
    assert found[0].startswith(said)


def test_what_was_added_is_taken_out_the_other_way_round() -> None:
    assert words(changed(LAMP_ADDED), PUMP) == [
        "LAMP: taken out: lamp PP - PN 21 W  | fitted later"
    ]


def test_another_kind_of_part_under_the_same_name_is_said_with_its_values() -> None:
    assert words(PUMP, changed(INERTIA_GONE)) == [
        "INERT: kind switch became wire",
        "INERT: 15 mOhm became 1.5 mm2, 0.1 m",
    ]


def test_the_same_thing_written_another_way_is_no_other_value() -> None:
    otherwise = changed(("500 mOhm; after: open", "prime, crank, run: 500 mOhm; after: open"))

    assert words(PUMP, otherwise) == ["DRV: written another way; it means the same"]


def test_equal_sheets_differ_in_nothing_and_other_sheets_in_something() -> None:
    """Whatever the digest sees the comparison sees."""
    assert words(PUMP, read_text(write_text(PUMP))) == []
    moved = PUMP.model_copy(update={"phases": (*PUMP.phases[1:], PUMP.phases[0])})

    assert words(PUMP, moved) == [
        "phases: order prime, after, crank, run became after, crank, run, prime"
    ]


def test_what_each_changed_alone_is_put_together() -> None:
    theirs, mine = changed(LONGER, CODE_WORDS), changed(WEAKER_IN_CRANK, LAMP_ADDED)
    both = merge(base=PUMP, theirs=theirs, mine=mine)

    assert both.clashes == ()
    assert both.sheet == changed(LONGER, CODE_WORDS, WEAKER_IN_CRANK, LAMP_ADDED)


def test_what_both_changed_alike_is_taken_once_and_otherwise_it_clashes() -> None:
    alike = merge(base=PUMP, theirs=changed(LONGER), mine=changed(LONGER))
    apart = merge(base=PUMP, theirs=changed(LONGER), mine=changed(SHORTER, CODE_WORDS))

    assert alike.clashes == ()
    (clash,) = apart.clashes
    assert (clash.section, clash.name) == ("parts", "W2")
    assert ["1.6 m" in clash.base, "1.8 m" in clash.theirs, "1.2 m" in clash.mine] == [True] * 3
    assert apart.sheet == changed(SHORTER, CODE_WORDS)


def test_words_and_values_of_one_part_do_not_clash() -> None:
    both = merge(
        base=PUMP,
        theirs=changed(REMARK),
        mine=changed(("INa - INb    15 mOhm", "INa - INb    18 mOhm")),
    )

    assert both.clashes == ()
    part = both.sheet.part("INERT")
    assert (part.settings[0].values[0].text, part.remark) == (
        "18 mOhm",
        "opens in a crash, reset by its button",
    )


def test_a_part_taken_out_by_one_and_changed_by_the_other_stays_and_is_said() -> None:
    with_lamp = changed(LAMP_ADDED)
    brighter = changed((*LAMP_ADDED[:1], LAMP_ADDED[1].replace("21 W", "10 W")))
    for theirs, mine in ((PUMP, brighter), (brighter, PUMP)):
        both = merge(base=with_lamp, theirs=theirs, mine=mine)

        assert [clash.name for clash in both.clashes] == ["LAMP"]
        assert both.sheet.part("LAMP").settings[0].values[0].text == "10 W"


def test_a_form_of_the_sheet_that_can_say_more_leaves_the_digest_of_older_sheets() -> None:
    class NewerSheet(Sheet):
        drawn_with: str = ""

    newer = NewerSheet.model_validate(PUMP.model_dump(by_alias=True))

    assert digest_of(newer) == digest_of(PUMP)
    assert digest_of(newer.model_copy(update={"drawn_with": "pen"})) != digest_of(PUMP)


def test_a_revision_with_a_digest_of_an_older_form_is_found_by_what_it_says(
    writers, monkeypatch
) -> None:
    with monkeypatch.context() as older:
        older.setattr("circuits.services.digest_of", lambda sheet: "0" * 64)
        revision = publish_revision(sheet=PUMP, note="first", by=writers[0], at=AT)

    assert revision_saying(PUMP) == revision
    assert revision_saying(changed(LONGER)) is None


@pytest.fixture
def writers(db):
    return User.objects.create_user("brandt"), User.objects.create_user("odda")


def test_the_second_to_save_sees_the_difference_and_overwrites_nothing(writers) -> None:
    first_writer, second_writer = writers
    begun = publish_revision(sheet=PUMP, note="First drawing.", by=first_writer, at=AT)
    theirs = publish_revision(
        circuit=begun.circuit, sheet=changed(LONGER), note="W2", by=first_writer, at=AT, base=1
    )
    mine = {
        "circuit": begun.circuit,
        "sheet": changed(SHORTER, CODE_WORDS),
        "note": "Words, and W2",
        "by": second_writer,
        "at": AT,
    }
    with pytest.raises(RevisionMovedOn, match="published revision 2") as told:
        publish_revision(**mine, base=1)

    assert latest_revision(begun.circuit) == theirs
    assert [each.words for each in told.value.theirs] == ["W2: 1.6 m became 1.8 m [measured]"]
    assert [each.name for each in told.value.mine] == ["W2", "P0627"]
    assert [clash.name for clash in told.value.merged.clashes] == ["W2"]
    last = publish_revision(**{**mine, "sheet": told.value.merged.sheet}, base=2)
    assert [each.name for each in compare_revisions(theirs, last)] == ["W2", "P0627"]
    assert sheet_of(theirs) == changed(LONGER)


def test_a_sheet_from_elsewhere_is_shown_against_the_newest_first(writers) -> None:
    begun = publish_revision(sheet=PUMP, note="First drawing.", by=writers[0], at=AT)
    with pytest.raises(RevisionMovedOn, match="already, at revision 1") as told:
        publish_revision(
            circuit=begun.circuit, sheet=changed(LONGER), note="W2", by=writers[1], at=AT, base=0
        )

    assert told.value.theirs == ()
    assert told.value.merged.sheet == changed(LONGER)
    with pytest.raises(UnknownRevision, match="no revision 7"):
        publish_revision(
            circuit=begun.circuit, sheet=changed(LONGER), note="W2", by=writers[1], at=AT, base=7
        )
