"""What follows from every change of a case's record: verdict, standing, search evidence.

The other services call this in the same transaction, so that a case never stands better than its
record and is never found by what it no longer says.
"""

from collections.abc import Iterable
from datetime import datetime

from django.contrib.auth.models import User
from procrastinate.contrib.django import app as queue

from cases.circuit import CaseCircuit, circuit_of
from cases.documents.cases import CodeFacts
from cases.documents.readings import Instrument, Rig
from cases.documents.verdicts import VerdictDocument
from cases.errors import CaseWithdrawn, NotYourCase
from cases.judging.codes import CodesTold, any_speaks
from cases.judging.lines import Line
from cases.judging.nothing_fits import Rate
from cases.judging.verdict import check_claim, judge_lines
from cases.models import Case, CodeSeen, LoggedReading, Stage, Statistic, SymptomPresent, Verdict
from cases.search.evidence import stands_as, write_evidence
from cases.services.shops import role_in
from cases.standing import standing_of
from circuits.on_vehicles.references import narrowed_at

LOOK_FOR_PAIRS = "look_for_pairs"


def locked_for(case: Case, by: User, deed: str) -> Case:
    """Return the case, locked, if this person's shop did the repair and it is not withdrawn."""
    locked = Case.objects.select_for_update(of=("self",)).select_related("shop").get(pk=case.pk)
    if role_in(locked.shop, by) is None:
        raise NotYourCase(deed)
    if locked.withdrawn_at is not None:
        raise CaseWithdrawn(locked.key)
    return locked


def line_of(reading: LoggedReading) -> Line:
    """Return a logged reading as it is judged."""
    return Line(
        number=reading.pk,
        place=reading.place_key,
        phase=reading.phase_key,
        text=reading.text,
        value=reading.value,
        step=reading.step,
        over_range=reading.over_range,
        rig=rig_of(reading),
        statistic=Statistic(reading.statistic),
        symptom_present=SymptomPresent(reading.symptom_present),
        stage=Stage(reading.stage),
        supply_volts=reading.supply_volts,
        celsius=reading.celsius,
        instrument=instrument_of(reading),
        borrowed=reading.borrowed,
    )


def code_facts(code: CodeSeen) -> CodeFacts:
    """Return a fault code as it travels."""
    return CodeFacts.model_validate(
        {
            "code": code.code,
            "failure_type": code.failure_type,
            "module": code.module,
            "status": code.status,
        }
    )


def codes_of(case: Case) -> CodesTold:
    """Return what a case tells of codes. Asks the database."""
    return CodesTold(
        seen=tuple(code_facts(code) for code in CodeSeen.objects.filter(case=case)),
        passed=tuple(case.monitors_passed),
    )


def rate_of(case: Case) -> Rate | None:
    """Return how often the symptom was tried and how often it showed, where both are known."""
    tries, hits = case.tries_before, case.hits_before
    return None if tries is None or hits is None else (tries, hits)


def rig_of(reading: LoggedReading) -> Rig:
    return Rig(
        unplugged=tuple(reading.unplugged),
        bridged=tuple((one, other) for one, other in reading.bridged),
        lamp_watts=reading.lamp_watts,
        power_removed=reading.power_removed,
        ammeter_in=reading.ammeter_in,
        burden_ohms=reading.burden_ohms,
        by_drop=reading.by_drop,
    )


def instrument_of(reading: LoggedReading) -> Instrument:
    return Instrument(
        input_ohms=reading.meter_input_ohms,
        reading_fraction=reading.meter_reading_fraction,
        counts=reading.meter_counts,
        floor_amps=reading.meter_floor_amps,
        lead_ohms=reading.meter_lead_ohms,
        name=reading.meter_name,
    )


def current_readings(case: Case) -> list[LoggedReading]:
    """Return the lines of a case that no newer line corrects. Asks the database."""
    return list(LoggedReading.objects.filter(case=case).current())


def require_room(case: Case, circuit: CaseCircuit) -> None:
    """Say what of a case has no place in a circuit: a reading, its phase, the claim."""
    for reading in current_readings(case):
        circuit.place_entry(reading.place_key)
        circuit.check_phase_at(reading.place_key, reading.phase_key)
    check_claim(circuit, case.claimed_suspect)
    if case.complaint_phase:
        circuit.check_phase(case.complaint_phase)


def settle_record(
    case: Case, *, at: datetime, from_scratch: bool = False, pairs_priority: int = 0
) -> None:
    """Judge the case anew and write what follows from it: verdict, standing, evidence.

    For changes of readings, codes, claim or circuit; what leaves these alone calls `settle_story`.
    What the last verdict says of the very same readings is taken over, unless `from_scratch`.
    Where pairs of faults are to be looked for, that waits in the queue at `pairs_priority`.
    """
    readings = current_readings(case)
    earlier = None if from_scratch else _latest_with(case)
    verdict = _judge(case, readings, earlier, at=at, pairs_priority=pairs_priority)
    _settle(case, readings, verdict, at=at)


def settle_story(case: Case, *, at: datetime) -> None:
    """Write what follows from a change of the story: standing and evidence, by the last verdict."""
    _settle(case, current_readings(case), latest_verdict(case), at=at)


def _settle(
    case: Case, readings: list[LoggedReading], verdict: VerdictDocument | None, *, at: datetime
) -> None:
    settle_standing(case, readings, verdict)
    write_evidence(case, verdict, at=at)


def settle_standing(
    case: Case, readings: Iterable[LoggedReading], verdict: VerdictDocument | None
) -> None:
    """Write the standing that the record earns."""
    earned = standing_of(
        case, [line_of(reading) for reading in readings], verdict, came_back=came_back(case)
    ).earned
    if earned != case.earned_standing:
        case.earned_standing = earned
        case.save(update_fields=["earned_standing"])
        stands_as(case)


def came_back(case: Case) -> bool:
    """Return whether the vehicle came back with the complaint. Asks the database."""
    return case.comebacks.filter(withdrawn_at__isnull=True).exists()


def latest_verdict(case: Case) -> VerdictDocument | None:
    """Return the latest verdict on a case. Asks the database."""
    result = case.verdicts.values_list("result", flat=True).first()
    return VerdictDocument.model_validate(result) if result is not None else None


def _latest_with(case: Case) -> VerdictDocument | None:
    """Return the latest verdict, if it was given with the revision that the case has now."""
    newest = case.verdicts.first()
    if newest is None or newest.revision_id != case.revision_id:
        return None
    return VerdictDocument.model_validate(newest.result)


def _judge(
    case: Case,
    readings: list[LoggedReading],
    earlier: VerdictDocument | None,
    *,
    at: datetime,
    pairs_priority: int,
) -> VerdictDocument | None:
    if case.revision is None:
        return None
    codes = codes_of(case)
    has_evidence = bool(readings) or any_speaks(circuit_of(case.revision), codes)
    # Codes that are taken off again leave a verdict that no longer has them.
    if not has_evidence and not case.verdicts.exists():
        return None
    document = judge_lines(
        circuit_of(case.revision),
        [line_of(reading) for reading in readings],
        claim=case.claimed_suspect,
        earlier=earlier,
        narrowed=narrowed_at(case.revision),
        codes=codes,
        rate=rate_of(case),
    )
    verdict = Verdict.objects.create(
        case=case,
        revision=case.revision,
        engine_version=document.engine_version,
        claimed_suspect=document.claim,
        outcome=document.outcome,
        result=document.as_data(),
        computed_at=at,
    )
    if document.before is not None and document.before.lacks_second_look:
        task = queue.configure_task(LOOK_FOR_PAIRS, priority=pairs_priority)
        task.defer(verdict_pk=verdict.pk)
    return document
