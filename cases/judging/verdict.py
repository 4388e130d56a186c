"""From lines of a log to a verdict: what is judged or set aside, and what the circuit says."""

import math
from collections.abc import Sequence
from typing import Final, Literal

from cases.circuit import CaseCircuit
from cases.documents.base import OutcomeWord
from cases.documents.verdicts import (
    FindingDocument,
    JudgedReading,
    Judgement,
    PairDocument,
    PairedFault,
    PartingReading,
    SetAside,
    SlipDocument,
    TwinGroup,
    VerdictDocument,
)
from cases.errors import UnknownFault
from cases.judging.blind_spots import with_blind_spots
from cases.judging.codes import NO_CODES, CodesTold, code_evidence
from cases.judging.lines import (
    NOT_NARROWED,
    Line,
    Narrowed,
    aside_line,
    engine_readings,
    narrowed_at_line,
    set_aside,
    statistic_notes,
)
from cases.judging.meant import mended_slips
from cases.judging.nothing_fits import Rate, other_rules, what_to_look_at
from cases.models.choices import HEALTHY, Stage
from circuits.engine import (
    ENGINE_VERSION,
    DoubleFinding,
    EngineError,
    Finding,
    Reading,
    Suspect,
    UnknownSuspect,
    find_suspect,
    heard_of,
    judge,
)
from circuits.engine import Verdict as EngineVerdict

WITHOUT_SYMPTOM = (
    "the symptom was not there and the car in order shows the same, so it neither supports nor "
    "excludes a fault"
)
FITS: Final = "fits"
DOES_NOT_FIT: Final = "does not fit"


def judge_lines(
    circuit: CaseCircuit,
    lines: Sequence[Line],
    *,
    claim: str = "",
    earlier: VerdictDocument | None = None,
    with_pairs: bool = False,
    narrowed: Narrowed = NOT_NARROWED,
    codes: CodesTold = NO_CODES,
    rate: Rate | None = None,
) -> VerdictDocument:
    """Return what the circuit says about a log.

    Readings taken before the repair are judged against the claim, the car in order and every
    other suspect; readings taken after it against the car in order and the claim. Before the
    repair a reading without the symptom speaks for nobody, if the car in order explains it.

    `earlier` is a verdict on lines of the same log in the same circuit. A line never changes, so
    what it says of the very same readings from before the repair still holds, for any claim.

    `with_pairs` looks for two faults at once where no single one fits, and for what readings may
    have been meant as, which takes seconds.

    `narrowed` is what healthy vehicles leave of the circuit's bands, by phase and place.

    `codes` are tested under every suspect; they never change what the readings say of one. `rate`
    is how often the symptom was tried, and how often it showed.

    Raises
    ------
    UnknownFault
        The circuit cannot have the claimed fault.
    """
    suspect = check_claim(circuit, claim)
    before = [line for line in lines if line.stage == Stage.BEFORE]
    after = [line for line in lines if line.stage == Stage.AFTER]
    aside = [entry for line in lines if (entry := set_aside(circuit, line))]
    silent = {entry.number for entry in aside}
    judged = [line for line in before if line.number not in silent]
    judged_after = [line for line in after if line.number not in silent]
    failure = ""
    first = second = None
    try:
        first = None if with_pairs else _still_holding(earlier, judged, suspect)
        if first is None:
            first = _judgement(
                circuit,
                judged,
                suspect,
                narrowed,
                with_rivals=True,
                with_pairs=with_pairs,
            )
        if first is not None:
            first = _with_blind_spots(circuit, first, judged, narrowed)
        second = _judgement(circuit, judged_after, suspect, narrowed, with_rivals=False)
    except EngineError as error:
        failure = str(error)
    document = VerdictDocument(
        engine_version=ENGINE_VERSION,
        claim=claim,
        outcome=_outcome(first, claim),
        before=first,
        after=second,
        set_aside=(*aside, *_without_symptom(first, judged)),
        failure=failure,
        own=_own(circuit, lines, claim, earlier, narrowed),
    )
    document = _with_codes(circuit, document, judged, narrowed, codes)
    if first is None or not first.nothing_fits:
        return document
    heard = [line for line in judged if line.number not in first.without_symptom]
    readings = _heard(circuit, first, judged, narrowed)
    look_at = what_to_look_at(circuit, heard, readings, first, document.codes, rate)
    return document.model_copy(update={"look_at": look_at})


def _heard(
    circuit: CaseCircuit, judgement: Judgement, lines: Sequence[Line], narrowed: Narrowed
) -> list[Reading]:
    """Return the readings that a judgement heard, in its order."""
    taken = {
        (entry.number, entry.noted): reading
        for reading, entry in engine_readings(circuit, lines, narrowed)
    }
    return [taken[entry.number, entry.noted] for entry in judgement.readings]


def _with_blind_spots(
    circuit: CaseCircuit, judgement: Judgement, lines: Sequence[Line], narrowed: Narrowed
) -> Judgement:
    if judgement.claim is None:
        return judgement
    readings = _heard(circuit, judgement, lines, narrowed)
    network = heard_of(circuit.network, readings, circuit.supplies).network
    return with_blind_spots(circuit, network, judgement, readings)


def _with_codes(
    circuit: CaseCircuit,
    document: VerdictDocument,
    judged: Sequence[Line],
    narrowed: Narrowed,
    codes: CodesTold,
) -> VerdictDocument:
    """Return a verdict with what the codes say of the suspects that its readings leave."""
    if not codes:
        return document
    findings = document.before.findings if document.before is not None else ()
    claim = check_claim(circuit, document.claim) or document.claim
    try:
        readings = [reading for reading, _ in engine_readings(circuit, judged, narrowed)]
        heard = heard_of(circuit.network, readings, circuit.supplies)
        told, together = code_evidence(circuit, codes, heard.network, findings, claim)
    except EngineError as error:
        return document.model_copy(update={"failure": document.failure or str(error)})
    return document.model_copy(update={"codes": told, "code_set": together})


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
    if claim in circuit.suspects:
        return claim
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
    return tuple(aside_line(line, WITHOUT_SYMPTOM) for line in lines if line.number in silent)


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
    taken = engine_readings(circuit, lines, narrowed)
    readings = [reading for reading, _ in taken]
    judged = [entry for _, entry in taken]
    verdict = judge(
        circuit.network,
        readings,
        claim=suspect,
        supply_places=circuit.supplies,
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
        if (seen := narrowed_at_line(line, narrowed)) is not None
    )
    thorough = with_pairs and document.nothing_fits
    return document.model_copy(
        update={
            "mended": mended_slips(circuit, verdict, heard, thoroughly=with_pairs)
            if with_rivals
            else (),
            "other_rules": other_rules(circuit, verdict.readings) if thorough else (),
            "notes": (*document.notes, *notes, *statistic_notes(lines)),
            "without_symptom": tuple(entry.number for entry in silent if not entry.noted),
            "slips": _slips(verdict, heard),
            "pairs": tuple(map(_pair, verdict.doubles)) if with_pairs else None,
        }
    )


def _referral(circuit: CaseCircuit) -> tuple[str, ...]:
    if not circuit.refusal:
        return ()
    return (f"no further reading and no bridge is proposed here: {circuit.refusal.rstrip('.')}",)


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
            TwinGroup(
                suspects=twins.suspect_ids,
                between=tuple(
                    node for node in twins.between if proposes and node not in circuit.barred
                ),
            )
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
            if proposes and not circuit.is_barred(parting.place)
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
        model_reach=tuple(map(_short, finding.model_reach)),
        deciding=judged[finding.deciding].number if finding.deciding is not None else None,
        because=finding.because,
    )


def _short(value: float) -> float:
    """Return a figure at six digits: more than any meter shows, less than a float prints."""
    return float(f"{value:.6g}") if math.isfinite(value) else value


def _maybe_short(value: float | None) -> float | None:
    return _short(value) if value is not None else None
