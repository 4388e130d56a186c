"""The columns that each section of the text form has when it is shown as a table."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from circuits.engine import KeyState
from circuits.sheet import ConnectionKind, FaceSide, HazardKind
from circuits.sheet.entries import VEHICLE_WORDS
from circuits.sheet.kinds import KINDS
from circuits.sheet.model import SHOWN_UNITS


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: what stands in it, how it is written, and what the browser may offer.

    `offers` names a list of the sheet (connections, parts, phases, places) and `choices` are
    fixed words. A `single` cell is one word; a `needed` one may not stay empty.
    """

    key: str
    label: str
    hint: str
    needed: bool = False
    single: bool = False
    offers: str = ""
    choices: tuple[str, ...] = ()
    broad: bool = False


_REMARK = Column(key="remark", label="Remark", hint="For readers: the program leaves it alone.")
_SOURCE_HINT = (
    "Where the values come from: handbook and page, measured, label on the part. "
    "Empty counts as assumed."
)

COLUMNS: Mapping[str, tuple[Column, ...]] = MappingProxyType(
    {
        "vehicle": (
            Column(key="word", label="What", hint="", needed=True, choices=tuple(VEHICLE_WORDS)),
            Column(key="text", label="As typed", hint="", broad=True),
            _REMARK,
        ),
        "connections": (
            Column(
                key="node",
                label="Name",
                hint="Short, as on the drawing: BP, K1/87, X12/4. Letters, digits and . _ / + -",
                needed=True,
                single=True,
            ),
            Column(
                key="kind",
                label="Kind",
                hint="What it is on the vehicle.",
                needed=True,
                single=True,
                choices=tuple(ConnectionKind),
            ),
            Column(
                key="label",
                label="On the vehicle",
                hint="Plug, pin, colour of the wire, where it is found.",
                broad=True,
            ),
            _REMARK,
        ),
        "phases": (
            Column(
                key="key",
                label="Short name",
                hint="Small letters: off, on, run-hot. It heads the columns of the states below.",
                needed=True,
                single=True,
            ),
            Column(
                key="key_state",
                label="Key stands",
                hint="Where the key stands; bench means the part is out of the vehicle.",
                needed=True,
                single=True,
                choices=tuple(KeyState),
            ),
            Column(
                key="words",
                label="In words",
                hint="What is switched on: running, dipped beam, blower on step 3.",
                needed=True,
                broad=True,
            ),
            Column(key="temperature", label="At", hint="Temperature, if it matters: 20 C."),
            Column(key="since", label="After", hint="Time since the last change: 2 s, 30 min."),
            _REMARK,
        ),
        "parts": (
            Column(
                key="name",
                label="Name",
                hint="As on the drawing: F12, W5, K1.coil, K1.con.",
                needed=True,
                single=True,
            ),
            Column(
                key="kind",
                label="Kind",
                hint="What sort of part it is.",
                needed=True,
                single=True,
                choices=tuple(KINDS),
            ),
            Column(
                key="first",
                label="From",
                hint="The connection at its first end; amps count from here.",
                needed=True,
                single=True,
                offers="connections",
            ),
            Column(
                key="second",
                label="To",
                hint="The connection at its second end.",
                needed=True,
                offers="connections",
            ),
            Column(
                key="values",
                label="Values, as typed",
                hint="With units, a comma or a space between them. [measured] behind a value "
                "says where that one comes from.",
                broad=True,
            ),
            Column(key="source", label="Source", hint=_SOURCE_HINT),
            _REMARK,
        ),
        "places": (
            Column(
                key="key",
                label="Name",
                hint="TP1, TP2 and so on.",
                needed=True,
                single=True,
            ),
            Column(
                key="unit",
                label="Unit",
                hint="What the meter is set to.",
                needed=True,
                single=True,
                choices=SHOWN_UNITS,
            ),
            Column(
                key="red",
                label="Red lead, or clamp",
                hint="A connection for the red lead; 'through W1' for a clamp round a part, "
                "'against W1' with its arrow the other way; '-' where nothing is computed.",
                needed=True,
                offers="connections",
            ),
            Column(
                key="black",
                label="Black lead",
                hint="A connection; empty for a clamp.",
                single=True,
                offers="connections",
            ),
            Column(
                key="label",
                label="In words",
                hint="What is read there: drop across the fuse.",
                needed=True,
                broad=True,
            ),
            Column(key="side", label="Where on the plug", hint="Such as back-probed, wire side."),
            Column(
                key="moves",
                label="Allowed there",
                hint="volts, lamp 21 W, unplug PUMP, bridge K30 - K87; a comma between them.",
            ),
            Column(
                key="not_computed",
                label="Not computed, because",
                hint="Only where no prediction is made: why.",
            ),
            _REMARK,
        ),
        "faces": (
            Column(key="name", label="Connector", hint="X12, C40.", needed=True, single=True),
            Column(
                key="side",
                label="Seen from",
                hint="wire: where the wires go in; mating: the other half.",
                needed=True,
                single=True,
                choices=tuple(FaceSide),
            ),
            Column(
                key="size",
                label="Rows x columns",
                hint="2x3, without a space.",
                needed=True,
                single=True,
            ),
            Column(key="words", label="In words", hint="Plug at the relay.", broad=True),
            Column(
                key="cavities",
                label="Its cavities",
                hint="Row by row from the left: 1 K85, 2 -, 3 K87. A dash behind a number: no "
                "wire; by itself: no cavity.",
                needed=True,
                broad=True,
            ),
            _REMARK,
        ),
        "codes": (
            Column(key="code", label="Code", hint="P0627. Empty on a line that says when it sets."),
            Column(
                key="words",
                label="In words",
                hint="Beside a code its words. In a row below it 'not testable: why', or empty "
                "where the row says when the code sets.",
                broad=True,
            ),
            Column(
                key="watched",
                label="Sets if",
                hint="A place, a part for its amps, or 'E08 - EG' for volts between two "
                "connections.",
                offers="places",
            ),
            Column(
                key="side",
                label="Is",
                hint="Which side of the number sets it.",
                single=True,
                choices=("below", "above"),
            ),
            Column(key="number", label="Number", hint="With its unit: 10.5 V, 40 mA."),
            Column(key="lasting", label="For", hint="How long: 0.2 s. Empty: at once."),
            Column(
                key="enabled",
                label="Only while",
                hint="What enables the test: 'EPS above 30 A'. Empty: always.",
            ),
            Column(
                key="phases",
                label="In",
                hint="Phases in which it is tested, a comma between them. Empty: in all.",
                offers="phases",
            ),
            Column(key="source", label="Source", hint="Where the wording comes from."),
            _REMARK,
        ),
        "compounds": (
            Column(
                key="key",
                label="Short name",
                hint="Small letters: old-battery. It is suspected as named:old-battery.",
                needed=True,
                single=True,
            ),
            Column(
                key="words",
                label="In words",
                hint="What the trade calls it: battery at the end of its days.",
                needed=True,
                broad=True,
            ),
            Column(
                key="faults",
                label="Its faults, at their worst",
                hint="Two or more, a semicolon between them: "
                "low-volts:B1 0.6 V; resistance:B1 40 mOhm. An end is open or short.",
                needed=True,
                broad=True,
            ),
            _REMARK,
        ),
        "hazards": (
            Column(
                key="kind",
                label="Hazard",
                hint="What can hurt at this circuit.",
                needed=True,
                single=True,
                choices=tuple(HazardKind),
            ),
            Column(
                key="note",
                label="What to do about it here",
                hint="Said beside every step where somebody puts a lead on.",
                needed=True,
                broad=True,
            ),
            _REMARK,
        ),
    }
)

#: Word of the vehicle -> what its line is about, in the order of the form.
VEHICLE_HINTS: Mapping[str, str] = MappingProxyType(
    {
        "title": "What the circuit does: Fuel pump with relay.",
        "key": "Short name, unique among circuits: small letters, digits and dashes.",
        "system": "What it belongs to: starting, charging, lighting.",
        "make": "",
        "model": "",
        "engine": "",
        "volts": "12 V or 24 V.",
        "zero": "The connection of 0 V, as a rule the battery's minus post.",
        "body": "What a wire chafed to ground touches.",
        "plus": "What a short to supply touches.",
        "drawing": "Where it comes from: name the drawing and its page, do not copy it.",
        "drawn by": "us, at the vehicle; maker, where it was read from the maker's drawing.",
        "outside": "What moves the circuit but is no part of it; a semicolon between them.",
        "shared": "Parts, connections or modules that other sheets of this vehicle show by the"
        " same name; a semicolon between them.",
        "goes on": "Where the sheet ends, such as 'X12 in window-lift'; a semicolon between them.",
    }
)
