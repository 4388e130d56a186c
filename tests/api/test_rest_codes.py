"""Codes as evidence over REST: told with a case, tested in its verdict, weighed in what is next.

The codes and volts of a sensor shorted inside are those of a nodal solver apart from ours.
"""

import pytest

from circuits.models import Revision
from tests.api.rest import VEHICLE
from tests.cast import Cast, publish


@pytest.fixture
def sensor_supply(cast: Cast) -> Revision:
    return publish("sensor_supply.txt", by=cast.technician)


def new_case(**changes: object) -> dict[str, object]:
    return {
        "shop": "kestrel",
        "vehicle": VEHICLE,
        "complaint": "Engine light, no power.",
        "circuit": "sensor-supply",
        "readings": [{"place": "TP1", "phase": "on", "text": "0.466"}],
        **changes,
    }


def test_the_verdict_says_which_faults_set_each_code_and_what_all_share(
    technician, sensor_supply
) -> None:
    codes = [
        {"code": "p0642", "status": "present", "failure_type": "11", "module": "Engine module"},
        {"code": "p0192", "status": "present"},
    ]
    made = technician.post("/api/cases/", new_case(codes=codes, monitors_passed=["p0193"]))
    verdict = made.data["verdict"]
    supply, rail, passed = verdict["codes"]
    shared = {each["name"]: each for each in verdict["code_set"]["shared"]}

    assert made.status_code == 201
    assert made.data["monitors_passed"] == ["P0193"]
    assert "bypass:AC_ins" in supply["sets"]
    assert "resistance:W1" in supply["does_not_set"]
    assert supply["failure_words"] == "short to ground"
    assert "bypass:AC_ins" in supply["of_its_kind"]
    assert (rail["is_set"], passed["is_set"]) == (True, False)
    assert "ground-short:S5" in shared["S5"]["suspects"]


def test_what_is_next_weighs_the_codes(technician, sensor_supply) -> None:
    def share_of_the_wire(**told: object) -> float:
        made = technician.post("/api/cases/", new_case(**told))
        found = technician.get(f"{made['Location']}next-readings/").data["likely"]
        return sum(e["probability"] for e in found if "resistance:W1" in e["suspects"])

    plain = share_of_the_wire()
    with_code = share_of_the_wire(codes=[{"code": "P0642", "status": "present"}])

    # An open wire leaves the module's pin at 5 V and sets no supply code.
    assert plain > 0
    assert with_code < 0.1 * plain


def test_a_code_that_is_set_has_no_monitor_that_passed(technician, sensor_supply) -> None:
    refused = technician.post(
        "/api/cases/", new_case(codes=[{"code": "P0642"}], monitors_passed=["P0642"])
    )

    assert refused.status_code == 400
    assert "its monitor did not pass" in str(refused.data)
