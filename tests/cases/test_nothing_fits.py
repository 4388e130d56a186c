"""Where nothing fits: what to look at, in the order of the trade, and what speaks for each.

Circuit: a fuel pump, 12.35 V at the battery; what feed and ground lose and what is left for the
pump make the battery's volts (Kirchhoff's voltage law). The order, from the cheapest to look at to
the rarest, is common practice, no source.
"""

import json
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from cases.circuit import CaseCircuit, circuit_from_sheet
from cases.documents.cases import CodeFacts
from cases.documents.looks import Look
from cases.documents.verdicts import VerdictDocument
from cases.judging.codes import CodesTold
from cases.judging.lines import Line
from cases.judging.verdict import judge_lines
from cases.models import CodeStatus, SymptomPresent
from cases.services.cases import edit_case
from cases.services.pairs import look_for_pairs
from circuits.sheet import read_text
from tests.api.rest import at, program_of
from tests.cases.case_files import case_file, run
from tests.cast import FEED_READINGS, LIBRARY, MONDAY, Cast, facts, logged, verdict_on

IN_ORDER = (
    "reading slip",
    "phase or place slip",
    "drawing",
    "part outside the model",
    "two faults",
    "intermittent",
)
# A sound pump, its feed drop of 557 mV written as volts.
MILLIVOLTS_AS_VOLTS = {"TP1": 12.34, "TP2": 11.71, "TP3": 557.0, "TP4": 0.08}
# A sound pump, feed and ground drop each in the row of the other.
ROWS_SWAPPED = {"TP1": 12.34, "TP2": 11.71, "TP3": 0.08, "TP4": 0.56}
# 4.00 V lost in the feed, 2.80 V in the ground, 5.55 V left.
FEED_AND_GROUND = {"TP1": 12.35, "TP2": 5.55, "TP3": 4.00, "TP4": 2.80}


def drawn(name: str) -> CaseCircuit:
    return circuit_from_sheet(read_text((LIBRARY / f"{name}.txt").read_text(encoding="utf-8")))


@pytest.fixture(scope="module")
def pump() -> CaseCircuit:
    return drawn("fuel_pump")


def lines_of(volts: dict[str, float], phase: str = "prime") -> list[Line]:
    return [
        Line(number=number, place=place, phase=phase, text=f"{each:g}", value=each, step=0.01)
        for number, (place, each) in enumerate(volts.items(), start=1)
    ]


def speaks(verdict: VerdictDocument) -> dict[str, str]:
    return {each.look.value: " / ".join(each.speaks) for each in verdict.look_at}


def test_the_order_is_that_of_the_trade(pump) -> None:
    verdict = judge_lines(pump, lines_of(MILLIVOLTS_AS_VOLTS))

    assert tuple(each.look.value for each in verdict.look_at) == IN_ORDER


def test_nothing_is_to_be_looked_at_where_something_fits(pump) -> None:
    sound = {"TP1": 12.34, "TP2": 11.71, "TP3": 0.56, "TP4": 0.08}

    assert judge_lines(pump, lines_of(sound)).look_at == ()


def test_millivolts_written_as_volts_speak_for_a_reading_slip_alone(pump) -> None:
    found = speaks(judge_lines(pump, lines_of(MILLIVOLTS_AS_VOLTS), with_pairs=True))

    assert "written a thousand times too large: 0.557 V" in found["reading slip"]
    assert "then the circuit in order fits" in found["reading slip"]
    # 11.71 + 557 + 0.08 V are not 12.34 V.
    assert "TP1, TP2, TP3 and TP4 in 'prime' do not add up" in found["reading slip"]
    assert found["phase or place slip"] == ""
    assert found["two faults"] == ""


def test_two_rows_swapped_speak_for_a_place_slip(pump) -> None:
    verdict = judge_lines(pump, lines_of(ROWS_SWAPPED), with_pairs=True)
    found = speaks(verdict)

    assert "swapped with another reading" in found["phase or place slip"]
    assert "then the circuit in order fits" in found["phase or place slip"]
    # Other swaps would leave a fault; one that leaves a sound car is the plainer answer.
    assert "TP2" not in found["phase or place slip"]
    # Rows swapped still make the battery's volts.
    assert "do not add up" not in found["reading slip"]


def test_what_feed_and_ground_lose_together_speaks_for_two_faults(pump) -> None:
    early = speaks(judge_lines(pump, lines_of(FEED_AND_GROUND)))
    found = speaks(judge_lines(pump, lines_of(FEED_AND_GROUND), with_pairs=True))

    assert early["two faults"] == ""
    assert "together with" in found["two faults"]


RULE = (
    "Q rule BP - OUT watching A - CH, closes above 6.0 V, opens below 4.0 V, made 40 mOhm, "
    "assumed, or watching B - CH"
)
TWO_WIRES = f"""
[vehicle]
key: two-wires
title: A lamp switched by one of two wires
system: lighting
make: Tolvane
zero: BN
body: CH
plus: BP

[connections]
BP  post    battery + post
BN  post    battery - post
CH  ground  body
A   pin     first wire
B   pin     second wire
OUT pin     lamp feed

[phases]
first   on  first wire live
second  on  second wire live

[parts]
SUP  supply    BP - BN   12.60 V, 6 mOhm
Wg   wire      BN - CH   35 mm2, 0.4 m
SA   switch    BP - A    20 mOhm; second: open
SB   switch    BP - B    20 mOhm; first: open
RA   resistor  A - CH    1 kOhm
RB   resistor  B - CH    1 kOhm
{RULE}
H    resistor  OUT - CH  6 Ohm

[places]
TP1  V  OUT - CH  at the lamp
TP2  V  A - CH    first wire
TP3  V  B - CH    second wire
"""


def test_an_assumed_rule_that_is_otherwise_on_the_car_speaks_for_the_drawing() -> None:
    """The lamp burns with the second wire and not with the first: no one fault does both."""
    circuit = circuit_from_sheet(read_text(TWO_WIRES))
    first = lines_of({"TP1": 0.0, "TP2": 12.59, "TP3": 0.0}, "first")
    second = lines_of({"TP1": 12.5, "TP2": 0.0, "TP3": 12.59}, "second")
    lines = [*first, *(replace(line, number=line.number + 3) for line in second)]
    found = speaks(judge_lines(circuit, lines, with_pairs=True))["drawing"]

    assert "Q, rule, BP - OUT is assumed" in found
    assert "taken the other way, the circuit in order fits" in found


def test_what_the_drawing_leaves_out_and_codes_nobody_sets_speak_for_a_part_outside(pump) -> None:
    told = CodesTold(seen=(CodeFacts(code="P0087"), CodeFacts(code="P0301")))
    found = speaks(judge_lines(pump, lines_of(MILLIVOLTS_AS_VOLTS), codes=told))

    assert "rail pressure" in found["part outside the model"]
    assert "P0301 is set and is about something" in found["part outside the model"]
    assert "P0087 is set and" not in found["part outside the model"]


def test_a_symptom_that_shows_now_and_then_speaks_for_a_fault_that_comes_and_goes(pump) -> None:
    lines = [
        replace(line, symptom_present=SymptomPresent.NO) if line.place == "TP3" else line
        for line in lines_of(MILLIVOLTS_AS_VOLTS)
    ]
    again = Line(number=9, place="TP2", phase="prime", text="6.10", value=6.10, step=0.01)
    told = CodesTold(seen=(CodeFacts(code="P0627", failure_type="1F", status=CodeStatus.STORED),))
    found = speaks(judge_lines(pump, [*lines, again], codes=told, rate=(10, 3)))["intermittent"]

    assert "the symptom showed 3 times in 10 tries" in found
    assert "P0627 has the failure type 'intermittent'" in found
    assert "TP2 in 'prime' was read as 11.71 and 6.10" in found
    assert "1 of 5 readings that were judged were taken without the symptom" in found


def test_a_symptom_that_shows_every_time_does_not(pump) -> None:
    verdict = judge_lines(pump, lines_of(MILLIVOLTS_AS_VOLTS), rate=(10, 10))

    assert speaks(verdict)["intermittent"] == ""


# ------------------------------------------------------------------------------ in the record

SWAPPED_TABLE = "prime\n" + "\n".join(f"{place} {volts}" for place, volts in ROWS_SWAPPED.items())


def test_what_speaks_for_each_is_added_in_the_background(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump, SWAPPED_TABLE)
    early = speaks(verdict_on(case))
    look_for_pairs(verdict=case.verdicts.latest())
    late = speaks(verdict_on(case))

    assert early["phase or place slip"] == ""
    assert "swapped with another reading" in late["phase or place slip"]


def test_other_facts_of_the_story_are_heard(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump, SWAPPED_TABLE)
    told = facts(tries_before=8, hits_before=2)
    edit_case(case=case, facts=told, by=cast.technician, at=MONDAY)

    assert "2 times in 8 tries" in speaks(verdict_on(case))["intermittent"]


def test_the_page_asks_in_order_and_says_what_speaks_for_each(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump, SWAPPED_TABLE, tries_before=8, hits_before=2)
    look_for_pairs(verdict=case.verdicts.latest())
    client = Client()
    client.force_login(cast.technician)
    page = client.get(reverse("cases:case", args=[case.pk])).content.decode()
    asked = [
        page.index(words)
        for words in (
            "Is one reading mistyped",
            "Was it another place",
            "swapped with another reading",
            "Is it the right drawing",
            "Is the cause a part the drawing leaves out",
            "Are there two faults",
            "Does the fault come and go",
            "The symptom showed 2 times in 8 tries",
        )
    ]

    assert asked == sorted(asked)


def test_rest_and_command_tell_the_same(cast: Cast, fuel_pump, tmp_path) -> None:
    case = logged(cast, fuel_pump, SWAPPED_TABLE, codes=())
    rest = program_of(cast.technician).get(at(case)).data["verdict"]["look_at"]
    rows = [
        {"number": number, "place": place, "phase": "prime", "text": str(volts)}
        for number, (place, volts) in enumerate(ROWS_SWAPPED.items(), start=1)
    ]
    path = case_file(tmp_path, readings=rows, claim=None, codes=[])
    status, table, _ = run("verdict", path)
    data = json.loads(run("verdict", path, "--json")[1])

    assert status == 1
    assert data["look_at"] == json.loads(json.dumps(rest))
    assert "2. Was it another place or another phase?" in table
    assert "Nothing in the record speaks for it." in table


def test_a_verdict_that_fits_has_no_such_list(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS)

    assert verdict_on(case).look_at == ()
    assert Look.READING.value == IN_ORDER[0]
