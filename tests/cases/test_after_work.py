"""The work after a repair: what was taken apart is put back before a case counts as verified.

That a bridge left in is the next accident, and that a fix is not proved before all is undone, is
common practice, no source.
"""

import pytest

from cases.documents.cases import AfterKind
from cases.documents.readings import NewReading
from cases.errors import BadFact, NotYourCase
from cases.models import Case, EarnedStanding
from cases.services.after_work import add_after_work, tick_after_work
from cases.services.exchange import export_case, import_case
from cases.services.readings import add_readings
from cases.services.sharing import shared_view
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    MONDAY,
    SOUND_READINGS,
    Cast,
    logged,
    one_reading,
    repaired,
    shared,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def mended(cast: Cast, fuel_pump: Revision) -> Case:
    """A case that reads as it should after the repair, with the pump once unplugged."""
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    log(cast, case, one_reading("TP2", "prime", "12.33", rig={"unplugged": ["PUMP"]}))
    return repaired(case, SOUND_READINGS, by=cast.technician)


def log(cast: Cast, case: Case, *readings: NewReading) -> None:
    add_readings(case=case, readings=readings, by=cast.technician, at=MONDAY)


def work_on(case: Case, cast: Cast) -> dict[str, str]:
    view = shared_view(case, cast.technician, at=MONDAY)
    return {line.key: line.words for line in view.after_work}


def stands(case: Case) -> str:
    return Case.objects.get(pk=case.pk).earned_standing


def tick(cast: Cast, case: Case, key: str, *, done: bool = True) -> None:
    tick_after_work(case=case, key=key, done=done, by=cast.technician, at=MONDAY)


def test_verified_waits_until_what_was_unplugged_is_ticked_off(cast: Cast, mended: Case) -> None:
    assert stands(mended) == EarnedStanding.CONSISTENT
    missing = shared_view(mended, cast.technician, at=MONDAY).standing.missing
    assert "Undo, and tick off: PUMP is plugged in again." in missing

    tick(cast, mended, "unplugged PUMP")
    assert stands(mended) == EarnedStanding.VERIFIED

    tick(cast, mended, "unplugged PUMP", done=False)
    assert stands(mended) == EarnedStanding.CONSISTENT


def test_everything_that_readings_did_is_on_the_list_once(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump)
    log(
        cast,
        case,
        one_reading("TP2", "prime", "12.3", rig={"unplugged": ["PUMP"]}),
        one_reading("TP1", "prime", "12.3", rig={"unplugged": ["PUMP"]}),
        one_reading("TP2", "prime", "11.7", rig={"bridged": [["K30", "K87"]]}),
        one_reading("bench: winding K3.coil", "bench", "90"),
    )

    assert list(work_on(case, cast)) == ["unplugged PUMP", "bridge K30 - K87", "bench"]


@pytest.mark.parametrize("kind", [kind for kind in AfterKind if kind is not AfterKind.UNDO])
def test_teaching_and_part_numbers_are_kept_and_hold_nothing_back(
    cast: Cast, mended: Case, kind: AfterKind
) -> None:
    tick(cast, mended, "unplugged PUMP")
    add_after_work(case=mended, kind=kind, words="3.12 became 3.15", by=cast.technician, at=MONDAY)

    assert "3.12 became 3.15" in work_on(Case.objects.get(pk=mended.pk), cast).values()
    assert stands(mended) == EarnedStanding.VERIFIED


def test_a_wire_that_was_pierced_holds_the_case_back_until_it_is_sealed(
    cast: Cast, mended: Case
) -> None:
    tick(cast, mended, "unplugged PUMP")
    add_after_work(
        case=mended, kind="undo", words="W3 pierced: sealed", by=cast.technician, at=MONDAY
    )
    assert stands(mended) == EarnedStanding.CONSISTENT

    tick(cast, mended, "own 1")
    assert stands(mended) == EarnedStanding.VERIFIED


@pytest.mark.parametrize(
    ("kind", "words", "field"),
    [("undo", "", "words"), ("undo", "x" * 201, "words"), ("magic", "wave", "kind")],
)
def test_a_line_that_says_nothing_is_refused_by_its_field(
    cast: Cast, mended: Case, kind: str, words: str, field: str
) -> None:
    with pytest.raises(BadFact) as refused:
        add_after_work(case=mended, kind=kind, words=words, by=cast.technician, at=MONDAY)

    assert refused.value.field == field
    assert Case.objects.get(pk=mended.pk).after_work == []


def test_only_the_shop_of_the_case_ticks_and_sees_its_work(cast: Cast, mended: Case) -> None:
    add_after_work(
        case=mended, kind="undo", words="Tarn Ellery seals W3", by=cast.technician, at=MONDAY
    )
    case = shared(mended, by=cast.technician)

    with pytest.raises(NotYourCase):
        tick_after_work(case=case, key="unplugged PUMP", done=True, by=cast.outsider, at=MONDAY)
    theirs = shared_view(case, cast.outsider, at=MONDAY)
    assert theirs.after_work == ()
    assert not any("Ellery" in words for words in theirs.standing.missing)


def test_the_work_travels_with_the_case_file(cast: Cast, mended: Case) -> None:
    tick(cast, mended, "unplugged PUMP")
    document = export_case(Case.objects.get(pk=mended.pk), by=cast.technician, at=MONDAY)
    (line,) = document.after_work

    assert (line.key, line.is_done, line.done_by) == ("unplugged PUMP", True, "tarn")
    elsewhere = document.model_copy(
        update={"origin": document.origin.model_copy(update={"shop": "", "number": None})}
    )
    case = import_case(document=elsewhere, shop=cast.shop, by=cast.technician, at=MONDAY)
    assert stands(case) == EarnedStanding.VERIFIED


def test_a_line_that_is_not_there_cannot_be_ticked(cast: Cast, mended: Case) -> None:
    with pytest.raises(BadFact, match="no line 'unplugged W9'"):
        tick(cast, mended, "unplugged W9")


def test_what_is_unplugged_once_more_has_to_be_ticked_off_once_more(
    cast: Cast, mended: Case
) -> None:
    tick(cast, mended, "unplugged PUMP")
    assert stands(mended) == EarnedStanding.VERIFIED

    again = one_reading("TP2", "prime", "12.33", stage="after", rig={"unplugged": ["PUMP"]})
    log(cast, mended, again)
    assert stands(mended) == EarnedStanding.CONSISTENT

    tick(cast, mended, "unplugged PUMP")
    assert stands(mended) == EarnedStanding.VERIFIED


def test_lines_added_by_hand_keep_keys_of_their_own(cast: Cast, mended: Case) -> None:
    mended.after_work = [{"key": "own 3", "kind": "other", "words": "kept"}]
    mended.save()
    add_after_work(case=mended, kind="other", words="new", by=cast.technician, at=MONDAY)

    assert {"own 3": "kept", "own 4": "new"}.items() <= work_on(
        Case.objects.get(pk=mended.pk), cast
    ).items()


def test_what_another_server_ticked_off_is_not_undone_here(cast: Cast, mended: Case) -> None:
    tick(cast, mended, "unplugged PUMP")
    document = export_case(Case.objects.get(pk=mended.pk), by=cast.technician, at=MONDAY)
    foreign = document.origin.model_copy(update={"shop": "elsewhere", "number": 7})
    case = import_case(
        document=document.model_copy(update={"origin": foreign}),
        shop=cast.shop,
        by=cast.technician,
        at=MONDAY,
    )

    assert case.after_work == []
