"""Faults that move a value: drift, wrong parts, neighbours, seized motors; how they are told.

Every one of them is also drawn into the circuit and solved for itself (see `solving.solved`).
"""

import math
from dataclasses import replace

import pytest

from circuits.engine import (
    CanNode,
    Clamp,
    Connector,
    ContradictoryNetwork,
    DutyDriver,
    FanMotor,
    Fault,
    FaultKind,
    IdealSource,
    Lamp,
    LinNode,
    Meter,
    Network,
    Outcome,
    Place,
    Potentiometer,
    Reading,
    Selector,
    Suspect,
    TableCurve,
    Thermistor,
    ThreeWireSensor,
    find_suspect,
    judge,
    predict,
    solve,
    suspects,
)
from circuits.engine.faults import worst_branches
from tests.engine.drawing import battery, generator, motor, network, phases, resistor, volts_place
from tests.engine.solving import solved

TABLE = TableCurve(((-10, 44087.0), (25, 10000.0), (90, 1234.0)))


def one_of_each() -> Network:
    """Every newer kind of part on one battery, awake and asleep, with nothing hanging loose."""
    wiper = Potentiometer(
        name="TPS",
        first="5V",
        second="SG",
        third="SIG",
        track_ohms=4700.0,
        position_fraction=0.15,
        wiper_ohms=20.0,
    )
    sensor = ThreeWireSensor(
        name="RP",
        first="5V",
        second="SG",
        third="OUT",
        track_ohms=1500.0,
        position_fraction=0.28,
        wiper_ohms=150.0,
        supply_amps=0.004,
    )
    ntc = Thermistor(name="NTC", first="T", second="SG", curve=TABLE, celsius=20.0)
    can = CanNode(name="CAN", first="H", second="L", third="0", input_ohms=25e3)
    pack = Selector(name="SW", first="B", second="M", step_ohms=(math.inf, 2.2, 0.4), position=2)
    duty = DutyDriver(
        name="DRV", first="C", second="0", closed_ohms=8.0, against_ohms=1000.0, duty_fraction=0.5
    )
    awake = (wiper, sensor, ntc, can, pack, duty)
    asleep = (
        replace(wiper, position_fraction=0.8),
        replace(sensor, position_fraction=0.6),
        replace(ntc, celsius=85.0),
        replace(can, bias_volts=0.0),
        replace(pack, position=1),
        replace(duty, duty_fraction=0.1),
    )
    return network(
        battery("B1", "B - 0", 12.6, 0.011, charging_ohms=0.03),
        generator("REF", "5V - 0", 5.0, 0.3, 0.15),
        *awake,
        resistor("SGW", "SG - 0", 0.08),
        resistor("IN1", "SIG - 0", 220e3),
        resistor("IN2", "OUT - 0", 220e3),
        resistor("PU", "5V - T", 2490.0),
        resistor("RT", "H - L", 60.0),
        resistor("M1", "M - 0", 1.1),
        resistor("CPU", "B - C", 1000.0),
        LinNode(name="LIN", first="B", second="LN", ohms=1000.0),
        resistor("LD", "LN - 0", 47e3),
        Clamp(name="Z1", first="0", second="C", clamp_volts=9.0, on_ohms=0.5),
        Connector(name="X1", first="SIG", second="S2", ohms=0.004, beside="X2"),
        Connector(name="X2", first="5V", second="V2", ohms=0.004),
        resistor("R1", "S2 - 0", 1e6),
        resistor("R2", "V2 - 0", 1e4),
        zero="0",
        phases=phases(awake=awake, asleep=asleep),
    )


def some(suspect: Suspect) -> float:
    if suspect.kind is FaultKind.RESISTANCE:
        return 30.0
    if suspect.is_path:
        return 50.0
    return 0.4 * suspect.most if suspect.graded else suspect.most


@pytest.mark.parametrize("suspect", suspects(one_of_each()), ids=lambda suspect: suspect.id)
def test_each_fault_reads_as_if_drawn_into_the_circuit(suspect: Suspect) -> None:
    solved(one_of_each(), Fault(suspect=suspect, severity=some(suspect)))


def on_five_volts(*parts) -> Network:
    return network(IdealSource(name="REF", first="5V", second="0", volts=5.0), *parts, zero="0")


def fault(drawn: Network, name: str, severity: float | None = None) -> Fault:
    suspect = find_suspect(drawn, name)
    return Fault(suspect=suspect, severity=suspect.most if severity is None else severity)


def test_a_wrong_temperature_sensor_has_twice_the_ohms_hot_and_cold() -> None:
    """5 V, 2490 Ohm, 2.5 kOhm at 20 C fitted as 5 kOhm: 5 x 5000 / 7490 = 3.338 V.

    B 3550 K: 242.2 Ohm at 90 C become 484.4: 5 x 484.4 / 2974.4 = 0.814 V.
    """
    table = TableCurve(((-10, 9943.0), (20, 2500.0), (90, 242.204)))
    mild = Thermistor(name="NTC", first="T", second="0", curve=table, celsius=20.0)
    drawn = replace(
        on_five_volts(resistor("PU", "5V - T", 2490.0), mild),
        phases=phases(mild=mild, hot=replace(mild, celsius=90.0)),
    )
    solutions = solved(drawn, fault(drawn, "drifts-up:NTC", 1.0))

    assert solutions["mild"].volts["T"] == pytest.approx(3.338, abs=0.001)
    assert solutions["hot"].volts["T"] == pytest.approx(0.814, abs=0.001)


def wiper_at(*positions: float) -> Network:
    parts = [
        Potentiometer(
            name="TPS",
            first="5V",
            second="0",
            third="SIG",
            track_ohms=4700.0,
            position_fraction=position,
            wiper_ohms=0.1,
        )
        for position in positions
    ]
    named = {f"step_{number}": part for number, part in enumerate(parts)}
    return replace(on_five_volts(parts[0]), phases=phases(**named))


def test_a_wiper_that_has_moved_shows_as_much_in_every_phase() -> None:
    drawn = wiper_at(0.2, 0.7)
    part = drawn.part("TPS")
    moved = fault(drawn, "drifts-up:TPS", 0.1)

    assert len(worst_branches(part, moved.suspect)) == 2, "the track on either side"
    assert [s.volts["SIG"] for s in solved(drawn, moved).values()] == pytest.approx([1.5, 4.0])
    assert moved.suspect.most == pytest.approx(0.3), "the room that the fuller phase leaves"
    assert str(moved) == "TPS: signal 10 % of its supply too high"


def test_a_wiper_with_hardly_any_room_ends_at_the_rail() -> None:
    drawn = wiper_at(0.2, 0.98)
    moved = fault(drawn, "drifts-up:TPS")

    assert moved.severity == pytest.approx(0.05)
    assert [s.volts["SIG"] for s in solve(drawn, moved)] == pytest.approx([1.25, 5.0])


def test_a_lamp_of_other_watts_takes_other_amps() -> None:
    """21 W and 5 W at 12 V: 1.75 A and 0.417 A."""
    lamp = Lamp(name="L1", first="B", second="0", rated_watts=5.0)
    drawn = network(IdealSource(name="B1", first="B", second="0", volts=12.0), lamp, zero="0")
    too_many = fault(drawn, "wrong-high:L1", 16.0)
    too_few = fault(drawn, "wrong-low:L1", 3.0)

    assert solve(drawn, too_many)[0].amps["L1"] == pytest.approx(1.75)
    assert solve(drawn, too_few)[0].amps["L1"] == pytest.approx(2 / 12)
    assert str(too_many) == "L1: wrong filament lamp, 16 W more watts"


def test_a_resistor_of_half_the_ohms_is_told_so() -> None:
    drawn = on_five_volts(resistor("R1", "5V - 0", 100.0))
    half = fault(drawn, "wrong-low:R1", 0.5)

    assert solve(drawn, half)[0].amps["R1"] == pytest.approx(0.1)
    assert str(half) == "R1: wrong resistor, 50 % fewer ohms"


def test_a_seized_fan_draws_what_its_winding_lets_through() -> None:
    """12 V / 0.1 Ohm = 120 A."""
    fan = FanMotor(
        name="FAN", first="B", second="0", winding_ohms=0.1, back_volts=11.0, rated_amps=20.0
    )
    drawn = network(IdealSource(name="B1", first="B", second="0", volts=12.0), fan, zero="0")
    stuck = fault(drawn, "seized:FAN")

    assert solve(drawn, stuck)[0].amps["FAN"] == pytest.approx(120.0, rel=0.01)
    assert str(stuck) == "FAN: fan motor seized"


def test_a_motor_that_drags_to_the_end_is_seized() -> None:
    drawn = network(
        battery("B1", "B - 0", 12.6, 0.01), motor("M1", "B - 0", 3.6, 0.14, 0.6), zero="0"
    )
    end = fault(drawn, "drags:M1")
    (solution,) = solved(drawn, end).values()

    assert solution.amps["M1"] == pytest.approx(12.6 / 0.61)
    assert "seized" in str(end)


def test_two_pins_side_by_side_may_touch() -> None:
    """5 V onto a signal through 10 Ohm: the 1 MOhm input takes nothing, so it reads 5 V."""
    drawn = on_five_volts(
        Connector(name="X1.3", first="SIG", second="IN", ohms=0.005, beside="X1.4"),
        resistor("IN", "IN - 0", 1e6),
        Connector(name="X1.4", first="5V", second="V2", ohms=0.005),
        resistor("R2", "V2 - 0", 1e3),
    )
    touch = fault(drawn, "neighbour-short:X1.3", 10.0)
    (solution,) = solved(drawn, touch).values()

    assert solution.volts["SIG"] == pytest.approx(5.0, abs=1e-4)
    assert str(touch) == "X1.3: path of 10 Ohm to its neighbour X1.4"
    assert [s.id for s in suspects(drawn) if s.kind is FaultKind.NEIGHBOUR_SHORT] == [
        "neighbour-short:X1.3"
    ]


@pytest.mark.parametrize(
    ("beside", "says"),
    [("X9", "X1 is said to sit beside X9, but there is no such"), ("X1", "beside itself")],
)
def test_a_neighbour_that_is_not_there_is_refused(beside: str, says: str) -> None:
    with pytest.raises(ContradictoryNetwork, match=says):
        on_five_volts(Connector(name="X1", first="5V", second="0", ohms=1.0, beside=beside))


def test_what_is_there_or_not_has_one_severity() -> None:
    drawn = network(battery("B1", "B - 0", 12.6, 0.01), resistor("R1", "B - 0", 10.0), zero="0")
    turned = find_suspect(drawn, "reversed:B1")

    assert not turned.graded
    assert turned.severity_grid().tolist() == [1.0]
    assert turned.can_be(1.0)
    assert not turned.can_be(0.5)
    assert turned.describe(1.0) == turned.describe() == "B1: battery fitted the wrong way round"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("low-volts:B1", "B1: battery dead: no volts left"),
        ("discharged:B1", "B1: battery flat: all of its charge lost"),
        ("limited:G1", "G1: regulated source gives nothing"),
    ],
)
def test_the_end_of_a_fault_has_its_own_words(name: str, words: str) -> None:
    drawn = network(
        battery("B1", "B - 0", 12.6, 0.01), generator("G1", "B - 0", 14.2, 0.004, 90.0), zero="0"
    )

    assert str(fault(drawn, name)) == words


def test_a_battery_the_wrong_way_round_is_found_and_nothing_between() -> None:
    """Two of 12.6 V in series, one turned: the posts read about 0 V; a weak one fits as well."""
    drawn = network(
        battery("B1", "plus - mid", 12.6, 0.010),
        battery("B2", "mid - 0", 12.6, 0.010),
        resistor("R1", "plus - 0", 24.0),
        zero="0",
    )
    places = [volts_place("TP1", "plus - 0"), volts_place("TP2", "mid - 0")]
    shown = predict(drawn, places, fault=fault(drawn, "reversed:B2"))
    readings = [
        Reading(
            place=place,
            phase="as drawn",
            value=round(shown["as drawn", place.key].value, 2),
            step=0.01,
        )
        for place in places
    ]

    verdict = judge(drawn, readings)
    fitting = {
        finding.suspect.id: finding
        for finding in verdict.findings
        if finding.suspect is not None and finding.outcome is Outcome.FITS
    }

    assert "reversed:B2" in fitting
    assert fitting["reversed:B2"].severity == 1.0
    assert "low-volts:B2" not in fitting, "a dead battery has nought, not minus twelve"


def test_the_signal_of_a_sound_sensor_lies_in_a_band_of_its_tolerances() -> None:
    """2 % of the supply for the signal (5 V: 0.1 V), as a rectangular bound at 99.5 %."""
    drawn = wiper_at(0.5)
    place = Place(key="TP1", red="SIG", black="0")
    shown = predict(drawn, [place], meter=Meter(reading_fraction=0.0, counts=0.0))["step 0", "TP1"]

    assert shown.value == pytest.approx(2.5, abs=0.001)
    assert (
        0.7 * 0.1 * 2.807 / math.sqrt(3) <= shown.high - 2.5 <= 0.1 * 2.807 / math.sqrt(3) + 0.001
    )
