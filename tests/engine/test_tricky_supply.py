"""Healthy that looks ill and ill that looks healthy: load, supply, temperature, what was asked."""

import pytest

from circuits.engine import (
    Meter,
    Outcome,
    Place,
    Prediction,
    Reading,
    Rig,
    Supply,
    find_suspect,
    judge,
    least_seen,
    predict,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import current, network, resistor, source
from tests.engine.tricky import PRIME, claim_of, fitting_ids, logged, verdict_on

STEERING = reference_circuit("C15")
FUSE_BOLT = find_suspect(STEERING.network, "resistance:F70")
OFF, KEY_ON, STRAIGHT, LOCK = (phase.name for phase in STEERING.network.phases)
COLD, HOT = "ignition on, coolant -10 C", "running, coolant 90 C"


# ----------------------------------------------------------- resistance shows by its amps


@pytest.mark.parametrize(
    ("phase", "volts", "least_ohms"),
    [(KEY_ON, 12.45, 0.0446), (STRAIGHT, 13.57, 0.0114), (LOCK, 8.80, 0.00069)],
)
def test_the_smallest_resistance_a_reading_could_have_seen_is_its_doubt_by_its_amps(
    phase, volts, least_ohms
) -> None:
    """50 mV of doubt: / 1.12 A = 44.6 mOhm, / 4.39 A = 11.4 mOhm, / 58.3 A = 0.86 mOhm.

    At full lock it takes less still: 720 W at fewer volts draw more amps, and the generator being
    at its limit they come out of a battery of 35 mOhm, behind 6 mOhm of leads. That makes every
    volt lost 1 / (1 - 720 W x 41 mOhm / 12.34 V^2) = 1.24 volts: 0.69 mOhm (by hand).
    """
    reading = logged("C15", phase, TP2=volts)

    (least,) = least_seen(STEERING.network, FUSE_BOLT, reading, [0.05])

    assert least == pytest.approx(least_ohms, rel=0.02)


def test_with_nothing_drawn_no_resistance_shows_until_it_is_beyond_ohms() -> None:
    """Key off the module draws 4 mA: 50 mV / 4 mA = 12.5 ohm, and the drop of 45 mOhm is 0.2 mV."""
    (least,) = least_seen(STEERING.network, FUSE_BOLT, logged("C15", OFF, TP2=12.6), [0.05])

    assert least == pytest.approx(12.5, rel=0.02)


def test_tolerances_and_meter_leave_more_doubt_than_fifty_millivolts() -> None:
    phases = (KEY_ON, STRAIGHT, LOCK)
    readings = [reading for phase in phases for reading in logged("C15", phase, TP2=12.0)]

    real = least_seen(STEERING.network, FUSE_BOLT, readings)
    fine = least_seen(STEERING.network, FUSE_BOLT, readings, [0.05] * len(readings))

    for seen, at_best in zip(real, fine, strict=True):
        assert seen is not None
        assert at_best is not None
        assert seen > 2 * at_best
    assert list(real) == sorted(real, key=lambda ohms: -(ohms or 0.0))


def test_a_fault_that_a_place_cannot_see_has_no_least_severity() -> None:
    """The wire to a lamp, read at another lamp of a stiff supply."""
    lamps = network(
        source("B1", "plus - minus", 12.0),
        resistor("W1", "plus - left", 0.01),
        resistor("left lamp", "left - minus", 6.0),
        resistor("right lamp", "plus - minus", 6.0),
        zero="minus",
    )
    reading = Reading(
        place=Place(key="right", red="plus", black="minus"), phase="as drawn", value=12.0, step=0.01
    )

    assert least_seen(lamps, find_suspect(lamps, "resistance:W1"), [reading]) == (None,)


def test_a_leak_is_seen_the_sooner_the_more_ohms_it_has() -> None:
    """1 A into 10 ohm; 0.1 V of doubt is 1 %: a path of 990 ohm beside it (sum by hand)."""
    loaded = network(
        current("I1", "minus - top", 1.0), resistor("R1", "top - minus", 10.0), zero="minus"
    )
    reading = Reading(
        place=Place(key="top", red="top", black="minus"), phase="as drawn", value=10.0, step=0.01,
        meter=Meter(input_ohms=float("inf")),
    )  # fmt: skip

    (least,) = least_seen(loaded, find_suspect(loaded, "bypass:R1"), [reading], [0.1])

    assert least == pytest.approx(990.0, rel=0.002)


def test_three_of_four_good_looking_readings_rule_no_bad_joint_out_and_full_lock_shows_it() -> None:
    """45 mOhm at a fuse bolt: 12.60, 12.45, 13.57 V at the module, 8.80 V at full lock."""
    light = [*logged("C15", OFF, TP2=12.60), *logged("C15", KEY_ON, TP2=12.45)]
    loaded = [*light, *logged("C15", LOCK, TP2=8.80)]

    undecided = verdict_on("C15", light, "resistance:F70")
    decided = verdict_on("C15", loaded, "resistance:F70")

    assert undecided.outcome is Outcome.CANNOT_SAY
    assert decided.outcome is Outcome.FITS
    assert claim_of(decided).severity == pytest.approx(0.045, abs=0.001)


def test_an_ohmmeter_on_its_leads_cannot_see_45_milliohm() -> None:
    """Leads of 0.2 to 0.5 ohm and a last digit of 0.1 ohm."""
    place = Place(key="bolts", red="a", black="c", reads_ohms=True)
    bolted = Reading(
        place=place, phase=OFF, value=0.4, step=0.1, rig=Rig(power_removed=True), meter=Meter()
    )

    verdict = verdict_on("C15", [bolted], "resistance:F70")
    (least,) = least_seen(STEERING.network, FUSE_BOLT, [bolted])

    assert verdict.outcome is Outcome.CANNOT_SAY
    assert least is not None
    assert least > 0.045


# ------------------------------------------------------------------ what was commanded


def test_twelve_point_six_volts_with_the_engine_running_are_healthy_if_asked_for() -> None:
    """12.8 V commanded: 12.60 V at the posts. 14.4 V commanded: 13.89 V, and 12.60 V is a fault."""
    asked = verdict_on("C02", logged("C02", "running, 12.8 V commanded", TP1=12.60), "limited:G1")
    not_asked = verdict_on(
        "C02", logged("C02", "running, 14.4 V commanded", TP1=12.60), "limited:G1"
    )

    assert asked.outcome is Outcome.CANNOT_SAY
    assert asked.healthy.passes
    assert not_asked.outcome is Outcome.FITS
    assert not not_asked.healthy.passes


# ------------------------------------------------------------------------ temperature


@pytest.mark.parametrize(
    ("phase", "volts", "fault", "outcome"),
    [
        pytest.param(HOT, 0.429, "ground-short:SA", Outcome.CANNOT_SAY, id="bridge, hot"),
        pytest.param(COLD, 3.09, "ground-short:SA", Outcome.FITS, id="bridge, cold"),
        pytest.param(HOT, 1.09, "resistance:W2", Outcome.FITS, id="terminal, hot"),
        pytest.param(COLD, 4.02, "resistance:W2", Outcome.CANNOT_SAY, id="terminal, cold"),
    ],
)
def test_a_bridge_across_a_sensor_hides_hot_and_a_bad_terminal_hides_cold(
    phase, volts, fault, outcome
) -> None:
    """6.8 kOhm across 242 ohm take 3.4 % (0.43 for 0.44 V), across 9943 ohm 59 % (3.09 for 3.99 V).

    450 ohm in series the reverse: 1.09 V hot, 4.02 V cold.
    """
    verdict = verdict_on("C10", logged("C10", phase, TP1=volts), fault)

    assert verdict.outcome is outcome


def test_two_temperatures_together_clear_a_sensor_that_one_cannot() -> None:
    sound = [*logged("C10", HOT, TP1=0.443), *logged("C10", COLD, TP1=3.99)]
    hot_alone = least_seen(
        reference_circuit("C10").network,
        find_suspect(reference_circuit("C10").network, "ground-short:SA"),
        sound,
    )

    # The bridge that the hot reading just sees has far fewer ohms than the one the cold one sees.
    assert hot_alone[0] is not None
    assert hot_alone[1] is not None
    assert hot_alone[0] < hot_alone[1] / 5


# ----------------------------------------------------------------------- this car's supply


def test_a_low_battery_is_scaled_out_before_the_pump_is_called_short_of_volts() -> None:
    """Battery 11.64 V, pump 11.02 V: 0.947 of it, where a car at 12.34 V has 0.949."""
    readings = logged("C05", PRIME, TP1=11.64, TP2=11.02)
    table: dict[tuple[str, str], Prediction] = predict(
        reference_circuit("C05").network, reference_circuit("C05").places
    )

    verdict = verdict_on("C05", readings, "resistance:C40", supply_places=("TP1",))

    assert table[PRIME, "TP2"].value - 11.02 == pytest.approx(0.69, abs=0.005)
    share = table[PRIME, "TP2"].value / table[PRIME, "TP1"].value
    assert share == pytest.approx(0.949, abs=0.0005)
    assert verdict.healthy.passes
    assert verdict.healthy.predicted[1] == pytest.approx(11.02, abs=0.01)
    assert any("11.64 V" in note for note in verdict.notes)


# ------------------------------------------------------------- one part, several complaints


def test_one_engine_strap_answers_for_a_slow_crank_and_a_low_charge() -> None:
    """11.02 V / 6.89 V at battery and starter while cranking, 13.06 V at the posts while running.

    Each complaint has rivals of its own; the strap, and what shares its current, is in both.
    """
    slow_crank = logged("C01", "cranking", TP1=11.02, TP2=6.89)
    low_charge = logged("C01", "running", TP1=13.06)

    by_crank = fitting_ids(verdict_on("C01", slow_crank, "resistance:W3"))
    by_charge = fitting_ids(verdict_on("C01", low_charge, "resistance:W3"))
    both = verdict_on("C01", [*slow_crank, *low_charge], "resistance:W3")

    assert both.outcome is Outcome.FITS
    assert claim_of(both).severity == pytest.approx(0.028, abs=0.001)
    assert fitting_ids(both) <= by_crank & by_charge
    assert "limited:G1" in by_charge - fitting_ids(both)
    assert "bypass:MOT" in by_crank - fitting_ids(both)


def test_a_short_that_pulls_the_supply_is_kept_although_the_supply_is_taken_as_logged() -> None:
    """12.4 V behind 11 mOhm and a lead of 50 mOhm that is dead short at its end: 12.4 / 0.061 =
    203 A, and 203 A x 50 mOhm = 10.16 V at the posts (by hand). Taken for the source's own volts
    those would be pulled a second time, to 8.3 V. A sound car shows 12.4 V less almost nothing."""
    supply = Supply(name="SUP", first="plus", second="minus", volts=12.4, internal_ohms=0.011)
    car = network(
        supply,
        resistor("W1", "plus - lamp", 0.050),
        resistor("H1", "lamp - minus", 24.0),
        zero="minus",
    )
    posts = Place(key="posts", red="plus", black="minus")
    at_lamp = Place(key="lamp", red="lamp", black="minus")
    read = [
        Reading(place=posts, phase="as drawn", value=10.16, step=0.01),
        Reading(place=at_lamp, phase="as drawn", value=0.0, step=0.01),
    ]
    verdict = judge(car, read, claim="ground-short:lamp", supply_places=("posts",))

    assert verdict.outcome is Outcome.FITS
    assert not verdict.healthy.passes
