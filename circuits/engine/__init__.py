"""The circuit engine: what a circuit reads in each phase, healthy and under every fault.

Python and NumPy only. All other code imports the names below from here.
"""

from circuits.engine.ambient import at_ambient
from circuits.engine.chi_square import chi_square_limit
from circuits.engine.copper import mm2_from_awg, ohms_per_metre, temperature_factor
from circuits.engine.errors import (
    BadPart,
    BadPhase,
    BadPlace,
    ContradictoryNetwork,
    EngineError,
    PowerNotRemoved,
)
from circuits.engine.faults import (
    Fault,
    Suspect,
    UnknownSuspect,
    find_suspect,
    format_ohms,
    suspects,
    with_fault,
)
from circuits.engine.instruments import AmpsRange, Ohmmeter, amps_from_drop
from circuits.engine.judge import judge
from circuits.engine.network import KeyState, Network, Phase
from circuits.engine.parts import (
    KINDS,
    Absent,
    Battery,
    Coil,
    Connector,
    Contact,
    CurrentLoad,
    Diode,
    Driver,
    FanMotor,
    FaultKind,
    Fuse,
    Generator,
    Ground,
    IdealCurrent,
    IdealSource,
    Lamp,
    Motor,
    Part,
    PowerLoad,
    Resistor,
    RuleContact,
    SenseInput,
    Splice,
    Supply,
    Switch,
    Wire,
)
from circuits.engine.readings import AS_IT_STANDS, Meter, Place, Reading, Rig
from circuits.engine.solve import PhaseSolution, Prediction, ohms_on_live_parts, predict, solve
from circuits.engine.sweeping import States, Sweep, sweep
from circuits.engine.verdict import Finding, Outcome, Parting, Twins, Verdict

#: Raised whenever a verdict could come out differently.
ENGINE_VERSION = "1"

__all__ = [
    "AS_IT_STANDS",
    "ENGINE_VERSION",
    "KINDS",
    "Absent",
    "AmpsRange",
    "BadPart",
    "BadPhase",
    "BadPlace",
    "Battery",
    "Coil",
    "Connector",
    "Contact",
    "ContradictoryNetwork",
    "CurrentLoad",
    "Diode",
    "Driver",
    "EngineError",
    "FanMotor",
    "Fault",
    "FaultKind",
    "Finding",
    "Fuse",
    "Generator",
    "Ground",
    "IdealCurrent",
    "IdealSource",
    "KeyState",
    "Lamp",
    "Meter",
    "Motor",
    "Network",
    "Ohmmeter",
    "Outcome",
    "Part",
    "Parting",
    "Phase",
    "PhaseSolution",
    "Place",
    "PowerLoad",
    "PowerNotRemoved",
    "Prediction",
    "Reading",
    "Resistor",
    "Rig",
    "RuleContact",
    "SenseInput",
    "Splice",
    "States",
    "Supply",
    "Suspect",
    "Sweep",
    "Switch",
    "Twins",
    "UnknownSuspect",
    "Verdict",
    "Wire",
    "amps_from_drop",
    "at_ambient",
    "chi_square_limit",
    "find_suspect",
    "format_ohms",
    "judge",
    "mm2_from_awg",
    "ohms_on_live_parts",
    "ohms_per_metre",
    "predict",
    "solve",
    "suspects",
    "sweep",
    "temperature_factor",
    "with_fault",
]
