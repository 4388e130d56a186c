"""What others see of a case over REST, and what they may do with it: look."""

from tests.api.rest import VEHICLE, at, lines, program_of
from tests.cast import GROUND_FAULT, SOUND_READINGS


def test_a_case_that_is_not_shared_does_not_exist_for_others(outsider, case) -> None:
    assert outsider.get(at(case)).status_code == 404
    assert outsider.get("/api/cases/").data["count"] == 0


def test_a_shared_case_leaves_vin_plate_and_people_in_the_shop(technician, outsider, case) -> None:
    preview = technician.get(at(case, "share"))
    shared_ = technician.put(at(case, "share"))
    seen = outsider.get(at(case))
    text = str(seen.data) + str(outsider.get(at(case, "document")).data)

    assert preview.data["is_shared"] is False
    assert shared_.data["shared_at"] is not None
    assert seen.data["vehicle"]["make"] == "Tolvane"
    assert seen.data["readings"][1]["text"] == "6.79"
    for private in ("TEST 042", "1G4AH59H45G118341", "tarn", "Ellery", "odile"):
        assert private not in text
        assert private not in str(preview.data["seen_by_others"])
    assert {key: seen.data[key] for key in seen.data if key != "shared_at"} == {
        key: value for key, value in preview.data["seen_by_others"].items() if key != "shared_at"
    }


def test_a_share_is_taken_back(technician, outsider, case) -> None:
    technician.put(at(case, "share"))
    answer = technician.delete(at(case, "share"))
    twice = technician.delete(at(case, "share"))

    assert answer.data["shared_at"] is None
    assert outsider.get(at(case)).status_code == 404
    assert (twice.status_code, twice.data["code"]) == (409, "not_shared")


def test_others_may_read_a_shared_case_and_change_nothing(technician, outsider, case) -> None:
    technician.put(at(case, "share"))
    reading = case.readings.first()
    deeds = [
        ("put", "facts", {"vehicle": VEHICLE, "complaint": "x"}),
        ("put", "circuit", {"circuit": "fuel-pump"}),
        ("put", "claim", {"suspect": GROUND_FAULT}),
        ("delete", "claim", None),
        ("put", "repair", {"outcome": "fixed"}),
        ("put", "withdrawal", {"reason": "x"}),
        ("get", "share", None),
        ("put", "share", None),
        ("delete", "share", None),
        ("post", "readings", {"readings": lines(SOUND_READINGS)}),
        (
            "post",
            f"readings/{reading.pk}/correction",
            {"reading": {"place": "TP1", "phase": "prime", "text": "1"}, "reason": "x"},
        ),
        ("post", "verdicts", None),
    ]
    for method, deed, body in deeds:
        answer = getattr(outsider, method)(at(case, deed), body)

        assert answer.status_code == 403, (method, deed, answer.data)
        assert answer.data["code"] in ("not_your_case", "owners_only")
    for deed in ("", "readings", "verdicts", "similar", "document"):
        assert outsider.get(at(case, deed)).status_code == 200


def test_a_trainer_of_another_shop_is_an_outsider_too(cast, case) -> None:
    assert program_of(cast.trainer).get(at(case)).status_code == 404
