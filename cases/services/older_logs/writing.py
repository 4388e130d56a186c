"""Rows of many cases into the database by COPY, with what search keeps of them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db.models import F, Q
from django.db.models.functions import Upper
from procrastinate.contrib.django import app as queue
from procrastinate.types import JSONValue

from cases.documents.cases import CaseDocument
from cases.judging.lines import Line
from cases.models import (
    Case,
    CaseEvidence,
    CodeSeen,
    LoggedReading,
    OlderLog,
    PartInVain,
    Shop,
    TakenInCase,
    Vehicle,
)
from cases.privacy import Scrubber
from cases.search.evidence import NOTHING, Beside, evidence_of, evidence_rows, speech_of
from cases.services.copying import copy_rows, next_keys
from cases.services.lines import TakenLine
from cases.services.older_logs.building import BuiltCase
from cases.services.older_logs.understanding import Understood
from cases.standing import standing_of

JUDGE_TAKEN_IN = "judge_taken_in"
JUDGED_IN_A_JOB = 20
#: Whoever stands before a car comes first.
BEHIND_ALL_ELSE = -10
#: Looking for pairs takes seconds, and the next case wants its first verdict before.
BEHIND_VERDICTS = -20
_MARKS = ("vin", "plate")


def reserve_numbers(shop: Shop, count: int) -> int:
    """Return the first of so many case numbers that nobody else in the shop will be given."""
    # The row is locked by the update, so two who ask at once get different ones.
    Shop.objects.filter(pk=shop.pk).update(last_case_number=F("last_case_number") + count)
    shop.refresh_from_db(fields=["last_case_number"])
    return shop.last_case_number - count + 1


def write_cases(
    built: Sequence[BuiltCase],
    *,
    log: OlderLog,
    first_number: int,
    people: Iterable[User],
    at: datetime,
) -> None:
    """Write cases with all that hangs on them and queue their verdicts, in one transaction.

    The transaction is the caller's. `people` are the shop's, whose names search must not keep.
    """
    if not built:
        return
    cases = [each.case for each in built]
    _give_vehicles(log.shop, cases)
    numbers = range(first_number, first_number + len(cases))
    for case, key, number in zip(cases, next_keys(Case, len(cases)), numbers, strict=True):
        case.pk, case.number = key, number
    logs = _logs(built)
    for each, log_rows in zip(built, logs, strict=True):
        each.case.earned_standing = _standing(each.case, log_rows)
    copy_rows(Case, map(vars, cases))
    _copy_codes_and_parts([(each.case, each.told.document) for each in built])
    copy_rows(LoggedReading, (row.columns for rows in logs for row in rows))
    copy_rows(CaseEvidence, _evidence(built, logs, log.shop, people, at))
    copy_rows(
        TakenInCase,
        (
            {
                "case_id": each.case.pk,
                "shop_id": log.shop_id,
                "key": each.told.key,
                "digest": each.told.digest,
                "log_id": log.pk,
            }
            for each in built
        ),
    )
    _queue_verdicts(built)


@dataclass(frozen=True, slots=True)
class _Row:
    """A reading as a row, and as it is judged."""

    columns: Mapping[str, Any]
    understood: Understood
    line: Line


def _logs(built: Sequence[BuiltCase]) -> list[list[_Row]]:
    """Return the readings of each case as rows with keys of their own."""
    keys = iter(next_keys(LoggedReading, sum(len(each.readings) for each in built)))
    logs = []
    for each in built:
        key_of = {taken: next(keys) for taken in each.readings}
        logs.append([_row(each, taken, key_of) for taken in each.readings])
    return logs


def _row(built: BuiltCase, taken: TakenLine, key_of: Mapping[TakenLine, int]) -> _Row:
    assert built.understanding is not None  # without a circuit nothing can be read
    key = key_of[taken]
    corrects = key_of[taken.corrects] if taken.corrects is not None else None
    columns = {**taken.values, "id": key, "case_id": built.case.pk, "corrects_id": corrects}
    understood = built.understanding.of(taken.reading)
    line = replace(understood.line, number=key, borrowed=taken.values["borrowed"])
    return _Row(columns, understood, line)


def _current(rows: Sequence[_Row]) -> list[_Row]:
    """Return the rows of one case that no newer line corrects, in the order of a log."""
    corrected = {row.columns["corrects_id"] for row in rows}
    current = [row for row in rows if row.line.number not in corrected]
    return sorted(current, key=lambda row: (row.columns["at"], row.line.number))


def _standing(case: Case, rows: Sequence[_Row]) -> str:
    """Return the standing that the record earns before there is a verdict."""
    return standing_of(case, [row.line for row in _current(rows)], None, came_back=False).earned


def _give_vehicles(shop: Shop, cases: Sequence[Case]) -> None:
    """Give each case the vehicle that the shop knows by its VIN or plate, or write a new one."""
    known = _known_vehicles(shop, cases)
    fresh: list[Vehicle] = []
    for case in cases:
        keys = _marks_of(case.vehicle)
        found = next((known[key] for key in keys if key in known), None)
        if found is None:
            found = case.vehicle
            fresh.append(found)
            known |= dict.fromkeys(keys, found)
        case.vehicle = found
    for vehicle, key in zip(fresh, next_keys(Vehicle, len(fresh)), strict=True):
        vehicle.pk = key
    copy_rows(Vehicle, map(vars, fresh))
    for case in cases:
        case.vehicle = case.vehicle  # which has its key by now


def _known_vehicles(shop: Shop, cases: Sequence[Case]) -> dict[tuple[str, str, str, str], Vehicle]:
    vins = {case.vehicle.vin.upper() for case in cases if case.vehicle.vin}
    plates = {case.vehicle.plate.upper() for case in cases if case.vehicle.plate}
    if not vins and not plates:
        return {}
    found = (
        Vehicle.objects.filter(shop=shop)
        .annotate(upper_vin=Upper("vin"), upper_plate=Upper("plate"))
        .filter(Q(upper_vin__in=vins) | Q(upper_plate__in=plates))
        .order_by("-pk")
    )
    return {key: vehicle for vehicle in found for key in _marks_of(vehicle)}


def _marks_of(vehicle: Vehicle) -> list[tuple[str, str, str, str]]:
    """Return what a vehicle is known by again, the surest first."""
    kind = (vehicle.make.upper(), vehicle.model.upper())
    marks = ((name, getattr(vehicle, name).upper()) for name in _MARKS)
    return [(*kind, name, mark) for name, mark in marks if mark]


def _copy_codes_and_parts(told: Sequence[tuple[Case, CaseDocument]]) -> None:
    codes = [
        {"case_id": case.pk, **code.as_kept()} for case, document in told for code in document.codes
    ]
    parts = [
        {"case_id": case.pk, **part.model_dump()}
        for case, document in told
        for part in document.parts_in_vain
    ]
    for model, rows in ((CodeSeen, codes), (PartInVain, parts)):
        for row, key in zip(rows, next_keys(model, len(rows)), strict=True):
            row["id"] = key
        copy_rows(model, rows)


def _evidence(
    built: Sequence[BuiltCase],
    logs: Sequence[Sequence[_Row]],
    shop: Shop,
    people: Iterable[User],
    at: datetime,
) -> list[dict[str, Any]]:
    """Return what search keeps of cases that no verdict is given on yet."""
    speech = speech_of([shop.pk])
    members = set(people)
    found = []
    for each, rows in zip(built, logs, strict=True):
        case, document = each.case, each.told.document
        beside = Beside(
            codes=[code.code for code in document.codes],
            in_vain=[part.part for part in document.parts_in_vain],
            scrubber=Scrubber(case.vehicle, members | {case.author}),
            speech=speech,
        )
        measured = NOTHING
        if each.understanding is not None:
            log = [(row.understood, row.line) for row in _current(rows)]
            measured = each.understanding.measured(log)
        found.append((case, evidence_of(case, measured, beside)))
    return list(evidence_rows(found, at=at))


def _queue_verdicts(built: Iterable[BuiltCase]) -> None:
    keys = [
        each.case.pk
        for each in built
        if each.case.revision_id is not None and (each.readings or each.told.document.codes)
    ]
    jobs: list[dict[str, JSONValue]] = [
        {"case_pks": [*keys[start : start + JUDGED_IN_A_JOB]]}
        for start in range(0, len(keys), JUDGED_IN_A_JOB)
    ]
    if jobs:
        queue.configure_task(JUDGE_TAKEN_IN, priority=BEHIND_ALL_ELSE).batch_defer(*jobs)
