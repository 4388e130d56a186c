"""Cases out and in as documents, readings as tables, and the commands on case files."""

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cases.documents.cases import CaseDocument
from cases.documents.readings import ReadingDocument
from cases.errors import BadRows, CaseError, CircuitNotKnown
from cases.models import Case
from cases.services.exchange import export_case, import_case, read_case_document
from cases.services.readings import add_reading, correct_reading
from cases.services.record import latest_verdict
from cases.services.tables import import_readings_csv, read_readings_csv, readings_csv
from circuits.models import Circuit, Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    MONDAY,
    SOUND_READINGS,
    Cast,
    logged,
    one_reading,
    repaired,
)


@pytest.fixture
def whole(cast: Cast, fuel_pump: Revision) -> Case:
    """A case with everything in it: corrections, rigs, instrument, claim, repair."""
    case = logged(
        cast,
        fuel_pump,
        FEED_READINGS,
        claim=FEED_FAULT,
        complaint='Loses power, "always" hot;\nthen fine',
        complaint_phase="prime",
        tries_before=5,
        hits_before=5,
        parts_in_vain=({"part": "fuel filter", "hours": "1.50"},),
    )
    rig = {"unplugged": ["PUMP"], "lamp_watts": 21, "bridged": [["K30", "K87"]]}
    reading = one_reading(
        "TP2",
        "prime",
        "12,17",
        rig=rig,
        statistic="minimum",
        symptom_present="no",
        supply_volts=12.4,
        celsius=-5.5,
        instrument={"input_ohms": 1e7, "reading_fraction": 0.007, "counts": 3},
        note='in the "yard";\nrain',
    )
    row = add_reading(case=case, reading=reading, by=cast.owner, at=MONDAY + timedelta(hours=1))
    correct_reading(
        reading=row,
        correction=one_reading("TP2", "prime", "OL"),
        reason="range",
        by=cast.technician,
        at=MONDAY + timedelta(hours=2),
    )
    return repaired(case, SOUND_READINGS, by=cast.technician, what_misled="12.4 V unplugged")


def without_place(document: CaseDocument) -> CaseDocument:
    """The document without what must differ between a case and its copy: its own number."""
    return document.model_copy(update={"origin": None})


def test_a_case_goes_out_and_comes_back_without_loss(cast: Cast, whole: Case) -> None:
    document = export_case(whole, by=cast.technician, at=MONDAY)
    text = document.model_dump_json()
    again = import_case(
        document=read_case_document(text), shop=cast.shop, by=cast.technician, at=MONDAY
    )
    back = export_case(Case.objects.get(pk=again.pk), by=cast.technician, at=MONDAY)

    assert json.loads(text)["schema"] == "copperlog-case/1"
    assert without_place(back) == without_place(document)


def test_a_case_taken_in_gets_the_same_verdict(cast: Cast, whole: Case) -> None:
    document = export_case(whole, by=cast.technician, at=MONDAY)
    again = import_case(document=document, shop=cast.shop, by=cast.technician, at=MONDAY)
    first, second = latest_verdict(whole), latest_verdict(again)
    assert first is not None
    assert first.before is not None
    assert second is not None
    assert second.before is not None

    assert second.outcome == first.outcome == "fits"
    assert [finding.misfit for finding in second.before.findings] == [
        finding.misfit for finding in first.before.findings
    ]


def test_a_case_comes_with_its_circuit_to_a_server_that_lacks_it(cast: Cast, whole: Case) -> None:
    document = export_case(whole, by=cast.technician, at=MONDAY)
    assert document.circuit is not None
    text = re.sub(r"(?m)^(key:\s+)fuel-pump$", r"\1fuel-pump-two", document.circuit.text)
    moved = document.model_copy(
        update={
            "circuit": document.circuit.model_copy(
                update={"circuit": "fuel-pump-two", "digest": "", "text": text}
            )
        }
    )
    case = import_case(document=moved, shop=cast.other_shop, by=cast.outsider, at=MONDAY)

    assert case.revision is not None
    assert case.revision.circuit == Circuit.objects.get(key="fuel-pump-two")
    # A copy of another shop's case, whatever it says of itself.
    assert {reading.borrowed for reading in case.readings.all()} == {True}


def test_a_circuit_that_says_something_else_here_is_not_mixed_up(cast: Cast, whole: Case) -> None:
    document = export_case(whole, by=cast.technician, at=MONDAY)
    assert document.circuit is not None
    text = document.circuit.text.replace("12.40 V, 11 mOhm", "12.30 V, 11 mOhm")
    assert text != document.circuit.text
    other = document.model_copy(
        update={"circuit": document.circuit.model_copy(update={"digest": "", "text": text})}
    )
    before = Case.objects.count()

    with pytest.raises(BadRows, match="says something else"):
        import_case(document=other, shop=cast.shop, by=cast.technician, at=MONDAY)
    assert Case.objects.count() == before


def test_people_of_the_shop_keep_their_lines_and_strangers_names_are_not_believed(
    cast: Cast, whole: Case
) -> None:
    document = export_case(whole, by=cast.technician, at=MONDAY)
    case = import_case(document=document, shop=cast.shop, by=cast.technician, at=MONDAY)
    elsewhere = import_case(document=document, shop=cast.other_shop, by=cast.outsider, at=MONDAY)

    assert case.readings.get(text="12,17").by == cast.owner
    assert {reading.by for reading in elsewhere.readings.all()} == {cast.outsider}


def _changed(path: str, value: object) -> Callable[[dict[str, Any]], None]:
    def change(data: Any) -> None:
        *steps, last = path.split(".")
        for step in steps:
            data = data[int(step) if step.isdigit() else step]
        data[last] = value

    return change


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (_changed("schema", "copperlog-case/9"), "schema"),
        (_changed("complaint", ""), "complaint"),
        (_changed("colour", "red"), "colour"),
        (_changed("readings.0.lamp", 5), "readings 1 lamp"),
        (_changed("readings.1.rig.lamp_watts", -5), "readings 2 rig lamp_watts"),
        (_changed("repair.outcome", "perhaps"), "repair outcome"),
        (_changed("claim.severity", "much"), "claim severity"),
        (_changed("opened_at", "yesterday"), "opened_at"),
    ],
)
def test_a_document_of_the_wrong_form_says_where(
    cast: Cast, whole: Case, change: Callable[[dict[str, Any]], None], where: str
) -> None:
    data = export_case(whole, by=cast.technician, at=MONDAY).as_data()
    change(data)

    with pytest.raises(BadRows) as refused:
        read_case_document(data)
    assert [problem.column for problem in refused.value.problems] == [where]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (_changed("readings.0.place", "TP77"), "no place 'TP77'"),
        (_changed("readings.0.phase", "sleep"), "no phase 'sleep'"),
        (_changed("readings.0.text", "1,500"), "thousands mark"),
        (_changed("readings.5.corrects", 99), "line 99 does not stand above"),
        (_changed("readings.1.number", 1), "two lines have the number 1"),
        (_changed("readings.5.correction_reason", ""), "needs its reason"),
        (_changed("claim.suspect", "resistance:X"), "not a fault this circuit can have"),
        (_changed("closed_at", "2001-01-01T00:00:00Z"), "closed before it is opened"),
        (_changed("circuit", None), "Choose the circuit"),
        (_changed("circuit", {"circuit": "horn", "revision": 1}), "no circuit 'horn' revision 1"),
        (_changed("hits_before", 9), "more often than it was tried"),
    ],
)
def test_a_document_that_does_not_hold_together_is_refused_whole(
    cast: Cast, whole: Case, change: Callable[[dict[str, Any]], None], words: str
) -> None:
    data = export_case(whole, by=cast.technician, at=MONDAY).as_data()
    change(data)
    before = Case.objects.count()

    with pytest.raises(CaseError, match=words):
        import_case(
            document=read_case_document(data), shop=cast.shop, by=cast.technician, at=MONDAY
        )
    assert Case.objects.count() == before


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "line 1: this is no JSON"),
        (b'{\n "complaint": oops}', "line 2: this is no JSON"),
        (b"\xff\xfe\x00", "no text in UTF-8"),
        (b"[1, 2]", "the document"),
        (b"[" * 100_000, "nested too deeply"),
        (b" " * 30_000_001, "more than 30,000,000 characters"),
    ],
    ids=["empty", "slip", "not text", "list", "deep", "huge"],
)
def test_a_file_that_is_no_case_says_what_it_is(content: bytes, words: str) -> None:
    with pytest.raises(BadRows) as refused:
        read_case_document(content)

    assert words in str(refused.value)


# ------------------------------------------------------------------------------------ tables


def test_readings_go_out_and_come_back_as_a_table(cast: Cast, whole: Case) -> None:
    out = export_case(whole, by=cast.technician, at=MONDAY).readings
    back = [written.reading for written in read_readings_csv(readings_csv(out))]

    assert tuple(back) == out


_TEXTS = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n"), max_size=20
).map(str.strip)
_AMOUNTS = st.none() | st.floats(1e-6, 1e6)


# How long drawing takes is the machine's affair, not the table's.
@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.builds(
            dict,
            place=st.from_regex(r"\A[A-Za-z][A-Za-z0-9./+-]{0,10}\Z"),
            phase=st.sampled_from(["prime", "run"]),
            text=st.sampled_from(
                ["12.40", "12,4", "-0.96", "OL", "", "0", "4k7", "= 1+1", "−0.02"]
            ),
            unit=st.sampled_from(["", "V", "mV"]),
            note=_TEXTS,
            supply_volts=_AMOUNTS,
            celsius=st.none() | st.floats(-50, 150),
            rig=st.builds(
                dict,
                unplugged=st.lists(st.sampled_from(["PUMP", "K1.coil"]), max_size=2),
                lamp_watts=_AMOUNTS,
            ),
            at=st.none()
            | st.datetimes(
                datetime(2000, 1, 1),
                datetime(2050, 1, 1),
                timezones=st.just(UTC),
            ),
        ),
        max_size=6,
    )
)
def test_any_readings_survive_a_table(rows: list[dict[str, Any]]) -> None:
    written = [
        ReadingDocument.model_validate({**row, "number": number})
        for number, row in enumerate(rows, start=1)
    ]

    assert [line.reading for line in read_readings_csv(readings_csv(written))] == written


@pytest.mark.parametrize(
    "table",
    [
        "place,phase,reading\nTP2,prime,6.79\n",
        "place;phase;reading\r\nTP2;prime;6,79\r\n",
        "\ufeffPlace\tPhase\tReading\rTP2\tprime\t6.79\r",
        "reading,place,phase\n\n6.79 V, TP2 ,prime\n\n",
    ],
    ids=["commas", "semicolons, decimal comma", "tabs, mark, old line ends", "other order, gaps"],
)
def test_tables_of_any_make_are_read(cast: Cast, fuel_pump: Revision, table: str) -> None:
    case = logged(cast, fuel_pump)
    [row] = import_readings_csv(case=case, content=table.encode(), by=cast.technician, at=MONDAY)

    assert (row.place_key, row.value, row.by, row.at) == ("TP2", 6.79, cast.technician, MONDAY)


def test_all_that_is_wrong_in_a_table_is_told_at_once(cast: Cast, fuel_pump: Revision) -> None:
    table = (
        "place,phase,reading,lamp_watts,bridged,stage,corrects\n"
        "TP2,prime,6.79,,,,\n"
        "TP2,prime,6.79,bright,,,\n"
        "TP2,prime,6.79,,K30-K87,,\n"
        "TP2,prime,6.79,,,later,\n"
        "TP2,prime,6.79,,,,first\n"
        "TP2,prime,6,79,,,,,\n"
    )
    case = logged(cast, fuel_pump)

    with pytest.raises(BadRows) as refused:
        import_readings_csv(case=case, content=table, by=cast.technician, at=MONDAY)
    assert [(problem.line, problem.column) for problem in refused.value.problems] == [
        (3, "lamp_watts"),
        (4, "bridged"),
        (5, "stage"),
        (6, "corrects"),
        (7, ""),
    ]
    assert all(problem.mend for problem in refused.value.problems)
    assert not case.readings.exists()


def test_places_and_digits_of_a_table_are_checked_line_by_line(
    cast: Cast, fuel_pump: Revision
) -> None:
    table = "place,phase,reading\nTP2,prime,6.79\nTP77,prime,6.79\nTP2,prime,six\n"
    case = logged(cast, fuel_pump)

    with pytest.raises(BadRows) as refused:
        import_readings_csv(case=case, content=table, by=cast.technician, at=MONDAY)
    assert [problem.line for problem in refused.value.problems] == [3, 4]
    assert not case.readings.exists()


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("", "line 1, place: is missing."),
        ("place,phase\nTP2,prime\n", "line 1, reading: is missing."),
        ("place,phase,reading,lamp_wats\n", "Did you mean lamp_watts?"),
        ("place,place,phase,reading\n", "stands in the heading twice"),
        ('place,phase,reading\n"TP2,prime,6.79\n', "double quotes"),
        (b"place,phase,reading\n\xff\n", "no text in UTF-8"),
        ("place,phase,reading\n" + "TP2,prime,1\n" * 5000, "5,001 lines"),
        ("x" * 2_000_001, "more than 2,000,000 characters"),
    ],
    ids=["empty", "no reading", "typo", "twice", "quote", "bytes", "long", "huge"],
)
def test_a_table_that_is_none_says_why(table: str | bytes, words: str) -> None:
    with pytest.raises(BadRows) as refused:
        read_readings_csv(table)

    assert words in str(refused.value)


def test_a_table_needs_a_case_with_a_circuit(cast: Cast) -> None:
    with pytest.raises(CircuitNotKnown):
        import_readings_csv(
            case=logged(cast, None),
            content="place,phase,reading\nTP2,prime,1\n",
            by=cast.technician,
            at=MONDAY,
        )
