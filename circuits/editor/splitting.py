"""From the text form to its table; what cannot be split into cells stays a whole line."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from circuits.editor.columns import COLUMNS
from circuits.editor.table import EMPTY, NOTES, Row, Section, Table
from circuits.editor.writing import composed
from circuits.sheet.entries import VEHICLE_WORDS, settings_in
from circuits.sheet.lines import Line
from circuits.sheet.model import OTHERWISE

Cells = dict[str, str]

_HEADER = re.compile(r"\[\s*([A-Za-z]+)\s*\]")
_PART = re.compile(r"(\S+)(?:\s+(\S+)(?:\s+(\S+)\s+-\s+(\S+(?:\s+-\s+\S+)*))?)?(?:\s+(.*))?")
_CODE = re.compile(r"([A-Z0-9][A-Z0-9 .\-]*?)\s*:\s+(\S.*)")
_CONDITION = re.compile(
    r"if\s+(?P<watched>.+?)\s+(?P<side>below|above|\?)\s+(?P<number>.+?)"
    r"(?:\s+for\s+(?P<lasting>.+?))?(?:\s+while\s+(?P<enabled>.+?))?(?:\s+in\s+(?P<phases>.+))?"
)
_TOKEN = re.compile(r"[^\s;,|]+")
_BEFORE_THE_FIRST = ""


def split_text(text: str) -> Table:
    """Return a text as a table; writing it again says the same, line for line."""
    sections = _taken_apart(text)
    phases = tuple(
        dict.fromkeys(
            line.words[0]
            for name, lines in sections
            if name == "phases"
            for line in lines
            if line.words
        )
    )
    return Table(
        sections=tuple(
            Section(name=name, text=_notes(lines))
            if name == NOTES
            else Section(name=name, rows=_rows(name, lines, phases))
            for name, lines in sections
        )
    )


def _taken_apart(text: str) -> list[tuple[str, list[Line]]]:
    """Return the lines of each section, in the order in which the sections begin."""
    found: dict[str, list[Line]] = {}
    name = _BEFORE_THE_FIRST
    for number, raw in enumerate(re.split(r"\r\n|\r|\n", text.removeprefix("\ufeff")), start=1):
        line = Line.of(number, raw)
        header = _HEADER.fullmatch(line.body)
        if header and not line.details:
            before, name = name, header[1].lower()
            lines = found.setdefault(name, [])
            if line.remark:
                # In the notes a remark would be a note.
                at = found.setdefault(before, []) if name == NOTES else lines
                at.append(Line.of(number, f"# {line.remark}"))
        else:
            found.setdefault(name, []).append(line)
    if not any(line.text.strip() for line in found.get(_BEFORE_THE_FIRST, [])):
        found.pop(_BEFORE_THE_FIRST, None)
    return list(found.items())


def _notes(lines: list[Line]) -> str:
    return "\n".join(line.text.rstrip() for line in lines).strip("\n")


def _rows(name: str, lines: list[Line], phases: tuple[str, ...]) -> tuple[Row, ...]:
    rows = []
    gap = 0
    for line in lines:
        if not line.text.strip():
            gap += 1
            continue
        rows.append(_row(name, line, phases).model_copy(update={"gap": min(gap, 50)}))
        gap = 0
    return tuple(rows)


def _row(name: str, line: Line, phases: tuple[str, ...]) -> Row:
    """Return a line as a row of cells, if every word of it finds a cell."""
    text = line.text.replace("\t", " ").strip()
    whole = Row(line=text, whole=True)
    split = _SPLITTERS.get(name)
    if split is None or line.is_remark or not line.body:
        return whole
    found = split(line, phases)
    cells = {key: "" if said == EMPTY else said for key, said in found.cells.items()}
    row = Row(
        cells={**{column.key: "" for column in COLUMNS[name]}, **cells, "remark": line.remark},
        states=tuple(found.states),
        line=text,
    )
    written = composed(name, row)
    lost = set(_TOKEN.findall(text)) - set(_TOKEN.findall(written)) - {EMPTY}
    return whole if lost else row


@dataclass(slots=True)
class _Found:
    cells: Cells
    states: list[tuple[str, str]] = field(default_factory=list)


def _vehicle(line: Line, phases: tuple[str, ...]) -> _Found:
    word, _, text = (piece.strip() for piece in line.body.partition(":"))
    return _Found({"word": word.lower(), "text": text} if word.lower() in VEHICLE_WORDS else {})


def _connection(line: Line, phases: tuple[str, ...]) -> _Found:
    return _Found(_in_order(line, ("node", "kind"), "label"))


def _phase(line: Line, phases: tuple[str, ...]) -> _Found:
    cells = _in_order(line, ("key", "key_state"), "words")
    for item in filter(None, re.split(r",\s+", line.details)):
        word, _, text = item.partition(" ")
        if name := {"at": "temperature", "after": "since"}.get(word):
            cells[name] = text.strip()
    return _Found(cells)


def _part(line: Line, phases: tuple[str, ...]) -> _Found:
    taken = _PART.fullmatch(line.body)
    assert taken is not None  # any line with a word matches
    name, kind, first, second, said = (piece or "" for piece in taken.groups())
    states: dict[str, str] = {}
    values = []
    for segment, keys, what in settings_in(said):
        known = set(keys) <= {*phases, OTHERWISE} and not set(keys) & set(states)
        if keys and what and known:
            states.update(dict.fromkeys(keys, what))
        else:
            values.append(segment)
    cells = {"name": name, "kind": kind, "first": first, "second": second}
    return _Found(
        {**cells, "values": "; ".join(values), "source": line.details}, list(states.items())
    )


def _place(line: Line, phases: tuple[str, ...]) -> _Found:
    cells = _in_order(line, ("key", "unit"), "leads")
    red, rest = (*cells.pop("leads", "").split(maxsplit=1), "", "")[:2]
    second, after = (*rest.split(maxsplit=1), "", "")[:2]
    if red in ("through", "against"):
        cells |= {"red": f"{red} {second}".strip(), "label": after}
    elif second == "-" and red != "-":
        black, label = (*after.split(maxsplit=1), "", "")[:2]
        cells |= {"red": red, "black": black, "label": label}
    else:
        cells |= {"red": red, "label": rest}
    names = {"side": "side", "moves": "moves", "not computed": "not_computed"}
    for item in filter(None, (item.strip() for item in line.details.split(";"))):
        word, _, text = (piece.strip() for piece in item.partition(":"))
        if word in names:
            cells[names[word]] = text
    return _Found(cells)


def _code(line: Line, phases: tuple[str, ...]) -> _Found:
    taken = _CODE.fullmatch(line.body)
    if said := _CONDITION.fullmatch(line.body):
        return _Found({**said.groupdict(default=""), "source": line.details})
    if taken is None or line.body.startswith(("if ", "not testable")):
        return _Found({"code": "", "words": line.body, "source": line.details})
    return _Found({"code": taken[1], "words": taken[2], "source": line.details})


def _face(line: Line, phases: tuple[str, ...]) -> _Found:
    return _Found({**_in_order(line, ("name", "side", "size"), "words"), "cavities": line.details})


def _compound(line: Line, phases: tuple[str, ...]) -> _Found:
    return _Found({**_in_order(line, ("key",), "words"), "faults": line.details})


def _hazard(line: Line, phases: tuple[str, ...]) -> _Found:
    return _Found(_in_order(line, ("kind",), "note"))


def _in_order(line: Line, names: tuple[str, ...], rest: str) -> Cells:
    """Return a word for each name, and what follows them."""
    cells = dict(zip(names, line.words, strict=False))
    return {**cells, rest: line.after(len(names))}


_SPLITTERS: Mapping[str, Callable[[Line, tuple[str, ...]], _Found]] = MappingProxyType(
    {
        "vehicle": _vehicle,
        "connections": _connection,
        "phases": _phase,
        "parts": _part,
        "places": _place,
        "faces": _face,
        "codes": _code,
        "compounds": _compound,
        "hazards": _hazard,
    }
)
