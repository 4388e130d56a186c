"""How much a copper conductor resists: by gauge, length and temperature.

References
----------
.. [1] IEC 60028, annealed copper at 20 C: 0.017241 ohm mm2/m, temperature coefficient 0.00393 /K.
.. [2] ISO 6722-1, table of maximum conductor resistance at 20 C in milliohms per metre (values
   from memory; against the bare-copper figure of [1]_ they run 1.05 to 1.11 times higher, as
   stranded maxima do).
.. [3] ASTM B258, diameter of an American wire gauge: 0.127 mm x 92 ** ((36 - n) / 39).
"""

import math

REFERENCE_CELSIUS = 20.0
TEMPERATURE_COEFFICIENT_PER_KELVIN = 0.00393
ANNEALED_COPPER_OHM_MM2_PER_METRE = 0.017241

# mm2 -> milliohms per metre, see [2].
CABLE_MILLIOHMS_PER_METRE = {
    0.35: 54.4,
    0.5: 37.1,
    0.75: 24.7,
    1.0: 18.5,
    1.5: 12.7,
    2.5: 7.60,
    4.0: 4.71,
    6.0: 3.14,
    10.0: 1.82,
    16.0: 1.16,
    25.0: 0.743,
    35.0: 0.527,
    50.0: 0.368,
    70.0: 0.259,
}
# For a size outside the table: annealed copper and the middle of the stranding allowance of [2].
STRANDING_ALLOWANCE = 1.08


def ohms_per_metre(wire_mm2: float) -> float:
    """Return the ohms of one metre of vehicle cable at 20 C, from its copper in mm2.

    Sizes of ISO 6722-1 have the largest value that it allows; others follow from annealed copper.

    >>> from circuits.engine import ohms_per_metre
    >>> round(ohms_per_metre(1.5), 4)
    0.0127
    """
    if wire_mm2 in CABLE_MILLIOHMS_PER_METRE:
        return CABLE_MILLIOHMS_PER_METRE[wire_mm2] / 1000
    return STRANDING_ALLOWANCE * ANNEALED_COPPER_OHM_MM2_PER_METRE / wire_mm2


def temperature_factor(celsius: float) -> float:
    """Return by how much copper resists more than at 20 C.

    >>> from circuits.engine import temperature_factor
    >>> round(temperature_factor(90), 3)
    1.275
    """
    return 1 + TEMPERATURE_COEFFICIENT_PER_KELVIN * (celsius - REFERENCE_CELSIUS)


def mm2_from_awg(gauge: int) -> float:
    """Return the copper area of an American wire gauge; 1/0 is 0, 2/0 is -1.

    >>> from circuits.engine import mm2_from_awg
    >>> round(mm2_from_awg(10), 2)
    5.26
    """
    diameter_mm: float = 0.127 * 92 ** ((36 - gauge) / 39)
    return math.pi / 4 * diameter_mm**2
