"""Vehicle identification numbers against published ones."""

import pytest
from vininfo import Vin  # type: ignore[import-untyped]

from cases.vin import check_digit, vin_warnings

# 49 CFR 565.15(c), the sample of the rule; a handbook of the rule's agency; an encyclopedia's
# example; a data-cleaning library's example; all ones, whose sum is 89 = 8 x 11 + 1.
GOOD = [
    "1G4AH59H45G118341",
    "1J9RP1A36A1644345",
    "1M8GDM9AXKP042788",
    "1FACP45EXLF192944",
    "11111111111111111",
]


@pytest.mark.parametrize("vin", GOOD)
def test_the_check_digit_agrees_with_published_numbers(vin: str) -> None:
    assert check_digit(vin) == vin[8]
    assert vin_warnings(vin) == ()
    # A library that was written elsewhere says the same.
    assert Vin(vin).verify_checksum()


def test_a_mistyped_number_is_warned_about_and_not_refused() -> None:
    """5 mistyped as S at the front; the sum gives X where 1 is printed."""
    [warning] = vin_warnings("SGZCZ43D13S812715")

    assert "would be X" in warning
    assert "elsewhere this says nothing" in warning


@pytest.mark.parametrize(
    ("vin", "words"),
    [
        ("1G4AH59H45G11834", "has 17 characters; this has 16"),
        ("1G4AH59H45G1183411", "has 17 characters; this has 18"),
        ("IG4AH59H45G118341", "no I"),
        ("1G4AH59H45G11834!", "letters and digits only"),
    ],
)
def test_what_no_number_can_have_is_named(vin: str, words: str) -> None:
    assert any(words in warning for warning in vin_warnings(vin))


def test_no_number_is_no_reason_to_warn() -> None:
    assert vin_warnings("") == ()
