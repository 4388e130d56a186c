"""A circuit on paper: the text form, the JSON form, and the way to the engine."""

from circuits.sheet.alternatives import (
    exchanged,
    measured,
    open_rules,
    with_part,
    without_alternative,
)
from circuits.sheet.differences import Difference, differences
from circuits.sheet.errors import Flaw, SheetErrors
from circuits.sheet.exchange import json_schema, read_any, read_data, read_json, to_data, to_json
from circuits.sheet.kinds import KINDS
from circuits.sheet.merging import Clash, Merged, merge
from circuits.sheet.model import (
    OHM_UNITS,
    SCHEMA,
    CodeEntry,
    Comparison,
    CompoundEntry,
    CompoundMember,
    Condition,
    Connection,
    ConnectionKind,
    Continuation,
    HazardEntry,
    HazardKind,
    Move,
    MoveKind,
    PartEntry,
    PartState,
    PhaseEntry,
    PlaceEntry,
    Setting,
    Sheet,
    Value,
    Vehicle,
)
from circuits.sheet.network import engine_place, engine_places, proven_network, to_network
from circuits.sheet.reader import read_text
from circuits.sheet.sharing import sharers
from circuits.sheet.writer import condition_words, write_text

__all__ = [
    "KINDS",
    "OHM_UNITS",
    "SCHEMA",
    "Clash",
    "CodeEntry",
    "Comparison",
    "CompoundEntry",
    "CompoundMember",
    "Condition",
    "Connection",
    "ConnectionKind",
    "Continuation",
    "Difference",
    "Flaw",
    "HazardEntry",
    "HazardKind",
    "Merged",
    "Move",
    "MoveKind",
    "PartEntry",
    "PartState",
    "PhaseEntry",
    "PlaceEntry",
    "Setting",
    "Sheet",
    "SheetErrors",
    "Value",
    "Vehicle",
    "condition_words",
    "differences",
    "engine_place",
    "engine_places",
    "exchanged",
    "json_schema",
    "measured",
    "merge",
    "open_rules",
    "proven_network",
    "read_any",
    "read_data",
    "read_json",
    "read_text",
    "sharers",
    "to_data",
    "to_json",
    "to_network",
    "with_part",
    "without_alternative",
    "write_text",
]
