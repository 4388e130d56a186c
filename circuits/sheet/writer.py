"""A sheet as text: the form that `reader` reads, with its columns lined up."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

from circuits.sheet.faces import face_words
from circuits.sheet.model import (
    CodeEntry,
    Comparison,
    CompoundEntry,
    Condition,
    Entry,
    FaceEntry,
    HazardEntry,
    Move,
    MoveKind,
    PartEntry,
    PhaseEntry,
    PlaceEntry,
    Setting,
    Sheet,
    Value,
    Vehicle,
)
from circuits.sheet.model import Connection as ConnectionEntry

#: Cells to line up, the rest of the line, and the details behind the bar.
Row = tuple[tuple[str, ...], str, str]


def write_text(sheet: Sheet) -> str:
    """Return the sheet in its text form; reading it again gives the same sheet."""
    blocks = [
        _block("vehicle", _vehicle_lines(sheet.vehicle)),
        _block("connections", _table(sheet.connections, map(_connection, sheet.connections))),
        _block("phases", _table(sheet.phases, map(_phase, sheet.phases))),
        _block("parts", _table(sheet.parts, map(_part, sheet.parts))),
        _block("places", _table(sheet.places, map(_place, sheet.places))),
        _block("faces", _table(sheet.faces, map(face_words, sheet.faces))),
        _block("codes", _code_lines(sheet.codes)),
        _block("compounds", _table(sheet.compounds, map(_compound, sheet.compounds))),
        _block("hazards", _table(sheet.hazards, map(_hazard, sheet.hazards))),
        # In the notes a remark would be a note, so remarks below the last entry come first.
        "\n".join(map(_remark, sheet.closing)),
        _block("notes", sheet.notes.split("\n") if sheet.notes else ()),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _block(section: str, lines: Iterable[str]) -> str:
    body = "\n".join(lines)
    return f"[{section}]\n{body}" if body else ""


def _table(entries: Sequence[Entry], rows: Iterable[Row]) -> Iterator[str]:
    """Write a line per entry, with the cells before the last column lined up."""
    rows = list(rows)
    columns = max((len(cells) for cells, _, _ in rows), default=0)
    widths = [
        max((len(cells[column]) for cells, _, _ in rows if column < len(cells)), default=0)
        for column in range(columns)
    ]
    for entry, (cells, rest, details) in zip(entries, rows, strict=True):
        padded = [cell.ljust(width) for cell, width in zip(cells, widths, strict=False)]
        yield from map(_remark, entry.above)
        yield _with_remark(_with_details("  ".join([*padded, rest]).rstrip(), details), entry)


def _remark(text: str) -> str:
    return f"# {text}".rstrip()


def _with_remark(line: str, entry: Entry) -> str:
    return f"{line}  {_remark(entry.remark)}" if entry.remark else line


def _with_details(line: str, details: str) -> str:
    return f"{line}  | {details}" if details else line


# -------------------------------------------------------------------------------- sections


def _vehicle_lines(vehicle: Vehicle) -> Iterator[str]:
    yield from map(_remark, vehicle.above)
    rows = vehicle_words(vehicle)
    first, *others = [f"{word + ':':10}{text}" for word, text in rows.items() if text]
    yield _with_remark(first, vehicle)
    yield from others


def vehicle_words(vehicle: Vehicle) -> dict[str, str]:
    """Return what is said of the vehicle, by the words of the text form; empty where nothing is."""
    return {
        "key": vehicle.key,
        "title": vehicle.title,
        "system": vehicle.system,
        "make": vehicle.make,
        "model": vehicle.model,
        "engine": vehicle.engine,
        "volts": f"{vehicle.supply_volts} V",
        "zero": vehicle.zero,
        "body": vehicle.body,
        "plus": vehicle.plus,
        "drawing": vehicle.drawing,
        "drawn by": "us" if vehicle.drawn_by_us else "maker",
        "outside": "; ".join(vehicle.outside),
        "shared": "; ".join(vehicle.shared),
        "goes on": "; ".join(f"{end.node} in {end.circuit}" for end in vehicle.goes_on),
    }


def _connection(entry: ConnectionEntry) -> Row:
    return (entry.node, entry.kind), entry.label, ""


def _phase(entry: PhaseEntry) -> Row:
    details = [
        f"{word} {text}"
        for word, text in (("at", entry.temperature), ("after", entry.since))
        if text
    ]
    return (entry.key, entry.key_state), entry.words, ", ".join(details)


def _part(entry: PartEntry) -> Row:
    cells = (entry.name, entry.kind, " - ".join(entry.ends))
    return cells, "; ".join(map(_setting, entry.settings)), entry.source


def _setting(setting: Setting) -> str:
    what = setting.state or ", ".join(map(value_words, setting.values))
    return f"{', '.join(setting.phases)}: {what}" if setting.phases else what


def value_words(value: Value) -> str:
    """Return a value as it is written in the text form."""
    words = f"{value.word} {value.text}".strip()
    return f"{words} [{value.source}]" if value.source else words


def _place(entry: PlaceEntry) -> Row:
    leads = "-"
    if entry.red:
        leads = f"{entry.red} - {entry.black}"
    elif entry.through:
        leads = f"{'against' if entry.against else 'through'} {entry.through}"
    details = {
        "side": entry.side,
        "moves": ", ".join(map(_move, entry.moves)),
        "not computed": entry.not_computed,
    }
    written = "; ".join(f"{word}: {text}" for word, text in details.items() if text)
    return (entry.key, entry.unit, leads), entry.label, written


def _move(move: Move) -> str:
    names = (" - " if move.kind is MoveKind.BRIDGE else " ").join(move.names)
    return f"{move.kind} {names or move.watts}".strip()


def _code_lines(codes: Sequence[CodeEntry]) -> Iterator[str]:
    for code in codes:
        yield from map(_remark, code.above)
        yield _with_remark(_with_details(f"{code.code}: {code.words}", code.source), code)
        for condition in code.conditions:
            yield f"  {_condition(condition)}"
        if code.not_testable:
            yield f"  not testable: {code.not_testable}"


def _condition(condition: Condition) -> str:
    words = [f"if {_comparison(condition.test)}"]
    if condition.seconds:
        words.append(f"for {condition.seconds}")
    if condition.enabling:
        words.append(f"while {' and '.join(map(_comparison, condition.enabling))}")
    if condition.phases:
        words.append(f"in {', '.join(condition.phases)}")
    return " ".join(words)


def _comparison(comparison: Comparison) -> str:
    subject = comparison.place or comparison.part or f"{comparison.red} - {comparison.black}"
    return f"{subject} {'above' if comparison.above else 'below'} {comparison.number}"


def _compound(entry: CompoundEntry) -> Row:
    faults = "; ".join(f"{member.suspect} {member.severity}" for member in entry.faults)
    return (entry.key,), entry.words, faults


def _hazard(entry: HazardEntry) -> Row:
    return (entry.kind,), entry.note, ""


def entry_line(entry: Entry) -> str:
    """Return an entry as the text form writes it, on one line and without its remarks."""
    if isinstance(entry, CodeEntry):
        plain = entry.model_copy(update={"above": (), "remark": ""})
        return "; ".join(line.strip() for line in _code_lines([plain]))
    cells, rest, details = _ROWS[type(entry)](entry)
    return _with_details(" ".join(filter(None, (*cells, rest))), details)


_ROWS: Mapping[type[Entry], Callable[..., Row]] = MappingProxyType(
    {
        ConnectionEntry: _connection,
        PhaseEntry: _phase,
        PartEntry: _part,
        PlaceEntry: _place,
        FaceEntry: face_words,
        CompoundEntry: _compound,
        HazardEntry: _hazard,
    }
)


def condition_words(condition: Condition) -> str:
    """Return a condition as it is written in the text form, without its `if`."""
    return _condition(condition).removeprefix("if ")
