"""The kinds with values of their own form: what is written comes to the engine, mistakes are named.

Figures of the parts are tested with the engine; here, that the sheet means them. Common practice,
no source, unless a source stands beside a figure.
"""

import pytest

from circuits.engine import Battery, Connector, CurrentLoad, Generator, Potentiometer, solve
from circuits.sheet import SheetErrors, read_json, read_text, to_json, to_network, write_text

SHEET = """\
[vehicle]
key: bench
title: One of each
system: bench
zero: BN

[connections]
BP   post
BN   post
V5   pin
SIG  pin
HI   pin
LO   pin
LIN  pin
CMD  pin
N1   pin
N2   pin
P1   pin
P2   pin

[phases]
cold   off  key off, cold
warm   on   ignition on, warm

[parts]
B1   battery        BP - BN         charge 60 %, 5 mOhm; cold: at -18 C
G1   generator      BP - BN         14.4 V, 4 mOhm, max 120 A, fallback 13.6 V; cold: absent
REF  generator      V5 - BN         5.00 V, 300 mOhm, max 0.15 A, within 0.05 V
TPS  potentiometer  V5 - BN - SIG   4.7 kOhm; cold: position 12 %; warm: position 80 %
IN   input          SIG - BN        220 kOhm
T1  thermistor BP - N1  nominal 2.5 kOhm, nominal at 20 C, beta 3550; cold: at -10 C; warm: at 90 C
T2 thermistor N1 - BN table 0 C 28 kOhm / 25 C 10 kOhm / 100 C 947 Ohm; cold: at 10 C; warm: at 90 C
T3   thermistor     BP - N2         through 0 C 27,9 kOhm / 25 C 10 kOhm / 100 C 947 Ohm, at 20 C
T4   thermistor     N2 - BN         platinum 100 Ohm, at 20 C
SW selector BP - N1 steps open / 2.2 Ohm / 20 mOhm; cold: position 1; warm: position 2
Z1   clamp          BN - BP         26 V, 0.5 Ohm
PU   resistor       BP - CMD        1 kOhm
DUT  duty           CMD - BN        8 Ohm, against 1 kOhm; cold: duty 10 %; warm: duty 50 %
CAN  can            HI - LO - BN    25 kOhm; cold: asleep
RT   resistor       HI - LO         60 Ohm
LN   lin            BP - LIN        1 kOhm
L1   leak           LIN - BN        300 kOhm
BCM  current        BP - BN         1.2 A, asleep 12 mA; cold: asleep
X1   connector      BP - P1         5 mOhm, beside X2
X2   connector      V5 - P2         5 mOhm
R1   resistor       P1 - BN         100 Ohm
R2   resistor       P2 - BN         10 kOhm
"""


def test_every_written_value_reaches_the_engine():
    network = to_network(read_text(SHEET))
    cold, warm = network.phases
    in_the_cold = {part.name: part for part in network.parts_in(cold)}
    asleep, battery = in_the_cold["BCM"], in_the_cold["B1"]

    assert isinstance(asleep, CurrentLoad)
    assert asleep.amps == 0.012
    assert isinstance(battery, Battery)
    # 12.24 to 12.45 V from half to three quarters (BCI-style table), less 1.2 mV/K from 27 C.
    assert battery.open_circuit_volts == pytest.approx(12.324 - 0.0012 * 45)
    # Twice the ohms at -18 C, and 1.6 times at 60 % of charge: values from memory.
    assert battery.internal_ohms == pytest.approx(0.005 * 2 * 1.6)
    connector, generator = network.part("X1"), network.part("G1")
    assert isinstance(connector, Connector)
    assert connector.beside == "X2"
    assert isinstance(generator, Generator)
    assert generator.fallback_volts == 13.6
    wiper = network.part("TPS")
    assert isinstance(wiper, Potentiometer)
    assert wiper.ends == ("V5", "BN", "SIG")
    cold_volts, warm_volts = (solution.volts for solution in solve(network))
    assert warm_volts["SIG"] == pytest.approx(4.0, abs=0.02)
    assert cold_volts["HI"] == pytest.approx(0.0, abs=1e-9)
    assert warm_volts["HI"] == pytest.approx(2.5, abs=1e-9)
    assert warm.name == "warm"


def test_the_sheet_is_the_same_after_text_and_after_json():
    sheet = read_text(SHEET)

    assert read_text(write_text(sheet)) == sheet
    assert read_json(to_json(sheet)) == sheet
    assert '"third"' not in to_json(sheet).split('"REF"')[1].split('"TPS"')[0]


@pytest.mark.parametrize(
    ("old", "new", "subject", "says"),
    [
        (
            "V5 - BN - SIG   4.7",
            "V5 - BN   4.7",
            "TPS",
            "a potentiometer has a third end, its wiper",
        ),
        ("V5 - BN - SIG   4.7", "V5 - BN - V5   4.7", "TPS", "two ends are at V5"),
        ("SIG - BN        220", "SIG - BN - V5   220", "IN", "a part of kind 'input' has two ends"),
        ("SIG - BN        220", "SIG - BN - VX   220", "IN", "no connection 'VX'"),
        ("position 80 %", "position 120 %", "TPS", "between 0 and 100 %, not 120%"),
        ("cold: position 1;", "cold: position 4;", "SW", "no position 4; its steps are 1 to 3"),
        ("cold: position 1;", "cold: position 1.5;", "SW", "no position 1.5"),
        ("steps open / 2.2", "steps open / / 2.2", "SW", "has an empty place"),
        ("steps open / 2.2 Ohm", "steps open / 2.2 V", "SW", "is in V, but Ohm is wanted"),
        ("/ 25 C 10 kOhm / 100 C 947 Ohm; cold", "/ 10 kOhm; cold", "T2", "no temperature with"),
        ("warm: at 90 C\nT3", "warm: at 120 C\nT3", "T2", "from 0 to 100"),
        ("nominal 2.5 kOhm, ", "", "T1", "its curve is given in no way, or in two"),
        ("platinum 100 Ohm", "platinum 100 Ohm, beta 3435", "T4", "in no way, or in two"),
        ("27,9 kOhm / 25 C 10 kOhm / 100", "1 kOhm / 25 C 10 kOhm / 100", "T3", "no NTC curve"),
        ("charge 60 %, 5", "charge 160 %, 5", "B1", "160% is not 0 to 100 %"),
        ("charge 60 %, 5", "5", "B1", "a battery needs '12.60 V'"),
        ("cold: at -18 C", "cold: at -180 C", "B1", "no temperature at which a battery works"),
        ("1.2 A, asleep 12 mA", "1.2 A", "BCM", "what it draws asleep is not given"),
        ("beside X2", "beside X9", "X1", "to sit beside 'X9'"),
        ("beside X2", "beside X1", "X1", "to sit beside 'X1'"),
        ("1 kOhm; cold: duty 10", "1 kOhm; cold: duty 110", "DUT", "between 0 and 100 %, not 110%"),
        ("fallback 13.6 V", "fallback 136 V", "G1", "above 60 V DC"),
    ],
)
def test_a_mistake_in_a_value_is_named(old, new, subject, says):
    assert old in SHEET
    with pytest.raises(SheetErrors) as caught:
        read_text(SHEET.replace(old, new, 1))

    flaws = caught.value.flaws
    assert any(flaw.subject == subject and says in flaw.problem for flaw in flaws), [
        str(flaw) for flaw in flaws
    ]
    assert all(flaw.mend for flaw in flaws)
