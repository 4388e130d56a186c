"""Walk-throughs: who explains a circuit writes a row of drawing states, each with its sentence."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max

from circuits.drawing import Drawing, Marks, draw
from circuits.engine import Fault, UnknownSuspect
from circuits.errors import BadSeverity, BadWalk, NotYourWalk, UnknownPin, UnknownWalk
from circuits.faults import named_fault
from circuits.models import SENTENCE_LENGTH, WORDS_LENGTH, Circuit, Revision, Walk, WalkStep
from circuits.nudges import nudges_of
from circuits.paths import pin_ways
from circuits.predicting.severities import fault_words
from circuits.services import latest_revision, network_of, sheet_of

MOST_STEPS = 30
Problem = tuple[int, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A state of the drawing as it is written: names and digits as typed, no phase for at rest."""

    sentence: str
    phase: str = ""
    suspect: str = ""
    severity: str = ""
    pin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownStep:
    """A step drawn; `missing` names what the newest revision has no more."""

    number: int
    sentence: str
    state_words: str
    drawing: Drawing
    missing: tuple[str, ...]


@transaction.atomic
def write_walk(
    *,
    circuit: Circuit,
    title: str,
    steps: Sequence[Step],
    by: User,
    at: datetime,
    walk: Walk | None = None,
) -> Walk:
    """Keep a new walk-through, or all of it anew in place of what `walk` has been.

    Raises
    ------
    BadWalk
        A step names what the newest revision has not, or has no sentence; all of them are told.
    NotYourWalk
        Somebody else wrote it.
    """
    if walk is not None:
        _require_own(walk, by)
    problems = list(_problems(latest_revision(circuit), title.strip(), steps))
    if problems:
        raise BadWalk(problems)
    # Numbers are given out one after the other, and two windows do not mix their steps.
    Circuit.objects.select_for_update().get(pk=circuit.pk)
    if walk is None:
        last = circuit.walks.aggregate(last=Max("number"))["last"] or 0
        walk = Walk(circuit=circuit, number=last + 1, written_by=by)
    walk.title, walk.written_at = title.strip(), at
    walk.save()
    walk.steps.all().delete()
    WalkStep.objects.bulk_create(
        WalkStep(
            walk=walk,
            position=position,
            phase=step.phase,
            suspect=step.suspect,
            severity=step.severity.strip(),
            pin=step.pin,
            sentence=step.sentence.strip(),
        )
        for position, step in enumerate(steps, start=1)
    )
    return walk


@transaction.atomic
def remove_walk(*, walk: Walk, by: User) -> None:
    """Take a walk-through away with its steps.

    Raises
    ------
    NotYourWalk
        Somebody else wrote it.
    """
    _require_own(walk, by)
    walk.delete()


def walks_of(circuit: Circuit) -> list[Walk]:
    """Return the walk-throughs of a circuit with their writers and steps."""
    return list(circuit.walks.select_related("circuit", "written_by").prefetch_related("steps"))


def walk_numbered(circuit: Circuit, number: int) -> Walk:
    """Return a walk-through of a circuit.

    Raises
    ------
    UnknownWalk
        It has none of this number.
    """
    walk = circuit.walks.select_related("circuit", "written_by").filter(number=number).first()
    if walk is None:
        raise UnknownWalk(circuit.key, number)
    return walk


def steps_of(walk: Walk) -> list[Step]:
    """Return the steps as they were written, in their order."""
    return [
        Step(
            sentence=row.sentence,
            phase=row.phase,
            suspect=row.suspect,
            severity=row.severity,
            pin=row.pin,
        )
        for row in walk.steps.all()
    ]


def shown_steps(walk: Walk) -> list[ShownStep]:
    """Return every step drawn on the newest revision.

    What that revision has no more is left out of the picture and named.
    """
    revision, nudges = latest_revision(walk.circuit), nudges_of(walk.circuit)
    return [
        _shown(revision, nudges, number, step)
        for number, step in enumerate(steps_of(walk), start=1)
    ]


def _shown(
    revision: Revision, nudges: dict[str, tuple[int, int]], number: int, step: Step
) -> ShownStep:
    sheet, network = sheet_of(revision), network_of(revision)
    missing: list[str] = []
    phase = step.phase if step.phase in sheet.phase_keys else None
    if step.phase and phase is None:
        missing.append(f"phase {step.phase}")
    fault: Fault | None = None
    if step.suspect and phase is not None:
        try:
            fault = named_fault(network, step.suspect, step.severity)
        except (UnknownSuspect, BadSeverity):
            missing.append(f"fault {step.suspect}")
    marked: Marks | None = None
    if step.pin and phase is not None:
        try:
            marked = pin_ways(sheet, network, step.pin, phase, fault).marked
        except UnknownPin:
            missing.append(f"connection {step.pin}")
    words = [next((each.words for each in sheet.phases if each.key == phase), "at rest")]
    words += [fault_words(fault)] if fault is not None else []
    words += [f"ways of {step.pin} marked"] if marked is not None and marked.legs else []
    return ShownStep(
        number=number,
        sentence=step.sentence,
        state_words=", ".join(words),
        drawing=draw(sheet, phase=phase, fault=fault, nudges=nudges, marked=marked),
        missing=tuple(missing),
    )


def _pins(revision: Revision) -> set[str]:
    return {node for part in sheet_of(revision).parts for node in part.ends}


def _require_own(walk: Walk, by: User) -> None:
    if walk.written_by_id != by.pk:
        raise NotYourWalk


def _problems(revision: Revision, title: str, steps: Sequence[Step]) -> Iterator[Problem]:
    if not title:
        yield 0, "title", "Give the walk-through a title: what it explains."
    if len(title) > WORDS_LENGTH:
        yield 0, "title", f"A title has at most {WORDS_LENGTH} letters."
    if not steps:
        yield 0, "steps", "Write at least one step: a state of the drawing and its sentence."
    if len(steps) > MOST_STEPS:
        yield 0, "steps", f"A walk-through has at most {MOST_STEPS} steps; make two of it."
    for number, step in enumerate(steps, start=1):
        for field, words in _problems_of_step(revision, step):
            yield number, field, words


def _problems_of_step(revision: Revision, step: Step) -> Iterator[tuple[str, str]]:
    sentence = step.sentence.strip()
    if not sentence:
        yield "sentence", "Say in a sentence what is to be seen here."
    if len(sentence) > SENTENCE_LENGTH:
        yield "sentence", f"At most {SENTENCE_LENGTH} letters; go on in another step."
    keys = sheet_of(revision).phase_keys
    if step.phase and step.phase not in keys:
        yield "phase", f"The circuit has no phase '{step.phase}'; it has {', '.join(keys)}."
    for name in ("suspect", "pin"):
        if getattr(step, name) and not step.phase:
            yield "phase", "A fault and a pin's ways show in a phase; choose one."
            break
    if step.pin and step.pin not in _pins(revision):
        yield "pin", f"Nothing is connected at '{step.pin}'."
    if step.severity.strip() and not step.suspect:
        yield "severity", "A severity belongs to a fault; choose one, or leave this empty."
    if step.suspect:
        try:
            named_fault(network_of(revision), step.suspect, step.severity)
        except UnknownSuspect as error:
            yield "suspect", str(error)
        except BadSeverity as error:
            yield "severity", str(error)
