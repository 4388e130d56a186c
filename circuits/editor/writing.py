"""From the table to the text form, and where in the text each cell has come to stand."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from circuits.editor.columns import COLUMNS
from circuits.editor.table import EMPTY, NOTES, Row, Section, Table
from circuits.sheet.model import OTHERWISE

VEHICLE_WIDTH = 10

#: The columns to line up, the rest of the line, and the details behind the bar.
Layout = tuple[tuple[str, ...], str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A cell, or a row if no cell is named; `section` and `row` are indices of the table."""

    section: int
    row: int
    cell: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """The text of a table; `rows` says for each of its lines which row it came from."""

    text: str
    lines: tuple[str, ...]
    rows: Mapping[int, tuple[int, int]]
    table: Table

    def spot(self, line: int, column: int) -> Spot | None:
        """Return what stands at a line and column of the text, both counted from 1."""
        if line not in self.rows:
            return None
        section, row = self.rows[line]
        spans = _spans(self.lines[line - 1], self.table.sections[section].rows[row])
        at = column - 1
        around = [(end - start, cell) for cell, start, end in spans if start <= at < end]
        return Spot(section=section, row=row, cell=min(around)[1] if around else "")


def write_table(table: Table) -> Written:
    """Return the table as text; rows whose cells say what their line said keep that line."""
    lines: list[str] = []
    rows: dict[int, tuple[int, int]] = {}
    for at, section in enumerate(table.sections):
        body = list(_body(section))
        if not body and not section.text.strip():
            continue
        if lines:
            lines.append("")
        if section.name:
            lines.append(f"[{section.name}]")
        for index, row_lines in body:
            lines.extend(row_lines)
            rows[len(lines)] = (at, index)
        if section.name == NOTES and section.text.strip():
            lines.extend(section.text.strip("\n").split("\n"))
    return Written(text="\n".join(lines) + "\n", lines=tuple(lines), rows=rows, table=table)


def composed(section: str, row: Row, widths: Sequence[int] = ()) -> str:
    """Return a row as a line of its section, its columns padded to these widths."""
    if row.whole or section not in COLUMNS:
        return row.line.strip()
    cells, rest, details = _LAYOUTS[section](_clean(row))
    filled = list(cells)
    while filled and not filled[-1] and not rest:
        filled.pop()
    padded = [
        (cell or EMPTY).ljust(widths[at] if at < len(widths) else 0)
        for at, cell in enumerate(filled)
    ]
    line = "  ".join(filter(None, [*padded, rest])).rstrip()
    if details:
        line = f"{line}  | {details}"
    remark = row.cells.get("remark", "").strip()
    return f"{line}  # {remark}".strip() if remark else line


def _body(section: Section) -> Iterator[tuple[int, list[str]]]:
    widths = _widths(section)
    for index, row in enumerate(section.rows):
        if row.is_empty or (section.name == "vehicle" and _says_nothing(row)):
            continue
        line = _one_line(row.line) or composed(section.name, row, widths)
        indent = "  " if _is_condition(section.name, row) else ""
        yield index, [*[""] * row.gap, indent + line]


def _says_nothing(row: Row) -> bool:
    """Whether a line of the vehicle has its word alone: the form shows all words."""
    return not row.whole and not any(row.cells.get(key, "").strip() for key in ("text", "remark"))


def _is_condition(section: str, row: Row) -> bool:
    return section == "codes" and not row.whole and not row.cells.get("code", "").strip()


def _widths(section: Section) -> list[int]:
    if section.name == "vehicle":
        return [VEHICLE_WIDTH - 2]
    layouts = [
        _LAYOUTS[section.name](_clean(row))[0]
        for row in section.rows
        if not row.whole and not row.is_empty and section.has_columns
    ]
    columns = max(map(len, layouts), default=0)
    return [
        max((len(cells[at]) for cells in layouts if at < len(cells)), default=0)
        for at in range(columns)
    ]


# -------------------------------------------------------------------------------- sections


def _one_line(text: str) -> str:
    """Return a text on one line; a cell that was pasted may hold more."""
    return re.sub(r"\s*[\t\r\n]\s*", " ", text).strip()


def _clean(row: Row) -> Row:
    return Row(
        cells={key: _one_line(text) for key, text in row.cells.items()},
        states=tuple((_one_line(phase), _one_line(text)) for phase, text in row.states),
    )


def _vehicle(row: Row) -> Layout:
    return (f"{row.cells.get('word', '')}:",), row.cells.get("text", ""), ""


def _connection(row: Row) -> Layout:
    return _cells(row, "node", "kind"), row.cells.get("label", ""), ""


def _phase(row: Row) -> Layout:
    details = [
        f"{word} {text}"
        for word, text in zip(("at", "after"), _cells(row, "temperature", "since"), strict=True)
        if text
    ]
    return _cells(row, "key", "key_state"), row.cells.get("words", ""), ", ".join(details)


def _part(row: Row) -> Layout:
    name, kind, first, second = _cells(row, "name", "kind", "first", "second")
    ends = f"{first or EMPTY} - {second or EMPTY}" if first or second else ""
    said = "; ".join(filter(None, [row.cells.get("values", ""), *_states(row.states)]))
    columns = (name, kind, ends) if ends else (name, kind)
    return columns, said, row.cells.get("source", "")


def _states(states: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Yield what is said of the phases, those that say the same together; the others last."""
    alike: dict[str, list[str]] = {}
    for phase, text in sorted(states, key=lambda state: state[0] == OTHERWISE):
        if text:
            alike.setdefault("" if phase == OTHERWISE else text, []).append(phase)
    others = next((text for phase, text in states if phase == OTHERWISE), "")
    for text, phases in alike.items():
        yield f"{', '.join(phases)}: {text or others}"


def _place(row: Row) -> Layout:
    key, unit, red, black = _cells(row, "key", "unit", "red", "black")
    details = {
        "side": row.cells.get("side", ""),
        "moves": row.cells.get("moves", ""),
        "not computed": row.cells.get("not_computed", ""),
    }
    written = "; ".join(f"{word}: {text}" for word, text in details.items() if text)
    return (
        (key, unit, f"{red or EMPTY} - {black}" if black else red),
        row.cells.get("label", ""),
        written,
    )


def _code(row: Row) -> Layout:
    code, words, source = _cells(row, "code", "words", "source")
    words = words or _condition(row)
    return ((f"{code}: {words or EMPTY}",) if code else ()), "" if code else words, source


def _condition(row: Row) -> str:
    """Return when a code sets; what is still missing is marked where more follows."""
    watched, side, number = _cells(row, "watched", "side", "number")
    more = [
        f"{word} {text}"
        for word, text in zip(
            ("for", "while", "in"), _cells(row, "lasting", "enabled", "phases"), strict=True
        )
        if text
    ]
    if not (watched or side or number or more):
        return ""
    return " ".join(["if", watched or EMPTY, side or EMPTY, number or EMPTY, *more])


def _face(row: Row) -> Layout:
    return (
        _cells(row, "name", "side", "size"),
        row.cells.get("words", ""),
        row.cells.get("cavities", ""),
    )


def _compound(row: Row) -> Layout:
    return _cells(row, "key"), row.cells.get("words", ""), row.cells.get("faults", "")


def _hazard(row: Row) -> Layout:
    return _cells(row, "kind"), row.cells.get("note", ""), ""


def _cells(row: Row, *keys: str) -> tuple[str, ...]:
    return tuple(row.cells.get(key, "") for key in keys)


_LAYOUTS: Mapping[str, Callable[[Row], Layout]] = MappingProxyType(
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

# ------------------------------------------------------------------------------------ where


def _spans(line: str, row: Row) -> Iterator[tuple[str, int, int]]:
    """Yield each cell of a line with where it begins and ends, found in reading order."""
    at = 0
    for key, text in _in_reading_order(row):
        begin = line.find(text, at)
        if begin < 0:
            begin = line.find(text)
        if begin >= 0:
            at = begin + len(text)
            yield key, begin, at


def _in_reading_order(row: Row) -> Iterator[tuple[str, str]]:
    clean = _clean(row)
    for key, text in clean.cells.items():
        if text:
            yield key, text
        if key == "values":
            for phase, said in clean.states:
                if said:
                    yield f"states.{phase}", said
