"""What the circuit says of a case, and the log as a table, over REST; documents out and in."""

import csv
import io

from cases.models import Case, Verdict
from tests.api.rest import at
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    SOUND_READINGS,
    logged,
    repaired,
)


def test_the_history_of_verdicts(technician, case) -> None:
    asked = technician.post(at(case, "verdicts"))
    rows = technician.get(at(case, "verdicts")).data["results"]
    oldest = technician.get(at(case, f"verdicts/{rows[-1]['id']}"))

    assert asked.status_code == 201
    assert asked.data["outcome"] == "fits"
    assert asked.data["result"]["schema"] == "copperlog-verdict/2"
    assert [row["claim"] for row in rows] == [FEED_FAULT, FEED_FAULT, ""]
    assert oldest.data["result"]["claim"] == ""
    assert Verdict.objects.count() == 3


def test_a_case_without_readings_is_not_judged(technician, cast, fuel_pump) -> None:
    answer = technician.post(at(logged(cast, fuel_pump), "verdicts"))

    assert (answer.status_code, answer.data["code"]) == (409, "nothing_to_judge")


def test_the_log_goes_out_as_a_table_and_comes_back(technician, cast, case, fuel_pump) -> None:
    table = technician.get(at(case, "readings"), HTTP_ACCEPT="text/csv")
    rows = list(csv.DictReader(io.StringIO(table.content.decode())))
    other = logged(cast, fuel_pump)
    answer = technician.post(at(other, "readings"), table.content, content_type="text/csv")
    back = technician.get(at(other, "readings"), {"format": "csv"})

    assert table["Content-Type"].startswith("text/csv")
    assert [row["reading"] for row in rows] == ["12.35", "6.79", "5.49", "0.07"]
    assert answer.status_code == 201
    assert back.content == table.content


def test_a_bad_line_of_a_table_is_told_by_its_number(technician, case) -> None:
    table = "place,phase,reading\nTP1,run,14.12\nTP2,run,lots\n"
    answer = technician.post(at(case, "readings"), table, content_type="text/csv")

    assert answer.status_code == 400
    assert [error["line"] for error in answer.data["errors"]] == [3]
    assert case.readings.count() == 4


# ------------------------------------------------------------------------------------ exchange


def test_a_case_goes_out_and_comes_back_without_loss(technician, cast, fuel_pump) -> None:
    case = repaired(
        logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT),
        SOUND_READINGS,
        by=cast.technician,
    )
    document = technician.get(at(case, "document")).data
    answer = technician.post("/api/shops/kestrel/cases/", document)
    back = technician.get(f"{answer['Location']}document/").data

    assert document["schema"] == "copperlog-case/1"
    assert answer.status_code == 201
    differing = {name for name in document if back[name] != document[name]}
    assert differing == {"origin"}


def test_a_document_with_a_flaw_is_refused_whole(technician, case) -> None:
    document = technician.get(at(case, "document")).data
    document["readings"][1]["text"] = "lots"
    bad_line = technician.post("/api/shops/kestrel/cases/", document)
    bad_field = technician.post("/api/shops/kestrel/cases/", {**document, "schema": "other/9"})

    assert bad_line.status_code == 400
    assert "lots" in str(bad_line.data["errors"])
    assert [error["field"] for error in bad_field.data["errors"]] == ["schema"]
    assert Case.objects.count() == 1


def test_a_moment_far_from_greenwich_comes_in_as_utc(technician, case) -> None:
    """PostgreSQL refuses offsets of 16 hours and more; 22:27 west of UTC is the next morning."""
    document = technician.get(at(case, "document")).data
    far = technician.post(
        "/api/shops/kestrel/cases/", {**document, "opened_at": "2026-03-01T03:00:00-22:27"}
    )
    too_far = technician.post(
        "/api/shops/kestrel/cases/", {**document, "opened_at": "0001-01-01T00:00:00+01:00"}
    )

    assert far.data["opened_at"] == "2026-03-02T01:27:00Z"
    assert [error["field"] for error in too_far.data["errors"]] == ["opened_at"]


def test_a_document_comes_only_into_ones_own_shop(outsider, technician, case) -> None:
    document = technician.get(at(case, "document")).data

    assert outsider.post("/api/shops/kestrel/cases/", document).status_code == 404
