"""Older logs over REST: brought in, asked after, gone on with. Common practice, no source."""

import json

import pytest

from cases.models import Case, OlderLog
from tests.api.rest import program_of
from tests.jobs import run_jobs

TABLE = "case,make,complaint\n1,Tolvane,Horn silent\n2,,Wipers stop\n"


@pytest.fixture
def owner(cast):
    return program_of(cast.owner)


def post(program, content: str, kind: str = "text/csv", query: str = ""):
    return program.generic(
        "POST", f"/api/shops/kestrel/logs/{query}", content.encode(), content_type=kind
    )


def test_a_table_is_checked_and_then_taken_in(owner, cast) -> None:
    answer = post(owner, TABLE, query="?name=old.csv")
    address = answer["Location"]

    assert answer.status_code == 202
    assert (answer.data["state"], answer.data["wanted"]) == ("waiting", "check")
    run_jobs()
    log = owner.get(address).data
    assert (log["state"], log["cases_good"], log["cases_refused"]) == ("checked", 1, 1)
    (line,) = owner.get(f"{address}refused/").data["results"]
    assert (line["line"], line["cells"]) == (3, ["2", "", "Wipers stop"])
    assert line["reasons"][0]["column"] == "make"
    assert owner.post(f"{address}wanted/", {"wanted": "good"}).status_code == 202
    assert owner.post(f"{address}wanted/", {"wanted": "good"}).status_code == 409
    run_jobs()
    assert owner.get(address).data["state"] == "taken in"
    assert Case.objects.get().complaint == "Horn silent"
    assert [row["id"] for row in owner.get("/api/shops/kestrel/logs/").data["results"]] == [
        log["id"]
    ]
    assert owner.delete(address).status_code == 204
    assert not OlderLog.objects.exists()


def test_json_lines_come_in_at_once_where_that_is_wanted(owner, cast) -> None:
    told = json.dumps({"vehicle": {"make": "Tolvane"}, "complaint": "Horn silent"})
    answer = post(owner, told, "application/x-ndjson", "?wanted=all")
    run_jobs()

    assert answer.status_code == 202
    assert Case.objects.get().complaint == "Horn silent"


def test_what_cannot_be_taken_says_why(owner, technician, outsider, cast) -> None:
    heading = post(owner, "make,complaynt\nT,x\n")
    wanted = post(owner, TABLE, query="?wanted=everything")

    assert heading.status_code == 400
    assert "Did you mean complaint?" in json.dumps(heading.json())
    assert (wanted.status_code, wanted.json()["errors"][0]["field"]) == (400, "wanted")
    assert post(owner, TABLE, "application/xml").status_code == 415
    assert post(technician, TABLE).status_code == 403
    assert post(outsider, TABLE).status_code == 404
