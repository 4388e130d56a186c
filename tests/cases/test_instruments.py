"""Readings by other instruments than a voltmeter: logged as typed, judged with what they do."""

import pytest

from cases.circuit import circuit_from_sheet
from cases.documents.readings import Instrument, Rig
from cases.errors import BadRig, BadRows, OhmsOnLiveParts
from cases.forms.readings import ReadingForm
from cases.judging.lines import Line
from cases.judging.verdict import judge_lines
from cases.services.exchange import reading_document
from cases.services.readings import add_reading, add_readings, correct_reading
from cases.services.sharing import shared_view
from cases.services.tables import import_readings_csv, read_readings_csv, readings_csv
from circuits.services import import_text
from circuits.sheet import read_text
from tests.cast import MONDAY, Cast, logged, one_reading

BUS = """\
[vehicle]
key: bus
title: Bus of two nodes
system: network
make: Tolvane
model: Juniver
zero: BN

[connections]
BP   post
BN   post
U    pin
HL   pin
LL   pin
HR   pin
LR   pin

[phases]
asleep  off  locked, bus asleep
awake   on   ignition on

[parts]
B1    battery   BP - BN  12.6 V, 10 mOhm
F17   fuse      BP - U   15 A
RU    resistor  U - BN   150 Ohm
TERM1 resistor  HL - LL  120 Ohm
TERM2 resistor  HR - LR  120 Ohm
WH    resistor  HL - HR  50 mOhm
WL    resistor  LL - LR  50 mOhm
BIAS  supply    LL - BN  asleep: 0 V, 10 kOhm; awake: 2.35 V, 10 kOhm
TALK  supply    HL - BN  asleep: 0 V, 10 kOhm; awake: 2.65 V, 10 kOhm

[places]
TP1  Ohm  HL - LL      across the bus
TP2  A    through F17  what the module takes
TP3  V    BP - BN      battery posts
"""
CIRCUIT = circuit_from_sheet(read_text(BUS))
DEAD = Rig(power_removed=True)


def line(place: str, value: float | None, **how) -> Line:
    values = {"number": 1, "phase": "asleep", "text": "typed", "step": 0.1, **how}
    return Line(place=place, value=value, **values)


def test_ohms_with_the_power_removed_find_the_terminator_that_is_open() -> None:
    verdict = judge_lines(CIRCUIT, [line("TP1", 120.3, rig=DEAD)], claim="resistance:TERM2")

    assert verdict.outcome == "fits"
    assert verdict.failure == ""


def test_ohms_on_a_live_bus_are_set_aside_and_the_verdict_says_what_to_do_instead() -> None:
    verdict = judge_lines(CIRCUIT, [line("TP1", 360.0)], claim="resistance:TERM2")

    assert verdict.before is None
    assert verdict.failure == ""
    (aside,) = verdict.set_aside
    assert "only where the power is removed" in aside.because
    assert "read the drop in volts from HL to LL" in aside.because
    assert "the circuit in order would show" in aside.because


def test_ohms_on_live_parts_are_refused_where_they_are_logged_with_the_drop_to_read_instead() -> (
    None
):
    """The fuse carries 84 mA, 12.6 V over 150 Ohm; at 4.8 mOhm (a common 15 A fuse, value from
    memory) it drops 0.40 mV: too little, so the load is asked for. Across the module stand 12.6 V
    less that, in any phase."""
    at_fuse, at_module = (
        circuit_from_sheet(read_text(BUS + f"TP4  Ohm  {leads}  as drawn\n"))
        for leads in ("BP - U", "U - BN")
    )
    typed = {"place": "TP4", "phase": "awake", "text": "150"}
    fuse, module = (ReadingForm(typed, circuit=each) for each in (at_fuse, at_module))
    dead = ReadingForm({**typed, "power_removed": "on"}, circuit=at_module)
    unread = ReadingForm({**typed, "text": "–"}, circuit=at_module)

    assert dead.is_valid(), dead.errors
    assert unread.is_valid(), unread.errors
    assert not fuse.is_valid()
    assert "With the power on an ohmmeter shows" in fuse.errors["text"][0]
    assert "the drop in volts at BP - U" in fuse.errors["text"][0]
    assert "with the load on and its current flowing" in fuse.errors["text"][0]
    assert (
        "at U - BN, from U to BN, in 'awake', where current flows: in order it is 12.4"
        in (module.errors["text"][0])
    )


@pytest.mark.django_db
def test_no_way_of_logging_lets_live_ohms_through_and_a_table_keeps_what_was_written(
    cast: Cast,
) -> None:
    revision = import_text(BUS, note="first", by=cast.technician, at=MONDAY)
    case = logged(cast, revision, "asleep\nTP3 12.6")
    live = one_reading("TP1", "asleep", "60.2")
    with pytest.raises(OhmsOnLiveParts, match="read the drop in volts"):
        add_reading(case=case, reading=live, by=cast.technician, at=MONDAY)
    with pytest.raises(BadRows, match="read the drop in volts"):
        add_readings(case=case, readings=[live], by=cast.technician, at=MONDAY)
    with pytest.raises(OhmsOnLiveParts):
        correct_reading(
            reading=case.readings.get(),
            correction=live,
            reason="slip",
            by=cast.technician,
            at=MONDAY,
        )

    assert case.readings.count() == 1
    import_readings_csv(
        case=case, content="place,phase,reading\nTP1,asleep,60.2\n", by=cast.technician, at=MONDAY
    )
    assert case.readings.count() == 2


def test_an_ol_on_the_ohmmeter_is_judged_and_one_on_the_voltmeter_is_not() -> None:
    open_bus = line("TP1", None, over_range=True, step=0.0, text="OL", rig=DEAD)
    volts = line("TP3", None, over_range=True, step=0.0, text="OL", number=2)

    verdict = judge_lines(CIRCUIT, [open_bus, volts])

    assert verdict.before is not None
    assert verdict.before.healthy.outcome == "does not fit"
    assert verdict.before.nothing_fits
    assert [entry.number for entry in verdict.set_aside] == [2]
    # What is stored must survive the way through JSON.
    assert type(verdict).model_validate(verdict.as_data()) == verdict


def test_a_drop_across_a_fuse_is_judged_with_the_fuses_own_tolerance() -> None:
    """12.6 V over 150 ohm are 84 mA; 100 mA lie within the fuse's 20 %, not within a meter's."""
    by_drop = line("TP2", 0.100, step=0.001, rig=Rig(by_drop=True))
    exact = Instrument(reading_fraction=0.005, counts=2)
    in_series = line("TP2", 0.100, step=0.0001, rig=Rig(ammeter_in="F17"), instrument=exact)

    fuse = judge_lines(CIRCUIT, [by_drop]).before
    series = judge_lines(CIRCUIT, [in_series]).before

    assert fuse is not None
    assert series is not None
    assert fuse.healthy.outcome != "does not fit"
    assert series.healthy.misfit > 3 * fuse.healthy.misfit


def test_a_drop_stands_for_amps_only_across_a_fuse_or_shunt() -> None:
    with pytest.raises(BadRig, match="only across a fuse or a shunt"):
        CIRCUIT.check_rig("TP1", Rig(by_drop=True))
    with pytest.raises(BadRig, match="no part W9 to put an ammeter in"):
        CIRCUIT.check_rig("TP2", Rig(ammeter_in="W9"))
    with pytest.raises(BadRig, match="only where the power is removed"):
        CIRCUIT.check_moves("TP1", Rig())


def test_a_reading_keeps_its_instrument_on_the_way_through_rows_and_tables(cast: Cast) -> None:
    revision = import_text(BUS, note="first", by=cast.technician, at=MONDAY)
    case = logged(cast, revision)
    typed = (
        one_reading("TP1", "asleep", "OL", rig={"power_removed": True},
                    instrument={"lead_ohms": 0.0}),
        one_reading("TP2", "asleep", "85 mA", rig={"ammeter_in": "F17", "burden_ohms": 1.5},
                    celsius=-5.0),
        one_reading("TP2", "awake", "84 mA", rig={"by_drop": True},
                    instrument={"floor_amps": 0.1}),
    )  # fmt: skip
    for reading in typed:
        add_reading(case=case, reading=reading, by=cast.technician, at=MONDAY)

    shown = shared_view(case, cast.technician, at=MONDAY)
    documents = [reading_document(view) for view in shown.readings]

    assert shown.verdict is not None
    assert [view.text for view in shown.readings if not view.set_aside] == [
        each.text for each in typed
    ]
    assert [each.rig for each in documents] == [each.rig for each in typed]
    assert [each.instrument for each in documents] == [each.instrument for each in typed]
    assert [each.reading for each in read_readings_csv(readings_csv(documents))] == documents


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("celsius", "400 C", "from -60 to 300"),
        ("burden", "0 Ohm", "above 0"),
        ("clamp_floor", "-0.1 A", "from 0 up"),
        ("lead_ohms", "47 Ohm", "from 0 to 10"),
        ("ammeter_in", "W9", "no part W9"),
        ("by_drop", "on", "only across a fuse or a shunt"),
    ],
)
def test_what_an_instrument_cannot_be_is_said_at_its_field(field, text, says) -> None:
    typed = {"place": "TP3", "phase": "awake", "text": "12.5", field: text}
    form = ReadingForm(typed, circuit=CIRCUIT)

    assert not form.is_valid()
    assert says in str(form.errors)


def test_a_form_gives_back_what_was_done_with_the_instrument() -> None:
    typed = {
        "place": "TP1", "phase": "asleep", "text": "60.2", "power_removed": "on",
        "lead_ohms": "0.3 Ohm", "ammeter_in": "F17", "burden": "1.5 Ohm", "celsius": "-5 C",
    }  # fmt: skip
    form = ReadingForm(typed, circuit=CIRCUIT)

    assert form.is_valid(), form.errors
    assert form.reading.rig == Rig(power_removed=True, ammeter_in="F17", burden_ohms=1.5)
    assert form.reading.instrument == Instrument(lead_ohms=0.3)
    assert form.reading.celsius == -5.0
