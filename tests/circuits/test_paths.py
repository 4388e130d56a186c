"""The ways of a pin, what hangs on it, and what a fault there changes."""

import math
from pathlib import Path

import pytest

from circuits.engine import Fault, find_suspect
from circuits.errors import UnknownPin
from circuits.paths import pin_report, pin_ways
from circuits.sheet import read_text, to_network
from tests.circuits.drawn import drawn

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"

#: battery --F1--+--[S1]--a--[lamp L1]--g--W9--CH     the two lamps share splice g and fuse F1
#:               +--[S2]--b--[lamp L2]--g
TWO_LAMPS = """
B1 battery BP - BN 12.6 V, 11 mOhm
Wg wire BN - CH 35 mm2, 0.4 m
F1 fuse BP - f 15 A
S1 switch f - a 10 mOhm
S2 switch f - b 10 mOhm; one: open
L1 lamp a - g 21 W
L2 lamp b - g 21 W
W9 wire g - CH 1.5 mm2, 1 m
"""


def report_of(sheet, pin):
    return pin_report(sheet, to_network(sheet), pin)


def library(stem):
    return read_text((LIBRARY / f"{stem}.txt").read_text(encoding="utf-8"))


@pytest.fixture
def two_lamps():
    return drawn(TWO_LAMPS, phases="one on one lamp\ntwo on both lamps")


def ways_of(report, phase):
    return next(ways for ways in report.ways if ways.phase == phase)


def test_the_supply_of_a_pin_leads_up_to_the_source_and_its_way_back_down_to_zero(two_lamps):
    ways = ways_of(report_of(two_lamps, "a"), "one")

    assert ways.supply.parts == ("S1", "F1")
    assert ways.supply.end == "B1"
    assert ways.back.parts == ("L1", "W9", "Wg")
    assert ways.back.end == "BN"


def test_a_broken_way_names_the_contact_that_is_open(two_lamps):
    ways = ways_of(report_of(two_lamps, "b"), "one")

    assert ways.supply.parts == ("S2", "F1")
    assert ways.supply.blocked_by == ("S2",)
    assert ways.back.blocked_by == ()
    assert ways_of(report_of(two_lamps, "b"), "two").supply.blocked_by == ()


def test_a_relay_that_has_let_go_breaks_the_way():
    report = report_of(library("fuel_pump"), "K87")

    assert ways_of(report, "prime").supply.blocked_by == ()
    assert ways_of(report, "after").supply.blocked_by == ("K3.con",)
    assert ways_of(report, "prime").supply.parts == ("K3.con", "F15", "W1")


def test_the_ways_never_lead_through_a_ground_or_a_source(two_lamps):
    """From the splice the supply comes through a lamp, not back through the body."""
    ways = ways_of(report_of(two_lamps, "g"), "two")

    assert ways.supply.parts == ("L1", "S1", "F1")
    assert ways.back.parts == ("W9", "Wg")


def test_what_hangs_on_the_same_fuse_and_splice_is_told():
    shared = {
        (each.kind, each.name): each.consumers
        for each in report_of(library("headlamps"), "GL").shared
    }

    assert shared["splice", "GL"] == ("lampLOWL", "lampHIGHL", "lampPOSL", "lampINDL")
    assert shared["fuse", "F_highL"] == ("lampHIGHL",)
    assert "lampLOWR" in shared["ground", "CH"]


def test_an_open_feed_darkens_what_it_feeds_and_an_open_ground_all_that_share_it(two_lamps):
    """By hand: 21 W at 12 V is 1.75 A a lamp; without their ground both carry nothing."""

    def lost(pin, fault):
        complaint = next(
            each for each in report_of(two_lamps, pin).complaints if each.fault.suspect.id == fault
        )
        return {
            (change.part, change.phase)
            for change in complaint.changes
            if abs(change.healthy_amps) > 1 and abs(change.faulty_amps) < 0.01
        }

    assert lost("a", "resistance:S1") == {("L1", "one"), ("L1", "two")}
    assert lost("g", "resistance:W9") == {("L1", "one"), ("L1", "two"), ("L2", "two")}


def test_a_fault_behind_an_open_switch_is_noticed_by_nobody():
    sheet = drawn(TWO_LAMPS, phases="one on one lamp")
    open_feed = next(
        each
        for each in report_of(sheet, "b").complaints
        if each.fault.suspect.id == "resistance:S2"
    )

    assert open_feed.changes == ()


def test_a_wrong_pin_is_told_with_the_nearest_one(two_lamps):
    with pytest.raises(UnknownPin, match=r"Nothing is connected at 'BQ'. Did you mean .*'BP'"):
        report_of(two_lamps, "BQ")


def test_with_its_ground_gone_a_tell_tale_is_fed_backwards_through_the_lamps():
    """Left cluster ground off, dipped: nobody switched main beam on, yet its feed HI is alive, from
    the left dipped filament through the splice and the left main one (common practice, no source).
    In order nothing but the open main-beam relay leads there."""
    sheet = library("headlamps")
    network = to_network(sheet)
    gone = Fault(suspect=find_suspect(network, "resistance:WgL"), severity=math.inf)
    healthy = pin_ways(sheet, network, "tt", "dip").supply
    backwards = pin_ways(sheet, network, "tt", "dip", gone).supply
    splice = pin_ways(sheet, network, "GL", "dip", gone).back

    assert healthy is not None
    assert backwards is not None
    assert splice is not None
    assert healthy.blocked_by == ("KHc",)
    assert backwards.blocked_by == ()
    assert "lampHIGHL" in backwards.parts
    assert "KHc" not in backwards.parts
    assert "WgL" not in splice.parts
    assert splice.blocked_by == ()
