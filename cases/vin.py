"""What a vehicle identification number says about itself: a warning at most, never a refusal.

The check digit is a rule of 49 CFR 565.15 for vehicles sold in North America; a number from
elsewhere that fails it is in order.
"""

LENGTH = 17
_VALUES = {
    **{str(digit): digit for digit in range(10)},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_NOT_USED = "IOQ"


def normal_vin(text: str) -> str:
    """Return a VIN as it is stored: capitals, without gaps."""
    return "".join(text.split()).replace("-", "").upper()


def check_digit(vin: str) -> str:
    """Return the check digit that 49 CFR 565.15 gives a 17-character number.

    >>> from cases.vin import check_digit
    >>> check_digit("1G4AH59H45G118341")
    '4'
    """
    total = sum(
        _VALUES[character] * weight for character, weight in zip(vin, _WEIGHTS, strict=True)
    )
    remainder = total % 11
    return "X" if remainder == 10 else str(remainder)


def vin_warnings(vin: str) -> tuple[str, ...]:
    """Return what looks wrong with a VIN, in words; an empty one is in order."""
    if not vin:
        return ()
    found = []
    if len(vin) != LENGTH:
        found.append(f"A VIN has {LENGTH} characters; this has {len(vin)}.")
    strange = sorted({character for character in vin if character not in _VALUES})
    letters = [character for character in strange if character in _NOT_USED]
    if letters:
        found.append(f"A VIN has no {', '.join(letters)}; is it a 1 or a 0?")
    others = [character for character in strange if character not in _NOT_USED]
    if others:
        found.append(f"A VIN has letters and digits only, not {' '.join(others)}.")
    if not found and check_digit(vin) != vin[8]:
        found.append(
            f"The ninth character would be {check_digit(vin)} on a vehicle for North America; "
            "elsewhere this says nothing."
        )
    return tuple(found)
