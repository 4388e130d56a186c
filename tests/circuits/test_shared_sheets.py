"""Several sheets of one vehicle: what they share, where they end, and a fault that crosses over.

The horn draws its current through the battery's ground lead, as the pump does: with that lead open
neither runs. Worked by hand, no source.
"""

import pytest

from circuits.services import import_text, sheet_of
from circuits.shared_sheets import complaints_elsewhere, ends_of_sheet, other_sheets
from circuits.sheet import SheetErrors, read_text, sharers, write_text
from tests.cast import LIBRARY, MONDAY, publish
from tests.redrawn import PUMP

GROUND_LEAD = "resistance:Wg"


def with_lines(lines: str) -> str:
    assert PUMP.count("shared: Wg") == 1
    return PUMP.replace("shared: Wg", lines)


def test_what_is_shared_is_named_as_a_part_a_pin_or_a_module() -> None:
    sheet = read_text(with_lines("shared: Wg; CR; K3; E08\ngoes on: C40a in rear-body"))

    assert [sharers(sheet, name) for name in sheet.vehicle.shared] == [
        ("Wg",),
        ("CR",),
        ("K3.coil", "K3.con"),
        ("E08",),
    ]
    assert read_text(write_text(sheet)) == sheet


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("shared: Wq", "no part, connection or module 'Wq'"),
        ("goes on: C40a rear-body", "does not say where the sheet goes on"),
        ("goes on: C99 in rear-body", "no connection 'C99'"),
        ("goes on: C40a in fuel-pump", "goes on in this very circuit"),
    ],
)
def test_what_cannot_be_shared_is_said_with_its_line(lines, said) -> None:
    with pytest.raises(SheetErrors, match=said) as told:
        read_text(with_lines(lines))

    assert "shared" in lines or told.value.flaws[0].line == 15


def test_sheets_of_one_vehicle_find_each_other_and_no_other_vehicles(cast, fuel_pump) -> None:
    horn = publish("horn.txt", by=cast.technician)
    publish("headlamps.txt", by=cast.technician)  # another make
    starting = (LIBRARY / "starting_relay.txt").read_text(encoding="utf-8")
    import_text(starting, note="shares nothing", by=cast.technician, at=MONDAY)

    (found,) = other_sheets(fuel_pump)
    assert (found.revision, found.names) == (horn, ("Wg",))
    assert [other.revision for other in other_sheets(horn)] == [fuel_pump]


def test_only_the_newest_revision_of_another_sheet_counts(cast, fuel_pump) -> None:
    horn = publish("horn.txt", by=cast.technician)
    alone = write_text(sheet_of(horn)).replace("shared:   Wg\n", "")
    import_text(alone, circuit=horn.circuit, note="alone", by=cast.owner, at=MONDAY)

    assert other_sheets(fuel_pump) == ()


def test_a_fault_of_a_shared_part_crosses_to_the_other_sheet(cast, fuel_pump) -> None:
    publish("horn.txt", by=cast.technician)
    (found,) = complaints_elsewhere(fuel_pump, GROUND_LEAD)

    assert found.complaint is not None
    horns = [change for change in found.complaint.changes if change.part in ("LOW", "HIGH")]
    assert [(change.part, change.phase) for change in horns] == [("LOW", "blow"), ("HIGH", "blow")]
    assert all(abs(change.faulty_amps) < 1e-3 < abs(change.healthy_amps) for change in horns)
    # The joint under the seat is the pump's alone.
    assert complaints_elsewhere(fuel_pump, "resistance:C40") == ()
    assert complaints_elsewhere(fuel_pump, "resistance:nothing") == ()


def test_a_sheet_says_where_it_ends_and_whether_the_other_is_here(cast, fuel_pump) -> None:
    publish("horn.txt", by=cast.technician)
    text = with_lines("shared: Wg\ngoes on: C40a in rear-body; CH in horn")
    ended = import_text(text, circuit=fuel_pump.circuit, note="ends", by=cast.owner, at=MONDAY)

    found = [(end.node, end.key, end.circuit is not None) for end in ends_of_sheet(ended)]
    assert found == [("C40a", "rear-body", False), ("CH", "horn", True)]
