"""What the readings could not see of the claim: too mild a fault, a chatter, a twin without volts.

A joint shows by the amps that go through it, a leak by what it takes off; below that the circuit
in order reads the same. A reading taken while a relay lets go and pulls in again is anywhere
between its two states. And where two faults leave all volts alike, the amps may still part them.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from cases.circuit import CaseCircuit
from cases.documents.verdicts import Chatter, Judgement, TwinGroup
from cases.models.choices import HEALTHY
from circuits.engine import (
    Contact,
    Fault,
    FaultKind,
    Meter,
    Network,
    Place,
    Reading,
    Rig,
    RuleContact,
    Suspect,
    find_suspect,
    least_seen,
    sweep,
)
from circuits.units import format_in, format_quantity

CANNOT_SAY = "cannot say"
TAKE_ANOTHER = "Take one that it would not: loaded, plugged in, with the symptom there"
CHATTER_POINTS_PER_DECADE = 8
# A clamp for small currents, or an ammeter in series, tells so much from nought. Common practice,
# no source.
LEAST_PARTING_AMPS = 0.01


def with_blind_spots(
    circuit: CaseCircuit, network: Network, judgement: Judgement, readings: Sequence[Reading]
) -> Judgement:
    """Return a judgement with what its readings could not see of the claim.

    `network` is the circuit at this car's supply; `readings` run in parallel with the judgement's.
    """
    claim = judgement.claim
    if claim is None or not readings or claim.outcome == "does not fit":
        return judgement
    suspect = find_suspect(network, claim.suspect)
    changes: dict[str, object] = {"chatter": tuple(_chatter(network, suspect, judgement, readings))}
    if claim.outcome == CANNOT_SAY:
        changes["least_seen"] = tuple(
            None if least is None else float(f"{least:.4g}")
            for least in least_seen(network, suspect, readings)
        )
    twins = tuple(_with_clamps(circuit, network, judgement, group) for group in judgement.twins)
    return judgement.model_copy(update={"claim": claim.model_copy(update=changes), "twins": twins})


# ---------------------------------------------------------------------------------- chatter


def _chatter(
    network: Network, suspect: Suspect, judgement: Judgement, readings: Sequence[Reading]
) -> Iterator[Chatter]:
    """Yield the readings that have no steady figure at some of the severities that fit."""
    claim = judgement.claim
    if claim is None or claim.severity_low is None or claim.severity_high is None:
        return
    if not any(isinstance(part, Contact | RuleContact) for part in network.parts):
        return
    ends = (claim.severity_low, claim.severity_high)
    grid = suspect.severity_grid(CHATTER_POINTS_PER_DECADE)
    between = grid[(grid >= min(ends)) & (grid <= max(ends))]
    faults = [
        Fault(suspect=suspect, severity=float(each))
        for each in sorted({*ends, *between.tolist()}, key=lambda each: suspect.share(each)[0])
    ]
    places: dict[tuple[Rig, Meter], dict[Place, int]] = {}
    for reading, judged in zip(readings, judgement.readings, strict=True):
        if not (reading.place.reads_ohms or judged.noted):
            seats = places.setdefault((reading.rig, reading.meter), {})
            seats.setdefault(reading.place, len(seats))
    swept = {
        (rig, meter): sweep(network, tuple(seats), faults, rig=rig, meter=meter)
        for (rig, meter), seats in places.items()
    }
    for reading, judged in zip(readings, judgement.readings, strict=True):
        if reading.place.reads_ohms or judged.noted:
            continue
        shown = swept[reading.rig, reading.meter]
        row = shown.phases.index(reading.phase)
        column = places[reading.rig, reading.meter][reading.place]
        restless = np.flatnonzero(shown.chatters[:, row, column])
        if restless.size:
            severities = [faults[each].severity for each in restless.tolist()]
            yield Chatter(
                number=judged.number,
                severity_low=float(f"{min(severities):.3g}"),
                severity_high=float(f"{max(severities):.3g}"),
                low=float(f"{shown.low[restless, row, column].min():.3g}"),
                high=float(f"{shown.high[restless, row, column].max():.3g}"),
            )


# ------------------------------------------------------------------------------------ clamps


def _with_clamps(
    circuit: CaseCircuit, network: Network, judgement: Judgement, group: TwinGroup
) -> TwinGroup:
    """Return the claim's twins with the parts whose amps part it from what no lead does."""
    claim = judgement.claim
    if claim is None or claim.suspect not in group.suspects or circuit.refusal:
        return group
    found = {finding.suspect: finding for finding in judgement.findings}
    resisting = [
        (suspect, severity)
        for name in group.suspects
        if (suspect := find_suspect(network, name)).kind is FaultKind.RESISTANCE
        and (severity := found[name].severity if name in found else None) is not None
    ]
    own = next(
        (number for number, (each, _) in enumerate(resisting) if each.id == claim.suspect), None
    )
    if own is None or len(resisting) < 2:
        return group
    faults = [Fault(suspect=suspect, severity=severity) for suspect, severity in resisting]
    parts = dict.fromkeys(suspect.target for suspect, _ in resisting)
    offered = [part for part in parts if part not in circuit.barred]
    shown = sweep(network, [Place(key=part, through=part) for part in offered], faults)
    gap = np.maximum(shown.low - shown.high[own], shown.low[own] - shown.high)  # (E, P, R)
    apart = gap > LEAST_PARTING_AMPS
    clamps = tuple(part for number, part in enumerate(offered) if apart[:, :, number].any())
    return group.model_copy(update={"clamps": clamps})


# ------------------------------------------------------------------------------------- words


def unseen_words(circuit: CaseCircuit, judgement: Judgement) -> Iterator[str]:
    """Say of each reading how small a fault it could have shown, where none of them can say."""
    claim = judgement.claim
    if claim is None or claim.suspect == HEALTHY:
        return
    suspect = circuit.suspects[claim.suspect]
    for reading, least in zip(judgement.readings, claim.least_seen, strict=False):
        where = f"{reading.place} in '{reading.phase}'"
        if least is None:
            yield f"{where} could not have shown it, however bad it is"
        else:
            yield f"the mildest that {where} could have shown: {suspect.describe(least)}"


def chatter_words(circuit: CaseCircuit, judgement: Judgement) -> Iterator[str]:
    """Say which readings have no steady figure under the claim, and what to read instead."""
    claim = judgement.claim
    if claim is None:
        return
    for each in claim.chatter:
        reading = next(entry for entry in judgement.readings if entry.number == each.number)
        entry = circuit.entry_at(reading.place)
        unit = entry.unit if entry is not None else "V"
        low, high = format_in(each.low, unit), format_in(each.high, unit)
        mild, bad = (
            format_quantity(end, claim.severity_unit)
            for end in (each.severity_low, each.severity_high)
        )
        yield (
            f"where the claim is {mild} to {bad} the circuit chatters in '{reading.phase}': a "
            f"relay lets go and pulls in again, and {reading.place} is anywhere from {low} to "
            f"{high}. Capture its minimum and its maximum: they tell a chatter from a steady figure"
        )
