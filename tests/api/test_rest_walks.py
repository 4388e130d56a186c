"""Walk-throughs over REST: written whole, read back, refused by step and field."""

AT = "/api/circuits/fuel-pump/walks/"
STEP = {"sentence": "The relay feeds the pump.", "phase": "prime", "pin": "K87"}


def test_a_walk_is_written_read_refused_and_taken_away(technician, outsider, fuel_pump) -> None:
    made = technician.post(AT, {"title": "Feed", "steps": [STEP]}, format="json")
    listed = technician.get(AT).data["walks"]
    wrong = technician.put(
        f"{AT}1/", {"title": "Feed", "steps": [STEP, {**STEP, "pin": "K88"}]}, format="json"
    )
    others = outsider.delete(f"{AT}1/")

    assert made.status_code == 201
    assert made["Location"].endswith(f"{AT}1/")
    assert listed == [made.data]
    assert listed[0]["steps"] == [{**STEP, "suspect": "", "severity": ""}]
    assert (wrong.status_code, wrong.data["errors"][0]["field"]) == (400, "steps.1.pin")
    assert (others.status_code, others.data["code"]) == (403, "not_your_walk")
    assert technician.delete(f"{AT}1/").status_code == 204
    assert technician.get(f"{AT}1/").status_code == 404
