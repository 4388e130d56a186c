"""What readings allow a claim: fits, does not fit, cannot say; with which rivals."""

import math
from typing import Any

import pytest

from circuits.engine import (
    AS_IT_STANDS,
    Meter,
    Network,
    Outcome,
    Reading,
    UnknownSuspect,
    Verdict,
    chi_square_limit,
    judge,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import battery, network, resistor, volts_place
from tests.engine.verdicts import PRIME, PUMP, at_the_pump, claimed, fitting_ids, pump_verdict

# ------------------------------------------------------------------------ the fuel-pump story


LOADED: dict[str, Any] = {"TP1": 12.35, "TP2": 6.79, "TP3": 5.49, "TP4": 0.068}


def test_loaded_readings_fit_a_bad_feed_terminal_at_one_point_one_ohm() -> None:
    """Feed drop 5.49 V at some 4.55 A: (5.49 - 0.48) V / 4.55 A = 1.1 ohm too many in the feed."""
    verdict = pump_verdict(at_the_pump(**LOADED), "resistance:C40")

    claim = claimed(verdict)
    assert claim.outcome is Outcome.FITS
    assert claim.severity == pytest.approx(1.10, abs=0.02)
    assert claim.severity_low < 1.10 < claim.severity_high
    assert not verdict.healthy.passes


def test_the_heat_in_a_joint_is_that_of_its_hottest_phase() -> None:
    """1.1 ohm carries 4.8 A while running (4.6 A at prime): 1.1 x 4.77^2 = 25 W in one pin."""
    verdict = pump_verdict(at_the_pump(**LOADED), "resistance:C40")

    assert claimed(verdict).watts == pytest.approx(25.0, abs=0.5)


def test_every_joint_between_relay_and_pump_is_named_beside_the_claimed_one() -> None:
    """No reading between relay 87 and the pump was taken: those joints cannot be parted."""
    verdict = pump_verdict(at_the_pump(**LOADED), "resistance:C40")

    twins = next(group for group in verdict.twins if "resistance:C40" in group.suspect_ids)
    assert set(twins.suspect_ids) == {
        "resistance:W2",
        "resistance:INERT",
        "resistance:W3",
        "resistance:C40",
    }
    assert set(twins.between) == {"b", "c", "d"}


def test_joints_ahead_of_the_relay_fit_too_and_the_relay_pin_would_part_them() -> None:
    verdict = pump_verdict(at_the_pump(**LOADED), "resistance:C40")

    assert {"resistance:W1", "resistance:F15", "resistance:K3.con"} <= fitting_ids(verdict)
    (parting,) = verdict.partings
    assert parting.place == "TP5"
    assert parting.distance > 5


def test_a_reading_at_relay_87_leaves_the_joints_behind_it_alone() -> None:
    verdict = pump_verdict(at_the_pump(**LOADED, TP5=12.25), "resistance:C40")

    assert fitting_ids(verdict) == {
        "resistance:W2",
        "resistance:INERT",
        "resistance:W3",
        "resistance:C40",
    }


def test_the_ground_drop_parts_a_bad_ground_from_a_bad_feed() -> None:
    """Both leave 6.79 V at the pump; 0.068 V on the ground side clears the ground."""
    unparted = pump_verdict(at_the_pump(TP1=12.35, TP2=6.79), "resistance:W4")
    parted = pump_verdict(at_the_pump(TP1=12.35, TP2=6.79, TP4=0.068), "resistance:W4")

    assert unparted.outcome is Outcome.FITS
    assert "resistance:C40" in fitting_ids(unparted)
    assert parted.outcome is Outcome.DOES_NOT_FIT
    assert "resistance:C40" in fitting_ids(parted)


def test_battery_volts_at_an_unplugged_pump_tell_nothing() -> None:
    """Unplugged nothing flows, and 1.1 ohm drops nothing: healthy reads 12.40 V as well."""
    verdict = pump_verdict(at_the_pump(TP8=12.40), "resistance:C40")

    assert verdict.outcome is Outcome.CANNOT_SAY
    assert verdict.healthy.passes
    assert "healthy" in claimed(verdict).because


def test_a_leaking_open_passes_for_healthy_until_something_draws() -> None:
    """C40 parted and damp, 300 kOhm: 12.04 V on a 10 MOhm meter, 7.08 V on a 400 kOhm one.

    12.40 V x 10 / 10.3 = 12.04 V: within reach of a healthy supply. 12.40 V x 0.4 / 0.7 = 7.09 V
    (the pull-down of the meter alone loads the feed) is not.
    """
    plain = pump_verdict(at_the_pump(TP8=12.04), "resistance:C40")
    row = PUMP.row("TP8")
    hungry = Reading(
        place=row.place,
        phase=PRIME,
        value=7.08,
        step=0.01,
        rig=row.rig(PUMP.network),
        meter=Meter(input_ohms=400e3),
    )
    loaded = pump_verdict([hungry], "resistance:C40")

    assert plain.outcome is Outcome.CANNOT_SAY
    assert loaded.outcome is Outcome.FITS
    assert claimed(loaded).severity == pytest.approx(300e3, rel=0.02)


def test_a_lamp_at_the_unplugged_connector_shows_what_the_meter_does_not() -> None:
    """21 W across the plug: 12.17 V healthy, 10.40 V with 1.1 ohm in the feed."""
    verdict = pump_verdict(at_the_pump(TP9=10.40), "resistance:C40")

    assert verdict.outcome is Outcome.FITS
    assert claimed(verdict).severity_low < 1.10 < claimed(verdict).severity_high


def test_a_low_battery_is_no_fault_of_the_pump_circuit() -> None:
    """Battery 11.64 V, pump 11.02 V at prime: 0.69 V under the table and sound."""
    verdict = pump_verdict(at_the_pump(TP1=11.64, TP2=11.02), "resistance:C40")

    assert verdict.outcome is Outcome.CANNOT_SAY
    assert verdict.healthy.passes
    assert verdict.healthy.predicted[1] == pytest.approx(11.02, abs=0.01)
    assert any("11.64 V" in note for note in verdict.notes)


def test_a_low_supply_hides_no_fault_either() -> None:
    """The same battery and 1.1 ohm: the pump gets about 6.2 V, and healthy is refused."""
    verdict = pump_verdict(at_the_pump(TP1=11.64, TP2=6.18), "resistance:C40")

    assert verdict.outcome is Outcome.FITS
    assert claimed(verdict).severity == pytest.approx(1.10, abs=0.05)


def test_a_ground_drop_logged_as_a_feed_drop_fits_neither_side() -> None:
    """12.35 - 6.79 - 5.07 V leaves 0.49 V for the ground side: neither fault drops that much.

    A feed fault of 5.07 V would leave 7.2 V at the pump, a ground fault 0.48 V on the feed.
    """
    readings = at_the_pump(TP1=12.35, TP2=6.79, TP3=5.07)

    for claim in ("resistance:C40", "resistance:W4"):
        assert pump_verdict(readings, claim).outcome is Outcome.DOES_NOT_FIT


def test_what_only_a_blown_fuse_would_allow_carries_a_warning() -> None:
    """With places swapped a pump with a path across it is left; its 15 A fuse would blow."""
    verdict = pump_verdict(at_the_pump(TP1=12.35, TP2=6.79, TP3=5.07), "resistance:C40")

    assert fitting_ids(verdict) == {"bypass:PUMP"}
    assert any("F15" in warning for warning in verdict.fitting[0].overloads)


def test_the_deciding_reading_is_named_with_what_it_should_have_been() -> None:
    verdict = pump_verdict(at_the_pump(**LOADED), "resistance:W4")

    claim = claimed(verdict)
    assert claim.outcome is Outcome.DOES_NOT_FIT
    assert verdict.readings[claim.deciding].place.key in claim.because
    assert "logged as" in claim.because


# ------------------------------------------------------------------------------ chatter, supply


@pytest.mark.parametrize("shown_volts", [4.0, 6.1, 8.9])
def test_any_reading_between_the_two_states_of_a_clattering_solenoid_fits(shown_volts) -> None:
    """A battery with some 60 mOhm too many clatters between about 3 and 9 V while cranking."""
    circuit = reference_circuit("C01")
    reading = Reading(
        place=circuit.row("TP1").place, phase="cranking", value=shown_volts, step=0.01
    )

    verdict = judge(circuit.network, [reading], claim="resistance:B1")

    assert verdict.outcome is Outcome.FITS


def test_a_battery_well_below_rest_volts_is_judged_and_not_taken_as_given() -> None:
    circuit = reference_circuit("C01")
    rested = [
        Reading(place=circuit.row("TP1").place, phase="key off", value=volts, step=0.01)
        for volts in (12.40, 11.40)
    ]

    a_little_low = judge(circuit.network, rested[:1], claim="low-volts:B1", supply_places=("TP1",))
    flat = judge(circuit.network, rested[1:], claim="low-volts:B1", supply_places=("TP1",))

    assert a_little_low.outcome is Outcome.CANNOT_SAY
    assert flat.outcome is Outcome.FITS
    assert claimed(flat).severity == pytest.approx(1.2, abs=0.05)
    assert any("judged and not taken as given" in note for note in flat.notes)


# ------------------------------------------------------------------------ joint uncertainty


def twin_dividers() -> Network:
    """One battery, 12.0 V +-0.1 V, over two dividers of two equal, exact resistors each."""

    def exact(name: str, ends: str):
        first, second = ends.split(" - ")
        return type(resistor(name, ends, 1000))(
            name=name, first=first, second=second, ohms=1000, tolerance_fraction=0.0
        )

    return network(
        battery("B1", "plus - minus", 12.0, 1e-6),
        exact("R1", "plus - left"),
        exact("R2", "left - minus"),
        exact("R3", "plus - right"),
        exact("R4", "right - minus"),
        zero="minus",
    )


PRECISE = Meter(input_ohms=math.inf, reading_fraction=0.0, counts=10.0)


def divider_verdict(left_volts: float, right_volts: float) -> Verdict:
    readings = [
        Reading(
            place=volts_place(name, f"{name} - minus"),
            phase="as drawn",
            value=volts,
            step=0.001,
            meter=PRECISE,
        )
        for name, volts in (("left", left_volts), ("right", right_volts))
    ]
    return judge(twin_dividers(), readings, claim="resistance:R1")


def test_readings_that_share_a_tolerance_may_be_off_together_but_not_apart() -> None:
    """Both taps 50 mV high is one battery 100 mV high; one up and one down is not.

    Variances in mV^2: the battery's 50^2 / 3, shared; the meter's (10^2 + 0.5^2) / 3 for each. For
    two readings off by d1 and d2, chi-square = (d1 + d2)^2 / (2 (m + 2 s)) + (d1 - d2)^2 / (2 m)
    (JCGM 100:2008, 5.2, for the covariance; the sum by hand).
    """
    shared, own = 50.0**2 / 3, (10.0**2 + 0.5**2) / 3

    together = divider_verdict(6.050, 6.050)
    apart = divider_verdict(6.050, 5.950)

    assert together.healthy.passes
    assert together.healthy.misfit == pytest.approx(100**2 / (2 * (own + 2 * shared)), rel=1e-4)
    assert not apart.healthy.passes
    assert apart.healthy.misfit == pytest.approx(100**2 / (2 * own), rel=1e-4)


def test_the_limit_is_that_of_as_many_degrees_of_freedom_as_readings() -> None:
    assert divider_verdict(6.0, 6.0).healthy.misfit_limit == chi_square_limit(2)


# ---------------------------------------------------------------------------------- refusals


def test_an_unknown_claim_names_the_nearest_faults() -> None:
    with pytest.raises(UnknownSuspect) as refused:
        pump_verdict(at_the_pump(**LOADED), "resistance:C4O")

    assert "resistance:C40" in refused.value.nearest
    assert "resistance:C4O" in str(refused.value)


def test_nothing_logged_is_nothing_to_judge() -> None:
    with pytest.raises(ValueError, match="log at least one"):
        judge(PUMP.network, [])


def test_an_open_case_without_a_claim_lists_all_that_fits() -> None:
    verdict = judge(PUMP.network, at_the_pump(**LOADED))

    assert verdict.claim is None
    assert verdict.outcome is None
    assert verdict.fitting
    assert [finding.passes for finding in verdict.findings] == sorted(
        (finding.passes for finding in verdict.findings), reverse=True
    )


def test_the_order_of_readings_changes_nothing() -> None:
    one_way = pump_verdict(at_the_pump(**LOADED), "resistance:C40")
    other_way = pump_verdict(at_the_pump(**dict(reversed(LOADED.items()))), "resistance:C40")

    assert claimed(one_way).misfit == pytest.approx(claimed(other_way).misfit, rel=1e-9)
    assert fitting_ids(one_way) == fitting_ids(other_way)
    assert at_the_pump(TP2=6.79)[0].rig == AS_IT_STANDS
