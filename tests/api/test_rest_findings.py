"""The inspection of a circuit over REST."""

FINDINGS = "/api/circuits/fuel-pump/findings/"
ACCEPTANCES = "/api/circuits/fuel-pump/acceptances/"
FINDING = "no-fuse:W1"


def accepted(answer):
    return {found["id"]: found["accepted"] for found in answer.data["findings"]}


def test_findings_come_gravest_first_with_their_mends(technician, fuel_pump) -> None:
    answer = technician.get(FINDINGS)
    first = answer.data["findings"][0]

    assert answer.data["schema"] == "copperlog-inspection/1"
    assert (first["id"], first["gravity"], first["accepted"]) == (FINDING, "danger", None)
    assert first["mend"].startswith("Draw a fuse of at most 30 A")


def test_a_finding_is_accepted_with_a_reason_and_opened_again(technician, fuel_pump) -> None:
    wanted = {"finding": FINDING, "reason": "in a steel tube"}
    answer = technician.post(ACCEPTANCES, wanted, format="json")

    assert answer.status_code == 201
    assert accepted(answer)[FINDING]["reason"] == "in a steel tube"
    assert accepted(answer)[FINDING]["by"] == "Tarn Ellery"
    opened = technician.delete(f"{ACCEPTANCES}?finding={FINDING}")
    assert accepted(opened)[FINDING] is None
    assert technician.delete(f"{ACCEPTANCES}?finding={FINDING}").status_code == 409


def test_what_cannot_be_accepted_is_refused_in_words(technician, fuel_pump) -> None:
    blank = technician.post(ACCEPTANCES, {"finding": FINDING, "reason": " "}, format="json")
    unknown = technician.post(
        ACCEPTANCES, {"finding": "no-fuse:W9", "reason": "why not"}, format="json"
    )

    assert blank.status_code == 400
    assert blank.data["code"] == "reason_missing"
    assert unknown.status_code == 404
    assert "finds no 'no-fuse:W9'" in unknown.data["detail"]
    assert technician.delete(ACCEPTANCES).status_code == 400


def test_a_zero_byte_names_no_finding_and_is_no_failure_of_ours(fuel_pump, technician) -> None:
    """A database of texts stores no zero byte, so it must not be asked with one."""
    answer = technician.delete("/api/circuits/fuel-pump/acceptances/?finding=%00")

    assert answer.status_code == 409
    assert answer.json()["code"] == "not_accepted"
