"""Every kind of part the engine knows, with its values, its behaviour and its tolerances.

A part is a frozen value with two ends, `first` and `second`, or three (see `ThreeEnded`); volts
are counted from first to second, amps flow from first to second. A source has its plus at
`first`. `branches()` says how the part behaves (see `laws`); a part that a fault can open from
outside although it behaves as a current brings a terminal of its own in series, so that an added
resistance always has a wire to sit in.
"""

from circuits.engine.parts.buses import CanNode, LinNode
from circuits.engine.parts.conductors import Connector, Fuse, Ground, Splice, Wire
from circuits.engine.parts.contacts import Coil, Contact, Driver, RuleContact, Switch
from circuits.engine.parts.curved_loads import FanMotor, Lamp, PowerLoad
from circuits.engine.parts.loads import (
    Clamp,
    CurrentLoad,
    Diode,
    Leak,
    Motor,
    Resistor,
    SenseInput,
)
from circuits.engine.parts.outputs import DutyDriver, Selector
from circuits.engine.parts.part import HIGHEST_VOLTS, Absent, FaultKind, Part, ThreeEnded, Weakness
from circuits.engine.parts.sensors import Potentiometer, ThreeWireSensor
from circuits.engine.parts.sources import Battery, Generator, IdealCurrent, IdealSource, Supply
from circuits.engine.parts.thermistors import (
    BetaCurve,
    CurveProblem,
    PlatinumCurve,
    SteinhartHartCurve,
    TableCurve,
    ThermalCurve,
    Thermistor,
)

__all__ = [
    "HIGHEST_VOLTS",
    "KINDS",
    "Absent",
    "Battery",
    "BetaCurve",
    "CanNode",
    "Clamp",
    "Coil",
    "Connector",
    "Contact",
    "CurrentLoad",
    "CurveProblem",
    "Diode",
    "Driver",
    "DutyDriver",
    "FanMotor",
    "FaultKind",
    "Fuse",
    "Generator",
    "Ground",
    "IdealCurrent",
    "IdealSource",
    "Lamp",
    "Leak",
    "LinNode",
    "Motor",
    "Part",
    "PlatinumCurve",
    "Potentiometer",
    "PowerLoad",
    "Resistor",
    "RuleContact",
    "Selector",
    "SenseInput",
    "Splice",
    "SteinhartHartCurve",
    "Supply",
    "Switch",
    "TableCurve",
    "ThermalCurve",
    "Thermistor",
    "ThreeEnded",
    "ThreeWireSensor",
    "Weakness",
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
        Clamp,
        Thermistor,
        Potentiometer,
        ThreeWireSensor,
        Selector,
        DutyDriver,
        CanNode,
        LinNode,
        Leak,
    )
}
