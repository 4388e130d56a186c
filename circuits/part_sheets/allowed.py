"""What checks are given for, and what is left to the maker and to a licensed person."""

from circuits.cautions import off_limits
from circuits.drawing.plan import boxes_of
from circuits.engine import Network, solve
from circuits.inspection.limits import MOST_LOW_NET_VOLTS
from circuits.inspection.nets import span_volts
from circuits.paths import CONDUCTORS
from circuits.sheet import HazardKind, Sheet

_FORBIDDEN_WORDS = ("airbag", "pretensioner", "belt tensioner", "pyrotechnic", "orange cable")
REFERRAL = "Follow the maker's procedure, and leave it to a person trained and licensed for it."


class NoTestSheet(ValueError):
    """A circuit or part for which no checks are given; the message says why and whom to ask."""


class UnknownSubject(NoTestSheet):
    """The circuit has no such part or module; the message says which it has."""


def refuse_dangerous(sheet: Sheet, network: Network) -> None:
    """Refuse what no sheet, no bridge and no next reading is given for.

    Raises
    ------
    NoTestSheet
        Airbags and other pyrotechnics, orange cables, 48 V nets and anything above.
    """
    grave = {HazardKind.AIRBAG: "airbags or belt tensioners", HazardKind.HIGH_VOLTAGE: "high volts"}
    for hazard in sheet.hazards:
        if hazard.kind in grave:
            raise NoTestSheet(f"This circuit has {grave[hazard.kind]}: {hazard.note}. {REFERRAL}")
    vehicle = sheet.vehicle
    said = " ".join(
        (
            vehicle.title,
            vehicle.system,
            *(connection.label for connection in sheet.connections),
            *(part.remark for part in sheet.parts),
        )
    ).lower()
    for word in _FORBIDDEN_WORDS:
        if word in said:
            raise NoTestSheet(f"The drawing speaks of '{word}'. {REFERRAL}")
    if any(span_volts(solution) > MOST_LOW_NET_VOLTS for solution in solve(network)):
        raise NoTestSheet(
            f"It holds more than {MOST_LOW_NET_VOLTS:g} V: a 48 V net, which arcs. {REFERRAL}"
        )


def subjects(sheet: Sheet) -> tuple[str, ...]:
    """Return what works: relays and modules, then parts, those of a relay under its name.

    A sheet can be made for these and for `conductors`.
    """
    names: list[str] = []
    barred = off_limits(sheet)
    for title, inside in boxes_of(sheet).items():
        if not barred.intersection(inside):
            names.append(title)
    for part in sheet.parts:
        if part.name in barred or part.kind in CONDUCTORS:
            continue
        names.append(part.name.partition(".")[0])
    return tuple(dict.fromkeys(names))


def conductors(sheet: Sheet) -> tuple[str, ...]:
    """Return what only leads on and can have a sheet too: wires, fuses, plugs, straps."""
    barred = off_limits(sheet)
    return tuple(
        part.name for part in sheet.parts if part.kind in CONDUCTORS and part.name not in barred
    )


def pin_words(sheet: Sheet, node: str) -> str:
    """Return a connection as it is found on the vehicle: its name and what it is."""
    label = next(entry.label for entry in sheet.connections if entry.node == node)
    return f"{node}, {label}" if label else node


def parts_of(sheet: Sheet, network: Network, subject: str) -> tuple[str, ...]:
    """Return the parts that a subject stands for: one part, a module's, or those of its name.

    Raises
    ------
    UnknownSubject
        There is no such part.
    """
    names = [part.name for part in network.parts]
    inside = boxes_of(sheet).get(subject, ())
    meant = tuple(
        name for name in names if name in inside or subject in (name, name.partition(".")[0])
    )
    if not meant:
        known = ", ".join(subjects(sheet))
        raise UnknownSubject(f"There is no part '{subject}' in this circuit; it has {known}.")
    if off_limits(sheet).intersection((subject, *meant)):
        raise NoTestSheet(f"'{subject}' sits beside an airbag. {REFERRAL}")
    return meant
