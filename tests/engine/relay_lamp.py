"""A lamp behind a relay whose feed can be followed by hand, for tests of severities.

plus --[wire 50 mOhm]-- 86 --[winding 90 Ohm]-- minus
plus --[contact 10 mOhm]-- out --[lamp 6 Ohm]-- minus
"""

from circuits.engine import Battery, Coil, Contact, Network, Place, Resistor

LAMP = Place(key="lamp", red="out", black="minus")
RELAY = Network(
    zero="minus",
    parts=(
        Battery(
            name="B1", first="plus", second="minus", open_circuit_volts=12.6, internal_ohms=0.001
        ),
        Resistor(name="W1", first="plus", second="86", ohms=0.05),
        Coil(name="K1.coil", first="86", second="minus", ohms=90.0),
        Contact(
            name="K1.con",
            first="plus",
            second="out",
            coil="K1.coil",
            coil_ohms=90.0,
            pull_in_volts=7.2,
            drop_out_volts=2.0,
            made_ohms=0.01,
        ),
        Resistor(name="H1", first="out", second="minus", ohms=6.0),
    ),
)
