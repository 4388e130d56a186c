"""Relays, solenoids and rules: which state a circuit settles in, and when in none."""

import math
from dataclasses import replace

import pytest

from circuits.engine import (
    Battery,
    Contact,
    Fault,
    Meter,
    Network,
    RuleContact,
    Wire,
    find_suspect,
    predict,
    solve,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.drawing import (
    battery,
    coil,
    contact,
    network,
    phases,
    resistor,
    source,
    volts_place,
)
from tests.engine.solving import solved, the_solution

IN, OUT = True, False


# ------------------------------------------------------------------- relays of the reference set


@pytest.mark.parametrize(
    ("key", "letter", "contact_name", "states"),
    [
        # phases of C01: key off, ignition on, cranking, running
        ("C01", "healthy", "K1.con", (OUT, OUT, IN, OUT)),
        ("C01", "healthy", "SOL.con", (OUT, OUT, IN, OUT)),
        ("C01", "A", "SOL.con", (OUT, OUT, IN, OUT)),
        ("C01", "B", "K1.con", (OUT, OUT, IN, OUT)),
        ("C01", "B", "SOL.con", (OUT, OUT, IN, OUT)),
        ("C01", "C", "K1.con", (OUT, OUT, IN, OUT)),
        ("C01", "C", "SOL.con", (OUT, OUT, OUT, OUT)),
        ("C01", "D", "K1.con", (OUT, OUT, OUT, OUT)),
        ("C01", "E", "SOL.con", (OUT, OUT, IN, OUT)),
        # key off, ignition on, cranking, running: cranking must find the split charge relay open
        ("C03", "healthy", "K5.con", (OUT, OUT, OUT, IN)),
        ("C03", "A", "K5.con", (OUT, OUT, OUT, IN)),
        ("C03", "B", "K5.con", (OUT, OUT, OUT, IN)),
        ("C03", "D", "K5.con", (OUT, OUT, OUT, OUT)),
        ("C03", "F", "K5.con", (OUT, OUT, OUT, OUT)),
        # prime, after prime, cranking, running
        ("C05", "healthy", "K3.con", (IN, OUT, IN, IN)),
        ("C05", "B", "K3.con", (IN, OUT, IN, IN)),
        ("C05", "D", "K3.con", (OUT, OUT, OUT, OUT)),
    ],
)
def test_relays_stand_as_the_tables_of_the_reference_set_say(
    key, letter, contact_name, states
) -> None:
    solutions = solved(reference_circuit(key).faulty(letter))

    assert tuple(solution.contacts[contact_name] for solution in solutions.values()) == states


# --------------------------------------------------------------------------- a relay's memory


def split_charge(*, corroded_ohms: float, clean_first: bool) -> Network:
    """The split charge relay with a corroded coil ground, before which it was clean or not run."""
    circuit = reference_circuit("C03").network
    ignition_on, running = circuit.phase("ignition on"), circuit.phase("running")
    ground = circuit.part("W7")
    assert isinstance(ground, Wire)
    corroded = replace(ground, joint_ohms=ground.joint_ohms + corroded_ohms)
    before = running if clean_first else ignition_on
    after = replace(running, changes={**running.changes, "W7": corroded})
    return replace(
        circuit, phases=(replace(before, name="before"), replace(after, name="corroded"))
    )


def coil_volts(network: Network) -> tuple[bool, float]:
    """Return whether the relay is in at the end, and the volts across its coil."""
    last = solved(network)["corroded"]
    return last.contacts["K5.con"], last.drop_volts("K86", "K85")


def test_a_relay_that_is_in_stays_in_where_one_that_is_out_stays_out() -> None:
    """100 ohm in the coil ground of the split charge relay: pull-in at 8.0 V, drop-out at 3.0 V.

    Out, the coil has 6.00 V, too little to pull in; in, 5.95 V, plenty to hold.
    """
    out, out_volts = coil_volts(split_charge(corroded_ohms=100, clean_first=False))
    held, held_volts = coil_volts(split_charge(corroded_ohms=100, clean_first=True))

    assert out is OUT
    assert out_volts == pytest.approx(6.00, abs=0.005)
    assert held is IN
    assert held_volts == pytest.approx(5.95, abs=0.005)


@pytest.mark.parametrize(
    ("corroded_ohms", "clean_first", "state"),
    [
        (53, False, IN),
        (59, False, OUT),
        (59, True, IN),
        (265, True, IN),
        (285, True, OUT),
    ],
)
def test_the_relay_has_two_stable_states_between_56_and_275_ohm(
    corroded_ohms, clean_first, state
) -> None:
    assert (
        coil_volts(split_charge(corroded_ohms=corroded_ohms, clean_first=clean_first))[0] is state
    )


def relay_on_a_variable_supply(*volts: float) -> Network:
    """Supply --[coil 100 ohm]-- minus; battery --contact--[lamp 10 ohm]-- minus.

    Pulls in at 8 V (80 mA), lets go below 3 V (30 mA). One phase for each supply voltage.
    """
    winding = coil("K1.coil", "supply - minus", 100)
    return network(
        source("S1", "supply - minus", volts[0]),
        winding,
        battery("B1", "plus - minus", 12.6, 0.01),
        contact("K1.con", "plus - lamp", of=winding, pull_in_volts=8, drop_out_volts=3),
        resistor("lamp", "lamp - minus", 10),
        zero="minus",
        phases=phases(
            **{
                f"step_{number}": source("S1", "supply - minus", each)
                for number, each in enumerate(volts)
            }
        ),
    )


def test_a_relay_pulls_in_going_up_and_lets_go_coming_down() -> None:
    rising_and_falling = (2.0, 7.9, 8.1, 7.9, 3.1, 2.9, 7.9)
    solutions = solved(relay_on_a_variable_supply(*rising_and_falling))

    states = [solution.contacts["K1.con"] for solution in solutions.values()]
    assert states == [OUT, OUT, IN, IN, IN, OUT, OUT]


def test_the_order_of_the_phases_decides_the_state() -> None:
    one_way = solved(relay_on_a_variable_supply(9.0, 5.0))
    other_way = solved(relay_on_a_variable_supply(5.0, 9.0))

    assert one_way["step 1"].contacts["K1.con"] is IN
    assert other_way["step 0"].contacts["K1.con"] is OUT


def test_a_normally_closed_contact_opens_when_the_relay_pulls_in() -> None:
    drawn = relay_on_a_variable_supply(0.0, 9.0, 5.0, 0.0)
    moved = drawn.part("K1.con")
    assert isinstance(moved, Contact)
    at_rest_made = drawn.with_parts([replace(moved, normally_closed=True)])

    lamp_amps = [solution.amps["lamp"] for solution in solved(at_rest_made).values()]

    assert lamp_amps == pytest.approx([1.258, 0.0, 0.0, 1.258], abs=0.001)


def test_the_contacts_of_a_changeover_relay_move_together() -> None:
    """A coil that starts through the resting contact and holds through the working one.

    plus --87a-- coil and plus --87-- coil: moved one after the other, the coil would lose its
    current between them and the relay would buzz.
    """
    winding = coil("K1.coil", "coil - minus", 100)
    resting, working = (
        contact(
            name,
            "plus - coil",
            of=winding,
            pull_in_volts=8,
            drop_out_volts=3,
            normally_closed=name == "K1.87a",
        )
        for name in ("K1.87a", "K1.87")
    )
    solution = the_solution(
        network(
            source("B1", "plus - minus", 12),
            resting,
            working,
            winding,
            zero="minus",
        )
    )

    assert not solution.chatters
    assert dict(solution.contacts) == {"K1.87a": False, "K1.87": True}


@pytest.mark.parametrize("ends", ["supply - minus", "minus - supply"])
def test_a_relay_pulls_in_whichever_way_round_its_winding_is_drawn(ends) -> None:
    drawn = relay_on_a_variable_supply(9.0)
    other_way = drawn.with_parts([coil("K1.coil", ends, 100)])

    assert solved(other_way)["step 0"].contacts["K1.con"] is IN


# ------------------------------------------------------------------- what pulls a relay at all


def test_an_open_winding_has_full_volts_on_its_pins_and_pulls_nothing() -> None:
    drawn = relay_on_a_variable_supply(12.0)
    open_winding = Fault(suspect=find_suspect(drawn, "resistance:K1.coil"), severity=math.inf)

    (healthy,) = solve(drawn)
    (broken,) = solve(drawn, open_winding)

    assert healthy.contacts["K1.con"] is IN
    assert broken.drop_volts("supply", "minus") == pytest.approx(12.0)
    assert broken.amps["K1.coil"] == pytest.approx(0.0, abs=1e-12)
    assert broken.contacts["K1.con"] is OUT


@pytest.mark.parametrize(("supply_volts", "state"), [(9.1, OUT), (9.3, IN)])
def test_a_hot_relay_needs_more_volts_to_pull_in(supply_volts, state) -> None:
    """At 90 C copper resists 27.5 % more: 88 ohm become 112, and 7.2 V of pull-in become 9.2 V.

    1 + 0.00393 x 70 = 1.2751 with the coefficient of IEC 60028.
    """
    winding = coil("K1.coil", "plus - minus", 88, celsius=90)
    solution = the_solution(
        network(
            source("S1", "plus - minus", supply_volts),
            winding,
            contact("K1.con", "plus - lamp", of=winding, pull_in_volts=7.2, drop_out_volts=2),
            resistor("lamp", "lamp - minus", 10),
            zero="minus",
        )
    )

    assert supply_volts / solution.amps["K1.coil"] == pytest.approx(112.2, abs=0.05)
    assert solution.contacts["K1.con"] is state


@pytest.mark.parametrize(("volts", "expected"), [(8.01, IN), (7.99, OUT)])
def test_a_relay_of_the_catalogue_has_pulled_in_at_its_operate_volts(volts, expected) -> None:
    """Mini ISO relay, 12 V: 85 ohm, operates by 8 V, released by 1.5 V (a maker's catalogue)."""
    winding = coil("K1.coil", "plus - minus", 85)
    solution = the_solution(
        network(
            source("S1", "plus - minus", volts),
            winding,
            contact("K1.con", "plus - lamp", of=winding, pull_in_volts=8, drop_out_volts=1.5),
            resistor("lamp", "lamp - minus", 10),
            zero="minus",
        )
    )

    assert solution.contacts["K1.con"] is expected


# ---------------------------------------------------------------------------- the solenoid


def test_the_starter_lets_go_when_the_key_does() -> None:
    """plus --contact-- motor --[pull 0.45 ohm]-- terminal 50 --[hold 1.3 ohm]-- case.

    Key let go, the contact feeds both windings in series backwards, 12.3 V / 1.75 ohm = 7 A: the
    same amps in each, once each way round the core, so they cancel and the contact opens.
    """
    running = solved(reference_circuit("C01").network)["running"]

    assert running.contacts["SOL.con"] is OUT
    assert running.amps["MOT"] == pytest.approx(0, abs=1e-6)


def test_a_solenoid_without_its_second_winding_in_the_sum_would_crank_for_ever() -> None:
    """The near miss: 7 A x 1.3 ohm = 9 V on the hold-in winding alone would hold it in."""
    circuit = reference_circuit("C01").network
    solenoid = circuit.part("SOL.con")
    assert isinstance(solenoid, Contact)
    one_winding = circuit.with_parts([replace(solenoid, pull_winding="", pull_winding_ohms=0.0)])

    assert solved(one_winding)["running"].contacts["SOL.con"] is IN


# -------------------------------------------------------------------------------- chatter


def weak_battery(volts: float, ohms: float) -> Network:
    circuit = reference_circuit("C01").network
    drawn = circuit.part("B1")
    assert isinstance(drawn, Battery)
    return circuit.with_parts([replace(drawn, open_circuit_volts=volts, internal_ohms=ohms)])


STARTER_PLACES = [volts_place("battery", "BP - BN"), volts_place("terminal 50", "S50 - EB")]


def test_a_solenoid_on_a_weak_battery_clatters_between_two_states() -> None:
    """11.80 V behind 75 mOhm, 8 A of other consumers.

    Out, the two windings take 25.1 A: 11.80 - 0.075 x 33.2 = 9.31 V at the battery and 8.60 V at
    terminal 50, enough to pull in. In, the motor takes 108.5 A and the hold-in winding 2.1 A:
    11.80 - 0.075 x 118.6 = 2.91 V and 2.71 V, less than the 3.5 V that hold it. A meter shows
    anything between, some 6 V on average.
    """
    drawn = without_tolerances(weak_battery(11.80, 0.075))
    shown = predict(drawn, STARTER_PLACES, meter=EXACT_METER)

    for place, lower_volts, upper_volts in (("battery", 2.91, 9.31), ("terminal 50", 2.71, 8.60)):
        reading = shown["cranking", place]
        assert reading.chatters
        assert reading.low == pytest.approx(lower_volts, abs=0.005)
        assert reading.high == pytest.approx(upper_volts, abs=0.005)
        assert reading.value == pytest.approx((lower_volts + upper_volts) / 2, abs=0.005)


EXACT_METER = Meter(reading_fraction=0.0, counts=0.0)


def test_tolerances_widen_what_a_chattering_circuit_shows() -> None:
    drawn = weak_battery(11.80, 0.075)
    exact = predict(without_tolerances(drawn), STARTER_PLACES)["cranking", "battery"]
    real = predict(drawn, STARTER_PLACES)["cranking", "battery"]

    assert real.low < exact.low
    assert real.high > exact.high


def without_tolerances(drawn: Network) -> Network:
    """Return the network with exact parts, in every phase."""

    def exact(part):
        fields = {f: 0.0 for f in ("tolerance_fraction", "volts_tolerance") if hasattr(part, f)}
        return replace(part, **fields)

    return replace(
        drawn,
        parts=tuple(exact(part) for part in drawn.parts),
        phases=tuple(
            replace(phase, changes={name: exact(part) for name, part in phase.changes.items()})
            for phase in drawn.phases
        ),
    )


def test_a_little_better_battery_settles() -> None:
    """11.90 V behind 60 mOhm: the solenoid stays in, the motor stands still, battery 4.30 V."""
    shown = predict(weak_battery(11.90, 0.060), STARTER_PLACES)
    cranking = solved(weak_battery(11.90, 0.060))["cranking"]

    assert not shown["cranking", "battery"].chatters
    assert shown["cranking", "battery"].value == pytest.approx(4.30, abs=0.005)
    assert cranking.contacts["SOL.con"] is IN


def test_a_relay_that_breaks_its_own_coil_is_a_buzzer() -> None:
    """battery --[normally closed contact]--[coil 100 ohm]-- minus: in and out for ever."""
    winding = coil("K1.coil", "coil - minus", 100)
    buzzer = network(
        source("B1", "plus - minus", 12),
        contact(
            "K1.con",
            "plus - coil",
            of=winding,
            pull_in_volts=7,
            drop_out_volts=2,
            made_ohms=0.01,
            normally_closed=True,
        ),
        winding,
        zero="minus",
    )

    at_coil = predict(buzzer, [volts_place("coil", "coil - minus")], meter=EXACT_METER)[
        "as drawn", "coil"
    ]
    assert at_coil.chatters
    assert at_coil.low == pytest.approx(0.0, abs=0.01)
    assert at_coil.high == pytest.approx(12.0, abs=0.01)


# ------------------------------------------------------------------------------------ rules


def rule_contact(*, closes_volts: float, opens_volts: float) -> RuleContact:
    return RuleContact(
        name="fan driver",
        first="plus",
        second="fan",
        sense_red="sense",
        sense_black="minus",
        closes_volts=closes_volts,
        opens_volts=opens_volts,
        made_ohms=0.1,
    )


def fan_switched_by(rule: RuleContact, *sense_volts: float) -> list[bool]:
    """Return whether the rule's contact is made, for each voltage on its sense pin in turn."""
    drawn = network(
        source("B1", "plus - minus", 12),
        source("sensor", "sense - minus", sense_volts[0]),
        rule,
        resistor("fan", "fan - minus", 2),
        zero="minus",
        phases=phases(
            **{
                f"step_{number}": source("sensor", "sense - minus", volts)
                for number, volts in enumerate(sense_volts)
            }
        ),
    )
    return [solution.contacts["fan driver"] for solution in solved(drawn).values()]


def test_a_rule_that_closes_above_opens_only_below_its_lower_volts() -> None:
    rule = rule_contact(closes_volts=3.0, opens_volts=2.0)

    assert fan_switched_by(rule, 2.5, 3.1, 2.5, 1.9, 2.5) == [OUT, IN, IN, OUT, OUT]


def test_a_rule_that_closes_below_opens_only_above_its_upper_volts() -> None:
    """A coolant sensor's volts fall as it warms: fan on below 1.0 V, off above 1.5 V."""
    rule = rule_contact(closes_volts=1.0, opens_volts=1.5)

    assert fan_switched_by(rule, 2.0, 1.2, 0.9, 1.2, 1.6, 1.2) == [OUT, OUT, IN, IN, OUT, OUT]


def test_a_rule_whose_monitor_does_not_run_closes_nothing() -> None:
    rule = replace(rule_contact(closes_volts=3.0, opens_volts=2.0), enabled=False)
    drawn = network(
        source("B1", "plus - minus", 12),
        source("sensor", "sense - minus", 5),
        rule,
        resistor("fan", "fan - minus", 2),
        zero="minus",
    )

    assert the_solution(drawn).amps["fan"] == pytest.approx(0.0, abs=1e-12)
