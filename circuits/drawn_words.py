"""What a drawing shows in a phase, in words: for a table, for people who do not see it."""

from dataclasses import dataclass

from circuits.drawing import PhaseState
from circuits.sheet import PartEntry, Sheet
from circuits.units import format_quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What one drawing says of a connection or a part, in words."""

    words: str
    band: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A row of the table that says what the drawing shows."""

    name: str
    note: str
    healthy: Seen
    faulty: Seen | None

    @property
    def differs(self) -> bool:
        return self.faulty is not None and self.faulty != self.healthy


def connection_lines(
    sheet: Sheet, healthy: PhaseState | None, faulty: PhaseState | None
) -> list[Line]:
    """Return each connection's band and volts, as the drawing shows them."""
    if healthy is None:
        return []
    return [
        Line(
            name=each.node,
            note=each.label,
            healthy=_connection_seen(each.node, healthy),
            faulty=_connection_seen(each.node, faulty) if faulty is not None else None,
        )
        for each in sheet.connections
        if each.node in healthy.volts
    ]


def _connection_seen(node: str, state: PhaseState) -> Seen:
    volts = state.volts.get(node)
    words = "floats" if volts is None else f"{volts:.2f} V".replace("-", "−")
    return Seen(words=words, band=state.band(node).number if volts is not None else None)


def part_lines(sheet: Sheet, healthy: PhaseState | None, faulty: PhaseState | None) -> list[Line]:
    """Return how each part stands and what flows in it, as the drawing shows it."""
    if healthy is None:
        return []
    return [
        Line(
            name=part.name,
            note=f"{part.kind}, {part.first} to {part.second}",
            healthy=_part_seen(part, healthy),
            faulty=_part_seen(part, faulty) if faulty is not None else None,
        )
        for part in sheet.parts
    ]


def _part_seen(part: PartEntry, state: PhaseState) -> Seen:
    if part.name in state.absent:
        return Seen(words="absent")
    said = []
    if part.name in state.made:
        said.append("closed" if state.made[part.name] else "open")
    amps = state.flow(part.name)
    if amps:
        ends = (part.first, part.second) if amps > 0 else (part.second, part.first)
        said.append(f"{format_quantity(abs(amps), 'A')} from {ends[0]} to {ends[1]}")
    return Seen(words=", ".join(said) or "no current")
