"""What a wire and a fuse stand, and how many volts a wire may lose: the published figures.

References
----------
.. [1] DIN VDE 0298-4, table 11 column 2: amps that one insulated copper conductor carries for
   long in free air at 30 C, conductor at 70 C. Sizes below 0.5 mm2 are the trade's usual
   continuation of the table.
.. [2] IEC 60364-4-43, 433.1: the fuse is rated no higher than the conductor's amps, and its
   conventional trip lies no higher than 1.45 times them; 1.35 times the rating (ISO 8820-3) does.
.. [3] ISO 8820-3: ratings of blade fuses. Ratings of bolted strips above 80 A from memory.
.. [4] Voltage-drop limits of the trade (workshop manual quoting SAE practice, not a standard):
   0.2 V in a cable, 0.1 V in a ground under load; cranking 0.5 V on the plus side and 0.3 V on
   the ground side. A shop may keep others.
"""

from bisect import bisect_right
from itertools import dropwhile

from circuits.engine import KeyState

WIRE_SOURCE = "DIN VDE 0298-4, one conductor in free air at 30 °C; IEC 60364-4-43, 433.1"
DROP_SOURCE = "usual limit of the trade, no standard"
COPPER_SOURCE = "copper by IEC 60028"
NET_SOURCE = "ISO 16750-2, highest supply volts in normal running"

# mm2 -> amps, see [1].
WIRE_AMPS = {
    0.14: 3.5,
    0.25: 6.0,
    0.34: 9.0,
    0.5: 12.0,
    0.75: 15.0,
    1.0: 19.0,
    1.5: 24.0,
    2.5: 32.0,
    4.0: 42.0,
    6.0: 54.0,
    10.0: 73.0,
    16.0: 98.0,
    25.0: 129.0,
    35.0: 158.0,
    50.0: 198.0,
    70.0: 245.0,
    95.0: 292.0,
    120.0: 344.0,
}
FUSE_RATINGS_AMPS = (
    *(1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0),
    *(100.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0),
)
# Nominal volts of a vehicle -> the most that its net holds, see [5].
MOST_NET_VOLTS = {12: 16.0, 24: 32.0}
# Above this it is the net of no 12 or 24 V vehicle.
MOST_LOW_NET_VOLTS = max(MOST_NET_VOLTS.values())
# A stub this short between a post and its fuse is let pass. Common practice, no source.
SHORT_STUB_METRES = 0.2


def wire_amps(wire_mm2: float) -> float:
    """Return the amps that a wire carries for long; between sizes, those of the thinner one."""
    sizes = sorted(WIRE_AMPS)
    index = bisect_right(sizes, wire_mm2)
    # Thinner than any of the table: the same amps for each square millimetre as the thinnest.
    return WIRE_AMPS[sizes[index - 1]] if index else WIRE_AMPS[sizes[0]] * wire_mm2 / sizes[0]


def wire_mm2_for(amps: float) -> float | None:
    """Return the thinnest wire of the table that carries so many amps, if there is one."""
    return next(iter(dropwhile(lambda size: WIRE_AMPS[size] < amps, sorted(WIRE_AMPS))), None)


def fuse_amps_for(wire_mm2: float) -> float | None:
    """Return the largest usual fuse that protects a wire, if there is one."""
    stands = wire_amps(wire_mm2)
    return max((rating for rating in FUSE_RATINGS_AMPS if rating <= stands), default=None)


def most_drop_volts(key_state: KeyState, *, on_ground_side: bool) -> float:
    """Return the volts that one wire may lose under load."""
    if key_state is KeyState.CRANK:
        return 0.3 if on_ground_side else 0.5
    return 0.1 if on_ground_side else 0.2
