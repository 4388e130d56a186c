"""Older logs brought in whole: what comes in, what is refused and why, and nothing by halves.

Common practice of taking files in, no source.
"""

import json
from datetime import UTC, datetime

import pytest

from cases.errors import BadRows, LogNotReady, OwnersOnly
from cases.models import (
    Case,
    LoggedReading,
    LogState,
    OlderLog,
    TakenInCase,
    Vehicle,
    Wanted,
)
from cases.services.exchange import export_case
from cases.services.older_logs.log_file import read_log
from cases.services.older_logs.refused import refused_file
from cases.services.older_logs.taking_in import bring_in_log, go_on_with_log, take_log_away
from cases.services.searching import search_cases
from circuits.models import Revision
from tests.cases.older_logs import GOOD, OTHER, brought, counts, reasons, rows_of_file, table
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    MONDAY,
    SOUND_READINGS,
    Cast,
    logged,
    repaired,
    searched_words,
    verdict_on,
)
from tests.jobs import run_jobs


def test_a_table_of_old_cases_comes_in_with_readings_codes_and_vehicles(
    cast: Cast, fuel_pump: Revision
) -> None:
    log = brought(cast, table(GOOD, OTHER))
    pump, wipers = Case.objects.order_by("number")

    assert (log.state, counts(log)) == (LogState.TAKEN_IN, (2, 0, 0))
    assert (pump.number, wipers.number) == (1, 2)
    assert pump.opened_at == datetime(2016, 3, 21, tzinfo=UTC)
    assert (pump.revision, pump.claimed_suspect, pump.outcome) == (fuel_pump, FEED_FAULT, "fixed")
    assert (pump.author, wipers.revision, wipers.outcome) == (cast.owner, None, "open")
    assert [(line.place_key, line.text, line.value) for line in pump.readings.order_by("pk")] == [
        ("TP1", "12,35", 12.35),
        ("TP2", "6.79", 6.79),
        ("TP3", "5.49", 5.49),
        ("TP4", "0.07", 0.07),
    ]
    assert [(code.code, code.failure_type) for code in pump.codes.all()] == [
        ("P0087", ""),
        ("P0190", "11"),
    ]
    assert [(part.part, str(part.hours)) for part in pump.parts_in_vain.all()] == [
        ("fuel filter", "1.50")
    ]
    assert log.content == b""


def test_standing_and_verdict_come_from_the_record_in_the_background(
    cast: Cast, fuel_pump: Revision
) -> None:
    """A file cannot say how well a case stands; the worker judges it as it would any other."""
    brought(cast, table(GOOD))
    case = Case.objects.get()

    assert (case.earned_standing, case.verdicts.count()) == ("claimed", 0)
    run_jobs()
    by_hand = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    case.refresh_from_db()
    assert case.earned_standing == by_hand.earned_standing == "consistent"
    assert verdict_on(case).outcome == verdict_on(by_hand).outcome == "fits"


def test_what_came_in_is_found_at_once(cast: Cast, fuel_pump: Revision) -> None:
    brought(cast, table(GOOD, OTHER))
    found = search_cases(user=cast.technician, at=MONDAY, words="wipers halfway")
    wipers = Case.objects.get(vehicle__model="Ostrel")

    assert [hit.case.pk for group in found.groups for hit in group.hits] == [wipers.pk]
    assert searched_words(wipers) == {"wiper", "stop", "halfway"}


def test_what_tells_who_it_was_is_not_kept_for_search(cast: Cast) -> None:
    told = "19;;Tolvane;;TEST 042;;Odile says Mrs Smith in test-042 hears a warble;;;;;;;;"
    brought(cast, table(told))

    # The words that carry nothing are left out; so must be the owner, the customer and the plate.
    assert searched_words(Case.objects.get()) == {"say", "hear", "warble"}


@pytest.mark.parametrize(
    ("bad", "column"),
    [
        ("20;;;;;;Wipers stop;;;;;;;;", "make"),
        ("20;;Tolvane;;;;;P0087;;;;;;;", "complaint"),
        ("20;03/04/2016;Tolvane;;;;Wipers stop;;;;;;;;", "opened_at"),
        ("20;2062-01-01;Tolvane;;;;Wipers stop;;;;;;;;", "opened_at"),
        ("20;;Tolvane;;;no-such;Wipers stop;;;;;;;;", "circuit"),
        ("20;;Tolvane;;;fuel-pump;Wipers stop;;resistance:C99;;;;;;", "claim"),
        ("20;;Tolvane;;;;Wipers stop;;resistance:C40;;;;;;", "claim"),
        ("20;;Tolvane;;;fuel-pump;Wipers stop;;;;;TP99;prime;12.3;", "TP99"),
        ("20;;Tolvane;;;fuel-pump;Wipers stop;;;;;TP1;prime;twelve;", "TP1"),
        ("20;;Tolvane;;;;Wipers stop;;;;;TP1;prime;12.3;", "place"),
        ("20;;Tolvane;;;;Wipers stop;;;mended;;;;;", "outcome"),
        ("20;;Tolvane;;;;Wipers stop;P0087, P0087-1, P0087-1;;;;;;;one;two", ""),
    ],
)
def test_a_refused_line_says_where_and_why_and_the_good_ones_come_in(
    bad: str, column: str, cast: Cast, fuel_pump: Revision
) -> None:
    log = brought(cast, table(OTHER, bad))

    assert counts(log) == (1, 0, 1)
    assert (3, column) in reasons(log)
    assert all(words for line in log.refused_lines.all() for _, words, _ in line.reasons)
    assert Case.objects.get().vehicle.model == "Ostrel"


def test_one_bad_reading_keeps_its_case_out_with_all_its_lines(
    cast: Cast, fuel_pump: Revision
) -> None:
    log = brought(cast, table(GOOD.replace("6.79", "6.7.9")))
    lines = rows_of_file(refused_file(log))

    assert Case.objects.count() == LoggedReading.objects.count() == 0
    assert [line["reading"] for line in lines] == ["12,35", "6.7.9", "5.49", "0.07"]
    assert "Another line of the same case" in lines[0]["refused_because"]
    assert "6.7.9" in lines[1]["refused_because"]


def test_the_refused_file_comes_in_once_it_is_mended_and_doubles_nothing(
    cast: Cast, fuel_pump: Revision
) -> None:
    whole = table(GOOD.replace("6.79", "6.7.9"), OTHER)
    first = brought(cast, whole)
    mended = refused_file(first).replace("6.7.9", "6.79").encode()
    second = brought(cast, mended)

    assert (counts(first), counts(second)) == ((1, 0, 1), (1, 0, 0))
    assert counts(brought(cast, mended)) == (0, 1, 0)
    assert counts(brought(cast, whole)) == (0, 1, 1)
    assert Case.objects.count() == 2


def test_the_same_number_with_other_words_is_refused_and_changes_nothing(cast: Cast) -> None:
    brought(cast, table(OTHER))
    again = brought(cast, table(OTHER.replace("halfway", "at the top")))

    assert (counts(again), reasons(again)) == ((0, 0, 1), [(2, "case")])
    assert Case.objects.get().complaint == "Wipers stop halfway"


def test_two_of_one_number_further_apart_do_not_both_come_in(cast: Cast) -> None:
    log = brought(
        cast, table(OTHER, "19;;Tolvane;;;;Horn silent;;;;;;;;", OTHER.replace("Ost", "Est"))
    )

    assert (counts(log), reasons(log)) == ((2, 0, 1), [(4, "case")])


def test_lines_without_a_number_that_say_the_same_are_one_case(cast: Cast) -> None:
    line = OTHER.removeprefix("18")
    log = brought(cast, table(line, line))

    assert counts(log) == (1, 1, 0)
    assert counts(brought(cast, table(line))) == (0, 1, 0)


def test_all_or_nothing_takes_nothing_where_one_line_is_bad(cast: Cast) -> None:
    log = brought(cast, table(OTHER, "20;;;;;;Wipers stop;;;;;;;;"), Wanted.ALL)

    assert (log.state, counts(log)) == (LogState.REFUSED, (1, 0, 1))
    assert not Case.objects.exists()
    assert not Vehicle.objects.exists()
    good = brought(cast, table(OTHER), Wanted.ALL)
    assert (good.state, Case.objects.get().number) == (LogState.TAKEN_IN, 1)


def test_a_log_is_checked_first_and_then_taken_in(cast: Cast, fuel_pump: Revision) -> None:
    checked = brought(cast, table(GOOD, OTHER, "20;;;;;;Wipers stop;;;;;;;;"), Wanted.CHECK)

    assert (checked.state, counts(checked)) == (LogState.CHECKED, (2, 0, 1))
    assert not Case.objects.exists()
    assert not TakenInCase.objects.exists()
    go_on_with_log(log=checked, wanted=Wanted.GOOD, by=cast.owner)
    run_jobs()
    checked.refresh_from_db()
    assert (checked.state, counts(checked)) == (LogState.TAKEN_IN, (2, 0, 1))
    assert Case.objects.count() == 2
    with pytest.raises(LogNotReady):
        go_on_with_log(log=checked, wanted=Wanted.GOOD, by=cast.owner)


def test_json_lines_come_in_as_the_single_case_does(cast: Cast, fuel_pump: Revision) -> None:
    """A case that is exported and brought in as a line is the same case again."""
    case = repaired(
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT),
        SOUND_READINGS,
        by=cast.technician,
        what_misled="12.4 V unplugged",
    )
    document = export_case(case, by=cast.technician, at=MONDAY)
    told = {**document.as_data(), "origin": {}, "case": "A 17"}
    log = brought(cast, json.dumps(told).encode())
    again = Case.objects.get(taken_in__key="A 17")
    back = export_case(again, by=cast.technician, at=MONDAY)

    assert counts(log) == (1, 0, 0)
    assert back.model_copy(update={"origin": document.origin}) == document
    run_jobs()
    again.refresh_from_db()
    assert again.earned_standing == case.earned_standing == "verified"


def test_a_bad_line_of_json_goes_back_with_its_reason(cast: Cast) -> None:
    good = {"vehicle": {"make": "Tolvane"}, "complaint": "Horn silent"}
    bad = {"vehicle": {}, "complaint": "Horn silent", "odometer": 5}
    log = brought(cast, "\n".join((json.dumps(good), json.dumps(bad), "{no", "")).encode())
    back = [json.loads(line) for line in refused_file(log).splitlines()]

    assert counts(log) == (1, 0, 2)
    assert reasons(log) == [(2, "vehicle make"), (2, "odometer"), (3, "")]
    assert {name: back[0][name] for name in bad} == bad
    assert back[1]["as_it_was"] == "{no"
    assert all(line["refused_because"] for line in back)


def test_a_case_of_another_shop_comes_in_as_a_copy_and_ones_own_is_refused(
    cast: Cast, fuel_pump: Revision
) -> None:
    own = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    told = export_case(own, by=cast.technician, at=MONDAY).as_data()
    foreign = {**told, "origin": {"shop": "elsewhere", "number": 5}}
    log = brought(cast, "\n".join(map(json.dumps, (told, foreign))).encode())
    run_jobs()
    copy = Case.objects.get(taken_in__log=log)

    assert (counts(log), reasons(log)) == ((1, 0, 1), [(1, "origin")])
    assert {reading.borrowed for reading in copy.readings.all()} == {True}
    assert copy.earned_standing == "note"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\xff\xfe1", "UTF-8"),
        (b"make;complaint;vinn\nT;x;y\n", "Did you mean vin"),
        (b"make;complaint;customer\nT;x;y\n", "put a minus before its name"),
        (b"make\nT\n", "complaint"),
        (b"make;complaint\n", "no line below"),
        (b'make;complaint\nT;x\nT;"x\nT;y\n', "line 3"),
        (b'[{"vehicle": {}}]', "on a line of its own"),
        (b"make;complaint;make\nT;x;y\n", "twice"),
    ],
)
def test_a_file_that_cannot_be_read_at_all_is_refused_at_once(
    content: bytes, words: str, cast: Cast
) -> None:
    with pytest.raises(BadRows, match=words):
        brought(cast, content)

    assert not OlderLog.objects.exists()


def test_a_column_with_a_minus_is_left_out() -> None:
    file = read_log(b"make;-customer;complaint\nT;Smith;x\n")

    assert len(file.entries) == 1


def test_the_same_car_is_one_vehicle(cast: Cast) -> None:
    known = logged(cast, None).vehicle  # plate TEST 042
    brought(
        cast,
        table(
            "1;;Tolvane;Juniver;test 042;;Horn silent;;;;;;;;",
            "2;;Tolvane;Ostrel;AB 12;;Horn silent;;;;;;;;",
            "3;;Tolvane;Ostrel;AB 12;;Horn silent again;;;;;;;;",
        ),
    )
    vehicles = [case.vehicle for case in Case.objects.filter(taken_in__isnull=False).order_by("pk")]

    assert vehicles[0] == known
    assert vehicles[1] == vehicles[2] != known


def test_only_an_owner_brings_a_log_in(cast: Cast) -> None:
    for person in (cast.technician, cast.outsider):
        with pytest.raises(OwnersOnly):
            bring_in_log(
                shop=cast.shop,
                name="old.csv",
                content=table(OTHER),
                wanted=Wanted.GOOD,
                by=person,
                at=MONDAY,
            )
    log = brought(cast, table(OTHER), Wanted.CHECK)
    with pytest.raises(OwnersOnly):
        go_on_with_log(log=log, wanted=Wanted.GOOD, by=cast.technician)
    with pytest.raises(OwnersOnly):
        take_log_away(log=log, by=cast.outsider)
    assert not OlderLog.objects.visible_to(cast.outsider).exists()
    assert OlderLog.objects.visible_to(cast.technician).get() == log


def test_what_the_database_alone_refuses_keeps_only_its_own_case_out(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A rule that our own checks missed must not keep hundreds of other cases out."""
    monkeypatch.setattr("cases.services.older_logs.building.check_facts", lambda *_: None)
    good = {"vehicle": {"make": "Tolvane"}, "complaint": "Horn silent"}
    bad = {**good, "tries_before": 1, "hits_before": 5}
    told = [{**good, "case": str(number)} for number in range(7)]
    log = brought(cast, "\n".join(map(json.dumps, [*told, bad])).encode())

    assert (counts(log), reasons(log)) == ((7, 0, 1), [(8, "")])
    assert Case.objects.count() == 7


def test_a_log_taken_away_leaves_the_cases(cast: Cast) -> None:
    log = brought(cast, table(OTHER))
    take_log_away(log=log, by=cast.owner)

    assert not OlderLog.objects.exists()
    assert counts(brought(cast, table(OTHER))) == (0, 1, 0)
