"""From lines of a log to a verdict: what is judged, what is set aside, and what the circuit says.

Nothing here reads a row, so that files are judged without a database.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final, Literal

from cases.circuit import CaseCircuit
from cases.documents import (
    FindingDocument,
    Instrument,
    JudgedReading,
    Judgement,
    OutcomeWord,
    PairDocument,
    PairedFault,
    PartingReading,
    Rig,
    SetAside,
    SlipDocument,
    TwinGroup,
    VerdictDocument,
)
from cases.errors import UnknownFault
from cases.models.case import HEALTHY
from cases.models.choices import Stage, SymptomPresent
from circuits.bench_sheet import BenchStep
from circuits.engine import (
    ENGINE_VERSION,
    DoubleFinding,
    EngineError,
    Finding,
    Meter,
    Place,
    PowerNotRemoved,
    Reading,
    Suspect,
    UnknownSuspect,
    find_suspect,
    judge,
    ohms_on_live_parts,
)
from circuits.engine import Rig as EngineRig
from circuits.engine import Verdict as EngineVerdict
from circuits.seen import Seen
from circuits.units import format_quantity

# Leads that were held together are known as well as they touch. Common practice, no source.
MEASURED_LEADS_TOLERANCE_OHMS = 0.05
# An OL has no last digit.
OVER_RANGE_STEP = 1.0
WITHOUT_SYMPTOM = (
    "the symptom was not there and the car in order shows the same, so it neither supports nor "
    "excludes a fault"
)
SYMPTOMS: Final = {SymptomPresent.YES: True, SymptomPresent.NO: False, SymptomPresent.UNKNOWN: None}
#: What healthy vehicles leave of bands, by phase and place.
Narrowed = Mapping[tuple[str, str], Seen]
NOT_NARROWED: Narrowed = MappingProxyType({})
AS_IT_STANDS: Final = Rig()
FITS: Final = "fits"
DOES_NOT_FIT: Final = "does not fit"
# The last digit of a supply written beside a reading, where no text tells it.
NOTED_SUPPLY_STEP_VOLTS = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a log, as it is judged; `number` is how the verdict refers to it."""

    number: int
    place: str
    phase: str
    text: str
    value: float | None
    step: float
    over_range: bool = False
    rig: Rig = field(default_factory=Rig)
    symptom_present: SymptomPresent = SymptomPresent.UNKNOWN
    stage: Stage = Stage.BEFORE
    supply_volts: float | None = None
    celsius: float | None = None
    instrument: Instrument = field(default_factory=Instrument)
    borrowed: bool = False


def judge_lines(
    circuit: CaseCircuit,
    lines: Sequence[Line],
    *,
    claim: str = "",
    earlier: VerdictDocument | None = None,
    with_pairs: bool = False,
    narrowed: Narrowed = NOT_NARROWED,
) -> VerdictDocument:
    """Return what the circuit says about a log.

    Readings taken before the repair are judged against the claim, the car in order and every
    other suspect; readings taken after it against the car in order and the claim. Before the
    repair a reading without the symptom speaks for nobody, if the car in order explains it.

    `earlier` is a verdict on lines of the same log in the same circuit. A line never changes, so
    what it says of the very same readings from before the repair still holds, for any claim.

    `with_pairs` looks for two faults at once where no single one fits, which takes seconds.

    `narrowed` is what healthy vehicles leave of the circuit's bands, by phase and place.

    Raises
    ------
    UnknownFault
        The circuit cannot have the claimed fault.
    """
    suspect = check_claim(circuit, claim)
    before = [line for line in lines if line.stage == Stage.BEFORE]
    after = [line for line in lines if line.stage == Stage.AFTER]
    aside = [set_aside for line in lines if (set_aside := _set_aside(circuit, line))]
    silent = {entry.number for entry in aside}
    judged = [line for line in before if line.number not in silent]
    judged_after = [line for line in after if line.number not in silent]
    failure = ""
    first = second = None
    try:
        first = None if with_pairs else _still_holding(earlier, judged, suspect)
        if first is None:
            first = _judgement(
                circuit, judged, suspect, narrowed, with_rivals=True, with_pairs=with_pairs
            )
        second = _judgement(circuit, judged_after, suspect, narrowed, with_rivals=False)
    except EngineError as error:
        failure = str(error)
    return VerdictDocument(
        engine_version=ENGINE_VERSION,
        claim=claim,
        outcome=_outcome(first, claim),
        before=first,
        after=second,
        set_aside=(*aside, *_without_symptom(first, judged)),
        failure=failure,
        own=_own(circuit, lines, claim, earlier, narrowed),
    )


def _still_holding(
    earlier: VerdictDocument | None, lines: Sequence[Line], suspect: str | None
) -> Judgement | None:
    if earlier is None or earlier.before is None or earlier.engine_version != ENGINE_VERSION:
        return None
    heard = {reading.number for reading in earlier.before.readings if not reading.noted}
    if not heard or heard.union(earlier.before.without_symptom) != {line.number for line in lines}:
        return None
    findings = earlier.before.findings
    claim = next((finding for finding in findings if finding.suspect == suspect), None)
    return earlier.before.model_copy(update={"claim": claim})


def check_claim(circuit: CaseCircuit, claim: str) -> str | None:
    """Return the suspect's id, or None where nothing or the car in order is claimed."""
    if claim in ("", HEALTHY):
        return None
    try:
        return find_suspect(circuit.network, claim).id
    except UnknownSuspect as error:
        raise UnknownFault(claim, f"{error}.".replace("?.", "?")) from None


def _own(
    circuit: CaseCircuit,
    lines: Sequence[Line],
    claim: str,
    earlier: VerdictDocument | None,
    narrowed: Narrowed,
) -> VerdictDocument | None:
    own = [line for line in lines if not line.borrowed]
    if len(own) == len(lines):
        return None
    earlier = earlier.own if earlier is not None else None
    return judge_lines(circuit, own, claim=claim, earlier=earlier, narrowed=narrowed)


def _outcome(before: Judgement | None, claim: str) -> OutcomeWord | Literal[""]:
    if before is None or not claim:
        return ""
    if claim == HEALTHY:
        return before.healthy.outcome
    return before.claim.outcome if before.claim is not None else ""


def _without_symptom(judgement: Judgement | None, lines: Sequence[Line]) -> tuple[SetAside, ...]:
    silent = judgement.without_symptom if judgement is not None else ()
    return tuple(_aside(line, WITHOUT_SYMPTOM) for line in lines if line.number in silent)


def _aside(line: Line, because: str) -> SetAside:
    return SetAside(
        number=line.number, place=line.place, phase=line.phase, text=line.text, because=because
    )


def _set_aside(circuit: CaseCircuit, line: Line) -> SetAside | None:
    because = ""
    place = circuit.place_at(line.place)
    in_ohms = place is not None and place.reads_ohms
    step = circuit.bench_step(line.place)
    if step is not None:
        because = _bench_words(step, line)
    elif place is not None and in_ohms and line.text and not line.rig.power_removed:
        because = _live_words(circuit, place, line)
    elif line.over_range and not in_ohms:
        because = "the meter was over its range; that is no number to compare"
    elif line.value is None and not line.over_range:
        because = "not measured"
    elif place is None:
        entry = circuit.entry_at(line.place)
        reason = entry.not_computed if entry is not None else "this circuit has no such place"
        because = f"no prediction is made here: {reason}"
    return _aside(line, because) if because else None


def _bench_words(step: BenchStep, line: Line) -> str:
    """Return why a reading on the bench is not judged with the circuit; empty where it is."""
    if line.value is None and not line.over_range:
        return "not measured"
    if step.is_alone:
        return ""
    value = math.inf if line.value is None else line.value
    return f"taken on the bench, where it says: {step.shows.compared(value)}"


def _live_words(circuit: CaseCircuit, place: Place, line: Line) -> str:
    """Return why ohms on live parts say nothing, and what the sound circuit would have shown."""
    refusal = PowerNotRemoved(place.key, place.red, place.black).problem
    shown = ohms_on_live_parts(circuit.network, [place])[line.phase, place.key]
    figure = "OL" if shown.over_range else format_quantity(shown.value, "ohm")
    return f"{refusal}. With its power on even the circuit in order would show {figure} here"


def engine_rig(circuit: CaseCircuit, rig: Rig) -> EngineRig:
    """Return what was done for a reading, as the engine takes it; the lamp is made for the car."""
    made = EngineRig(
        unplugged=frozenset(rig.unplugged),
        bridged=rig.bridged,
        lamp_watts=rig.lamp_watts,
        power_removed=rig.power_removed,
        ammeter_in=rig.ammeter_in,
    )
    if rig.lamp_watts is not None:
        made = replace(made, lamp_volts=float(circuit.sheet.vehicle.supply_volts))
    return made if rig.burden_ohms is None else replace(made, burden_ohms=rig.burden_ohms)


def engine_meter(instrument: Instrument) -> Meter:
    """Return the instrument; what is not known of it is a common multimeter."""
    known = instrument.model_dump(exclude_none=True)
    if "lead_ohms" in known:
        known["lead_tolerance_ohms"] = MEASURED_LEADS_TOLERANCE_OHMS
    return Meter(**known)


def _judgement(
    circuit: CaseCircuit,
    lines: Sequence[Line],
    suspect: str | None,
    narrowed: Narrowed,
    *,
    with_rivals: bool,
    with_pairs: bool = False,
) -> Judgement | None:
    if not lines:
        return None
    readings = [
        Reading(
            place=circuit.rigged_place(line.place, line.rig),
            phase=circuit.engine_phase(line.phase),
            value=line.value if line.value is not None else math.inf,
            step=line.step or OVER_RANGE_STEP,
            rig=engine_rig(circuit, circuit.rig_at(line.place, line.rig)),
            meter=engine_meter(line.instrument),
            celsius=line.celsius,
            symptom=_symptom(line),
            tolerance_share=seen.share_left if (seen := _narrowed_at(line, narrowed)) else 1.0,
        )
        for line in lines
    ]
    judged = [
        JudgedReading(
            number=line.number,
            place=line.place,
            phase=line.phase,
            text=line.text,
            value=reading.value,
            loaded=line.rig.is_loaded,
            rig=line.rig,
        )
        for line, reading in zip(lines, readings, strict=True)
    ]
    for reading, entry in _noted_supplies(circuit, lines):
        readings.append(reading)
        judged.append(entry)
    verdict = judge(
        circuit.network,
        readings,
        claim=suspect,
        supply_places=(*circuit.supply_places, circuit.supply_place.key),
        places=tuple(circuit.places.values()),
        rivals=with_rivals,
        doubles=with_pairs,
    )
    heard: list[JudgedReading] = []
    silent: list[JudgedReading] = []
    for reading, entry in zip(readings, judged, strict=True):
        (silent if reading in verdict.set_aside else heard).append(entry)
    document = _as_document(circuit, verdict, tuple(heard), with_rivals=with_rivals)
    notes = dict.fromkeys(
        f"{seen.count} healthy vehicles narrow what {line.place} shows in '{line.phase}' "
        f"to {seen.share_left:.0%} of what the parts' tolerances allow"
        for line in lines
        if (seen := _narrowed_at(line, narrowed)) is not None
    )
    return document.model_copy(
        update={
            "notes": (*document.notes, *notes),
            "without_symptom": tuple(entry.number for entry in silent if not entry.noted),
            "slips": _slips(verdict, heard),
            "pairs": tuple(map(_pair, verdict.doubles)) if with_pairs else None,
        }
    )


def _narrowed_at(line: Line, narrowed: Narrowed) -> Seen | None:
    """Return what healthy vehicles leave of a band; they were read as they stood."""
    return narrowed.get((line.phase, line.place)) if line.rig == AS_IT_STANDS else None


def _symptom(line: Line) -> bool | None:
    """Return whether the symptom was there; after the repair its absence is what is hoped for."""
    return SYMPTOMS[line.symptom_present] if line.stage == Stage.BEFORE else None


def _referral(circuit: CaseCircuit) -> tuple[str, ...]:
    if not circuit.refusal:
        return ()
    return (f"no further reading and no bridge is proposed here: {circuit.refusal.rstrip('.')}",)


def _noted_supplies(
    circuit: CaseCircuit, lines: Sequence[Line]
) -> list[tuple[Reading, JudgedReading]]:
    """Return the supply volts written beside other readings, once for each phase without its own.

    They are readings of the supply like any other; a phase in which the supply was logged as a
    reading of its own needs none.
    """
    logged = {line.phase for line in lines if line.place in circuit.supply_places}
    found = []
    for line in lines:
        if line.supply_volts is None or line.phase in logged:
            continue
        logged.add(line.phase)
        reading = Reading(
            place=circuit.supply_place,
            phase=line.phase,
            value=line.supply_volts,
            step=NOTED_SUPPLY_STEP_VOLTS,
            meter=engine_meter(line.instrument),
            symptom=_symptom(line),
        )
        entry = JudgedReading(
            number=line.number,
            place=circuit.supply_place.key,
            phase=line.phase,
            text=f"{line.supply_volts:g} V",
            value=line.supply_volts,
            noted=True,
        )
        found.append((reading, entry))
    return found


def _as_document(
    circuit: CaseCircuit,
    verdict: EngineVerdict,
    judged: tuple[JudgedReading, ...],
    *,
    with_rivals: bool,
) -> Judgement:
    def document(finding: Finding) -> FindingDocument:
        return _finding(finding, judged)

    # Where others have to take over, what was read is judged, and nothing more is proposed.
    proposes = with_rivals and not circuit.refusal

    return Judgement(
        readings=judged,
        claim=document(verdict.claim) if verdict.claim is not None else None,
        healthy=document(verdict.healthy),
        # With no reading left every fault "cannot say": that is one sentence, not a list.
        findings=tuple(map(document, verdict.findings)) if with_rivals and judged else (),
        twins=tuple(
            TwinGroup(suspects=twins.suspect_ids, between=twins.between if proposes else ())
            for twins in verdict.twins
            if with_rivals
        ),
        partings=tuple(
            PartingReading(
                first=parting.first,
                second=parting.second,
                phase=parting.phase,
                place=parting.place,
                first_value=_short(parting.first_value),
                second_value=_short(parting.second_value),
                distance=_short(parting.distance),
            )
            for parting in verdict.partings
            if proposes
        ),
        nothing_fits=with_rivals and verdict.nothing_fits,
        notes=(*verdict.notes, *_referral(circuit)),
    )


def _slips(verdict: EngineVerdict, judged: Sequence[JudgedReading]) -> tuple[SlipDocument, ...]:
    return tuple(
        SlipDocument(
            number=judged[slip.reading].number,
            place=judged[slip.reading].place,
            phase=judged[slip.reading].phase,
            text=judged[slip.reading].text,
            noted=judged[slip.reading].noted,
            value=judged[slip.reading].value,
            predicted=_short(slip.predicted),
            fits=slip.fits,
        )
        for slip in verdict.slips
    )


def _pair(double: DoubleFinding) -> PairDocument:
    return PairDocument(
        first=_paired(double.first, double.first_severity),
        second=_paired(double.second, double.second_severity),
        misfit=_short(double.misfit),
        misfit_limit=_short(double.misfit_limit),
        predicted=tuple(map(_short, double.predicted)),
        explained=tuple(explains.value for explains in double.explained),
    )


def _paired(suspect: Suspect, severity: float) -> PairedFault:
    return PairedFault(
        suspect=suspect.id,
        words=suspect.describe(None),
        severity=_short(severity),
        severity_unit=suspect.unit,
        severity_words=suspect.describe(severity),
    )


def _finding(finding: Finding, judged: Sequence[JudgedReading]) -> FindingDocument:
    suspect = finding.suspect
    severity = finding.severity
    return FindingDocument(
        suspect=suspect.id if suspect is not None else HEALTHY,
        words=suspect.describe(None) if suspect is not None else "the circuit in order",
        outcome=finding.outcome.value,
        misfit=_short(finding.misfit),
        misfit_limit=_short(finding.misfit_limit),
        severity=_maybe_short(severity),
        severity_low=_maybe_short(finding.severity_low),
        severity_high=_maybe_short(finding.severity_high),
        severity_unit=suspect.unit if suspect is not None else "",
        severity_words=(
            suspect.describe(severity) if suspect is not None and severity is not None else ""
        ),
        watts=_maybe_short(finding.watts),
        overloads=finding.overloads,
        predicted=tuple(map(_short, finding.predicted)),
        distance=tuple(map(_short, finding.distance)),
        deciding=judged[finding.deciding].number if finding.deciding is not None else None,
        because=finding.because,
    )


def _short(value: float) -> float:
    """Return a figure at six digits: more than any meter shows, less than a float prints."""
    return float(f"{value:.6g}") if math.isfinite(value) else value


def _maybe_short(value: float | None) -> float | None:
    return _short(value) if value is not None else None
