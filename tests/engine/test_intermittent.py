"""Faults that come and go: what was read with the symptom, and what without it."""

from dataclasses import replace

import pytest

from circuits.engine import Outcome, Reading, judge
from tests.engine.test_double_faults import TWO_LAMPS, readings_of
from tests.engine.verdicts import at_the_pump, claimed, pump_verdict

CONTACT = "resistance:K3.con"


def in_the_bay(symptom: bool | None) -> list[Reading]:
    """Return what the pump circuit in order shows, cold in the bay; from the reference table."""
    sound = at_the_pump(TP1=12.35, TP2=11.72)
    return [replace(reading, symptom=symptom) for reading in sound]


def hot() -> list[Reading]:
    """Return the pump's volts on the road, when it stalls: the relay's contact is open."""
    return [replace(reading, symptom=True) for reading in at_the_pump(TP2=0.0)]


def test_sound_readings_of_a_car_that_stalls_hot_refute_no_relay() -> None:
    verdict = pump_verdict(in_the_bay(symptom=False), CONTACT)

    assert verdict.outcome is Outcome.CANNOT_SAY
    assert verdict.readings == ()
    assert len(verdict.set_aside) == 2
    assert verdict.claim is not None
    assert "one reading with the symptom present" in verdict.claim.because
    assert "after the repair the same provocation" in verdict.claim.because
    assert all(finding.outcome is Outcome.CANNOT_SAY for finding in verdict.findings)
    assert not verdict.nothing_fits


def test_one_hot_reading_convicts_what_the_cold_ones_would_have_cleared() -> None:
    aside = pump_verdict([*in_the_bay(symptom=False), *hot()], CONTACT)
    counted = pump_verdict([*in_the_bay(symptom=None), *hot()], CONTACT)

    assert aside.outcome is Outcome.FITS
    assert [reading.symptom for reading in aside.readings] == [True]
    assert any("set aside" in note and "TP2" in note for note in aside.notes)
    # Unmarked, the same readings contradict each other, and no fault that stays explains them.
    assert counted.outcome is Outcome.DOES_NOT_FIT
    assert counted.set_aside == ()


def test_what_a_healthy_circuit_does_not_explain_stays_evidence_without_the_symptom() -> None:
    """5.1 V lost in the ground strap, read while the engine happened to run."""
    dropped = [replace(reading, symptom=False) for reading in at_the_pump(TP1=12.35, TP4=5.07)]

    verdict = pump_verdict(dropped, "resistance:W4")

    assert verdict.outcome is Outcome.FITS
    assert [reading.place.key for reading in verdict.readings] == ["TP4"]
    assert [reading.place.key for reading in verdict.set_aside] == ["TP1"]


def test_readings_that_are_sound_one_by_one_but_not_together_stay_evidence() -> None:
    """Two drops of the same strap, read to opposite ends of what its tolerance allows."""
    ground = readings_of(TWO_LAMPS)[2]
    spread = [replace(ground, value=value, symptom=False) for value in (0.037, 0.046)]

    one_by_one = [judge(TWO_LAMPS, [reading]) for reading in spread]
    together = judge(TWO_LAMPS, spread)

    assert all(len(verdict.set_aside) == 1 for verdict in one_by_one)
    assert together.set_aside == ()


@pytest.mark.parametrize("symptom", [True, None])
def test_with_the_symptom_or_unknown_a_sound_reading_leaves_a_relay_little_to_add(
    symptom: bool | None,
) -> None:
    verdict = pump_verdict(in_the_bay(symptom), CONTACT)

    assert verdict.set_aside == ()
    assert verdict.healthy.passes
    assert len(verdict.readings) == 2
    assert claimed(verdict).severity_high < 0.2


def test_two_faults_are_looked_for_among_the_readings_that_count() -> None:
    readings = readings_of(TWO_LAMPS, ("resistance:G1", 1.5), ("resistance:W2", 2.5))
    sound = [replace(reading, symptom=False) for reading in readings_of(TWO_LAMPS)]

    verdict = judge(TWO_LAMPS, [*sound, *readings], doubles=True)

    assert len(verdict.set_aside) == len(sound)
    assert (verdict.doubles[0].first.id, verdict.doubles[0].second.id) == (
        "resistance:G1",
        "resistance:W2",
    )
    assert len(verdict.doubles[0].explained) == len(readings)
