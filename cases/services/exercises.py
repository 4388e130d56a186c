"""A shared case as an exercise: part and outcome stay hidden until a fault is named.

The trainer sets a shared case for a shop or class. From then on its learners see the case only
here: what the driver said, the circuit, and the readings they ask for, each at its price in
minutes. A reading that was logged is shown as logged; any other is what the engine says a meter
would show under the case's own fault. Only when they have named a fault is the rest shown, after
the verdict on the very readings they asked for.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from cases.circuit import CaseCircuit, circuit_of
from cases.documents.cases import CodeFacts, VehicleFacts
from cases.documents.readings import Rig
from cases.documents.verdicts import AnswerDocument
from cases.errors import (
    AlreadyAnswered,
    BadFact,
    CircuitNotKnown,
    NotAMember,
    NothingToJudge,
    NotShared,
)
from cases.judging.lines import Line, engine_rig
from cases.judging.verdict import DOES_NOT_FIT, check_claim, judge_lines
from cases.models import (
    HEALTHY,
    AskedReading,
    Attempt,
    Case,
    Exercise,
    LoggedReading,
    Shop,
    Stage,
)
from cases.privacy import scrubber_for
from cases.services.meter import shown_reading
from cases.services.record import code_facts, current_readings, latest_verdict, line_of
from cases.services.shops import require_trainer, role_in
from circuits.engine import Fault, predict
from circuits.models import Revision
from circuits.units import parse_reading

# What a reading costs. Common practice in round minutes, no source: reach the place, clip on,
# bring the phase about, read and write down; a plug off, a lead in between or a lamp take longer.
MINUTES_FOR_VOLTS = 2
MINUTES_FOR_AMPS = 3
MINUTES_FOR_A_PLUG = 3
MINUTES_FOR_A_BRIDGE = 4
MINUTES_FOR_A_LAMP = 2
MINUTES_FOR_POWER_OFF = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """What a learner may see of a case before the answer: nothing that names part or outcome."""

    exercise: Exercise
    vehicle: VehicleFacts
    system: str
    complaint: str
    symptom: str
    conditions: str
    complaint_phase: str
    codes: tuple[CodeFacts, ...]
    revision: Revision
    circuit: CaseCircuit


@transaction.atomic
def open_exercise(*, case: Case, shop: Shop, by: User, at: datetime) -> Exercise:
    """Set a shared case as an exercise for the people of a shop or class.

    The case has to be able to answer: it needs a circuit, and a claim that its readings bear out
    or the finding that the circuit was in order.
    """
    require_trainer(shop, by, "set an exercise")
    case = Case.objects.select_for_update(of=("self",)).select_related("shop").get(pk=case.pk)
    if not case.is_shared:
        raise NotShared(case.key)
    if case.revision is None:
        raise CircuitNotKnown("set it as an exercise")
    circuit_of(case.revision).require_proposals()
    if not case.claimed_suspect:
        raise BadFact("case", f"{case.key} claims no fault, so there is no answer to work towards.")
    running = Exercise.objects.filter(case=case, shop=shop, closed_at__isnull=True).first()
    if running is not None:
        return running
    return Exercise.objects.create(case=case, shop=shop, set_by=by, opened_at=at)


def close_exercise(*, exercise: Exercise, by: User, at: datetime) -> Exercise:
    """End an exercise; what learners did stays theirs."""
    require_trainer(exercise.shop, by, "close an exercise")
    exercise.closed_at = at
    exercise.save(update_fields=["closed_at"])
    return exercise


def task_of(exercise: Exercise) -> Task:
    """Return what a learner may see of the case."""
    case = exercise.case
    if case.revision is None:
        raise CircuitNotKnown("work on it as an exercise")
    scrubber = scrubber_for(case)
    vehicle = case.vehicle
    return Task(
        exercise=exercise,
        vehicle=VehicleFacts(
            make=vehicle.make, model=vehicle.model, year=vehicle.year, engine=vehicle.engine
        ),
        system=case.system,
        complaint=scrubber.clean(case.complaint),
        symptom=case.symptom,
        conditions=scrubber.clean(case.conditions),
        complaint_phase=case.complaint_phase,
        codes=tuple(code_facts(code) for code in case.codes.all()),
        revision=case.revision,
        circuit=circuit_of(case.revision),
    )


@transaction.atomic
def start_attempt(*, exercise: Exercise, by: User, at: datetime) -> Attempt:
    """Begin an exercise, or go on with the attempt that is running."""
    exercise = Exercise.objects.select_related("shop", "case__shop").get(pk=exercise.pk)
    if role_in(exercise.shop, by) is None:
        raise NotAMember(exercise.shop.name)
    if exercise.closed_at is not None or not exercise.case.is_shared:
        raise NotShared("of this exercise")
    running = Attempt.objects.filter(
        exercise=exercise, learner=by, answered_at__isnull=True
    ).first()
    return running or Attempt.objects.create(exercise=exercise, learner=by, started_at=at)


@transaction.atomic
def ask_reading(
    *, attempt: Attempt, place: str, phase: str, by: User, at: datetime, rig: Rig | None = None
) -> AskedReading:
    """Take a reading: what was logged there, or else what a meter would have shown."""
    rig = rig or Rig()
    attempt = _running(attempt, by)
    case = attempt.exercise.case
    circuit = task_of(attempt.exercise).circuit
    entry = circuit.place_entry(place)
    circuit.check_phase(phase)
    circuit.check_rig(place, rig)
    circuit.check_moves(place, rig)
    logged = _logged(case, place, phase, rig)
    if logged is not None:
        text, value, step = logged.text, logged.value, logged.step
    else:
        text = _meter_text(case, circuit, place, phase, rig)
        quantity = parse_reading(text, entry.unit)
        value = quantity.value if quantity is not None else None
        step = (quantity.step if quantity is not None else None) or 0.0
    return AskedReading.objects.create(
        attempt=attempt,
        place_key=place,
        phase_key=phase,
        unplugged=list(rig.unplugged),
        bridged=[list(pair) for pair in rig.bridged],
        lamp_watts=rig.lamp_watts,
        power_removed=rig.power_removed,
        text=text,
        unit=entry.unit,
        value=value,
        step=step,
        from_record=logged is not None,
        minutes=minutes_for(circuit, place, rig),
        at=at,
    )


@transaction.atomic
def name_fault(*, attempt: Attempt, suspect: str, by: User, at: datetime) -> Attempt:
    """Name the fault; the verdict on the readings asked for answers, and the case is shown."""
    attempt = _running(attempt, by)
    circuit = task_of(attempt.exercise).circuit
    if not suspect:
        raise BadFact("suspect", "name the fault you settled on, or that the circuit is in order.")
    check_claim(circuit, suspect)
    lines = [_asked_line(asked) for asked in attempt.asked.all()]
    if not lines:
        raise NothingToJudge("Ask for at least one reading before you name a fault.")
    attempt.named_suspect = suspect
    attempt.answered_at = at
    attempt.answer = _answer(attempt.exercise.case, circuit, lines, suspect).as_data()
    attempt.save(update_fields=["named_suspect", "answered_at", "answer"])
    return attempt


def answer_of(attempt: Attempt) -> AnswerDocument | None:
    """Return how an attempt was answered, or None as long as it runs."""
    return AnswerDocument.model_validate(attempt.answer) if attempt.answer is not None else None


def rig_of(asked: AskedReading) -> Rig:
    """Return what was done for a reading that was asked for."""
    return Rig(
        unplugged=tuple(asked.unplugged),
        bridged=tuple((one, other) for one, other in asked.bridged),
        lamp_watts=asked.lamp_watts,
        power_removed=asked.power_removed,
    )


def minutes_for(circuit: CaseCircuit, place: str, rig: Rig) -> int:
    """Return what a reading costs in minutes."""
    clamp = circuit.place_entry(place).unit in ("A", "mA")
    return (
        (MINUTES_FOR_AMPS if clamp else MINUTES_FOR_VOLTS)
        + MINUTES_FOR_A_PLUG * len(rig.unplugged)
        + MINUTES_FOR_A_BRIDGE * len(rig.bridged)
        + (MINUTES_FOR_A_LAMP if rig.lamp_watts is not None else 0)
        + (MINUTES_FOR_POWER_OFF if rig.power_removed else 0)
    )


# -------------------------------------------------------------------------------- details


def _running(attempt: Attempt, by: User) -> Attempt:
    locked = (
        Attempt.objects.select_for_update(of=("self",))
        .select_related("exercise__shop", "exercise__case__shop", "exercise__case__revision")
        .get(pk=attempt.pk)
    )
    if locked.learner_id != by.pk:
        raise NotAMember(locked.exercise.shop.name)
    if locked.answered_at is not None:
        raise AlreadyAnswered
    if not locked.exercise.case.is_shared:
        raise NotShared("of this exercise")
    return locked


def _logged(case: Case, place: str, phase: str, rig: Rig) -> LoggedReading | None:
    """Return the last reading that was logged there before the repair, with the same rig."""
    found = [
        reading
        for reading in current_readings(case)
        if (reading.place_key, reading.phase_key) == (place, phase)
        and reading.stage == Stage.BEFORE
        and reading.text
        and line_of(reading).rig.key == rig.key
    ]
    return found[-1] if found else None


def _meter_text(case: Case, circuit: CaseCircuit, place: str, phase: str, rig: Rig) -> str:
    """Return what a meter would show there under the case's own fault."""
    if place not in circuit.places:
        problem = f"{place} was not read in this case, and no figure is computed there."
        raise BadFact("place", problem)
    predictions = predict(
        circuit.network,
        [circuit.rigged_place(place, rig)],
        fault=_fault_of(case, circuit),
        rig=engine_rig(circuit, rig),
    )
    shown = predictions[phase, place]
    return "OL" if shown.over_range else shown_reading(shown.value, circuit.entries[place].unit)


def _fault_of(case: Case, circuit: CaseCircuit) -> Fault | None:
    """Return the case's fault at the severity found in it, or else the one its readings need."""
    if case.claimed_suspect in ("", HEALTHY):
        return None
    suspect = circuit.suspects[case.claimed_suspect]
    severity = case.claimed_severity
    if severity is None:
        verdict = latest_verdict(case)
        claim = verdict.before.claim if verdict is not None and verdict.before else None
        severity = claim.severity if claim is not None else None
    if severity is None:
        raise BadFact("case", "this case does not say how severe its fault was.")
    return Fault(suspect=suspect, severity=severity)


def _asked_line(asked: AskedReading) -> Line:
    return Line(
        number=asked.pk,
        place=asked.place_key,
        phase=asked.phase_key,
        text=asked.text,
        value=asked.value,
        step=asked.step,
        over_range=asked.value is None,
        rig=rig_of(asked),
    )


def _answer(case: Case, circuit: CaseCircuit, lines: Sequence[Line], named: str) -> AnswerDocument:
    verdict = judge_lines(circuit, lines, claim=named)
    before = verdict.before
    if before is None:
        raise NothingToJudge(
            "None of the readings you asked for can be compared with the circuit; ask for another."
        )
    finding = before.healthy if named == HEALTHY else before.claim
    claim = case.claimed_suspect
    fitting = [entry.suspect for entry in before.findings if entry.outcome != DOES_NOT_FIT]
    if before.healthy.outcome != DOES_NOT_FIT:
        fitting.insert(0, HEALTHY)
    return AnswerDocument(
        named=named,
        outcome=verdict.outcome,
        because=finding.because if finding is not None else verdict.failure,
        rivals=tuple(suspect for suspect in fitting if suspect != named),
        claim=claim,
        is_the_claim=named == claim,
        is_a_twin_of_the_claim=any({named, claim} <= set(twins.suspects) for twins in before.twins),
        verdict=verdict,
    )
