"""Every kind of part the engine knows, with its values, its behaviour and its tolerances.

A part is a frozen value with two ends, `first` and `second`; volts are counted from first to
second, amps flow from first to second. A source has its plus at `first`. `branches()` says how
the part behaves (see `laws`); a part that a fault can open from outside although it behaves as a
current brings a terminal of its own in series, so that an added resistance always has a wire to
sit in.
"""

from circuits.engine.parts.conductors import Connector, Fuse, Ground, Splice, Wire
from circuits.engine.parts.contacts import Coil, Contact, Driver, RuleContact, Switch
from circuits.engine.parts.curved_loads import FanMotor, Lamp, PowerLoad
from circuits.engine.parts.loads import CurrentLoad, Diode, Motor, Resistor, SenseInput
from circuits.engine.parts.part import Absent, FaultKind, Part
from circuits.engine.parts.sources import Battery, Generator, IdealCurrent, IdealSource, Supply

__all__ = [
    "KINDS",
    "Absent",
    "Battery",
    "Coil",
    "Connector",
    "Contact",
    "CurrentLoad",
    "Diode",
    "Driver",
    "FanMotor",
    "FaultKind",
    "Fuse",
    "Generator",
    "Ground",
    "IdealCurrent",
    "IdealSource",
    "Lamp",
    "Motor",
    "Part",
    "PowerLoad",
    "Resistor",
    "RuleContact",
    "SenseInput",
    "Splice",
    "Supply",
    "Switch",
    "Wire",
]

KINDS: dict[str, type[Part]] = {
    part.kind: part
    for part in (
        Battery,
        Supply,
        Generator,
        Wire,
        Fuse,
        Connector,
        Splice,
        Ground,
        Switch,
        Driver,
        Coil,
        Contact,
        RuleContact,
        SenseInput,
        Resistor,
        CurrentLoad,
        Motor,
        Lamp,
        PowerLoad,
        FanMotor,
        Diode,
    )
}
