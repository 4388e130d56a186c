"""What a common multimeter or clamp shows of a value."""

from circuits.units import base_units_in

#: Shown unit -> decimals of the display: 10 mV on the 60 V range, 0.1 mV on the millivolt range,
#: 0.1 A on a clamp, 0.1 mA in series. Common practice, no source.
DECIMALS = {"V": 2, "mV": 1, "A": 1, "mA": 1, "Ohm": 1, "kOhm": 2}


def shown_reading(value: float, unit: str) -> str:
    """Return a value, given in its base unit, as the display shows it.

    >>> from cases.services.meter import shown_reading
    >>> shown_reading(6.7934, "V"), shown_reading(0.00392, "mV"), shown_reading(-0.001, "V")
    ('6.79 V', '3.9 mV', '0.00 V')
    """
    digits = f"{value / base_units_in(unit):.{DECIMALS[unit]}f}"
    if float(digits) == 0:
        digits = digits.removeprefix("-")
    return f"{digits} {unit}"
