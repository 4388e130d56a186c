"""First checks of a part, in the vehicle and on the bench: their order, figures and refusals.

Relay: 85 ohm +-10 %, 141 mA at 12 V (a relay maker's data for a mini ISO relay). Net limits:
ISO 16750-2, 32 V on a 24 V vehicle; high volts: UN Regulation No. 100, 60 V DC.
"""

from pathlib import Path

import pytest

from circuits.part_sheets.allowed import NoTestSheet, subjects
from circuits.part_sheets.in_vehicle import Group, make_test_sheet
from circuits.part_sheets.on_the_bench import make_bench_sheet
from circuits.sheet import read_text, to_network
from tests.circuits.drawn import drawn

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"


def sheet_named(stem):
    return read_text((LIBRARY / f"{stem}.txt").read_text(encoding="utf-8"))


def checks(sheet, subject):
    made = make_test_sheet(sheet, to_network(sheet), subject)
    return {check.what: check for check in made.checks}


def steps(sheet, subject):
    made = make_bench_sheet(sheet, to_network(sheet), subject)
    return {step.what: step for step in made.checks}


# ----------------------------------------------------------------------------------- the vehicle


@pytest.mark.parametrize("subject", ["K4", "LOW", "HIGH"])
def test_checks_come_in_trade_order_source_powers_grounds_inputs_outputs(subject):
    made = make_test_sheet(sheet_named("horn"), to_network(sheet_named("horn")), subject)
    order = ["source", "powers", "grounds", "inputs", "outputs"]
    groups = [order.index(check.group) for check in made.checks]

    assert groups == sorted(groups)
    assert groups[0] == 0
    assert len(made.checks) >= 4


def test_a_horn_is_checked_while_it_blows_and_reads_what_the_sum_says():
    """12.08 V across the low horn and 38 mV behind it: worked in test_library_by_hand."""
    found = checks(sheet_named("horn"), "LOW")
    across = found["across LOW, at work"]

    assert across.phase == "blow"
    assert across.shown.prediction.value == pytest.approx(12.08, abs=0.01)
    ground = found["ground side of LOW, drop"]
    assert ground.shown.prediction.value == pytest.approx(0.038, abs=0.001)
    assert ground.red == "LOg, low horn -"
    assert ground.black == "BN, battery - post"


def test_what_a_wrong_reading_means_is_worked_out_from_the_circuit():
    """More volts than normal behind the horn: its ground wire or the battery lead, not its feed."""
    ground = checks(sheet_named("horn"), "LOW")["ground side of LOW, drop"]
    means = {meaning.side: meaning.words for meaning in ground.otherwise}

    assert means["higher"].startswith("resistance or open: ")
    high = means["higher"].split(";")[0]
    assert "W8" in high
    assert "Wg" in high
    assert "F9" not in high
    assert "F9" in means["lower"] or "B1" in means["lower"]


def test_a_relay_is_checked_at_its_winding_before_its_contact():
    found = list(checks(sheet_named("horn"), "K4"))

    assert found.index("winding K4.coil, across it") < found.index("drop across K4.con, made")


def test_the_caution_stands_at_the_step_and_not_at_all_of_them():
    found = checks(sheet_named("wiper_park"), "SLOW")

    assert any("starts unasked" in words for words in found["across SLOW, at work"].cautions)
    assert found["feed of SLOW"].cautions == ()


def test_cranking_is_cautioned_wherever_the_engine_turns():
    found = checks(sheet_named("starting_relay"), "MOT")

    assert all(check.phase == "crank" for check in found.values())
    assert all(any("gear out" in words for words in check.cautions) for check in found.values())


def test_every_part_of_the_library_has_a_sheet():
    sheet = sheet_named("rear_window_heater")
    network = to_network(sheet)

    assert {"K6", "GRID", "DRV", "TELL"} <= set(subjects(sheet))
    for subject in subjects(sheet):
        assert make_test_sheet(sheet, network, subject).checks


# ----------------------------------------------------------------------------------------- refusals

LAMP = "F1 fuse BP - A 10 A\nH1 lamp A - BN 5 W, within 10 %"


def small(source="B1 battery BP - BN 12.6 V, 11 mOhm", **sections):
    return drawn(f"{source}\n{LAMP}", **sections)


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        (small(hazards="airbag the driver's airbag"), "airbags or belt tensioners"),
        (small(hazards="high-voltage traction battery"), "high volts"),
        (
            drawn("B1 battery BP - BN 48 V, 11 mOhm\nR1 resistor BP - BN 100 Ohm, within 5 %"),
            "48 V net",
        ),
        (drawn(f"B1 battery BP - BN 12 V, 11 mOhm # orange cable\n{LAMP}"), "orange cable"),
    ],
)
def test_no_sheet_is_given_for_what_belongs_to_others(sheet, words):
    subject = "R1" if "48" in words else "H1"
    for make in (make_test_sheet, make_bench_sheet):
        with pytest.raises(NoTestSheet, match=words) as refused:
            make(sheet, to_network(sheet), subject)
        assert "maker's procedure" in str(refused.value)
        assert "licensed" in str(refused.value)


def test_a_part_that_is_not_there_is_named_with_those_that_are():
    with pytest.raises(NoTestSheet, match="it has B1, H1"):
        make_test_sheet(small(), to_network(small()), "H9")


# ---------------------------------------------------------------------------------------- the bench


def test_a_relay_on_the_bench_by_ohms_amps_volts_and_drop():
    """85 Ohm +-10 %: 76.5 to 93.5; 12/85 = 141 mA +-10 %: 127 to 155 mA; a fuse of 1 A.

    Contact 6 mOhm within 30 %, 21 W at 12 V: 1.75 A x 7.8 mOhm = 13.7 mV.
    """
    found = steps(sheet_named("horn"), "K4")

    assert found["winding K4.coil"].expected == "76.50 Ohm to 93.50 Ohm"
    pulled = found["winding K4.coil, asked to pull"]
    assert pulled.expected == "127 mA to 155 mA"
    assert "fused 1 A, limited to 169 mA" in pulled.when
    assert found["K4.con, open"].expected == "OL"
    assert found["K4.con pulls in"].expected == "by 7.2 V, going up"
    assert found["K4.con lets go"].expected == "2 V or more, going down"
    assert found["K4.con under load, made"].expected == "at most 14 mV at 1.75 A"
    assert "request unmade" in found["K4.con under load, open"].when


def test_a_contact_that_rests_closed_is_tested_the_other_way_round():
    found = steps(sheet_named("sunroof"), "KA")

    assert found["KA.87a, made"].expected == "under 0.5 Ohm, the leads' own"
    assert "request unmade" in found["KA.87a under load, made"].when
    assert "request made" in found["KA.87a under load, open"].when


def test_a_fuel_pump_is_not_run_dry_and_a_starter_not_on_a_bench_supply():
    assert list(steps(sheet_named("fuel_pump"), "PUMP")) == ["PUMP, brushes and winding"]
    assert list(steps(sheet_named("starting_relay"), "MOT")) == ["MOT, brushes and winding"]
    assert len(steps(sheet_named("blower"), "FAN")) == 2


def test_a_module_output_cannot_be_judged_on_a_bench():
    with pytest.raises(NoTestSheet, match="cannot be judged by itself"):
        steps(sheet_named("fuel_pump"), "DRV")


@pytest.mark.parametrize(
    ("stem", "beside", "nodes", "other"),
    [
        ("horn", {"BTN", "COL"}, {"HB", "CC"}, "LOW"),
        ("power_steering", {"IGN"}, {"IG", "IG2"}, "EPS"),
    ],
)
def test_nothing_beside_an_airbag_is_probed_or_taken_out(stem, beside, nodes, other):
    """The horn's button sits in the wheel, the ignition switch in the column below it; what feeds
    the steering is fused, bolted and plugged elsewhere. Common practice, no source."""
    sheet = sheet_named(stem)
    for subject in beside:
        for make in (make_test_sheet, make_bench_sheet):
            with pytest.raises(NoTestSheet, match="sits beside an airbag"):
                make(sheet, to_network(sheet), subject)
    free = set(subjects(sheet)) - beside
    assert other in free
    for subject in free:
        made = make_test_sheet(sheet, to_network(sheet), subject)
        touched = {node for check in made.checks for node in (check.place.red, check.place.black)}

        assert not touched & nodes
        assert all(any("airbag" in note for note in check.cautions) for check in made.checks)


def test_steering_supply_is_checked_at_full_lock_with_what_can_hurt_there():
    """720 W of assist: 14.2 V less the drops of feed and ground; tables in test_library."""
    found = checks(sheet_named("power_steering"), "EPS")
    at_work = found["across EPS, at work"]

    assert at_work.phase == "lock"
    assert any("hands out of the spokes" in note for note in at_work.cautions)
    assert any("column stays closed" in note for note in at_work.cautions)


XENON = "where a gas-discharge lamp sits instead, stop"


def test_the_discharge_lamp_is_cautioned_at_the_steps_of_lamps_that_can_be_one():
    """Main and dipped lamps come as discharge lamps, indicators and position lamps do not (UN
    Regulation No. 99 lists D1 to D4 for headlamps)."""
    sheet = sheet_named("headlamps")
    for subject, at_lamp in (("lampLOWL", True), ("lampHIGHR", True), ("TELL_R", False)):
        for check in checks(sheet, subject).values():
            touched = {check.place.red, check.place.black, check.place.through}
            lamps = {"LOWL", "GL", "HIGHR", "GR", "lampLOWL", "lampHIGHR"}
            told = any(XENON in note for note in check.cautions)

            assert told == bool(touched & lamps), check.what
            assert at_lamp or not told


def test_the_discharge_lamp_is_cautioned_on_the_bench_too_and_heat_where_it_is_lit():
    sheet = sheet_named("headlamps")
    dipped, indicator = steps(sheet, "lampLOWL"), steps(sheet, "lampINDL")

    assert all(any(XENON in note for note in step.cautions) for step in dipped.values())
    assert not any(XENON in note for step in indicator.values() for note in step.cautions)
    lit, cold = indicator["filament lampINDL, lit"], indicator["filament lampINDL, cold"]
    assert any("bulbs burn" in note for note in lit.cautions)
    assert cold.cautions == ()


def test_a_discharge_lamp_without_a_name_is_cautioned_everywhere():
    sheet = small(hazards="discharge-lamp its unit sits behind the headlamp")

    assert all(check.cautions for check in checks(sheet, "H1").values())


@pytest.mark.parametrize(
    ("stem", "module", "grounds", "inputs"),
    [
        ("trailer_converter", "converter", ["MG"], ["IB", "IL", "IT"]),
        ("power_steering", "steering module", ["SM"], ["WK"]),
        ("sensor_supply", "engine module", ["MG"], ["RPin", "ACin", "MAPin"]),
    ],
)
def test_a_module_is_checked_by_its_powers_its_ground_and_the_pins_it_senses_by(
    stem, module, grounds, inputs
):
    """Common practice, no source: before a module is blamed, its powers, its grounds and its
    requests are read at its own pins, each input against the module's ground."""
    sheet = sheet_named(stem)
    found = make_test_sheet(sheet, to_network(sheet), module).checks
    at = {
        group: [(check.place.red, check.place.black) for check in found if check.group is group]
        for group in Group
    }

    assert module in subjects(sheet)
    assert [red for red, _ in at[Group.GROUNDS]] == grounds
    assert [red for red, _ in at[Group.INPUTS] if red in inputs] == inputs
    assert at[Group.POWERS]


@pytest.mark.parametrize(
    ("part", "group", "at"),
    [
        ("F15", Group.POWERS, ("F15a", "BN")),
        ("INERT", Group.POWERS, ("INa", "BN")),
        ("C40", Group.POWERS, ("C40a", "BN")),
        ("W4", Group.GROUNDS, ("CR", "BN")),
        ("DRV", Group.GROUNDS, ("EG", "BN")),
    ],
)
def test_what_only_leads_on_has_a_feed_or_a_ground_and_not_both(part, group, at):
    """The plug on the feed side has no ground: 12.4 V behind it are no drop. Nor has the ground
    wire a feed. Common practice, no source."""
    sheet = sheet_named("fuel_pump")
    found = [
        (check.group, (check.place.red, check.place.black))
        for check in make_test_sheet(sheet, to_network(sheet), part).checks
        if check.group in (Group.POWERS, Group.GROUNDS)
    ]

    assert found == [(group, at)]


def test_a_clamp_goes_round_a_wire_that_carries_the_current_of_the_part_alone():
    """Two lamps share the splice L+; the clamp for one of them goes round its own ground wire."""
    sheet = drawn(
        """
        B1 battery BP - BN 12.6 V, 11 mOhm
        F1 fuse BP - L+ 15 A
        L1 lamp L+ - g1 21 W
        W1 wire g1 - BN 1.5 mm2, 1 m
        L2 lamp L+ - g2 21 W
        W2 wire g2 - BN 1.5 mm2, 1 m
        """
    )
    shown = {check.what: check.red for check in checks(sheet, "L1").values()}

    assert shown["current of L1"] == "round the wire at g1"
