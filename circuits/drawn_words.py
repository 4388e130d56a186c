"""What a drawing shows in a phase, in words: for a table, for people who do not see it."""

from dataclasses import dataclass

from circuits.drawing import PhaseState
from circuits.sheet import PartEntry, Sheet
from circuits.units import format_quantity

#: Two figures are told apart if they differ by this share, and by some millivolts or milliamperes.
SEEN_SHARE, SEEN_LEAST = 0.03, 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What one drawing says of a connection or a part, in words."""

    words: str
    #: How it stands, apart from any figure: floats, open, absent.
    standing: str = ""
    band: int | None = None
    #: Volts or amps.
    figure: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A row of the table that says what the drawing shows."""

    name: str
    note: str
    healthy: Seen
    faulty: Seen | None

    @property
    def differs(self) -> bool:
        """Whether somebody who looks at both drawings would see another thing here."""
        if self.faulty is None:
            return False
        one, other = self.healthy, self.faulty
        if (one.standing, one.band) != (other.standing, other.band):
            return True
        largest = max(abs(one.figure), abs(other.figure))
        return abs(one.figure - other.figure) > max(SEEN_SHARE * largest, SEEN_LEAST)


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
    if volts is None:
        return Seen(words="floats", standing="floats")
    words = f"{volts:z.2f} V".replace("-", "−")
    return Seen(words=words, band=state.band(node).number, figure=volts)


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
        return Seen(words="absent", standing="absent")
    standing = ""
    if part.name in state.made:
        standing = "closed" if state.made[part.name] else "open"
    amps = state.flow(part.name)
    if not amps:
        return Seen(words=standing or "no current", standing=standing)
    ends = (part.first, part.second) if amps > 0 else (part.second, part.first)
    flow = f"{format_quantity(abs(amps), 'A')} from {ends[0]} to {ends[1]}"
    words = f"{standing}, {flow}" if standing else flow
    return Seen(words=words, standing=standing, figure=amps)
