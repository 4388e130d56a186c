"""The reading that tells most: half-splitting, nothing told twice, minutes that count.

Half-splitting a chain of like parts is the rule of the handbooks (US Navy, NEETS Module 16, on
troubleshooting; value from memory). That no reading tells more than the uncertainty there is, and a
second look at what is known tells nothing, is Shannon's (1948).
"""

import math

import numpy as np
import pytest

from circuits.engine import (
    Candidate,
    Fault,
    Hypotheses,
    Network,
    Place,
    Reading,
    find_suspect,
    next_readings,
    weigh_suspects,
)
from tests.engine.drawing import battery, network, resistor

JOINTS = 8
PHASE = "as drawn"


def chain() -> Network:
    """A battery, eight joints in a row, and a lamp."""
    nodes = ["plus", *(f"n{number}" for number in range(1, JOINTS)), "lamp"]
    joints = (
        resistor(f"J{at + 1}", f"{nodes[at]} - {nodes[at + 1]}", 0.005) for at in range(JOINTS)
    )
    return network(
        battery("B1", "plus - minus", volts=12.6, ohms=0.01),
        *joints,
        resistor("H1", "lamp - minus", 6.0),
        zero="minus",
    )


def one_bad_joint(drawn: Network, names: range = range(1, JOINTS + 1)) -> Hypotheses:
    """Return that one of the joints, each as likely, has an ohm too many."""
    faults = tuple(
        Fault(suspect=find_suspect(drawn, f"resistance:J{number}"), severity=1.0)
        for number in names
    )
    even = np.full(len(faults), 1 / len(faults))
    return Hypotheses(network=drawn, faults=faults, probability=even, outside=0.0)


def to_ground(number: int, minutes: float = 2.0) -> Candidate:
    node = f"n{number}" if number < JOINTS else "lamp"
    place = Place(key=f"TP{number}", red=node, black="minus")
    return Candidate(place=place, phase=PHASE, minutes=minutes)


EVERY_NODE = [to_ground(number) for number in range(1, JOINTS + 1)]


def test_a_row_of_like_joints_is_halved() -> None:
    best, *_ = next_readings(one_bad_joint(chain()), EVERY_NODE)

    assert best.candidate.place.key == "TP4"
    assert best.bits == pytest.approx(1.0, abs=0.01)
    low = {name for name, _ in best.below.suspects}
    assert low == {f"resistance:J{number}" for number in range(1, 5)}
    assert best.below.probability == pytest.approx(0.5, abs=0.01)


def test_halving_again_finds_the_joint_in_three_readings() -> None:
    """Eight like joints are three bits: log2 of eight."""
    drawn = chain()
    left = range(1, JOINTS + 1)
    bits = 0.0
    while len(left) > 1:
        best, *_ = next_readings(one_bad_joint(drawn, left), EVERY_NODE)
        bits += best.bits
        left = range(left.start, left.start + len(left) // 2)

    assert bits == pytest.approx(math.log2(JOINTS), abs=0.03)


def test_a_reading_between_no_suspects_tells_nothing_and_is_left_out() -> None:
    found = next_readings(one_bad_joint(chain(), range(1, 3)), EVERY_NODE)

    assert [told.candidate.place.key for told in found] == ["TP1"]


def test_twins_count_as_one() -> None:
    twins = [[f"resistance:J{number}" for number in range(1, 5)]]
    best, *_ = next_readings(one_bad_joint(chain()), EVERY_NODE, twins=twins)

    assert best.wrong_now == pytest.approx(0.5, abs=0.01)
    alone = next_readings(one_bad_joint(chain(), range(1, 5)), EVERY_NODE, twins=twins)
    assert alone == ()


def test_minutes_count_against_what_is_told() -> None:
    slow = [to_ground(4, minutes=20.0), to_ground(3)]
    found = next_readings(one_bad_joint(chain()), slow)

    assert [told.candidate.place.key for told in found] == ["TP3", "TP4"]
    assert found[1].bits > found[0].bits


def test_a_reading_makes_naming_the_fault_less_of_a_guess() -> None:
    for told in next_readings(one_bad_joint(chain()), EVERY_NODE):
        assert told.wrong_after < told.wrong_now
        assert told.bits <= math.log2(JOINTS) + 1e-9


def test_what_was_read_already_tells_next_to_nothing() -> None:
    drawn = chain()
    place = EVERY_NODE[3].place
    read = Reading(place=place, phase=PHASE, value=10.7, step=0.01)
    before = next_readings(weigh_suspects(drawn), EVERY_NODE)
    after = next_readings(weigh_suspects(drawn, [read]), EVERY_NODE)
    at_first = next(told.bits for told in before if told.candidate.place == place)
    again = next((told.bits for told in after if told.candidate.place == place), 0.0)

    assert again < at_first / 2
