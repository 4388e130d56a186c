"""What a 12 V lead battery has at rest and inside, by state of charge and temperature.

References
----------
.. [1] BCI-style table of open-circuit volts against state of charge, flooded, rested, 27 C: 12.65,
   12.45, 12.24, 12.06, 11.89 V at 100, 75, 50, 25, 0 %. Other published tables differ by up to
   0.15 V between a quarter and a half, so that volts alone tell the charge to some 15 %.
.. [2] Temperature: +0.2 mV per kelvin and cell; AGM rests 0.1 to 0.2 V higher; the inner ohms
   double from 25 C to -18 C, and an empty battery has some 2.5 times those of a full one. Values
   from memory.
"""

import numpy as np

REST_VOLTS = ((0.0, 11.89), (0.25, 12.06), (0.5, 12.24), (0.75, 12.45), (1.0, 12.65))
TABLE_CELSIUS = 27.0
AGM_VOLTS_MORE = 0.15
CELLS = 6
VOLTS_PER_KELVIN_AND_CELL = 0.0002

#: The share of the rest volts by which an empty battery lies below a full one.
EMPTY_VOLTS_LESS = 1 - REST_VOLTS[0][1] / REST_VOLTS[-1][1]
EMPTY_OHMS_FACTOR = 2.5
OHMS_CELSIUS = 25.0
KELVINS_TO_DOUBLE = 43.0

# Beyond these the electrolyte is frozen or the case is melting. Common practice, no source.
COLDEST_CELSIUS = -40.0
HOTTEST_CELSIUS = 80.0


def rest_volts(
    charge_fraction: float, celsius: float = TABLE_CELSIUS, *, is_agm: bool = False
) -> float:
    """Return the volts of a rested 12 V battery, on straight lines between the points of [1]_.

    >>> from circuits.engine import rest_volts
    >>> rest_volts(0.5), round(rest_volts(0.9), 2)
    (12.24, 12.57)
    """
    warmth = CELLS * VOLTS_PER_KELVIN_AND_CELL * (celsius - TABLE_CELSIUS)
    charges, volts = zip(*REST_VOLTS, strict=True)
    flooded = float(np.interp(charge_fraction, charges, volts))
    return flooded + warmth + (AGM_VOLTS_MORE if is_agm else 0.0)


def inner_ohms_factor(charge_fraction: float = 1.0, celsius: float = OHMS_CELSIUS) -> float:
    """Return by how much the inner ohms exceed those of a full battery at 25 C.

    >>> from circuits.engine import inner_ohms_factor
    >>> inner_ohms_factor(celsius=-18), inner_ohms_factor(0.0)
    (2.0, 2.5)
    """
    cold = float(2 ** ((OHMS_CELSIUS - celsius) / KELVINS_TO_DOUBLE))
    return cold * (1 + (1 - charge_fraction) * (EMPTY_OHMS_FACTOR - 1))
