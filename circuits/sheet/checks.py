"""What must agree between the entries of a sheet: names, connections, phases, units."""

from collections.abc import Iterable, Iterator, Sequence

from circuits.engine import KINDS as ENGINE_KINDS
from circuits.engine import Battery, Generator, Supply
from circuits.sheet.alternatives import misplaced_alternatives
from circuits.sheet.compounds import compound_flaws
from circuits.sheet.errors import Flaw
from circuits.sheet.faces import face_flaws
from circuits.sheet.kinds import (
    KINDS,
    Field,
    ValueRefused,
    connections_of,
    nearest,
    number_of,
)
from circuits.sheet.model import (
    OHM_UNITS,
    OTHERWISE,
    CodeEntry,
    Comparison,
    MoveKind,
    PartEntry,
    PlaceEntry,
    Sheet,
)
from circuits.sheet.sharing import sharers
from circuits.sheet.variants import Variant, read_variants

MOST_PARTS = 500
MOST_PHASES = 30
MOST_PLACES = 200
MOST_FACES = 100
MOST_COMPOUNDS = 50

_VOLTS = ("V", "mV")
_AMPS = ("A", "mA")


def find_flaws(sheet: Sheet) -> list[Flaw]:
    """Return everything in a sheet that contradicts itself, in the order of its sections."""
    return [
        *_sizes(sheet),
        *_doubles(sheet),
        *_vehicle(sheet),
        *_phases(sheet),
        *_connections(sheet),
        *_parts(sheet),
        *_places(sheet),
        *face_flaws(sheet),
        *_codes(sheet),
        *compound_flaws(sheet),
    ]


def _sizes(sheet: Sheet) -> Iterator[Flaw]:
    for section, found, least, most in (
        ("connections", len(sheet.connections), 2, 2 * MOST_PARTS),
        ("phases", len(sheet.phases), 1, MOST_PHASES),
        ("parts", len(sheet.parts), 1, MOST_PARTS),
        ("places", len(sheet.places), 0, MOST_PLACES),
        ("faces", len(sheet.faces), 0, MOST_FACES),
        ("compounds", len(sheet.compounds), 0, MOST_COMPOUNDS),
    ):
        if found < least:
            yield Flaw(
                subject=section,
                problem=f"there {'is only one of the' if found else 'are no'} {section}.",
                mend=f"Add the lines of [{section}].",
            )
        if found > most:
            yield Flaw(
                subject=section,
                problem=f"{found} {section} are more than {most}.",
                mend="Divide the circuit into several.",
            )
    sources = {kind for kind, part in ENGINE_KINDS.items() if part in (Battery, Supply, Generator)}
    kinds = {part.kind for part in sheet.parts}
    if sheet.parts and not kinds & sources and kinds <= set(KINDS):
        yield Flaw(
            subject="parts",
            problem="no part gives volts.",
            mend="Add a battery, a supply or a generator.",
        )


def _doubles(sheet: Sheet) -> Iterator[Flaw]:
    named: tuple[tuple[str, str, Sequence[str]], ...] = (
        ("connections", "connection", [entry.node for entry in sheet.connections]),
        ("phases", "phase", [entry.key for entry in sheet.phases]),
        ("parts", "part", [entry.name for entry in sheet.parts]),
        ("places", "place", [entry.key for entry in sheet.places]),
        ("faces", "connector", [entry.name for entry in sheet.faces]),
        ("codes", "code", [entry.code for entry in sheet.codes]),
        ("compounds", "compound fault", [entry.key for entry in sheet.compounds]),
    )
    for section, word, names in named:
        first: dict[str, int] = {}
        for index, name in enumerate(names):
            if name in first:
                yield Flaw(
                    subject=name,
                    problem=f"another {word} has this name.",
                    mend="Give each its own.",
                    entry=(section, index),
                    at=name,
                    twin=(section, first[name]),
                )
            first.setdefault(name, index)
    parts = {entry.name: index for index, entry in enumerate(sheet.parts)}
    for index, place in enumerate(sheet.places):
        if place.key in parts:
            yield Flaw(
                subject=place.key,
                problem="a part has this name too.",
                mend="Call the place something else.",
                entry=("places", index),
                at=place.key,
                twin=("parts", parts[place.key]),
            )


def _vehicle(sheet: Sheet) -> Iterator[Flaw]:
    vehicle = sheet.vehicle
    for word, node in (("zero", vehicle.zero), ("body", vehicle.body), ("plus", vehicle.plus)):
        if node:
            yield from _node_flaw(sheet, node, word, ("vehicle", 0))
    for end in vehicle.goes_on:
        yield from _node_flaw(sheet, end.node, "goes on", ("vehicle", 0))
        if end.circuit == vehicle.key:
            yield Flaw(
                subject="goes on",
                problem=f"'{end.node}' goes on in this very circuit.",
                mend="Name the other circuit, or take it out.",
                entry=("vehicle", 0),
                at=end.node,
            )
    for name in vehicle.shared:
        if not sharers(sheet, name):
            known = [part.name for part in sheet.parts]
            known += [connection.node for connection in sheet.connections]
            yield Flaw(
                subject="shared",
                problem=f"there is no part, connection or module '{name}'.",
                mend=nearest(name, known) or "Write its name as it stands on this sheet.",
                entry=("vehicle", 0),
                at=name,
            )


def _node_flaw(sheet: Sheet, node: str, subject: str, entry: tuple[str, int]) -> Iterator[Flaw]:
    nodes = [connection.node for connection in sheet.connections]
    if node not in nodes:
        yield Flaw(
            subject=subject,
            problem=f"there is no connection '{node}'.",
            mend=nearest(node, nodes) or f"Add it to [connections], such as '{node} pin'.",
            entry=entry,
            at=node,
        )


def _part_flaw(sheet: Sheet, name: str, subject: str, entry: tuple[str, int]) -> Iterator[Flaw]:
    names = [part.name for part in sheet.parts]
    if name not in names:
        yield Flaw(
            subject=subject,
            problem=f"there is no part '{name}'.",
            mend=nearest(name, names) or "Add it to [parts].",
            entry=entry,
            at=name,
        )


def _phase_flaws(
    sheet: Sheet, keys: Sequence[str], subject: str, entry: tuple[str, int]
) -> Iterator[Flaw]:
    for key in keys:
        if key not in sheet.phase_keys:
            yield Flaw(
                subject=subject,
                problem=f"there is no phase '{key}'.",
                mend=nearest(key, sheet.phase_keys) or "Add it to [phases].",
                entry=entry,
                at=key,
            )


def _quantity_flaw(
    text: str, unit: str, example: str, subject: str, entry: tuple[str, int]
) -> Iterator[Flaw]:
    try:
        number_of(Field(name="", unit=unit, example=example), text)
    except ValueRefused as refused:
        yield Flaw(
            subject=subject, problem=refused.problem, mend=refused.mend, entry=entry, at=text
        )


def _phases(sheet: Sheet) -> Iterator[Flaw]:
    for index, phase in enumerate(sheet.phases):
        entry = ("phases", index)
        if phase.key == OTHERWISE:
            yield Flaw(
                subject=phase.key,
                problem="'otherwise' stands for the phases that a part does not name.",
                mend="Call the phase something else.",
                entry=entry,
                at=phase.key,
            )
        if phase.temperature:
            yield from _quantity_flaw(phase.temperature, "C", "20 C", phase.key, entry)
        if phase.since:
            yield from _quantity_flaw(phase.since, "s", "30 min", phase.key, entry)


def _connections(sheet: Sheet) -> Iterator[Flaw]:
    used = {node for part in sheet.parts for node in part.ends}
    for index, connection in enumerate(sheet.connections):
        if connection.node not in used:
            yield Flaw(
                subject=connection.node,
                problem="no part is connected here.",
                mend="Take the line out, or join a part to it.",
                entry=("connections", index),
                at=connection.node,
            )


def _parts(sheet: Sheet) -> Iterator[Flaw]:
    for index, part in enumerate(sheet.parts):
        entry = ("parts", index)
        if part.kind not in KINDS:
            yield Flaw(
                subject=part.name,
                problem=f"'{part.kind}' is no kind of part.",
                mend=nearest(part.kind, list(KINDS)) or f"Known are: {', '.join(KINDS)}.",
                entry=entry,
                at=part.kind,
            )
        for node in dict.fromkeys(part.ends):
            yield from _node_flaw(sheet, node, part.name, entry)
        yield from _end_flaws(part, entry)
        named = [key for setting in part.settings for key in setting.phases if key != OTHERWISE]
        unknown = list(_phase_flaws(sheet, named, part.name, entry))
        yield from unknown
        if part.kind in KINDS and not unknown:
            yield from _value_flaws(sheet, part, entry)


def _end_flaws(part: PartEntry, entry: tuple[str, int]) -> Iterator[Flaw]:
    problem = mend = ""
    third_end = KINDS[part.kind].third_end if part.kind in KINDS else ""
    twice = next((node for node in part.ends if part.ends.count(node) > 1), "")
    if twice:
        problem = f"{'two' if part.third else 'both'} ends are at {twice}."
        mend = f"A part joins {'three' if part.third else 'two'} connections."
    elif third_end and not part.third:
        problem = f"a {part.kind} has a third end, its {third_end}."
        mend = f"Write all three: {part.first} - {part.second} - {third_end.upper()}."
    elif part.third and part.kind in KINDS and not third_end:
        problem, mend = f"a part of kind '{part.kind}' has two ends.", f"Take out '- {part.third}'."
    if problem:
        yield Flaw(
            subject=part.name,
            problem=problem,
            mend=mend,
            entry=entry,
            at=twice or part.third or part.second,
        )


def _value_flaws(sheet: Sheet, part: PartEntry, entry: tuple[str, int]) -> Iterator[Flaw]:
    # Values are looked at as soon as they are written, whether or not phases are there by then.
    variants, refused = read_variants(part, KINDS[part.kind], sheet.phase_keys or ("on",))
    for refusal in refused:
        yield Flaw(
            subject=part.name,
            problem=refusal.problem,
            mend=refusal.mend,
            entry=entry,
            at=refusal.at,
        )
    if refused:
        return
    for name, kinds in (("coil", ("coil",)), ("pull_winding", ("coil", "resistor"))):
        windings = [other.name for other in sheet.parts if other.kind in kinds]
        named = {variant.texts[name] for variant in variants.values() if name in variant.texts}
        for winding in sorted(named - set(windings)):
            yield Flaw(
                subject=part.name,
                problem=f"it is moved by '{winding}', but there is no such winding.",
                mend=nearest(winding, windings) or f"Add a part of kind '{kinds[0]}'.",
                entry=entry,
                at=winding,
            )
    yield from _neighbour_flaws(sheet, part, variants.values(), entry)
    pins = {
        variant.texts[name]
        for variant in variants.values()
        for name in ("sense", "or_sense")
        if name in variant.texts
    }
    for refusal in misplaced_alternatives(part):
        yield Flaw(
            subject=part.name,
            problem=refusal.problem,
            mend=refusal.mend,
            entry=entry,
            at=refusal.at,
        )
    for node in sorted({node for pair in pins for node in connections_of(pair)}):
        yield from _node_flaw(sheet, node, part.name, entry)


def _neighbour_flaws(
    sheet: Sheet, part: PartEntry, variants: Iterable[Variant], entry: tuple[str, int]
) -> Iterator[Flaw]:
    pins = [other.name for other in sheet.parts if other.kind == part.kind and other is not part]
    named = {variant.texts["beside"] for variant in variants if "beside" in variant.texts}
    for pin in sorted(named - set(pins)):
        yield Flaw(
            subject=part.name,
            problem=f"it is said to sit beside '{pin}', but there is no such connector pin.",
            mend=nearest(pin, pins) or "Add it as a part of kind 'connector'.",
            entry=entry,
            at=pin,
        )


def _places(sheet: Sheet) -> Iterator[Flaw]:
    for index, place in enumerate(sheet.places):
        entry = ("places", index)
        yield from _lead_flaws(sheet, place, entry)
        for move in place.moves:
            for name in move.names:
                if move.kind is MoveKind.BRIDGE:
                    yield from _node_flaw(sheet, name, place.key, entry)
                else:
                    yield from _part_flaw(sheet, name, place.key, entry)
            if move.watts:
                yield from _quantity_flaw(move.watts, "W", "21 W", place.key, entry)
            if problem := _move_problem(move.kind, len(move.names), bool(move.watts)):
                yield Flaw(
                    subject=place.key,
                    problem=problem,
                    mend="Moves are: volts, lamp 21 W, unplug PUMP, bridge K30 - K87.",
                    entry=entry,
                    at=move.kind,
                )


def _move_problem(kind: MoveKind, names: int, watts: bool) -> str:
    match kind:
        case MoveKind.VOLTS if names or watts:
            return "'volts' takes nothing behind it."
        case MoveKind.LAMP if names or not watts:
            return "a lamp is known by its watts."
        case MoveKind.UNPLUG if not names or watts:
            return "'unplug' takes the parts that are out."
        case MoveKind.BRIDGE if names != 2 or watts:
            return "'bridge' takes two connections."
    return ""


def _lead_flaws(sheet: Sheet, place: PlaceEntry, entry: tuple[str, int]) -> Iterator[Flaw]:
    for node in dict.fromkeys((place.red, place.black)):
        if node:
            yield from _node_flaw(sheet, node, place.key, entry)
    if place.through:
        yield from _part_flaw(sheet, place.through, place.key, entry)
    problem = _place_problem(place)
    if problem:
        yield Flaw(
            subject=place.key,
            problem=problem,
            mend="Write 'TP1 V BP - BN words' for volts (or Ohm), 'TP2 A through W1 words' for "
            "amps, and '| not computed: why' for a place without a prediction.",
            entry=entry,
            at=place.unit,
        )


def _place_problem(place: PlaceEntry) -> str:
    leads = bool(place.red) + bool(place.black)
    if leads == 1 or (leads and place.through):
        return "a place has two leads, or one part that the clamp goes round."
    if place.against and not place.through:
        return "only a clamp has a direction."
    if place.red and place.red == place.black:
        return f"both leads are on {place.red}; that reads nothing."
    if place.not_computed:
        return ""
    if place.unit in (*_VOLTS, *OHM_UNITS) and leads == 2:
        return ""
    if place.unit in _AMPS and place.through:
        return ""
    if place.unit in (*_VOLTS, *_AMPS, *OHM_UNITS):
        return f"a reading in {place.unit} is not taken there."
    return f"readings in {place.unit} are not predicted."


def _codes(sheet: Sheet) -> Iterator[Flaw]:
    for index, code in enumerate(sheet.codes):
        entry = ("codes", index)
        if bool(code.conditions) == bool(code.not_testable):
            yield Flaw(
                subject=code.code,
                problem="a code has either a set condition or the reason why it has none here.",
                mend="Add 'if TP1 below 12 V for 30 s in run', or 'not testable: why'.",
                entry=entry,
                at=code.code,
            )
        yield from _condition_flaws(sheet, code, entry)


def _condition_flaws(sheet: Sheet, code: CodeEntry, entry: tuple[str, int]) -> Iterator[Flaw]:
    for condition in code.conditions:
        yield from _phase_flaws(sheet, condition.phases, code.code, entry)
        if condition.seconds:
            yield from _quantity_flaw(condition.seconds, "s", "0.5 s", code.code, entry)
        for comparison in (condition.test, *condition.enabling):
            yield from _comparison_flaws(sheet, comparison, code.code, entry)


def _comparison_flaws(
    sheet: Sheet, comparison: Comparison, subject: str, entry: tuple[str, int]
) -> Iterator[Flaw]:
    unit = "V"
    if comparison.part:
        unit = "A"
        yield from _part_flaw(sheet, comparison.part, subject, entry)
    elif comparison.place:
        place = next((p for p in sheet.places if p.key == comparison.place), None)
        if place is None:
            known = [p.key for p in sheet.places] + [p.name for p in sheet.parts]
            yield Flaw(
                subject=subject,
                problem=f"there is no place or part '{comparison.place}'.",
                mend=nearest(comparison.place, known) or "Add it, or name two connections.",
                entry=entry,
                at=comparison.place,
            )
            return
        if place.not_computed:
            yield Flaw(
                subject=subject,
                problem=f"nothing is predicted at {place.key}.",
                mend="Say 'not testable:' with the reason.",
                entry=entry,
                at=place.key,
            )
        if place.unit in OHM_UNITS:
            yield Flaw(
                subject=subject,
                problem=f"{place.key} is read by an ohmmeter, with the power removed; no module "
                "sets a code by it.",
                mend="Name a place in V or A, or say 'not testable:' with the reason.",
                entry=entry,
                at=place.key,
            )
        unit = "A" if place.unit in _AMPS else "V"
    elif comparison.red and comparison.black:
        for node in (comparison.red, comparison.black):
            yield from _node_flaw(sheet, node, subject, entry)
    else:
        yield Flaw(
            subject=subject,
            problem="a comparison names a place, a part or two connections.",
            mend="Write 'TP1 below 12 V', 'K1.coil below 40 mA' or 'E08 - EG below 2.5 V'.",
            entry=entry,
        )
        return
    yield from _quantity_flaw(comparison.number, unit, "2.5 V", subject, entry)
