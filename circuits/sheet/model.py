"""A circuit on paper: what a technician writes down of it, as typed.

A sheet holds no numbers, only texts such as `3 mOhm`, so that nothing of what was typed is lost;
`network.to_network` works the numbers out. The models here say what a sheet consists of and what
a single entry may look like; `checks` says what must agree between entries.
"""

import re
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from circuits.engine import KeyState

SCHEMA: Literal["copperlog-circuit/1"] = "copperlog-circuit/1"
LONGEST_WORDS = 300
LONGEST_NOTES = 20_000
#: Words that stand for the phases that a part's line does not name.
OTHERWISE = "otherwise"

_CONTROL = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029\ufeff\ud800-\udfff]")
# A bar starts the details of a line and a cross its remark, when they stand apart.
_MARK = re.compile(r"(?:^|\s)[|#](?:\s|$)|^#")


def _one_line(text: str) -> str:
    if _CONTROL.search(text):
        raise ValueError("must be one line, without control characters")
    if text != text.strip():
        raise ValueError("must not begin or end with a space")
    return text


def _words(text: str) -> str:
    if _MARK.search(_one_line(text)):
        raise ValueError("must not hold a | or # that stands by itself: they begin something else")
    return text


def _source(text: str) -> str:
    if "[" in text or "]" in text or ";" in text:
        raise ValueError("must not hold [ ] or ;")
    return _words(text)


def _notes(text: str) -> str:
    lines = text.split("\n")
    if any(_CONTROL.search(line) for line in lines):
        raise ValueError("must not hold control characters")
    if any(line != line.rstrip() for line in lines) or text != text.strip("\n"):
        raise ValueError("must not hold empty ends of lines, nor begin or end with an empty line")
    if any(line.lstrip().startswith("[") for line in lines):
        raise ValueError("no line may begin with [, which begins a section")
    return text


#: Words with a meaning in a code's condition, which therefore name nothing.
RESERVED = frozenset({"if", "for", "while", "and", "in", "above", "below"})


def _not_reserved(name: str) -> str:
    if name in RESERVED:
        raise ValueError(f"must not be '{name}', which has a meaning of its own in conditions")
    return name


Remark = Annotated[str, AfterValidator(_one_line), StringConstraints(max_length=LONGEST_WORDS)]
Words = Annotated[str, AfterValidator(_words), StringConstraints(max_length=LONGEST_WORDS)]
NeededWords = Annotated[Words, StringConstraints(min_length=1)]
Source = Annotated[str, AfterValidator(_source), StringConstraints(max_length=LONGEST_WORDS)]
Notes = Annotated[str, AfterValidator(_notes), StringConstraints(max_length=LONGEST_NOTES)]
#: A part, connection or place: K1.coil, S1_start, X12/4, 15a.
Name = Annotated[
    str,
    StringConstraints(pattern=r"^[^\W_][\w./+\-]*$", max_length=40),
    AfterValidator(_not_reserved),
]
OptionalName = Annotated[str, StringConstraints(pattern=r"^(?:[^\W_][\w./+\-]*)?$", max_length=40)]
#: A phase or a circuit: short, lower case, also used in addresses.
Key = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_-]*$", max_length=60)]
#: A fault that a circuit can have: resistance:C40, ground-short:K87.
FaultName = Annotated[
    str, StringConstraints(pattern=r"^[a-z][a-z-]*:[^\W_][\w./+\-]*$", max_length=80)
]
Severity = Annotated[Source, StringConstraints(min_length=1)]
CodeName = Annotated[str, StringConstraints(pattern=r"^[A-Z0-9][A-Z0-9 .-]*$", max_length=40)]


class Entry(BaseModel):
    """What every entry of a sheet has: the remark behind it and the remarks above it."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, populate_by_name=True)

    above: tuple[Remark, ...] = Field(
        default=(), description="Remarks on lines of their own, above this entry."
    )
    remark: Remark = Field(default="", description="The remark behind this entry.")


class Piece(BaseModel):
    """What entries are made of."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Continuation(Piece):
    """Where a sheet ends: a connection, and the circuit on whose sheet it goes on."""

    node: Name
    circuit: Key


class Vehicle(Entry):
    """Which circuit of which vehicle this is, and who says so."""

    key: Key = Field(description="The circuit's short name, unique among circuits.")
    title: NeededWords
    system: NeededWords = Field(description="What it belongs to: starting, charging, lighting.")
    make: Words = ""
    model: Words = ""
    engine: Words = ""
    supply_volts: Literal[12, 24] = Field(default=12, description="Nominal volts of the vehicle.")
    zero: Name = Field(description="The connection of 0 V, as a rule the battery's minus post.")
    body: OptionalName = Field(default="", description="What a wire chafed to ground touches.")
    plus: OptionalName = Field(default="", description="What a short to supply touches.")
    drawing: Words = Field(default="", description="Where the drawing comes from.")
    drawn_by_us: bool = Field(
        default=True, description="Drawn at the vehicle, not taken from the maker's drawing."
    )
    outside: tuple[Source, ...] = Field(
        default=(), description="Quantities that move the circuit but are no part of it."
    )
    shared: tuple[Name, ...] = Field(
        default=(),
        description="Parts, connections or modules that are the same thing under the same name on"
        " other sheets of this vehicle. A module is named by what stands before the . or / of its"
        " pins.",
    )
    goes_on: tuple[Continuation, ...] = Field(
        default=(), description="Connections at which this sheet ends and another one begins."
    )


class ConnectionKind(StrEnum):
    """What a connection of the drawing is on the vehicle."""

    POST = "post"
    STUD = "stud"
    PIN = "pin"
    SPLICE = "splice"
    GROUND = "ground"


class Connection(Entry):
    """A point of the drawing at which ends of parts meet."""

    node: Name
    kind: ConnectionKind = Field(strict=False)
    label: Words = ""


class PhaseEntry(Entry):
    """A named state of the circuit, in the order in which a vehicle goes through them."""

    key: Key
    key_state: KeyState = Field(strict=False)
    words: NeededWords
    temperature: Words = Field(default="", description="As typed, such as 20 C.")
    since: Words = Field(default="", description="Time since the last change, such as 30 min.")


class Value(Piece):
    """One value of a part: `joints 3 mOhm [measured]` has a word, a text and a source."""

    word: Words = ""
    text: Words = ""
    source: Source = ""


class PartState(StrEnum):
    """What a part can be in a phase instead of having values."""

    OPEN = "open"
    ABSENT = "absent"
    DISABLED = "disabled"
    ASLEEP = "asleep"


class Setting(Piece):
    """What a part is in some phases; without phases, in all of them."""

    phases: tuple[Key, ...] = ()
    state: PartState | None = Field(default=None, strict=False)
    values: tuple[Value, ...] = ()


class PartEntry(Entry):
    """A part between two connections, or three, with its values as typed."""

    name: Name
    kind: Words
    first: Name
    second: Name
    third: OptionalName = Field(
        default="",
        description="The third end, such as a wiper; left out of a part of two ends.",
        exclude_if=lambda third: not third,
    )
    settings: tuple[Setting, ...] = ()
    source: Source = Field(default="", description="Where its values come from; empty: assumed.")

    @property
    def ends(self) -> tuple[str, ...]:
        """The connections it joins, in their order: two, or three."""
        return (self.first, self.second, *((self.third,) if self.third else ()))


class MoveKind(StrEnum):
    """What may be done at a place."""

    VOLTS = "volts"
    LAMP = "lamp"
    UNPLUG = "unplug"
    BRIDGE = "bridge"


class Move(Piece):
    """Something that may be done at a place: `unplug PUMP`, `lamp 21 W`, `bridge K30 - K87`."""

    kind: MoveKind = Field(strict=False)
    #: Parts to unplug, or the two connections to bridge.
    names: tuple[Name, ...] = ()
    watts: Words = ""


OHM_UNITS = ("Ohm", "kOhm")
SHOWN_UNITS = ("V", "mV", "A", "mA", "Ohm", "kOhm", "C", "%")


class PlaceEntry(Entry):
    """Where a reading is taken: two leads, or a part that the clamp goes round."""

    key: Name
    label: NeededWords
    unit: Literal["V", "mV", "A", "mA", "Ohm", "kOhm", "C", "%"]
    red: OptionalName = ""
    black: OptionalName = ""
    through: OptionalName = ""
    against: bool = Field(default=False, description="Counted from the part's second end.")
    side: Source = Field(default="", description="Side of the plug, such as back-probed.")
    moves: tuple[Move, ...] = ()
    not_computed: Source = Field(
        default="", description="Why no prediction is made, where none is made."
    )


class FaceSide(StrEnum):
    """From where a connector's face is seen."""

    WIRE = "wire"
    MATING = "mating"


class Cavity(Piece):
    """A spot of a face: a cavity by its number, with its connection if a wire goes in."""

    number: OptionalName = Field(default="", description="Empty where there is no cavity.")
    node: OptionalName = Field(default="", description="Empty where no wire goes in.")


class FaceEntry(Entry):
    """A connector's face, row by row from the left as it is seen from its side."""

    name: Name
    side: FaceSide = Field(strict=False)
    rows: int
    columns: int
    words: Words = ""
    cavities: tuple[Cavity, ...]


class Comparison(Piece):
    """`TP2 below 10.5 V`: a place, a part's amps, or the volts between two connections."""

    place: OptionalName = ""
    part: OptionalName = ""
    red: OptionalName = ""
    black: OptionalName = ""
    above: bool
    number: NeededWords = Field(description="As typed, such as 10.5 V.")


class Condition(Piece):
    """When a code sets: a comparison that holds for a time, while others hold, in some phases."""

    test: Comparison
    seconds: Words = Field(default="", description="As typed, such as 0.5 s.")
    enabling: tuple[Comparison, ...] = ()
    phases: tuple[Key, ...] = Field(default=(), description="Empty: in every phase.")


class CodeEntry(Entry):
    """A fault code; it sets when any of its conditions is met."""

    code: CodeName
    words: NeededWords
    conditions: tuple[Condition, ...] = ()
    not_testable: Words = Field(default="", description="Why it cannot be tested here.")
    source: Source = ""


class CompoundMember(Piece):
    """One fault of a compound and how bad it is at the compound's worst, as typed."""

    suspect: FaultName
    severity: Severity = Field(description="As typed, such as 40 mOhm; open or short is the end.")


class CompoundEntry(Entry):
    """A fault of several values at once that the trade has a name for."""

    key: Key
    words: NeededWords
    faults: tuple[CompoundMember, ...] = Field(
        description="The faults it is made of, each as bad as it is at the compound's worst."
    )


class HazardKind(StrEnum):
    """What can hurt at this circuit."""

    BATTERY = "battery"
    CRANKING = "cranking"
    FUEL = "fuel"
    AIRBAG = "airbag"
    NEAR_AIRBAG = "near-airbag"
    HIGH_VOLTAGE = "high-voltage"
    DISCHARGE_LAMP = "discharge-lamp"
    MOVING_PARTS = "moving-parts"
    HOT_PARTS = "hot-parts"
    CRUSH = "crush"
    HIGH_CURRENT = "high-current"
    ROAD_SAFETY = "road-safety"


class HazardEntry(Entry):
    """A danger of this circuit, and what to do about it here."""

    kind: HazardKind = Field(strict=False)
    note: NeededWords


class Sheet(BaseModel):
    """A circuit on paper."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, populate_by_name=True)

    schema_name: Literal["copperlog-circuit/1"] = Field(default=SCHEMA, alias="schema")
    vehicle: Vehicle
    connections: tuple[Connection, ...]
    phases: tuple[PhaseEntry, ...]
    parts: tuple[PartEntry, ...]
    places: tuple[PlaceEntry, ...] = ()
    faces: tuple[FaceEntry, ...] = ()
    codes: tuple[CodeEntry, ...] = ()
    compounds: tuple[CompoundEntry, ...] = ()
    hazards: tuple[HazardEntry, ...] = ()
    notes: Notes = ""
    closing: tuple[Remark, ...] = Field(default=(), description="Remarks below the last entry.")

    @property
    def phase_keys(self) -> tuple[str, ...]:
        return tuple(phase.key for phase in self.phases)

    def part(self, name: str) -> PartEntry:
        return next(part for part in self.parts if part.name == name)

    def place(self, key: str) -> PlaceEntry:
        return next(place for place in self.places if place.key == key)
