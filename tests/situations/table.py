"""Situations that a naive reading of the figures gets wrong, as cases: what was read, what follows.

Each is told once here and asked of the command, of REST and of the page. The figures are those of
`tests/engine/test_tricky_*`, where their sums are worked, or are worked beside them here; the
circuits are those of the library, drawn with the same values (`tests/circuits/test_library`).
"""

from tests.situations.situation import (
    CANNOT_SAY,
    DOES_NOT_FIT,
    FITS,
    Situation,
    at_place,
    chatters,
    falling,
    in_phase,
    meant_as,
    needs_two,
    noted,
    nothing_heard,
    parted_by_amps,
    seen_from,
    spans,
)

UNPLUGGED = {"unplugged": ["PUMP"]}
DEAD = {"power_removed": True}
WITHOUT = "symptom was not there"
TAKE_ANOTHER = "Take one that it would not: loaded, plugged in, with the symptom there."

#: Two terminators of 120 ohm beside a node of 2 x 10 kOhm each: 118.6 ohm at either end.
BUS = """
[vehicle]
key: bus
title: A bus with a terminator at either end
system: signals
make: Tolvane
zero: BN
body: CH
plus: BP

[connections]
BP   post    battery + post
BN   post    battery - post
CH   ground  body
HL   pin     high, left end
HR   pin     high, right end
LL   pin     low, left end
LR   pin     low, right end

[phases]
off  off  key off, bus awake

[parts]
B1   battery   BP - BN  12.60 V, 10 mOhm
Wg   wire      BN - CH  35 mm2, 0.4 m
RL   resistor  HL - LL  120 Ohm
RR   resistor  HR - LR  120 Ohm
WH   wire      HL - HR  0.5 mm2, 3 m
WL   wire      LL - LR  0.5 mm2, 3 m
NL   can       HL - LL - CH  20 kOhm
NR   can       HR - LR - CH  20 kOhm

[places]
TP1  V    BP - BN  battery posts
TP2  Ohm  HL - HR  along high, end to end
TP3  Ohm  HL - LL  high to low, left end
"""

#: Plugs of 0.45 ohm: four 0.1125, three 0.15 ohm (value from memory for the plug).
STRIP = """
[vehicle]
key: strip
title: Four glow plugs on a strip
system: preheating
make: Marrowby
zero: BN
body: CH
plus: BP

[connections]
BP   post    battery + post
BN   post    battery - post
CH   ground  engine block
K87  stud    relay 87
STR  stud    strip

[phases]
off  off  key off

[parts]
B1   battery   BP - BN   12.60 V, 10 mOhm
Wg   wire      BN - CH   35 mm2, 0.4 m
K7   switch    BP - K87  2 mOhm; off: open
W1   wire      K87 - STR  10 mm2, 0.9 m
GP1  resistor  STR - CH  0.45 Ohm
GP2  resistor  STR - CH  0.45 Ohm
GP3  resistor  STR - CH  0.45 Ohm
GP4  resistor  STR - CH  0.45 Ohm

[places]
TP1  V    BP - BN   battery posts
TP2  Ohm  STR - CH  strip to block
"""

SITUATIONS = (
    # ------------------------------------------------------------------ the meter is a part
    Situation(
        fact="supply volts at an open plug prove nothing",
        circuit="fuel_pump",
        readings=(at_place("TP2", "prime", "12.04", rig=UNPLUGGED),),
        claim="resistance:C40",
        outcome=CANNOT_SAY,
        in_order=True,
        says=(TAKE_ANOTHER,),
    ),
    Situation(
        fact="a meter of 400 kOhm shows the damp break that one of 10 MOhm does not",
        # 12.40 V x 400 k / 700 k = 7.09 V: 300 kOhm of damp.
        circuit="fuel_pump",
        readings=(
            at_place("TP1", "prime", "12.40"),
            at_place("TP2", "prime", "7.08", rig=UNPLUGGED, instrument={"input_ohms": 400e3}),
        ),
        claim="resistance:C40",
        outcome=FITS,
        shows=spans(295e3, 305e3),
        says=("added resistance",),
    ),
    Situation(
        fact="nought volts at an open plug prove an open",
        circuit="fuel_pump",
        readings=(
            at_place("TP1", "prime", "12.40"),
            at_place("TP2", "prime", "0.00", rig=UNPLUGGED),
        ),
        claim="resistance:C40",
        outcome=FITS,
        says=("connector open",),
    ),
    # --------------------------------------------------------------------------- back-feed
    Situation(
        fact="volts on a switched off feed come from a lost ground and not from a leaking relay",
        circuit="headlamps",
        readings=in_phase("dip", TP1="4.41", TP2="9.32", TP5="4.74", TP6="4.42", TP9="2.64"),
        claim="bypass:KHc",
        outcome=DOES_NOT_FIT,
        fits_too=("resistance:WgL",),
        excluded=("resistance:lampLOWL", "resistance:WlowL"),
    ),
    # ----------------------------------------------------------------------------- chatter
    Situation(
        fact="six volts while cranking may be a chatter",
        circuit="starting_relay",
        readings=in_phase("crank", TP1="6.0"),
        claim="resistance:B1",
        outcome=FITS,
        fits_too=("low-volts:B1", "named:old-battery"),
        says=("the circuit chatters", "Capture its minimum and its maximum"),
        shows=chatters,
    ),
    # ------------------------------------------------------------------- shows under load alone
    Situation(
        fact="three of four good looking readings rule no bad joint out",
        circuit="power_steering",
        readings=(
            at_place("TP2", "off", "12.60"),
            at_place("TP2", "on", "12.45"),
            at_place("TP2", "straight", "13.57"),
        ),
        claim="resistance:F70",
        outcome=CANNOT_SAY,
        in_order=True,
        says=("The mildest that TP2 in", "could have shown: F70", TAKE_ANOTHER),
        # Each by its own amps: 4 mA, 1.1 A and 4.4 A.
        shows=falling,
    ),
    Situation(
        fact="full lock shows the joint that light loads hide",
        circuit="power_steering",
        readings=(
            at_place("TP2", "on", "12.45"),
            at_place("TP2", "straight", "13.57"),
            at_place("TP2", "lock", "8.80"),
        ),
        claim="resistance:F70",
        outcome=FITS,
        shows=spans(0.044, 0.046),
        excluded=("low-volts:G1",),
    ),
    # ---------------------------------------------------------------------- drops across fuses
    Situation(
        fact="a fuse is a poor shunt and gives an interval of current",
        # 0.4 mV, give or take 0.1 mV and a fifth of 4.8 mOhm: 52 to 130 mA, less 1.5 mA at rest.
        circuit="key_off_drain",
        readings=in_phase("asleep", TP8="0.4"),
        claim="draws-more:F21_load",
        outcome=FITS,
        shows=spans(0.055, 0.128),
    ),
    Situation(
        fact="current past the fuse box shows at the battery alone",
        circuit="key_off_drain",
        readings=in_phase(
            "asleep",
            TP2="257",
            TP3="0.01",
            TP4="0.02",
            TP5="0.02",
            TP6="0.00",
            TP7="0.01",
            TP8="0.01",
            TP9="0.04",
        ),
        claim="bypass:RECT",
        outcome=FITS,
        fits_too=("ground-short:BUS",),
        excluded=("draws-more:F21_load", "draws-more:F4_load"),
    ),
    # ------------------------------------------------------------------------ two, and none now
    Situation(
        fact="a dark left and a yellow right lamp are two faults",
        circuit="headlamps",
        readings=in_phase("dip", TP1="13.89", TP7="11.14", TP8="2.46", TP9="0.0"),
        claim="resistance:WgR",
        outcome=DOES_NOT_FIT,
        says=("Are there two faults?", "lampLOWL", "together with", "WgR"),
        shows=needs_two,
    ),
    Situation(
        fact="good readings of a car that does not stall now say nothing of its relay",
        circuit="fuel_pump",
        readings=tuple(
            at_place(place, "prime", text, symptom_present="no")
            for place, text in (("TP1", "12.34"), ("TP2", "11.71"), ("TP5", "12.22"))
        ),
        claim="resistance:K3.con",
        outcome=CANNOT_SAY,
        says=("one reading with the symptom present", "the same provocation again"),
        shows=nothing_heard,
    ),
    Situation(
        fact="one reading while it stalls convicts the contact that good ones would acquit",
        circuit="fuel_pump",
        readings=(
            at_place("TP1", "prime", "12.34", symptom_present="no"),
            at_place("TP2", "prime", "11.71", symptom_present="no"),
            at_place("TP5", "run", "0.00", symptom_present="yes"),
            at_place("TP6", "run", "0.090", symptom_present="yes"),
        ),
        claim="resistance:K3.con",
        outcome=FITS,
        excluded=("resistance:DRV",),
    ),
    # --------------------------------------------------------------------------- slips
    Situation(
        fact="cranking readings without a witness may have been taken with the key on",
        circuit="starting_relay",
        readings=in_phase("crank", TP1="12.53", TP3="0.000", TP6="0.000"),
        claim="resistance:S2_clutch",
        outcome=FITS,
        fits_too=("resistance:F7", "resistance:S1_start"),
        says=(
            "all that was read in 'crank' was perhaps read in 'on'",
            "then the circuit in order fits",
            "repeat it with somebody at the key",
        ),
        shows=meant_as("all of this phase taken in another", phase="on"),
    ),
    Situation(
        fact="a ground drop in the row of the feed drop is offered as such",
        circuit="fuel_pump",
        readings=in_phase("prime", TP1="12.35", TP2="6.79", TP3="5.07"),
        claim="resistance:C40",
        outcome=DOES_NOT_FIT,
        says=(
            "TP3 in 'prime' was perhaps taken at another place, TP4",
            "no fuse would have stood it: F15 (15 A)",
        ),
        shows=meant_as("taken at another place", place="TP4"),
    ),
    Situation(
        fact="volts written for millivolts are no open fuse",
        circuit="power_steering",
        readings=in_phase("straight", TP1="13.78", TP2="13.77", TP4="3.92 V"),
        claim="resistance:F70",
        outcome=DOES_NOT_FIT,
        says=("written a thousand times too large: 3.92 mV; then the circuit in order fits",),
        shows=meant_as("written a thousand times too large", place="TP4"),
    ),
    Situation(
        fact="amps written for milliamps on a sleeping car",
        circuit="key_off_drain",
        readings=in_phase("asleep", TP1="12.62", TP2="17.5 A"),
        claim="draws-more:F4_load",
        outcome=FITS,
        says=("written a thousand times too large: 17.5 mA; then the circuit in order fits",),
        shows=meant_as("written a thousand times too large", place="TP2"),
    ),
    # ---------------------------------------------------------------------------- ohms
    Situation(
        fact="a conductor broken in the middle reads both terminators",
        # 118.6 ohm at either end of the open wire: 237 ohm.
        circuit=BUS,
        readings=(at_place("TP2", "off", "237.2", rig=DEAD),),
        claim="resistance:WH",
        outcome=FITS,
        excluded=("resistance:RL", "resistance:WL"),
    ),
    Situation(
        fact="one dead glow plug of four is lost in the leads",
        circuit=STRIP,
        readings=(at_place("TP2", "off", "0.5", rig=DEAD),),
        claim="resistance:GP1",
        outcome=CANNOT_SAY,
        in_order=True,
        says=("TP2 in 'off' could not have shown it, however bad it is",),
        shows=seen_from(None),
    ),
    Situation(
        fact="the amps tell the dead plug that ohms do not",
        # Three of four draw 37 A where four draw 49 A, and none of them flows in the first.
        circuit="glow_plugs",
        readings=in_phase("preheat", TP7="37.4", TP8="0.0"),
        claim="resistance:GP1",
        outcome=FITS,
        excluded=("resistance:GP2", "resistance:W5", "resistance:K7.con"),
    ),
    # ------------------------------------------------------- healthy that looks ill, and back
    Situation(
        fact="twelve point six volts with the engine running are in order if they are asked for",
        circuit="smart_charging",
        readings=in_phase("eco", TP1="12.60"),
        claim="limited:G1",
        outcome=CANNOT_SAY,
        in_order=True,
    ),
    Situation(
        fact="without the command twelve point six volts may be another phase",
        circuit="smart_charging",
        readings=in_phase("high", TP1="12.60"),
        claim="limited:G1",
        outcome=FITS,
        says=("was perhaps taken in another phase, 'eco'; then the circuit in order fits",),
        shows=meant_as("taken in another phase", phase="eco"),
    ),
    Situation(
        fact="a bridge across a sensor hides hot",
        circuit="coolant_sensor",
        readings=in_phase("hot", TP1="0.429"),
        claim="bypass:NTC",
        outcome=CANNOT_SAY,
        in_order=True,
        says=("The mildest that TP1 in 'hot' could have shown",),
    ),
    Situation(
        fact="the bridge shows cold",
        circuit="coolant_sensor",
        readings=in_phase("cold", TP1="3.09"),
        claim="bypass:NTC",
        outcome=FITS,
        shows=spans(6700, 6900),
    ),
    Situation(
        fact="a bad terminal of a sensor hides cold",
        circuit="coolant_sensor",
        readings=in_phase("cold", TP1="4.02"),
        claim="resistance:W2",
        outcome=CANNOT_SAY,
        in_order=True,
    ),
    Situation(
        fact="the terminal shows hot",
        circuit="coolant_sensor",
        readings=in_phase("hot", TP1="1.09"),
        claim="resistance:W2",
        outcome=FITS,
        excluded=("bypass:NTC",),
    ),
    Situation(
        fact="a low battery is scaled out before the pump is called short of volts",
        # 11.02 / 11.64 = 0.947 of the supply; the table has 0.949.
        circuit="fuel_pump",
        readings=in_phase("prime", TP1="11.64", TP2="11.02"),
        claim="resistance:C40",
        outcome=CANNOT_SAY,
        in_order=True,
        says=("as it was logged, 11.64 V at TP1",),
        shows=noted("11.64 V at TP1"),
    ),
    Situation(
        fact="a relay that stays out hot on a cranking battery is in order",
        circuit="fuel_pump",
        readings=(
            at_place("TP1", "crank", "9.0", celsius=90),
            at_place("TP2", "crank", "0.00", celsius=90),
        ),
        claim="resistance:K3.con",
        outcome=CANNOT_SAY,
        in_order=True,
        says=("taken at 90 °C",),
        shows=noted("taken at 90 °C"),
    ),
    Situation(
        fact="the same relay cold is not",
        circuit="fuel_pump",
        readings=in_phase("crank", TP1="9.0", TP2="0.00"),
        claim="resistance:K3.con",
        outcome=FITS,
    ),
    Situation(
        fact="full volts on the pins of a coil are no proof that current flows",
        circuit="starting_relay",
        readings=in_phase("crank", TP1="12.51", TP6="12.45", TP3="0.000"),
        claim="resistance:K1.coil",
        outcome=FITS,
        fits_too=("resistance:K1.con", "resistance:F30"),
        says=("amps", "through K1.coil"),
        shows=parted_by_amps,
    ),
    Situation(
        fact="off is not nought volts where a probe on plus looks through the load",
        circuit="fuel_pump",
        readings=in_phase("after", TP3="12.40"),
        claim="resistance:C40",
        outcome=CANNOT_SAY,
        in_order=True,
        says=("TP3 in 'after' could not have shown it, however bad it is",),
        shows=seen_from(None),
    ),
    # ------------------------------------------------------------ one part, three complaints
    Situation(
        fact="an engine strap answers for a slow crank and a low charge",
        circuit="starting_relay",
        readings=(
            *in_phase("crank", TP1="11.02", TP2="6.89"),
            at_place("TP1", "run", "13.06"),
        ),
        claim="resistance:W3",
        outcome=FITS,
        excluded=("limited:G1", "bypass:MOT", "resistance:B1"),
        shows=spans(0.0275, 0.0285),
    ),
    Situation(
        fact="the same strap answers for plugs that glow weakly while the starter turns",
        circuit="glow_plugs",
        readings=(
            *in_phase("crank", TP1="10.91", TP2="6.10"),
            at_place("TP1", "run", "13.07"),
            at_place("TP3", "preheat", "0.355"),
        ),
        claim="resistance:W3",
        outcome=FITS,
        excluded=("resistance:GP1", "resistance:K7.con", "resistance:W5", "limited:G1"),
        shows=spans(0.0215, 0.0225),
    ),
)
