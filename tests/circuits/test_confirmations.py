"""A circuit confirmed on a vehicle, and pins ticked there. Common practice, no source."""

import pytest

from circuits.errors import UnconfirmedVehicle, UnknownPin
from circuits.on_vehicles.confirmations import (
    confirm_on_vehicle,
    confirmations_of,
    pin_lines,
    take_back_ticks,
    tick_pins,
    ticks_of,
)
from tests.cast import MONDAY
from tests.redrawn import COIL_WIRE, LATER, redrawn

#: The inertia switch hangs between two other pins than was drawn first.
SWITCH_MOVED = ("INERT    switch     INa - INb", "INERT    switch     C40a - INb")


def test_a_confirmation_names_the_kind_of_vehicle_and_who_saw_it(cast, fuel_pump) -> None:
    confirm_on_vehicle(
        revision=fuel_pump,
        make="Tolvane",
        model="Juniver",
        year=2016,
        note="all pins of C40",
        by=cast.technician,
        at=MONDAY,
    )
    (found,) = confirmations_of(fuel_pump.circuit)

    assert (found.described, found.confirmed_by) == ("Tolvane Juniver 2016", cast.technician)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"make": " "}, "make"),
        ({"year": 16}, "year"),
        ({"note": "seen on 1G4AH59H45G118341"}, "note"),
    ],
)
def test_a_confirmation_holds_no_vin_and_no_nonsense(cast, fuel_pump, wrong, field) -> None:
    words = {"make": "Tolvane", "model": "Juniver", **wrong}
    with pytest.raises(UnconfirmedVehicle) as told:
        confirm_on_vehicle(revision=fuel_pump, by=cast.technician, at=MONDAY, **words)

    assert told.value.field == field
    assert confirmations_of(fuel_pump.circuit) == []


def test_ticks_say_who_and_when_and_each_takes_back_their_own(cast, fuel_pump) -> None:
    tick_pins(revision=fuel_pump, pins=["PP", "PN", "PP"], by=cast.technician, at=MONDAY)
    tick_pins(revision=fuel_pump, pins=["PP"], by=cast.owner, at=LATER)
    tick_pins(revision=fuel_pump, pins=["PP"], by=cast.technician, at=LATER)
    take_back_ticks(revision=fuel_pump, pins=["PP", "PN"], by=cast.technician)
    take_back_ticks(revision=fuel_pump, pins=["PP"], by=cast.outsider)

    found = ticks_of(fuel_pump)
    assert list(found) == ["PP"]
    assert [(tick.checked_by, tick.checked_at) for tick in found["PP"].current] == [
        (cast.owner, LATER)
    ]
    with pytest.raises(UnknownPin, match="PQ"):
        tick_pins(revision=fuel_pump, pins=["PP", "PQ"], by=cast.owner, at=LATER)


def test_a_tick_holds_until_something_is_redrawn_at_its_pin(cast, fuel_pump) -> None:
    """Another length of wire leaves the pin as it was; another part at it does not."""
    tick_pins(revision=fuel_pump, pins=["INa", "PP"], by=cast.technician, at=MONDAY)
    values = redrawn(fuel_pump, COIL_WIRE, by=cast.owner)
    moved = redrawn(fuel_pump, SWITCH_MOVED, by=cast.owner)

    assert [bool(ticks_of(values)[pin].current) for pin in ("INa", "PP")] == [True, True]
    found = ticks_of(moved)
    assert (found["INa"].current, len(found["INa"].outdated)) == ((), 1)
    assert found["PP"].current
    mine = {line.connection.node for line in pin_lines(moved, cast.technician) if line.is_mine}
    assert mine == {"PP"}
