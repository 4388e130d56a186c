"""Search past cases: like an open case, or by what was typed in on the spot."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.contrib.auth.models import AnonymousUser, User

from cases.circuit import CaseCircuit, circuit_of
from cases.documents.readings import NewReading
from cases.errors import BadRows, CaseError, CircuitNotKnown, RowProblem
from cases.judging.lines import Line
from cases.models import Case
from cases.search.query import query_for_case, query_for_readings
from cases.search.results import SearchResult
from cases.search.scope import EVERYTHING, Narrowing, scope_of
from cases.search.similar import DEFAULT_LIMIT, find_similar, parted
from cases.services.readings import understand
from cases.services.record import current_readings, latest_verdict, line_of
from circuits.models import Revision


def similar_to(
    case: Case,
    *,
    user: User | AnonymousUser,
    at: datetime,
    limit: int = DEFAULT_LIMIT,
    other_makes: bool = False,
) -> SearchResult:
    """Return the past cases most like a case, among those this person may see.

    With `other_makes` cases of other circuits are found by what their places touch, in proportion
    to their supply. The case must come from `Case.objects.visible_to(user)`.
    """
    lines = [line_of(reading) for reading in current_readings(case)]
    query = query_for_case(case, lines, latest_verdict(case), by_role=other_makes)
    narrowing = EVERYTHING
    if other_makes and case.revision is not None:
        narrowing = Narrowing(besides_circuit=case.revision.circuit_id)
    found = find_similar(query, scope_of(user), at=at, limit=limit, narrowing=narrowing)
    return parted(query, found)


def search_cases(
    *,
    user: User | AnonymousUser,
    at: datetime,
    revision: Revision | None = None,
    system: str = "",
    readings: Sequence[NewReading] = (),
    codes: Sequence[str] = (),
    words: str = "",
    limit: int = DEFAULT_LIMIT,
    only_fault: str = "",
    narrowing: Narrowing = EVERYTHING,
    other_makes: bool = False,
    waits_for_verdict: bool = True,
) -> SearchResult:
    """Return the past cases most like what was typed in.

    `only_fault` is the key of a group that was found: its cases alone are listed. Without
    `waits_for_verdict` they come at once: what needs a verdict on the readings, unless one is kept
    from before, is said to be due.

    Raises
    ------
    CircuitNotKnown
        Readings were given without the circuit they were taken in.
    BadRows
        Every reading that cannot be read, with its number in the list, counted from 1.
    """
    if readings and revision is None:
        raise CircuitNotKnown("search by readings")
    circuit = circuit_of(revision) if revision is not None else None
    lines = typed_lines(circuit, readings) if circuit is not None else []
    scope = scope_of(user)
    query = query_for_readings(
        circuit=circuit,
        system=system,
        lines=lines,
        codes=codes,
        words=words,
        by_role=other_makes,
        shops=scope.shops,
        asker=user.pk,
        waits_for_verdict=waits_for_verdict,
    )
    if other_makes and revision is not None:
        narrowing = replace(narrowing, besides_circuit=revision.circuit_id)
    found = find_similar(
        query, scope, at=at, limit=limit, only_fault=only_fault, narrowing=narrowing
    )
    return parted(query, found)


def typed_lines(circuit: CaseCircuit, readings: Sequence[NewReading]) -> list[Line]:
    """Return readings as they are judged, numbered from 1; all that is wrong is told at once."""
    lines, problems = [], []
    for number, reading in enumerate(readings, start=1):
        try:
            lines.append(typed_line(circuit, reading, number))
        except CaseError as error:
            problems.append(RowProblem(number, reading.place, str(error)))
    if problems:
        raise BadRows(problems)
    return lines


def typed_line(circuit: CaseCircuit, reading: NewReading, number: int) -> Line:
    """Return one reading as it is judged."""
    quantity, _ = understand(circuit, reading)
    return Line(
        number=number,
        place=reading.place,
        phase=reading.phase,
        text=reading.text,
        value=quantity.value if quantity is not None else None,
        step=(quantity.step if quantity is not None else None) or 0.0,
        over_range=quantity is not None and quantity.over_range,
        rig=reading.rig,
        statistic=reading.statistic,
        symptom_present=reading.symptom_present,
        stage=reading.stage,
        supply_volts=reading.supply_volts,
        celsius=reading.celsius,
        instrument=reading.instrument,
    )
