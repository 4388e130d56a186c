"""Healthy vehicles that lie closer together than the parts' tolerances let a verdict see more.

The interval for the next vehicle: Hahn and Meeker, Statistical Intervals, 1991, section 4.7; how it
narrows a band is tested with the circuit's own references.
"""

import pytest

from cases.services.readings import add_reading
from cases.services.verdicts import check_case
from circuits.models import Revision
from tests.cast import MONDAY, Cast, judgement_on, logged, one_reading
from tests.measuring import keep

pytestmark = pytest.mark.django_db

#: 0.25 V too few at the pump: within what 10 % of every part may cost, beyond five like vehicles.
A_LITTLE_LOW = """
        prime
    TP1 12.34
    TP2 11.46
"""
SEEN = ("11.70", "11.72", "11.71", "11.69", "11.71")


def five_healthy_vehicles(cast: Cast, fuel_pump: Revision) -> None:
    for reading in SEEN:
        keep(fuel_pump, reading, place="TP2", by=cast.technician)


def test_like_vehicles_show_a_fault_that_the_tolerances_hide(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump, A_LITTLE_LOW)
    alone = judgement_on(case)
    five_healthy_vehicles(cast, fuel_pump)
    check_case(case=case, by=cast.technician, at=MONDAY)
    beside_others = judgement_on(case)

    assert alone.healthy.outcome == "fits"
    assert beside_others.healthy.outcome == "does not fit"
    assert beside_others.healthy.misfit > alone.healthy.misfit
    assert any("5 healthy vehicles narrow what TP2 shows" in note for note in beside_others.notes)


def test_like_vehicles_say_nothing_of_a_reading_with_another_rig(cast: Cast, fuel_pump) -> None:
    five_healthy_vehicles(cast, fuel_pump)
    case = logged(cast, fuel_pump)
    lit = one_reading("TP2", "prime", "11.46", rig={"unplugged": ["PUMP"], "lamp_watts": 21})
    add_reading(case=case, reading=lit, by=cast.technician, at=MONDAY)

    assert not any("healthy vehicles" in note for note in judgement_on(case).notes)
