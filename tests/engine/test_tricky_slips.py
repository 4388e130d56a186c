"""Slips when a reading is taken or written: wrong phase, wrong place, wrong unit, wrong sign.

A slip is offered with its score; what was typed stands.
"""

from dataclasses import replace

import pytest

from circuits.engine import (
    MendedCase,
    Outcome,
    Reading,
    SlipKind,
    could_be_sound,
    possible_slips,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.tricky import PRIME, fitting_ids, logged, verdict_on

ASLEEP = "key off, 30 min (asleep)"


def slips(circuit: str, readings: list[Reading], doubted: str) -> tuple[MendedCase, ...]:
    reference = reference_circuit(circuit)
    number = [reading.place.key for reading in readings].index(doubted)
    return possible_slips(
        reference.network,
        readings,
        number,
        places=reference.places,
        supply_places=("TP1",),
    )


def test_cranking_readings_without_a_witness_may_have_been_taken_with_the_key_on() -> None:
    """Battery 12.53 V, nothing at terminal 50 and at the coil, written down as cranking.

    An open clutch switch reads 12.51 / 0 / 0 while cranking, a sound car with the key on 12.53 / 0
    / 0: 20 mV apart, which is less than the supply and the meter may be off. The switch fits, and
    the key that was not turned fits as well.
    """
    readings = logged("C01", "cranking", TP1=12.53, TP3=0.0, TP6=0.0)

    verdict = verdict_on("C01", readings, "resistance:S2_clutch", supply_places=("TP1",))
    mended = slips("C01", readings, "TP1")

    assert verdict.outcome is Outcome.FITS
    assert {each.kind for each in mended} == {SlipKind.WHOLE_PHASE}
    key_on = next(each for each in mended if each.readings[0].phase == "ignition on")
    assert key_on.fits == ("healthy",)
    assert key_on.changed == (0, 1, 2)
    assert key_on.misfit < 1


def test_a_battery_that_sags_witnesses_that_the_starter_was_asked() -> None:
    """10.79 V at the posts belongs to cranking alone; no other phase makes such readings whole."""
    readings = logged("C01", "cranking", TP1=11.02, TP2=6.89, TP5=3.96)

    mended = slips("C01", readings, "TP1")

    assert not [each for each in mended if each.kind is SlipKind.WHOLE_PHASE]


def test_of_several_ways_to_read_a_log_those_are_told_that_a_sound_car_could_give() -> None:
    """12.53 V and nothing at the starter: with the key off or on, but not with the engine running.

    And 13 kV are no supply.
    """
    circuit = reference_circuit("C01")
    taken = logged("C01", "cranking", TP1=12.53, TP3=0.0, TP6=0.0)
    ways = [
        [replace(reading, phase=phase.name) for reading in taken]
        for phase in circuit.network.phases
    ]
    ways.append([replace(taken[0], value=13000.0), *taken[1:]])
    could = could_be_sound(circuit.network, ways, ("TP1",))

    phases = [phase.name for phase in circuit.network.phases]
    told = dict(zip([*phases, "no supply"], could, strict=True))
    assert told == {
        "key off": True,
        "ignition on": True,
        "cranking": False,
        "running": False,
        "no supply": False,
    }


@pytest.mark.parametrize(("phase", "volts"), [("key off", 13.83), ("running", 10.80)])
def test_volts_that_no_such_phase_has_point_at_the_phase_they_belong_to(phase, volts) -> None:
    """13.83 V at rest is a running engine; 10.8 V 'running' is a starter that turns."""
    belongs = {"key off": "running", "running": "cranking"}[phase]

    mended = slips("C01", logged("C01", phase, TP1=volts), "TP1")

    assert belongs in {
        each.readings[0].phase for each in mended if each.kind is SlipKind.OTHER_PHASE
    }


def test_a_ground_drop_written_in_the_row_of_the_feed_drop_is_offered_as_such() -> None:
    """Battery 12.35 V, pump 6.79 V: 5.56 V to share between feed and ground.

    5.07 V in the feed leave 0.49 V for the ground, where a feed fault leaves 0.07 V. In the row of
    the ground it leaves 0.48 V for the feed, as a sound feed drops at 4.6 A.
    """
    readings = logged("C05", PRIME, TP1=12.35, TP2=6.79, TP3=5.07)
    typed = list(readings)

    as_written = verdict_on("C05", readings, "resistance:C40", supply_places=("TP1",))
    mended = slips("C05", readings, "TP3")

    assert as_written.outcome is Outcome.DOES_NOT_FIT
    # A pump shorted inside comes near, at 50 A through a 15 A fuse; it is told to blow it.
    assert fitting_ids(as_written) == {"bypass:PUMP"}
    assert as_written.fitting[0].overloads
    best = mended[0]
    assert best.kind is SlipKind.OTHER_PLACE
    assert best.readings[2].place.key == "TP4"
    assert set(best.fits) == {"resistance:body", "resistance:W4", "resistance:Wg"}
    assert best.misfit < 1 < as_written.fitting[0].misfit
    assert readings == typed


def test_two_drops_in_each_others_rows_are_swapped_back() -> None:
    """Feed 5.07 V and ground 0.48 V written, where the ground lost 5.07 V and the feed 0.48 V."""
    readings = logged("C05", PRIME, TP1=12.35, TP2=6.79, TP3=5.07, TP4=0.484)

    mended = slips("C05", readings, "TP3")

    swapped = [each for each in mended if each.kind is SlipKind.PLACES_SWAPPED]
    assert len(swapped) == 1
    assert swapped[0].changed == (2, 3)
    assert "resistance:W4" in swapped[0].fits


def test_volts_written_for_millivolts_across_a_fuse_make_it_look_all_but_open() -> None:
    """13.78 V at the battery, 13.77 V at the module: nothing is left for 3.92 V at the fuse.

    Divided by a thousand, 3.92 mV, a sound car reads all three: 4.4 A through 0.9 mOhm.
    """
    readings = logged("C15", "running, wheel straight", TP1=13.78, TP2=13.77, TP4=3.92)

    as_written = verdict_on("C15", readings, "resistance:F70", supply_places=("TP1",))
    mended = slips("C15", readings, "TP4")

    assert as_written.outcome is Outcome.DOES_NOT_FIT
    assert [each.kind for each in mended] == [SlipKind.THOUSAND_TOO_MUCH]
    assert mended[0].fits == ("healthy",)
    assert mended[0].readings[2].value == pytest.approx(0.00392)


def test_amps_written_for_milliamps_on_a_sleeping_car() -> None:
    """17.5 A asleep would pull the posts to 12.62 - 0.011 x 17.5 = 12.43 V; they read 12.62 V."""
    readings = [
        *logged("C12", ASLEEP, TP1=12.62),
        *logged("C12", ASLEEP, step=0.1, TP2=17.5),
    ]

    mended = slips("C12", readings, "TP2")

    assert [(each.kind, each.fits) for each in mended] == [
        (SlipKind.THOUSAND_TOO_MUCH, ("healthy",))
    ]


def test_a_drop_with_the_leads_swapped_is_turned_round() -> None:
    """0.184 V of feed drop while cranking, read with red on the starter: -0.184 V."""
    readings = logged("C01", "cranking", TP1=10.79, TP2=10.42, TP4=-0.184)

    mended = slips("C01", readings, "TP4")

    assert SlipKind.LEADS_SWAPPED in {each.kind for each in mended}
    turned = next(each for each in mended if each.kind is SlipKind.LEADS_SWAPPED)
    assert turned.fits == ("healthy",)
    assert turned.readings[2] == replace(readings[2], value=0.184)


def test_readings_of_a_sound_car_raise_no_question() -> None:
    assert slips("C01", logged("C01", "cranking", TP1=10.79, TP2=10.42, TP4=0.184), "TP4") == ()


def test_a_true_fault_is_not_explained_away_as_a_slip() -> None:
    """A bad engine strap: 3.96 V of ground drop and 6.89 V at the starter make the battery's."""
    assert slips("C01", logged("C01", "cranking", TP1=11.02, TP2=6.89, TP5=3.96), "TP5") == ()
