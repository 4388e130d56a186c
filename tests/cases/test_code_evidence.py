"""Codes as evidence in a case: explained or not, absent with a monitor that ran, set together.

The 5 V supply of three sensors, with the volts and the codes of each fault from a nodal solver
apart from ours: A is a sensor shorted inside, B the supply chafed to body, C a signal wire open,
D 100 Ohm in the sensor ground, E the supply of one sensor open. The codes mean what SAE J2012
says; their thresholds are this drawing's own.
"""

import json
from datetime import timedelta

import pytest

from cases.circuit import CaseCircuit, circuit_from_sheet, circuit_of
from cases.documents.cases import CodeFacts
from cases.documents.codes import CodeEvidence
from cases.documents.verdicts import VerdictDocument
from cases.errors import BadFact
from cases.judging.codes import CodesTold, told_codes
from cases.judging.lines import Line, engine_readings
from cases.judging.next_reading import what_to_measure
from cases.judging.verdict import judge_lines
from cases.models import Case, Verdict
from cases.services.cases import choose_circuit, claim_fault, edit_case
from cases.services.exchange import export_case, import_case, read_case_document
from cases.services.readings import add_readings
from cases.services.sharing import shared_view
from circuits.engine import weigh_suspects
from circuits.models import Revision
from circuits.sheet import read_text
from tests.cases.case_files import case_file, run
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    LIBRARY,
    MONDAY,
    Cast,
    facts,
    logged,
    one_reading,
    publish,
    verdict_on,
)
from tests.readings import readings

ALL_SENSOR_CODES = ("P0642", "P0643", "P0192", "P0193", "P0532", "P0107", "P0108")
SHORTED_SENSOR = "bypass:AC_ins"
CHAFED = "ground-short:S5"
SUPPLY_WIRE = "resistance:W1"
ONE_BRANCH = "resistance:W2"
SENSOR_GROUND = "resistance:G1"


@pytest.fixture(scope="module")
def sensors() -> CaseCircuit:
    return circuit_from_sheet(
        read_text((LIBRARY / "sensor_supply.txt").read_text(encoding="utf-8"))
    )


def seen(*codes: str, status: str = "present", **more: str) -> tuple[CodeFacts, ...]:
    return tuple(CodeFacts.model_validate({"code": c, "status": status, **more}) for c in codes)


def read(place: str, phase: str, volts: float, number: int = 1) -> Line:
    return Line(number=number, place=place, phase=phase, text=f"{volts}", value=volts, step=0.01)


def verdict_of(circuit: CaseCircuit, told: CodesTold, *lines: Line, **more) -> VerdictDocument:
    return judge_lines(circuit, lines, codes=told, **more)


def said(verdict: VerdictDocument, code: str) -> CodeEvidence:
    return next(each for each in verdict.codes if each.code == code)


# ------------------------------------------------------------------------- set and not set


def test_a_low_supply_with_its_own_code_is_a_short_and_no_open_wire(sensors) -> None:
    """Fault A or B pull the module's pin down; an open supply wire leaves it at 5 V."""
    low = read("TP1", "on", 0.466)
    evidence = said(verdict_of(sensors, CodesTold(seen=seen("P0642")), low), "P0642")

    assert {SHORTED_SENSOR, CHAFED} <= set(evidence.explains)
    assert {SUPPLY_WIRE, ONE_BRANCH} <= set(evidence.does_not_set)
    assert evidence.healthy == "does not set it"
    assert not evidence.is_unexplained


def test_a_monitor_that_ran_turns_it_round(sensors) -> None:
    low = read("TP1", "on", 0.466)
    evidence = said(verdict_of(sensors, CodesTold(passed=("P0642",)), low), "P0642")

    assert SHORTED_SENSOR in evidence.sets
    assert SUPPLY_WIRE in evidence.explains
    assert not evidence.is_set


def test_an_absent_code_whose_monitor_is_not_known_to_have_run_says_nothing(sensors) -> None:
    low = read("TP1", "on", 0.466)

    assert verdict_of(sensors, CodesTold(), low).codes == ()


def test_a_bad_sensor_ground_sets_no_code_of_all_that_ran(sensors) -> None:
    """Fault D: every signal is wrong by a plausible amount."""
    lines = [read("TP1", "idle", 4.16), read("TP6", "idle", 0.832, 2)]
    verdict = verdict_of(sensors, CodesTold(passed=ALL_SENSOR_CODES), *lines, claim=SENSOR_GROUND)

    assert verdict.outcome == "fits"
    assert {said(verdict, code).claim for code in ALL_SENSOR_CODES} == {"does not set it"}


def test_codes_never_change_what_the_readings_say(sensors) -> None:
    low = read("TP1", "on", 0.466)
    plain = verdict_of(sensors, CodesTold(), low, claim=SUPPLY_WIRE)
    told = verdict_of(sensors, CodesTold(seen=seen("P0642")), low, claim=SUPPLY_WIRE)

    assert said(told, "P0642").claim == "does not set it"
    assert told.before == plain.before
    assert told.outcome == plain.outcome == "fits"


def test_a_code_that_no_fitting_fault_sets_is_told_with_those_that_would(sensors) -> None:
    """The module reads its rail signal as sound, so nothing that fits sets the 'low' code."""
    lines = [read("TP1", "idle", 4.16), read("TP6", "idle", 0.832, 2), read("TP7", "idle", 2.0, 3)]
    evidence = said(verdict_of(sensors, CodesTold(seen=seen("P0192")), *lines), "P0192")

    assert evidence.is_unexplained
    assert {"resistance:Ws_RP", ONE_BRANCH} <= set(evidence.excluded_that_set)


@pytest.mark.parametrize(
    ("code", "why"),
    [("P0301", "not on this circuit's sheet"), ("P0128", "needs the time since the start")],
)
def test_a_code_without_a_set_condition_here_is_no_evidence(code: str, why: str) -> None:
    text = (LIBRARY / "coolant_sensor.txt").read_text(encoding="utf-8")
    circuit = circuit_from_sheet(read_text(text))
    evidence = said(verdict_of(circuit, CodesTold(seen=seen(code))), code)

    assert why in evidence.silent
    assert evidence.sets == evidence.may_set == evidence.does_not_set == ()


def test_a_slow_crank_with_a_start_monitor_that_ran_clears_the_coil_side_alone() -> None:
    """The start code looks at the coil's amps while start is requested; a slow crank sets none."""
    text = (LIBRARY / "starting_relay.txt").read_text(encoding="utf-8")
    circuit = circuit_from_sheet(read_text(text))
    slow = [read("TP1", "crank", 11.02), read("TP2", "crank", 6.89, 2)]
    passed = CodesTold(passed=("P0615",))
    evidence = said(verdict_of(circuit, passed, *slow, claim="resistance:W3"), "P0615")

    assert evidence.claim == "does not set it"
    assert "resistance:S2_clutch" in said(verdict_of(circuit, passed), "P0615").may_set


# ------------------------------------------------------------------------------- kinds, sets


def test_a_failure_type_parts_a_short_from_an_open_that_set_the_same_code() -> None:
    """11 is a short to ground, 13 an open (SAE J2012-DA); both make the signal pin fault high or
    low as the circuit has it: here an open wire and a short to supply both read high."""
    text = (LIBRARY / "coolant_sensor.txt").read_text(encoding="utf-8")
    circuit = circuit_from_sheet(read_text(text))

    def kinds(byte: str) -> set[str]:
        told = CodesTold(seen=seen("P0118", failure_type=byte))
        return set(said(verdict_of(circuit, told), "P0118").of_its_kind)

    assert "resistance:W1" in kinds("13") - kinds("12")
    assert "supply-short:IN" in kinds("12") - kinds("13")
    assert {"resistance:W1", "supply-short:IN"} <= kinds("15")
    assert kinds("1C") == set()


def test_an_fmi_narrows_as_a_byte_does() -> None:
    """6 is current above normal or grounded, 5 current below normal or open (SAE J1939-73, value
    from memory): the same code with the one leaves shorts, with the other the open wire."""
    text = (LIBRARY / "coolant_sensor.txt").read_text(encoding="utf-8")

    def kinds(fmi: int) -> set[str]:
        code = f"SPN 110 FMI {fmi}"
        circuit = circuit_from_sheet(read_text(text.replace("P0118", code)))
        told = CodesTold(seen=seen(code))
        return set(said(verdict_of(circuit, told), code).of_its_kind)

    assert "resistance:W1" in kinds(5) - kinds(6)
    assert "supply-short:IN" in kinds(6) - kinds(5)
    assert kinds(18) == set()


def test_codes_set_together_point_to_what_they_share(sensors) -> None:
    """One supply code with several 'low' codes is one fault on the shared wire."""
    told = CodesTold(seen=seen("P0642", "P0192", "P0532", "P0107"))
    together = verdict_of(sensors, told).code_set

    assert together is not None
    shared = {each.name: each for each in together.shared}
    assert {SHORTED_SENSOR, CHAFED} <= set(together.suspects)
    assert not {SUPPLY_WIRE, ONE_BRANCH, "resistance:Ws_RP"} & set(together.suspects)
    assert CHAFED in shared["S5"].suspects
    assert shared["W1"].suspects == ()
    assert "W2" not in shared


def test_one_code_alone_shares_nothing(sensors) -> None:
    assert verdict_of(sensors, CodesTold(seen=seen("P0192"))).code_set is None


def test_one_low_code_alone_is_that_sensors_own_branch(sensors) -> None:
    """Fault E reads 0.000 V at the rail sensor; so does an open of the shared wire, but that
    would have set the codes of the other two sensors, whose monitors ran."""
    lines = [read("TP1", "idle", 0.0)]
    told = CodesTold(seen=seen("P0192"), passed=("P0532", "P0107", "P0642"))

    def likely(codes: CodesTold) -> dict[str, float]:
        found = what_to_measure(sensors, lines, codes=codes)
        return {name: each.probability for each in found.likely for name in each.suspects}

    plain, with_codes = likely(CodesTold()), likely(told)

    assert plain[SUPPLY_WIRE] == pytest.approx(plain[ONE_BRANCH], rel=0.2)
    assert with_codes[ONE_BRANCH] > 20 * with_codes.get(SUPPLY_WIRE, 0.0)


def test_a_code_that_stands_present_weighs_more_than_one_stored(sensors) -> None:
    readings = [each for each, _ in engine_readings(sensors, [read("TP1", "on", 0.466)])]

    def share(status: str) -> float:
        told = told_codes(sensors, CodesTold(seen=seen("P0642", status=status)))
        likely = weigh_suspects(sensors.network, readings, codes=told).by_suspect()
        return likely[SHORTED_SENSOR] / likely[SUPPLY_WIRE]

    assert share("present") > share("pending") > share("stored") > 1


# ------------------------------------------------------------------------------ in the record


@pytest.fixture
def sensor_supply(cast: Cast) -> Revision:
    return publish("sensor_supply.txt", by=cast.technician)


def test_codes_alone_give_a_verdict_before_anything_is_read(cast: Cast, sensor_supply) -> None:
    verdict = verdict_on(logged(cast, sensor_supply, codes=seen("P0642")))

    assert verdict.before is None
    assert SHORTED_SENSOR in said(verdict, "P0642").may_set


def test_a_code_that_cannot_speak_gives_no_verdict(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump, codes=seen("P0087"))

    assert not Verdict.objects.filter(case=case).exists()


def test_the_verdict_follows_the_codes(cast: Cast, sensor_supply) -> None:
    case = logged(cast, sensor_supply, codes=seen("P0642"))
    for codes, passed in ((seen("P0192"), ()), (seen("P0192"), ("P0642",)), ((), ())):
        changed = facts(codes=codes, monitors_passed=passed)
        edit_case(case=case, facts=changed, by=cast.technician, at=MONDAY)
        told = {each.code: each.is_set for each in verdict_on(case).codes}

        assert told == {**{each.code: True for each in codes}, **dict.fromkeys(passed, False)}
    assert [change.field for change in case.changes.all()] == [
        "codes",
        "monitors_passed",
        "monitors_passed",
        "codes",
    ]


def test_the_codes_are_tested_at_the_severities_that_a_new_reading_leaves(
    cast: Cast, sensor_supply
) -> None:
    case = logged(cast, sensor_supply, codes=seen("P0642"))
    add_readings(
        case=case, readings=[one_reading("TP1", "on", "0.466")], by=cast.technician, at=MONDAY
    )
    evidence = said(verdict_on(case), "P0642")

    # Over all severities it may; at those that fit it must.
    assert SHORTED_SENSOR in evidence.sets


def test_another_circuit_tests_the_codes_anew(cast: Cast, sensor_supply, fuel_pump) -> None:
    case = logged(cast, sensor_supply, codes=seen("P0642"))
    choose_circuit(case=case, revision=fuel_pump, by=cast.technician, at=MONDAY)

    assert said(verdict_on(case), "P0642").silent


def test_a_code_is_not_both_set_and_passed(cast: Cast, sensor_supply) -> None:
    with pytest.raises(BadFact, match="P0642 is set, so its monitor did not pass"):
        logged(cast, sensor_supply, codes=seen("P0642"), monitors_passed=("p0642",))


def test_monitors_that_passed_travel_with_the_case(cast: Cast, sensor_supply) -> None:
    case = logged(cast, sensor_supply, codes=(), monitors_passed=("p0642", "P0192"))
    document = export_case(case, by=cast.technician, at=MONDAY)
    again = read_case_document(document.model_dump_json(by_alias=True))
    copy = import_case(document=again, shop=cast.other_shop, by=cast.outsider, at=MONDAY)

    assert document.monitors_passed == ("P0642", "P0192")
    assert shared_view(copy, cast.outsider, at=MONDAY).monitors_passed == ("P0642", "P0192")
    assert circuit_of(sensor_supply).suspects.keys() == {
        name
        for each in verdict_on(Case.objects.get(pk=case.pk)).codes[:1]
        for name in (*each.sets, *each.may_set, *each.does_not_set)
    }


# ------------------------------------------------------------------------------- the commands


def test_the_command_says_what_a_code_makes_of_the_faults(tmp_path) -> None:
    """The feed joint C40 leaves the driver stage alone, so P0627 is not explained by it."""
    path = case_file(
        tmp_path,
        codes=[{"code": "P0627", "status": "present"}, {"code": "P0087"}],
        monitors_passed=[],
    )
    status, table, _ = run("verdict", path)
    data = json.loads(run("verdict", path, "--json")[1])

    assert status == 0
    assert "P0627 (present): fuel pump control circuit" in table
    assert f"The claim, {FEED_FAULT}, does not set it." in table
    assert "No fault that fits the readings sets it." in table
    assert "needs the rail pressure" in table
    assert data["codes"][0]["claim"] == "does not set it"
    assert "resistance:DRV" in data["codes"][0]["excluded_that_set"]
    assert data["codes"][1]["silent"]


def test_the_command_judges_codes_where_nothing_was_read(tmp_path) -> None:
    path = case_file(tmp_path, readings=[], claim=None, codes=[{"code": "P0627"}])
    status, table, complaint = run("verdict", path)

    assert (status, complaint) == (1, "")
    assert "resistance:DRV" in table


def test_next_weighs_the_codes_of_a_file(tmp_path) -> None:
    plain = case_file(tmp_path, readings=[])
    before = json.loads(run("next", plain, "--json")[1])["likely"]
    coded = case_file(tmp_path, readings=[], codes=[{"code": "P0627", "status": "present"}])
    after = json.loads(run("next", coded, "--json")[1])["likely"]

    def share(likely, name: str) -> float:
        return sum(each["probability"] for each in likely if name in each["suspects"])

    assert share(after, "resistance:DRV") > share(before, "resistance:DRV")


def test_the_verdict_that_was_written_last_counts_whatever_its_moment(
    cast: Cast, fuel_pump: Revision
) -> None:
    """A claim told for noon, then readings told for nine: the newer verdict has the readings."""
    case = logged(cast, fuel_pump, codes=seen("P0627"))
    claim_fault(case=case, suspect=FEED_FAULT, by=cast.technician, at=MONDAY + timedelta(hours=3))
    add_readings(case=case, readings=readings(FEED_READINGS), by=cast.technician, at=MONDAY)
    case.refresh_from_db()

    assert verdict_on(case).outcome == "fits"
    assert case.earned_standing == "consistent"
