"""Cases of an older log are found by their readings in the commit that brings them in.

What search keeps of them must be what it keeps once they are judged: the verdict is the judge here,
and it comes by another way, through the joint test of every suspect.
"""

import json
from typing import Any

import pytest

from cases.models import Case, CaseEvidence
from cases.services.searching import search_cases
from circuits.models import Revision
from tests.cases.older_logs import GOOD, OTHER, brought, table
from tests.cast import FEED_FAULT, MONDAY, Cast, one_reading
from tests.jobs import run_jobs

READ = (("TP1", "12.35"), ("TP2", "6.79"), ("TP3", "5.49"), ("TP4", "0.07"))
KEPT = ("slots", "sizes", "readings", "roles", "role_sizes", "role_readings")


def kept_of(case: Case) -> dict[str, Any]:
    return CaseEvidence.objects.filter(case=case).values(*KEPT).get()


def line(*readings: dict[str, object], circuit: str = "fuel-pump") -> bytes:
    """Return a log of one case with readings, as a line of JSON."""
    numbered = [{"number": number, **each} for number, each in enumerate(readings, start=1)]
    told = {
        "vehicle": {"make": "Tolvane"},
        "complaint": "Cuts out",
        "circuit": {"circuit": circuit},
        "readings": numbered,
    }
    return json.dumps(told).encode()


def test_what_came_in_is_found_by_its_readings_before_it_is_judged(
    cast: Cast, fuel_pump: Revision
) -> None:
    brought(cast, table(GOOD, OTHER))
    pump = Case.objects.get(codes__code="P0087")
    readings = [one_reading(place, "prime", text) for place, text in READ]
    found = search_cases(user=cast.technician, at=MONDAY, revision=fuel_pump, readings=readings)

    assert not pump.verdicts.exists()
    assert [hit.case.pk for group in found.groups for hit in group.hits] == [pump.pk]
    assert found.groups[0].fault.suspect == FEED_FAULT
    agreeing = [
        each for each in found.hits[0].reasons if each.term == "reading" and each.points > 0
    ]
    assert len(agreeing) == len(READ)


@pytest.mark.parametrize(
    "readings",
    [
        # No supply among them: the circuit as it is drawn.
        [{"place": "TP2", "phase": "prime", "text": "6.79"}],
        # The supply of the day moves what the others should show.
        [
            {"place": "TP1", "phase": "prime", "text": "11.71"},
            {"place": "TP2", "phase": "prime", "text": "11.2"},
            {"place": "TP4", "phase": "prime", "text": "0.12"},
        ],
        # So does one that was noted beside another reading.
        [
            {"place": "TP2", "phase": "prime", "text": "11.2", "supply_volts": 11.9},
            {"place": "TP3", "phase": "prime", "text": "10.1", "supply_volts": 11.8},
        ],
        # Without the symptom and as the car in order gives it: no evidence. The least of a while.
        [
            {"place": "TP2", "phase": "prime", "text": "12.4", "symptom_present": "no"},
            {"place": "TP3", "phase": "prime", "text": "5.49", "statistic": "minimum"},
            {"place": "TP4", "phase": "prime", "text": "0.07"},
        ],
        # Not measured, over range, corrected, after the repair, in the cold.
        [
            {"place": "TP1", "phase": "prime", "text": ""},
            {"place": "TP2", "phase": "prime", "text": "OL"},
            {"place": "TP3", "phase": "prime", "text": "54.9"},
            {
                "place": "TP3",
                "phase": "prime",
                "text": "5.49",
                "corrects": 3,
                "correction_reason": "a comma slipped",
            },
            {"place": "TP4", "phase": "prime", "text": "0.07", "celsius": -10},
            {"place": "TP2", "phase": "prime", "text": "12.1", "stage": "after"},
        ],
    ],
    ids=["as drawn", "supply logged", "supply noted", "bounds and symptoms", "what is left out"],
)
def test_what_search_keeps_at_first_is_what_it_keeps_once_a_case_is_judged(
    cast: Cast, fuel_pump: Revision, readings: list[dict[str, object]]
) -> None:
    brought(cast, line(*readings))
    case = Case.objects.get()
    at_first = kept_of(case)

    assert at_first["readings"]
    assert not case.verdicts.exists()
    run_jobs()
    assert case.verdicts.exists()
    assert kept_of(case) == at_first


def test_cases_with_different_supplies_in_one_log_do_not_mix(
    cast: Cast, fuel_pump: Revision
) -> None:
    logs = [
        line(
            {"place": "TP1", "phase": "prime", "text": supply},
            {"place": "TP2", "phase": "prime", "text": "11.2"},
        )
        for supply in ("12.6", "11.6", "12.6", "13.0")
    ]
    brought(cast, b"\n".join(logs).replace(b"Cuts out", b"Cuts out often", 1))
    at_first = [kept_of(case) for case in Case.objects.order_by("pk")]

    assert len(at_first) == len(logs)
    assert len({bytes(each["sizes"]) for each in at_first}) == 3
    run_jobs()
    assert [kept_of(case) for case in Case.objects.order_by("pk")] == at_first
