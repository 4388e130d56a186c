"""What an inspection says of a drawing: each kind of finding, and the near miss that is none.

Amps of wires: DIN VDE 0298-4, table 11 column 2 (one conductor in free air at 30 C). Fuse and wire:
IEC 60364-4-43, 433.1. Copper: IEC 60028. Drop limits: a workshop manual quoting SAE practice.
"""

import pytest

from circuits.engine import KeyState
from circuits.inspection import FindingKind, inspect
from circuits.inspection.limits import (
    FUSE_RATINGS_AMPS,
    WIRE_AMPS,
    fuse_amps_for,
    most_drop_volts,
    wire_amps,
    wire_mm2_for,
)
from circuits.sheet import SheetErrors, to_network
from tests.circuits.drawn import drawn

SOURCE = "B1 battery BP - BN 12.6 V, 11 mOhm | measured"


def found(sheet):
    return {finding.id: finding for finding in inspect(sheet, to_network(sheet))}


def found_in(parts, **sections):
    return found(drawn(f"{SOURCE}\n{parts}", **sections))


def of_kind(findings, kind):
    return sorted(finding.subject for finding in findings.values() if finding.kind is kind)


# ------------------------------------------------------------------------------ published figures


def test_a_wire_carries_what_the_table_says_and_a_size_between_counts_as_the_thinner():
    """DIN VDE 0298-4: 1.5 mm2 24 A, 2.5 mm2 32 A, 6 mm2 54 A, 25 mm2 129 A."""
    assert (wire_amps(1.5), wire_amps(2.5), wire_amps(6), wire_amps(25)) == (24, 32, 54, 129)
    assert wire_amps(2.0) == 24
    assert wire_amps(0.07) == pytest.approx(1.75)
    assert (wire_mm2_for(25), wire_mm2_for(32), wire_mm2_for(900)) == (2.5, 2.5, None)


def test_every_fuse_that_the_rule_allows_opens_before_the_wire_has_145_percent_for_long():
    """IEC 60364-4-43, 433.1: In <= Iz and I2 <= 1.45 Iz; ISO 8820-3 gives I2 = 1.35 In."""
    for size, amps in WIRE_AMPS.items():
        rating = fuse_amps_for(size)
        assert rating in FUSE_RATINGS_AMPS
        assert rating <= amps
        assert 1.35 * rating <= 1.45 * amps
    assert fuse_amps_for(1.5) == 20
    assert fuse_amps_for(0.02) is None


def test_a_cranking_cable_may_lose_more_than_others():
    """0.5 and 0.3 V cranking, 0.2 and 0.1 V otherwise."""
    assert most_drop_volts(KeyState.CRANK, on_ground_side=False) == 0.5
    assert most_drop_volts(KeyState.CRANK, on_ground_side=True) == 0.3
    assert most_drop_volts(KeyState.RUN, on_ground_side=False) == 0.2
    assert most_drop_volts(KeyState.ON, on_ground_side=True) == 0.1


# -------------------------------------------------------------------------------- fuses and wires


def lamp_behind(fuse, wire, metres=1):
    return f"""F1 fuse BP - F {fuse}
W1 wire F - L {wire}, {metres} m
H1 lamp L - BN 21 W | from its base"""


def test_a_fuse_above_what_its_wire_stands_is_dangerous_and_both_mends_are_named():
    """BP --30 A-- 1.5 mm2 (24 A) -- lamp: at most a 20 A fuse, or 2.5 mm2 (32 A)."""
    findings = found_in(lamp_behind("30 A", "1.5 mm2"))

    finding = findings["fuse-too-large:W1"]
    assert "F1 (30 A)" in finding.problem
    assert "24 A" in finding.problem
    assert finding.mend == "Fit a fuse of at most 20 A or draw a wire of 2.5 mm²."
    assert "0298-4" in finding.source
    assert finding.gravity == "danger"


def test_a_fuse_that_the_wire_stands_is_no_finding():
    assert found_in(lamp_behind("20 A", "1.5 mm2")) == {}


def test_a_small_fuse_further_on_does_not_protect_the_thin_wire_before_it():
    """BP --40 A-- 1 mm2 --10 A-- lamp: the 10 A fuse opens for the lamp, not for the wire."""
    findings = found_in(
        """F1 fuse BP - A 40 A, cold 1.6 mOhm
W1 wire A - B 1 mm2, 1 m
F2 fuse B - C 10 A
W2 wire C - L 1 mm2, 1 m
H1 lamp L - BN 21 W | from its base"""
    )

    assert of_kind(findings, FindingKind.FUSE_TOO_LARGE) == ["W1"]


def test_a_wire_fed_from_both_ends_is_as_bad_as_its_worse_end():
    """One battery behind 20 A, the other with no fuse: the wire between is not protected."""
    findings = found_in(
        """B2 battery LP - BN 12.6 V, 11 mOhm | measured
F1 fuse BP - A 20 A
W1 wire A - LP 2.5 mm2, 1 m
H1 lamp A - BN 21 W | from its base"""
    )

    assert of_kind(findings, FindingKind.NO_FUSE) == ["W1"]
    assert "B2" in findings["no-fuse:W1"].problem


def test_a_feed_without_a_fuse_is_named_and_a_short_stub_is_not():
    unfused = """W1 wire BP - L 1.5 mm2, {metres} m
H1 lamp L - BN 21 W | from its base"""

    assert of_kind(found_in(unfused.format(metres=1)), FindingKind.NO_FUSE) == ["W1"]
    assert found_in(unfused.format(metres=0.2)) == {}


def test_a_source_that_cannot_give_the_amps_needs_no_fuse():
    """A module's 5 V pin that folds back at 0.15 A burns no 0.5 mm2 wire (12 A)."""
    findings = found_in(
        """V5 generator S - BN 5 V, 300 mOhm, max 0.15 A | data sheet
W1 wire S - P 0.5 mm2, 1 m
R1 resistor P - BN 1 kOhm, within 5 %
R2 resistor BP - BN 100 Ohm, within 5 %"""
    )

    assert of_kind(findings, FindingKind.NO_FUSE) == []


def test_a_wire_behind_an_open_switch_counts_in_the_phase_in_which_it_is_fed():
    parts = """W1 wire BP - S 2.5 mm2, 0.1 m
S1 switch S - A 10 mOhm; off: open
W2 wire A - L 1.5 mm2, 1 m
H1 lamp L - BN 21 W | from its base"""

    phases = "off off switched off\non on switched on"
    assert of_kind(found_in(parts, phases=phases), FindingKind.NO_FUSE) == ["W2"]


def test_a_reversing_switch_does_not_make_its_ground_wire_a_feed():
    """Motor between two change-over contacts, both at rest on ground: no wire there is fed."""
    findings = found_in(
        """F1 fuse BP - P 20 A
up switch P - M1 10 mOhm; rest: open
upg switch M1 - G 10 mOhm; up: open
downg switch M2 - G 10 mOhm
M motor M1 - M2 2 A, 0.1 A/V, stalled 1 Ohm | measured
Wg wire G - BN 0.5 mm2, 0.5 m""",
        phases="rest on at rest\nup on window up",
    )

    assert of_kind(findings, FindingKind.NO_FUSE) == []
    assert of_kind(findings, FindingKind.FUSE_TOO_LARGE) == []


def test_a_long_thin_wire_loses_too_much_and_both_mends_hold():
    """5 A through 4 m of 1 mm2 (18.5 mOhm/m): 0.37 V; 0.2 V allow 40 mOhm: 2.2 m, or 2.5 mm2."""
    parts = """F1 fuse BP - F 15 A
W1 wire F - L {wire}, {metres} m
I1 current L - BN 5 A, within 5 %"""
    finding = found_in(parts.format(wire="1 mm2", metres=4))["wire-too-long:W1"]

    assert "0.370 V at 5.00 A" in finding.problem
    assert finding.mend.startswith("Draw 2.5 mm², or at most 2.2 m of this size")
    assert found_in(parts.format(wire="2.5 mm2", metres=4)) == {}
    assert found_in(parts.format(wire="1 mm2", metres=2.1)) == {}


def test_a_ground_wire_may_lose_half_of_what_a_feed_may():
    """5 A through 1.6 m of 1 mm2: 0.148 V."""
    feed = """F1 fuse BP - F 15 A
W1 wire F - L 1 mm2, 1.6 m
I1 current L - BN 5 A, within 5 %"""
    ground = """F1 fuse BP - L 15 A
I1 current L - G 5 A, within 5 %
W1 wire G - BN 1 mm2, 1.6 m"""

    assert of_kind(found_in(feed), FindingKind.WIRE_TOO_LONG) == []
    assert of_kind(found_in(ground), FindingKind.WIRE_TOO_LONG) == ["W1"]


# ---------------------------------------------------------------------- returns, islands, grounds


def test_a_lamp_without_a_way_back_is_named_with_the_wire_that_leads_to_it():
    findings = found_in(
        """F1 fuse BP - F 10 A
H1 lamp F - BN 5 W | from its base
W2 wire F - L 1 mm2, 1 m
H2 lamp L - nowhere 5 W | from its base"""
    )

    finding = findings["no-return:H2"]
    assert "W2" in finding.problem
    assert "no-return:H1" not in findings


def test_a_wire_on_a_wiper_has_its_return_through_the_track():
    """Three ends: what hangs on the third is no stub."""
    findings = found_in(
        """F1 fuse BP - A 10 A
TPS potentiometer A - BN - SIG 4.7 kOhm, position 50 %, within 5 %
Ws wire SIG - IN 0.5 mm2, 1 m
IN1 input IN - BN 220 kOhm, within 10 %"""
    )

    assert of_kind(findings, FindingKind.NO_RETURN) == []


def test_what_no_phase_ever_ties_down_floats():
    """A pin between two switches of which neither ever closes."""
    findings = found_in(
        """R1 resistor BP - BN 100 Ohm, within 5 %
S1 switch BP - X 10 mOhm; off, on: open
S2 switch X - BN 10 mOhm; off, on: open""",
        phases="off off key off\non on key on",
    )

    assert of_kind(findings, FindingKind.FLOATING) == ["X"]


def test_what_floats_in_one_phase_only_is_no_finding():
    findings = found_in(
        """S1 switch BP - X 10 mOhm; off: open
S2 switch X - Y 10 mOhm; off: open
R1 resistor Y - BN 100 Ohm, within 5 %""",
        phases="off off key off\non on key on",
    )

    assert of_kind(findings, FindingKind.FLOATING) == []


def test_a_lost_shared_ground_lights_what_is_switched_off():
    """With Wg open the tail lamp's current goes back through the brake lamp to the other side."""
    findings = found_in(
        """F1 fuse BP - A 10 A
S1 switch A - T 10 mOhm
S2 switch A - D 10 mOhm; tail: open
tail lamp T - G 5 W | from its base
stop lamp D - G 21 W | from its base
other lamp D - BN 21 W | from its base
Wg wire G - BN 1 mm2, 0.5 m""",
        phases="tail on tail lamps\nbrake on tail lamps and brake",
    )

    finding = findings["back-feed:Wg"]
    assert "stop" in finding.problem
    assert "tail lamps" in finding.problem
    assert finding.gravity == "danger"


def test_a_ground_of_one_load_feeds_nothing_back():
    findings = found_in(
        """F1 fuse BP - A 10 A
tail lamp A - G 5 W | from its base
Wg wire G - BN 1 mm2, 0.5 m"""
    )

    assert of_kind(findings, FindingKind.BACK_FEED) == []


# ----------------------------------------------------------------------------------------- relays


RELAY = """F1 fuse BP - F 10 A
Rc resistor F - K86 {series}, within 5 %
K1.coil coil K86 - BN 88 Ohm
K1.con contact F - L by K1.coil, made 6 mOhm, pulls in {pull_in}, lets go 2 V
H1 lamp L - BN 5 W | from its base"""


def test_a_relay_that_pulls_in_cold_but_not_at_90_degrees_is_named():
    """Copper at 90 C: 1 + 0.00393 x 70 = 1.275, so 88 Ohm become 112 and 9 V become 11.5 V.

    Behind 20 Ohm the cold winding has 12.6 x 88/108 = 10.3 V (pulls in at 9 V, 102 mA); hot it
    carries 12.6 / (20 + 112.2) = 95 mA: no more.
    """
    finding = found_in(RELAY.format(series="20 Ohm", pull_in="9 V"))["weak-when-hot:K1.con"]

    assert "9 V cold become 11.5 V" in finding.why
    assert "28% more" in finding.why
    assert finding.gravity == "wrong"


def test_a_relay_with_room_to_spare_pulls_in_hot_as_well():
    """7.2 V cold become 9.2 V; 12.6 V behind 1 Ohm give more."""
    findings = found_in(RELAY.format(series="1 Ohm", pull_in="7.2 V"))

    assert of_kind(findings, FindingKind.WEAK_WHEN_HOT) == []


def test_a_relay_that_is_not_asked_to_pull_in_is_not_blamed():
    findings = found_in(RELAY.format(series="200 Ohm", pull_in="9 V"))

    assert of_kind(findings, FindingKind.WEAK_WHEN_HOT) == []


# ------------------------------------------------------------------------- phases, places, codes


SWITCHED = """F1 fuse BP - F 10 A
S1 switch F - L 10 mOhm; off: open
H1 lamp L - BN 21 W | from its base"""


def test_a_phase_in_which_nothing_differs_is_named_once():
    phases = "off off key off\non on key on\nrun run running"
    findings = found_in(SWITCHED, phases=phases)

    assert of_kind(findings, FindingKind.IDLE_PHASE) == ["run"]
    assert "'key on'" in findings["idle-phase:run"].problem


def test_a_place_that_no_fault_moves_tells_nothing():
    """Two bolts of one ground bar, joined twice: 1 uOhm; even 1100 A leave less than 1 mV there."""
    findings = found_in(
        f"""{SWITCHED}
bar splice BN - G 0.001 mOhm
bar2 splice BN - G 0.001 mOhm
R9 resistor G - BP 100 kOhm, within 5 %""",
        phases="off off key off\non on key on",
        places="TP1 V L - BN lamp\nTP2 V G - BN across the bar",
    )

    assert of_kind(findings, FindingKind.MUTE_PLACE) == ["TP2"]


def test_a_code_that_the_healthy_circuit_sets_is_wrong():
    findings = found_in(
        SWITCHED,
        phases="off off key off\non on key on",
        codes="B1000: lamp circuit\n  if L - BN below 13 V in on",
    )

    assert "key on" in findings["healthy-code:B1000"].problem


def test_a_code_that_no_fault_meets_is_named_and_one_that_some_fault_meets_is_not():
    findings = found_in(
        SWITCHED,
        phases="off off key off\non on key on",
        codes="B1000: lamp circuit high\n  if L - BN above 15 V in on\n"
        "B1001: lamp circuit low\n  if L - BN below 6 V for 1 s in on",
    )

    assert of_kind(findings, FindingKind.CODE_NEVER_SETS) == ["B1000"]


RULE = """F1 fuse BP - F 10 A
S1 switch F - IN 10 mOhm; off: open
Rin input IN - BN 10 kOhm, within 5 %
out rule F - L watching IN - BN, closes above {above}, opens below 1.5 V, made 20 mOhm, known
H1 lamp L - BN 5 W | from its base"""


def test_a_rule_above_all_volts_there_are_never_closes():
    phases = "off off key off\non on key on"

    wrong = found_in(RULE.format(above="20 V"), phases=phases)["rule-never-moves:out"]
    assert "never closes" in wrong.problem
    assert "20 V" in wrong.problem
    right = found_in(RULE.format(above="6 V"), phases=phases)
    assert of_kind(right, FindingKind.RULE_NEVER_MOVES) == []


# ------------------------------------------------------------------------------ volts of the net


def net_of(source, **sections):
    return found(drawn(f"{source}\nR1 resistor BP - BN 100 Ohm, within 5 %", **sections))


def test_a_48_volt_supply_is_named_as_dangerous_and_sent_to_the_maker_and_a_licensed_person():
    """ISO 16750-2: at most 16 V on a 12 V vehicle, 32 V on one of 24 V (values from memory)."""
    for volts, most in ((12, "16 V"), (24, "32 V")):
        finding = net_of("DC48 supply BP - BN 48 V, 20 mOhm", volts=volts)["net-too-high:DC48"]

        assert finding.gravity == "danger"
        assert finding.problem == (
            f"48.0 V in 'switched on', where a {volts} V vehicle holds at most {most}."
        )
        assert "no test sheet" in finding.why
        assert "maker's procedure" in finding.mend
        assert "licensed" in finding.mend


def test_the_mend_of_a_net_too_high_is_the_vehicle_s_own_volts():
    assert of_kind(net_of("B1 battery BP - BN 12.6 V, 11 mOhm"), FindingKind.NET_TOO_HIGH) == []
    assert of_kind(net_of("G1 supply BP - BN 15.2 V, 9 mOhm"), FindingKind.NET_TOO_HIGH) == []
    assert (
        of_kind(net_of("G1 supply BP - BN 28.4 V, 9 mOhm", volts=24), FindingKind.NET_TOO_HIGH)
        == []
    )


def test_two_batteries_in_series_in_a_vehicle_said_to_have_12_volts_are_a_slip_of_its_volts():
    findings = net_of("B1 battery BM - BN 12.6 V, 11 mOhm\nB2 battery BP - BM 12.6 V, 11 mOhm")

    finding = findings["net-too-high:B2"]
    assert "25.2 V" in finding.problem
    assert "write 'volts: 24 V'" in finding.mend


# ------------------------------------------------------------------------- tolerances, volts, order


def test_values_without_tolerance_or_source_are_one_finding_for_each_kind():
    findings = found_in(
        """F1 fuse BP - F 10 A
H1 lamp F - BN 5 W
H2 lamp F - BN 5 W
H3 lamp F - BN 5 W, within 10 %
R1 resistor F - BN 100 Ohm [measured]"""
    )

    assert list(findings) == ["no-tolerance:lamp"]
    assert findings["no-tolerance:lamp"].problem.startswith("H1 and H2 (filament lamp)")


def test_more_than_sixty_volts_is_refused_before_any_inspection():
    """60 V DC: the limit of ISO 6469-3 and UN Regulation No. 100."""
    with pytest.raises(SheetErrors, match="licensed for high voltage"):
        drawn("B1 battery BP - BN 72 V, 11 mOhm\nR1 resistor BP - BN 100 Ohm")


def test_the_gravest_comes_first_and_every_finding_says_what_why_and_how_to_mend():
    sheet = drawn(
        """B1 battery BP - BN 12.6 V, 11 mOhm
W1 wire BP - L 1 mm2, 4 m
I1 current L - BN 8 A
W2 wire L - X 1 mm2, 1 m"""
    )
    findings = inspect(sheet, to_network(sheet))

    assert [finding.kind for finding in findings] == sorted(
        (finding.kind for finding in findings), key=list(FindingKind).index
    )
    assert findings[0].kind is FindingKind.NO_FUSE
    assert {"no-return:W2", "wire-too-long:W1", "no-tolerance:current"} <= {
        finding.id for finding in findings
    }
    for finding in findings:
        assert finding.problem.endswith(".")
        assert finding.why.endswith(".")
        assert finding.mend.endswith(".")
