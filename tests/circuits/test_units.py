"""Quantities as typed on a bench.

Units and prefixes are those of the SI brochure (BIPM, 9th edition, tables 2 to 7); the marking
4k7 is IEC 60062; the American gauges are ASTM B258. What a meter shows is common practice.
"""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from circuits.units import (
    AmbiguousNumber,
    NotAQuantity,
    UnitError,
    WrongUnit,
    base_unit,
    format_quantity,
    has_unit,
    parse_quantity,
    parse_reading,
)


@pytest.mark.parametrize(
    ("text", "shown_unit", "value"),
    [
        ("12.60 V", "V", 12.6),
        ("12.6V", "V", 12.6),
        ("12,6 v", "V", 12.6),
        ("13.8 volts", "V", 13.8),
        ("150 mV", "V", 0.15),
        ("0.42", "mV", 0.00042),
        ("0.42 V", "mV", 0.42),
        ("-0.96", "V", -0.96),
        ("−0.02 V", "V", -0.02),
        ("0", "V", 0.0),
        (".5 V", "V", 0.5),
        ("30 A", "A", 30.0),
        ("85 mA", "A", 0.085),
        ("85 ma", "A", 0.085),
        ("0.9 mOhm", "Ohm", 0.0009),
        ("150 mOhm", "Ohm", 0.15),
        ("0.15 Ω", "Ohm", 0.15),
        ("0.15 \N{OHM SIGN}", "Ohm", 0.15),
        ("4k7", "Ohm", 4700.0),
        ("4,7 kOhm", "Ohm", 4700.0),
        ("1.2 K ohm", "Ohm", 1200.0),
        ("1.5M", "Ohm", 1.5e6),
        ("1.5 MOhm", "Ohm", 1.5e6),
        ("1.5 mOhm", "Ohm", 0.0015),
        ("0R15", "Ohm", 0.15),
        ("R47", "Ohm", 0.47),
        ("2.5 mm2", "mm2", 2.5),
        ("2,5 mm²", "mm2", 2.5),
        ("1.6 m", "m", 1.6),
        ("160 cm", "m", 1.6),
        ("21 W", "W", 21.0),
        ("90 C", "C", 90.0),
        ("-10 °C", "C", -10.0),
        ("50 %", "%", 0.5),
        ("120 %", "%", 1.2),
        ("30 min", "s", 1800.0),
        ("0.14 A/V", "A/V", 0.14),
        ("0,125 V", "V", 0.125),
        ("1e+06 Ohm", "Ohm", 1e6),
    ],
)
def test_a_quantity_is_read_as_it_is_typed(text, shown_unit, value):
    quantity = parse_quantity(text, shown_unit)

    assert quantity.value == value
    assert quantity.text == text
    assert quantity.unit == base_unit(shown_unit)


@pytest.mark.parametrize(
    ("gauge", "area_mm2"),
    # ASTM B258: AWG 10 is 5.26 mm2, 14 is 2.08, 18 is 0.823, 2/0 is 67.4.
    [("10 AWG", 5.26), ("AWG 14", 2.08), ("18awg", 0.823), ("2/0 AWG", 67.4)],
)
def test_an_american_gauge_is_an_area(gauge, area_mm2):
    assert parse_quantity(gauge, "mm2").value == pytest.approx(area_mm2, rel=1e-3)


@pytest.mark.parametrize(
    ("text", "shown_unit", "error", "says"),
    [
        ("", "V", NotAQuantity, "12.6 V"),
        ("OL", "V", NotAQuantity, "no number"),
        ("12.6 A", "V", WrongUnit, "is in A, but V is wanted"),
        ("14 AWG", "V", WrongUnit, "wire gauge"),
        ("12 MV", "V", WrongUnit, "did you mean mV?"),
        ("1,500", "V", AmbiguousNumber, "Write 1.5 or 1500."),
        ("1,500 kOhm", "Ohm", AmbiguousNumber, "Write 1.5 or 1500."),
        ("1.234,5 V", "V", NotAQuantity, "more than one decimal mark"),
        ("1 500 V", "V", NotAQuantity, "gap between its digits"),
        ("12.5.5 V", "V", NotAQuantity, "more than one decimal mark"),
        ("1e999 V", "V", NotAQuantity, "too large"),
        ("12 parsecs", "m", WrongUnit, "no unit that we know"),
        ("٣ V", "V", NotAQuantity, "no number"),
        ("9" * 200, "V", NotAQuantity, "too long"),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_way_to_mend_it(text, shown_unit, error, says):
    with pytest.raises(error, match=says):
        parse_quantity(text, shown_unit)


def test_a_number_without_a_unit_is_refused_where_the_unit_is_needed():
    with pytest.raises(WrongUnit, match="has no unit"):
        parse_quantity("12.6", "V", unit_needed=True)


@pytest.mark.parametrize("text", ["", "  ", "-", "–", "—"])
def test_an_empty_cell_or_a_dash_is_not_measured(text):
    assert parse_reading(text, "V") is None


def test_zero_is_a_reading():
    reading = parse_reading("0.00", "V")

    assert reading is not None
    assert reading.value == 0.0


@pytest.mark.parametrize("text", ["OL", "0L", "O.L", "O.L.", "ol", " OL ", "-OL"])
def test_over_range_is_a_reading_without_a_value(text):
    reading = parse_reading(text, "Ohm")

    assert reading is not None
    assert reading.over_range
    assert reading.value is None


@pytest.mark.parametrize(
    ("text", "shown_unit", "step"),
    [("12.40", "V", 0.01), ("12.4", "V", 0.1), ("0.42", "mV", 1e-5), ("85", "mA", 0.001)],
)
def test_the_last_digit_typed_is_the_step_of_the_display(text, shown_unit, step):
    assert parse_quantity(text, shown_unit).step == pytest.approx(step, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "shown_unit", "echo"),
    [
        ("4.7 kOhm", "Ohm", "4.7 kOhm = 4700 Ohm"),
        ("12.60 V", "V", "12.60 V"),
        ("12.60", "V", "12.60 V"),
        ("0.42", "mV", "0.42 mV = 0.00042 V"),
        ("1.5 MOhm", "Ohm", "1.5 MOhm = 1500000 Ohm"),
        ("1.5 mOhm", "Ohm", "1.5 mOhm = 0.0015 Ohm"),
    ],
)
def test_the_echo_shows_what_was_understood(text, shown_unit, echo):
    assert parse_quantity(text, shown_unit).echo == echo


@pytest.mark.parametrize(
    ("value", "shown_unit", "words"),
    [
        (12.6, "V", "12.60 V"),
        (-0.9639, "V", "-0.964 V"),
        (0.00042, "V", "0.42 mV"),
        (0.0, "V", "0.00 V"),
        (-1e-9, "V", "0.00 V"),
        (148.7, "A", "148.7 A"),
        (0.085, "A", "85 mA"),
        (1.1, "ohm", "1.10 Ohm"),
        (0.045, "ohm", "45 mOhm"),
        (4700, "ohm", "4.7 kOhm"),
        (math.inf, "ohm", "open"),
        (0.0525, "mV", "52.5 mV"),
        (233.3, "W", "233 W"),
        (0.5, "%", "50 %"),
    ],
)
def test_a_value_is_written_as_the_trade_reads_it(value, shown_unit, words):
    assert format_quantity(value, shown_unit) == words


@given(
    digits=st.decimals(min_value=0, max_value=9999, places=3),
    negative=st.booleans(),
    unit=st.sampled_from(["V", "mV", "A", "mA", "Ohm", "kOhm", "mOhm", "MOhm", "W", "m", "s"]),
    mark=st.sampled_from([".", ","]),
)
def test_what_is_typed_comes_back_as_the_same_number(digits, negative, unit, mark):
    number = f"{digits:f}".rstrip("0").rstrip(".") or "0"
    assume(mark == "." or len(number.partition(".")[2]) != 3 or number.startswith("0"))
    text = f"{'-' if negative else ''}{number.replace('.', mark)} {unit}"
    read = parse_quantity(text, unit)
    bare = parse_quantity(text.split()[0], unit)

    assert read.number == bare.number
    assert read.number == pytest.approx(
        (-1 if negative else 1) * float(digits) * parse_quantity(f"1 {unit}", unit).number,
        rel=1e-12,
    )


@given(
    size=st.floats(min_value=1e-3, max_value=9e3),
    negative=st.booleans(),
    unit=st.sampled_from(["V", "A", "ohm", "W"]),
)
def test_what_is_written_can_be_read_again_to_three_digits(size, negative, unit):
    value = -size if negative else size
    words = format_quantity(value, unit)

    assert parse_quantity(words, unit, unit_needed=True).number == pytest.approx(value, rel=6e-3)


@given(ohms=st.floats(min_value=9e3, max_value=2e6))
def test_high_ohms_that_are_written_can_be_read_again_to_three_digits(ohms):
    words = format_quantity(ohms, "ohm")

    assert parse_quantity(words, "ohm", unit_needed=True).number == pytest.approx(ohms, rel=6e-3)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_in_words(text):
    try:
        reading = parse_reading(text, "V")
    except UnitError as error:
        said = bool(error.problem and error.mend)
    else:
        said = reading is None or reading.over_range or math.isfinite(reading.number)
    assert said


@pytest.mark.parametrize(
    ("text", "unit", "answer"),
    [
        ("2.5 mm2", "mm2", True),
        ("14 AWG", "mm2", True),
        ("1.6 m", "m", True),
        ("4k7", "ohm", True),
        ("3 mOhm", "m", False),
        ("12.6", "V", False),
    ],
)
def test_the_unit_of_a_text_tells_which_value_it_is(text, unit, answer):
    assert has_unit(text, unit) is answer
