"""The text form and the JSON form of a circuit: nothing is lost, and every mistake is named."""

import json
from itertools import pairwise
from pathlib import Path

import jsonschema  # type: ignore[import-untyped]
import pytest
from hypothesis import HealthCheck, Phase, given, note, settings
from hypothesis import strategies as st

from circuits.sheet import (
    SheetErrors,
    engine_place,
    json_schema,
    read_any,
    read_json,
    read_text,
    to_data,
    to_json,
    to_network,
    write_text,
)
from tests.circuits.drawn import drawn_text
from tests.circuits.sheets import sheets
from tests.circuits.small import SMALL, flaws_of

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
PUMP = (LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8")


# ------------------------------------------------------------------------------- round trips


@settings(
    max_examples=40,
    deadline=None,
    # Shrinking a whole sheet takes minutes; what fails is readable as it is.
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow],
)
@given(sheets())
def test_a_sheet_is_the_same_after_text_and_after_json(sheet):
    text = write_text(sheet)
    note(text)

    assert read_text(text) == sheet
    assert write_text(read_text(text)) == text
    assert read_json(to_json(sheet)) == sheet
    assert to_network(read_text(text)) == to_network(sheet)


def test_digits_sources_and_remarks_are_kept_as_typed():
    text = SMALL.replace(
        "R1  resistor L - BN   6 Ohm",
        "# measured on the bench\n"
        "R1  resistor L - BN   6,00 Ohm [bench, cold], within 5 %  | drawing 12  # hot: 30",
    )
    part = read_text(text).part("R1")

    assert part.settings[0].values[0].text == "6,00 Ohm"
    assert part.settings[0].values[0].source == "bench, cold"
    assert part.source == "drawing 12"
    assert part.above == ("measured on the bench",)
    assert part.remark == "hot: 30"


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "\r"),
        lambda text: "\ufeff" + text,
        lambda text: text.replace("  ", "\t"),
        lambda text: text.replace("12.6 V", "12,6V"),
        lambda text: text + "\n\n\n",
        lambda text: (
            text.upper().lower().replace("bp", "BP")
            if False
            else text.replace("[parts]", "[ Parts ]")
        ),
    ],
    ids=["CRLF", "CR", "BOM", "tabs", "comma", "empty end", "section case"],
)
def test_how_the_file_was_typed_does_not_matter(change):
    assert to_network(read_text(change(SMALL))) == to_network(read_text(SMALL))


def test_a_file_may_be_text_or_json_in_utf_8():
    sheet = read_text(PUMP)

    assert read_any(PUMP.encode()) == sheet
    assert read_any(to_json(sheet).encode()) == sheet
    with pytest.raises(SheetErrors, match=r"line 3, column 9.*UTF-8"):
        read_any(SMALL.replace("One", "Eén").encode("latin-1"))


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("*.txt")), ids=lambda path: path.stem)
def test_the_published_schema_accepts_what_we_write(path):
    data = to_data(read_text(path.read_text(encoding="utf-8")))

    jsonschema.validate(data, json_schema())
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**data, "schema": "something-else/1"}, json_schema())


# ----------------------------------------------------------------------------------- mistakes


@pytest.mark.parametrize(
    ("old", "new", "line", "subject", "says"),
    [
        ("resistor L", "resitor L", 19, "R1", "no kind of part. Did you mean 'resistor'?"),
        ("L - BN   6", "L - BM   6", 19, "R1", "no connection 'BM'. Did you mean 'BP' or 'BN'?"),
        ("6 Ohm", "6 V", 19, "R1", "'6 V' is in V, but Ohm is wanted"),
        ("6 Ohm", "6", 19, "R1", "no unit"),
        ("6 Ohm", "6 Ohn", 19, "R1", "no unit that we know"),
        ("6 Ohm", "0 Ohm", 19, "R1", "must be above zero"),
        ("6 Ohm", "1,500 Ohm", 19, "R1", "Write 1.5 or 1500."),
        ("6 Ohm", "", 19, "R1", "needs '5 mOhm'"),
        ("6 Ohm", "6 Ohm, 7 Ohm", 19, "R1", "second value"),
        ("6 Ohm", "6 Ohm; of: absent", 19, "R1", "no phase 'of'. Did you mean 'off'?"),
        ("6 Ohm", "6 Ohm; off: open", 19, "R1", "cannot be 'open'"),
        ("6 Ohm", "off: 6 Ohm", 19, "R1", "nothing is said of phase on"),
        ("6 Ohm", "absent", 19, "R1", "leaves the part without a use"),
        ("6 Ohm", "off: 6 Ohm; off: 7 Ohm; on: absent", 19, "R1", "given twice"),
        ("R1  resistor L - BN", "R1  resistor L-BN", 19, "R1", "spaces round the dash"),
        ("R1  resistor L - BN", "R1  resistor L - L", 19, "R1", "both ends are at L"),
        ("R1  res", "S1  res", 19, "S1", "another part has this name (line 18)"),
        ("R1  res", "$1  res", 19, "$1", "cannot be a name"),
        ("R1  res", "if  res", 19, "if", "must not be 'if'"),
        ("20 mOhm; off: open", "off, on: open", 18, "S1", "ohms when closed"),
        ("12.6 V, 10", "70 V, 10", 17, "B1", "above 60 V DC"),
        ("zero: BN", "zero: BX", 5, "zero", "no connection 'BX'"),
        ("zero: BN", "zero BN", 5, "vehicle", "a word, a colon and a text"),
        ("zero: BN", "zero: BN\nvolts: 48 V", 6, "vehicle", "12 V or 24 V"),
        ("zero: BN", "zero: BN\nvolts: 400 V", 6, "vehicle", "licensed"),
        ("zero: BN", "zero: BN\nnought: 3", 6, "vehicle", "nothing that is said of a vehicle"),
        ("zero: BN", "zero: BN\nzero: BN", 6, "vehicle", "given twice"),
        ("key: small", "key: Not Small", 2, "vehicle", "small letters"),
        ("key: small\n", "", 0, "vehicle", "key of the circuit is not given"),
        ("L   pin", "L   pin\nX   pin", 11, "X", "no part is connected here"),
        ("L   pin", "L   pine", 10, "L", "no kind of connection. Did you mean 'pin'?"),
        ("on   on ", "on   onn", 14, "on", "key state"),
        ("on   on   ign", "otherwise on  ign", 14, "otherwise", "stands for the phases"),
        ("ignition on", "ignition on | at 20 V", 14, "on", "C is wanted"),
        ("ignition on", "ignition on | warm", 14, "on", "'| at 20 C, after 30 min'"),
        ("[parts]", "[prats]", 16, "prats", "no section [prats]. Did you mean 'parts'?"),
        ("[vehicle]", "hello\n[vehicle]", 1, "", "before the first section"),
        ("6 Ohm", "6 Ohm\x07", 19, "parts", "unreadable character (code 7)"),
    ],
)
def test_a_mistake_is_named_with_its_line_and_how_to_mend_it(old, new, line, subject, says):
    assert old in SMALL
    flaws = flaws_of(SMALL.replace(old, new, 1))

    assert any(
        (flaw.line, flaw.subject) == (line, subject) and says in f"{flaw.problem} {flaw.mend}"
        for flaw in flaws
    ), [str(flaw) for flaw in flaws]
    assert all(flaw.problem and flaw.mend for flaw in flaws)


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("TP1 V BP - BM post", "Did you mean 'BP' or 'BN'?"),
        ("TP1 V BP - BP post", "reads nothing"),
        ("TP1 A BP - BN post", "a reading in A is not taken there"),
        ("TP1 V through R1 clamp", "a reading in V is not taken there"),
        ("TP1 A through R9 clamp", "no part 'R9'"),
        ("TP1 VV BP - BN post", "no unit of a reading"),
        ("TP1 V BP BN", "a place is written"),
        ("TP1 C BP - BN post", "not predicted"),
        ("TP1 Ohm through R1 clamp", "a reading in Ohm is not taken there"),
        ("TP1 V BP - BN", "label is not given"),
        ("TP1 V BP - BN post | sides: harness", "nothing that is said of a place"),
        ("TP1 V BP - BN post | moves: unplug R9", "no part 'R9'"),
        ("TP1 V BP - BN post | moves: unplug", "takes the parts that are out"),
        ("TP1 V BP - BN post | moves: lamp", "known by its watts"),
        ("TP1 V BP - BN post | moves: bridge BP", "two connections"),
        ("TP1 V BP - BN post | moves: jump", "no move"),
        ("R1 V BP - BN post", "a part has this name too (line 19)"),
        ("TP1 V BP - BN a\nTP1 V BP - L b", "another place has this name (line 21)"),
    ],
)
def test_a_mistake_in_a_place_is_named(lines, says):
    flaws = flaws_of(f"{SMALL}[places]\n{lines}\n")

    assert any(says in str(flaw) and flaw.line >= 20 for flaw in flaws), [str(f) for f in flaws]


def test_a_place_in_ohms_has_two_leads_and_sets_no_code():
    sheet = read_text(f"{SMALL}[places]\nTP1 kOhm L - BN the lamp, battery disconnected\n")
    flaws = flaws_of(
        f"{SMALL}[places]\nTP1 Ohm L - BN lamp\n[codes]\nP0100: words\n  if TP1 below 12 V\n"
    )

    assert engine_place(sheet.places[0]).reads_ohms
    assert "no module sets a code by it" in str(flaws[0])


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("P0100 words", "written with a colon"),
        ("P0100: words", "either a set condition or the reason"),
        ("  if TP1 below 12 V", "belongs to no code"),
        ("P0100: words\n  if TP1 below 12 V", "no place or part 'TP1'"),
        ("P0100: words\n  if R1 below 12 V", "'12 V' is in V, but A is wanted"),
        ("P0100: words\n  if BP - BN below 12 A", "'12 A' is in A, but V is wanted"),
        ("P0100: words\n  if BP - BN under 12 V", "compares nothing"),
        ("P0100: words\n  if BP - BN below 12 V for 3 V", "s is wanted"),
        ("P0100: words\n  if BP - BN below 12 V in dark", "no phase 'dark'"),
        ("P0100: words\n  if BP - BN below 12 V while R9 above 1 A", "no place or part 'R9'"),
        ("P0100: words\n  not testable:", "takes one reason"),
        ("P0100: a\n  not testable: x\nP0100: b\n  not testable: y", "(line 21)"),
    ],
)
def test_a_mistake_in_a_code_is_named(lines, says):
    flaws = flaws_of(f"{SMALL}[codes]\n{lines}\n")

    assert any(says in str(flaw) and flaw.line >= 20 for flaw in flaws), [str(f) for f in flaws]


def test_all_mistakes_are_told_at_once_and_none_follows_from_another():
    text = (
        PUMP.replace("W2       wire ", "W2       wyre ")
        .replace("15 A, cold 4.8 mOhm", "15 V, cold 4.8 mhm")
        .replace("TP4  V", "TP3  V")
        .replace("if K3.coil below", "if K3.coil under")
    )
    flaws = flaws_of(text)

    assert [flaw.subject for flaw in flaws] == ["F15", "F15", "W2", "TP3", "P0627"]
    assert len({flaw.line for flaw in flaws}) == 4


def test_a_flaw_points_at_the_word_that_is_meant():
    flaw = flaws_of(SMALL.replace("6 Ohm", "6 Ohm, within 5 V"))[0]

    assert (flaw.line, flaw.column) == (19, 37)
    assert str(flaw).startswith("line 19, column 37, R1: ")


def test_a_missing_section_is_named():
    flaws = flaws_of(SMALL.partition("[parts]")[0])

    assert any("there are no parts" in flaw.problem for flaw in flaws)


def test_a_value_that_cannot_be_read_is_told_before_there_is_any_phase():
    text = drawn_text("B1 battery BP - BN 12.6 V, 11 mOhm\nH1 lamp BP - BN 21 X", phases="")

    assert {flaw.subject for flaw in flaws_of(text)} == {"phases", "H1"}


def test_an_empty_text_is_told_what_to_begin_with():
    assert {flaw.subject for flaw in flaws_of("")} >= {"vehicle", "connections", "parts"}


def test_a_circuit_without_a_source_is_refused():
    flaws = flaws_of(
        SMALL.replace("B1  battery  BP - BN  12.6 V, 10 mOhm", "B1 wire BP - BN 1 mm2, 1 m")
    )

    assert any("no part gives volts" in flaw.problem for flaw in flaws)


def test_a_huge_text_is_refused_before_it_is_read():
    assert "more than" in flaws_of("x" * 600_000)[0].problem


def test_thousands_of_mistakes_are_cut_short():
    flaws = flaws_of(SMALL + "nonsense\n" * 5000)

    assert len(flaws) == 201
    assert "4800 further mistakes" in flaws[-1].problem


def test_batteries_that_add_up_to_danger_are_refused():
    """Five batteries of 12.6 V in a row are 63 V."""
    nodes = "".join(f"X{number}  post\n" for number in range(1, 5))
    names = ["BP", "X1", "X2", "X3", "X4", "BN"]
    rows = "".join(
        f"B{number}  battery  {first} - {second}  12.6 V, 10 mOhm\n"
        for number, (first, second) in enumerate(pairwise(names), start=1)
    )
    text = SMALL.replace("L   pin\n", f"L   pin\n{nodes}").replace(
        "B1  battery  BP - BN  12.6 V, 10 mOhm\n", rows
    )

    assert "63 V above BN" in flaws_of(text)[0].problem


@pytest.mark.parametrize(
    ("change", "path", "says"),
    [
        (lambda data: data.pop("vehicle"), "vehicle", "not given"),
        (lambda data: data["parts"][0].pop("name"), "parts.0.name", "not given"),
        (lambda data: data["parts"][0].update(colour="red"), "parts.0.colour", "belongs here"),
        (lambda data: data.update(schema="other/9"), "schema", "not known here"),
        (
            lambda data: data["phases"][0].update(key_state="half"),
            "phases.0.key_state",
            "Known are",
        ),
        (lambda data: data["parts"][2].update(kind="wyre"), "body", "Did you mean 'wire'?"),
        (lambda data: data["parts"][0].update(name=3), "parts.0.name", "string"),
    ],
)
def test_json_that_is_no_sheet_is_told_where(change, path, says):
    data = to_data(read_text(PUMP))
    change(data)

    with pytest.raises(SheetErrors) as caught:
        read_json(json.dumps(data))
    assert any(
        flaw.subject == path and says in f"{flaw.problem} {flaw.mend}"
        for flaw in caught.value.flaws
    ), str(caught.value)


@pytest.mark.parametrize("text", ["{", "[]", "{}", "null", '{"schema": NaN}'])
def test_what_is_no_json_is_refused(text):
    with pytest.raises(SheetErrors):
        read_json(text)


GARBLED = (
    *("|", "#", ";", ":", ",", "-", "[", "]", "[parts]", "[notes]", "absent", "otherwise:"),
    *("12 V", "1e9 V", "-5 Ohm", "0", "by", "if", "in", "\t", "\x00", "1e300 Ohm", "100 %", "é"),
)


@settings(max_examples=80, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(
    path=st.sampled_from(sorted(LIBRARY.glob("*.txt"))),
    line=st.integers(min_value=0, max_value=90),
    word=st.integers(min_value=0, max_value=12),
    garbled=st.sampled_from(GARBLED),
    instead=st.booleans(),
)
def test_a_garbled_line_is_read_or_refused_in_words(path, line, word, garbled, instead):
    rows = path.read_text(encoding="utf-8").split("\n")
    line %= len(rows)
    words = rows[line].split(" ")
    words[word : word + 1 if instead else word] = [garbled]
    text = "\n".join([*rows[:line], " ".join(words), *rows[line + 1 :]])

    try:
        sheet = read_text(text)
    except SheetErrors as errors:
        answered = all(flaw.problem and flaw.mend for flaw in errors.flaws) and errors.flaws != ()
    else:
        answered = read_text(write_text(sheet)) == sheet
    assert answered
