"""Nets whose volts do not go with the vehicle."""

from collections.abc import Iterator
from math import inf

from circuits.engine import PhaseSolution
from circuits.inspection.drawing import Drawing, Situation
from circuits.inspection.feeds import SOURCES
from circuits.inspection.findings import Finding, FindingKind
from circuits.inspection.limits import MOST_LOW_NET_VOLTS, MOST_NET_VOLTS, NET_SOURCE


def span_volts(solution: PhaseSolution) -> float:
    """Return the volts between the highest and the lowest node that are known in a phase."""
    known = [volts for volts in solution.volts.values() if volts is not None]
    return max(known) - min(known)


def high_nets(drawing: Drawing) -> Iterator[Finding]:
    """Yield the source that lifts a net above what the vehicle may hold, in its worst phase."""
    nominal = drawing.sheet.vehicle.supply_volts
    worst = max(drawing.situations, key=lambda situation: span_volts(situation.solution))
    volts = span_volts(worst.solution)
    if volts <= MOST_NET_VOLTS[nominal]:
        return
    if volts > MOST_LOW_NET_VOLTS:
        why = (
            "Such a net strikes arcs that do not go out by themselves when a plug or a contact "
            "opens, so no test sheet, no bridge and no next reading is given for this circuit."
        )
        mend = (
            f"If it was written in error, give the volts of a {nominal} V vehicle. If the vehicle "
            "has a 48 V net, follow the maker's procedure and leave it to a person trained and "
            "licensed for it."
        )
    else:
        why = f"Parts made for {nominal} V do not last on it, and readings are foretold too high."
        mend = f"Give the volts of a {nominal} V vehicle, or write 'volts: 24 V' if it is one."
    yield Finding(
        kind=FindingKind.NET_TOO_HIGH,
        subject=_highest_source(worst),
        problem=f"{volts:.1f} V in '{worst.words}', where a {nominal} V vehicle holds at most "
        f"{MOST_NET_VOLTS[nominal]:g} V.",
        why=why,
        mend=mend,
        source=NET_SOURCE,
    )


def _highest_source(situation: Situation) -> str:
    def reach(name: str) -> float:
        volts = situation.solution.volts[situation.part(name).first]
        return volts if volts is not None else -inf

    return max((part.name for part in situation.parts if isinstance(part, SOURCES)), key=reach)
