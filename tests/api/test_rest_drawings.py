"""Drawings over REST: the picture of the page, in words as well; ways of pins; parts moved."""

AT = "/api/circuits/fuel-pump"


def test_a_drawing_comes_as_svg_and_in_words(technician, fuel_pump) -> None:
    told = technician.get(f"{AT}/drawing/", {"phase": "prime"})
    picture = technician.get(f"{AT}/drawing/", {"phase": "prime", "format": "svg"})

    assert told.data["svg"] == picture.content.decode()
    assert picture["Content-Type"] == "image/svg+xml; charset=utf-8"
    measures = told.data["measures"]
    assert [measures[name] for name in ("false_joins", "through_parts", "overlaps")] == [0, 0, 0]
    pump = next(line for line in told.data["parts"] if line["name"] == "PUMP")
    assert pump["healthy"]["words"] == "5.24 A from PP to PN"
    assert pump["faulty"] is None


def test_a_fault_stands_beside_healthy(technician, fuel_pump) -> None:
    asked = {"phase": "prime", "fault": "resistance:C40", "severity": "1.1 Ohm"}
    told = technician.get(f"{AT}/drawing/", asked).data
    line = next(line for line in told["connections"] if line["name"] == "PP")

    assert told["fault"] == "C40: 1.1 Ohm added resistance"
    assert line["healthy"] == {"words": "11.78 V", "band": 4}
    assert line["faulty"] == {"words": "6.86 V", "band": 2}


def test_a_fault_without_a_phase_and_a_wrong_phase_are_refused(technician, fuel_pump) -> None:
    no_phase = technician.get(f"{AT}/drawing/", {"fault": "resistance:C40"})
    no_phase_for_ways = technician.get(f"{AT}/drawing/", {"pin": "K87"})
    wrong = technician.get(f"{AT}/drawing/", {"phase": "primo"})

    assert no_phase.data["errors"][0]["field"] == "phase"
    assert no_phase_for_ways.data["errors"][0]["field"] == "phase"
    assert wrong.status_code == 400


def test_a_drawing_carries_the_ways_of_a_pin(technician, fuel_pump) -> None:
    plain = technician.get(f"{AT}/drawing/", {"phase": "prime"}).data
    marked = technician.get(f"{AT}/drawing/", {"phase": "prime", "pin": "K87"}).data
    unknown = technician.get(f"{AT}/drawing/", {"phase": "prime", "pin": "K88"})

    assert "d-way-supply" in marked["svg"]
    assert "d-way-supply" not in plain["svg"]
    assert (unknown.status_code, unknown.data["code"]) == (400, "unknown_pin")


def test_the_ways_of_a_pin(technician, fuel_pump) -> None:
    told = technician.get(f"{AT}/paths/", {"pin": "K87"}).data

    assert told["ways"][0]["supply"]["parts"] == ["K3.con", "F15", "W1"]
    assert told["ways"][1]["supply"]["blocked_by"] == ["K3.con"]
    assert {"kind": "fuse", "name": "F15", "consumers": ["PUMP"]} in told["shared"]


def test_an_unknown_pin_is_refused_with_the_nearest(technician, fuel_pump) -> None:
    refused = technician.get(f"{AT}/paths/", {"pin": "K88"})

    assert refused.status_code == 400
    assert refused.data["code"] == "unknown_pin"
    assert "'K87'" in refused.data["detail"]


def test_a_part_is_moved_listed_and_put_back(technician, fuel_pump) -> None:
    moved = technician.post(f"{AT}/nudges/", {"part": "PUMP", "right": 4}, format="json")
    listed = technician.get(f"{AT}/nudges/")
    wrong = technician.post(f"{AT}/nudges/", {"part": "PUNP"}, format="json")
    back = technician.delete(f"{AT}/nudges/")

    assert moved.data["moved"] == listed.data["moved"] == [{"part": "PUMP", "right": 4, "down": 0}]
    assert (wrong.status_code, wrong.data["code"]) == (400, "unknown_part")
    assert back.data["moved"] == []
