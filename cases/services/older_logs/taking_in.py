"""What people do with an older log, and the steps in which the worker does it.

Each step is a transaction that goes through some cases, writes the good ones and moves the count
on. A worker that is killed leaves whole steps, and the next one goes on from the count. All or
nothing is gone through first, and written in one transaction if nothing was refused.
"""

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.contrib.auth.models import User
from django.db import DataError, IntegrityError, connection, transaction
from django.db.models import Exists, OuterRef
from procrastinate.contrib.django import app as queue
from procrastinate.contrib.django.models import ProcrastinateJob

from cases.errors import BadRows, LogNotReady, RowProblem
from cases.models import (
    Case,
    LogForm,
    LogState,
    OlderLog,
    RefusedLine,
    Role,
    Shop,
    TakenInCase,
    Verdict,
    Wanted,
)
from cases.services.copying import copy_rows, next_keys
from cases.services.older_logs.building import Builder, BuiltCase
from cases.services.older_logs.line_cases import told_in_line
from cases.services.older_logs.log_file import Entry, LogFile, ToldCase, names_in, read_log
from cases.services.older_logs.table_cases import Table
from cases.services.older_logs.writing import BEHIND_VERDICTS, reserve_numbers, write_cases
from cases.services.record import settle_record
from cases.services.shops import require_owner, role_in

TAKE_IN_LOG = "take_in_log"
CASES_IN_A_STEP = 500
#: So long a job goes on before it lets others have a turn.
SLICE_SECONDS = 10.0
LONGEST_NAME = 200
_DEED = "bring in an older log"
_ON_ITS_WAY = ("todo", "doing")


# ------------------------------------------------------------------------ what people do


@transaction.atomic
def bring_in_log(
    *, shop: Shop, name: str, content: bytes, wanted: Wanted, by: User, at: datetime
) -> OlderLog:
    """Keep the file of an older log and queue what is wanted with it.

    Raises
    ------
    OwnersOnly
        Only an owner of the shop may do this.
    BadRows
        The file as a whole cannot be read; then it is not kept.
    """
    log = keep_log(shop=shop, name=name, content=content, wanted=wanted, by=by, at=at)
    _queue(log)
    return log


@transaction.atomic
def keep_log(
    *, shop: Shop, name: str, content: bytes, wanted: Wanted, by: User, at: datetime
) -> OlderLog:
    """Keep the file of an older log, for somebody who goes through it at once."""
    require_owner(shop, by, _DEED)
    file = read_log(content)
    return OlderLog.objects.create(
        shop=shop,
        by=by,
        name=name[-LONGEST_NAME:],
        form=file.form,
        heading=list(file.heading),
        separator=file.separator,
        content=content,
        wanted=wanted,
        cases_in_all=len(file.entries),
        brought_at=at,
    )


@transaction.atomic
def go_on_with_log(*, log: OlderLog, wanted: Wanted, by: User) -> OlderLog:
    """Have something else done with a log that was gone through, or have it gone on with.

    Raises
    ------
    OwnersOnly
        Only an owner of the shop may do this.
    LogNotReady
        It is being gone through, or its cases are in already.
    """
    log = _locked(log.pk)
    require_owner(log.shop, by, _DEED)
    if log.state == LogState.TAKEN_IN:
        raise LogNotReady("The cases of this log are in already; bring in what was mended.")
    if log.is_waiting and not has_stopped(log):
        raise LogNotReady("This log is being gone through; wait until that is done.")
    # From now on it comes in on behalf of this person, as an owner at the time of each step.
    log.by = by
    if log.is_waiting:
        log.save(update_fields=["by"])
    else:
        _begin_anew(log, wanted)
    _queue(log)
    return log


@transaction.atomic
def take_log_away(*, log: OlderLog, by: User) -> None:
    """Take a log away, with its file and what was refused; cases that came in stay."""
    log = _locked(log.pk)
    require_owner(log.shop, by, "take an older log away")
    if log.is_waiting and not has_stopped(log):
        raise LogNotReady("This log is being gone through; wait until that is done.")
    log.delete()


def has_stopped(log: OlderLog) -> bool:
    """Whether the worker gave a log up on the way. Queries the queue."""
    jobs = ProcrastinateJob.objects.filter(
        task_name=TAKE_IN_LOG, args__log_pk=log.pk, status__in=_ON_ITS_WAY
    )
    return log.is_waiting and not jobs.exists()


def judged_so_far(log: OlderLog) -> int:
    """Return how many of the cases that came in have a verdict. Asks the database."""
    if log.state != LogState.TAKEN_IN:
        return 0
    has_verdict = Exists(Verdict.objects.filter(case=OuterRef("case")))
    return log.taken_in.filter(has_verdict).count()


def _begin_anew(log: OlderLog, wanted: Wanted) -> None:
    log.refused_lines.all().delete()
    log.wanted, log.state, log.ended_at = wanted, LogState.WAITING, None
    log.cases_done = log.cases_good = log.cases_known = log.cases_refused = 0
    log.first_number = 0
    log.save()


def _queue(log: OlderLog) -> None:
    queue.configure_task(TAKE_IN_LOG).defer(log_pk=log.pk)


def _locked(log_pk: int) -> OlderLog:
    logs = OlderLog.objects.without_content().select_related("shop", "by")
    return logs.select_for_update(of=("self",)).get(pk=log_pk)


# ---------------------------------------------------------------------- what the worker does


def go_through_log(
    *,
    log_pk: int,
    at: datetime,
    seconds: float = SLICE_SECONDS,
    told: Callable[[OlderLog], object] = lambda _: None,
) -> bool:
    """Go on with a log for a while; return whether there is more to do.

    `told` gets the log after each step. It stops where the person it comes in for is no owner of
    the shop any more; whoever owns it then may go on with it.
    """
    until = time.monotonic() + seconds
    content = OlderLog.objects.filter(pk=log_pk).values_list("content", flat=True).first()
    if not content:
        return False
    run: _Run | None = None
    while True:
        with transaction.atomic():
            log = _locked(log_pk)
            if not log.is_waiting or role_in(log.shop, log.by) != Role.OWNER:
                return False
            run = run or _Run(log, read_log(bytes(content)), at)
            run.step(log)
            log.save()
        told(log)
        if not log.is_waiting or time.monotonic() > until:
            return log.is_waiting


def judge_taken_in(*, case_pks: Iterable[int], at: datetime) -> None:
    """Give cases out of an older log their first verdicts, each in a transaction of its own.

    Raises
    ------
    ExceptionGroup
        What went wrong with some, once the others are done.
    """
    wrong: list[Exception] = []
    for case_pk in case_pks:
        try:
            _judge(case_pk, at)
        except Exception as error:  # whatever it is, it is that case's own
            wrong.append(error)
    if wrong:
        raise ExceptionGroup("not all cases could be judged", wrong)


@transaction.atomic
def _judge(case_pk: int, at: datetime) -> None:
    """Judge a case, unless it has a verdict by now."""
    case = (
        Case.objects.select_for_update(of=("self",))
        .select_related("shop")
        .filter(pk=case_pk, withdrawn_at__isnull=True)
        .first()
    )
    if case is not None and not case.verdicts.exists():
        settle_record(case, at=at, pairs_priority=BEHIND_VERDICTS)


class _NotAll(Exception):
    """Something of what was to come in whole was refused."""


Refused = dict[Entry, Sequence[RowProblem]]


@dataclass(slots=True)
class _Gone:
    """What became of some cases."""

    good: dict[Entry, BuiltCase] = field(default_factory=dict)
    known: int = 0
    refused: Refused = field(default_factory=dict)


class _Run:
    """A log while one process goes through it."""

    def __init__(self, log: OlderLog, file: LogFile, at: datetime) -> None:
        self.file, self.at = file, at
        self.table = Table(names_in(file.heading))
        self.builder = Builder(log.shop, log.by, at)
        #: What was good so far, by key; two of one key must not both be.
        self.seen: dict[str, str] = {}

    def step(self, log: OlderLog) -> None:
        """Go through the next cases, or bring it to its end; the caller saves the log."""
        entries = self.file.entries[log.cases_done : log.cases_done + CASES_IN_A_STEP]
        if not entries:
            self._end(log)
            return
        gone = self._gone_through(log, entries)
        if log.wanted == Wanted.GOOD:
            first = reserve_numbers(log.shop, len(gone.good))
            gone.refused |= self._write(log, gone.good, first)
        log.cases_done += len(entries)
        log.cases_known += gone.known
        log.cases_refused += len(gone.refused)
        log.cases_good += len(entries) - gone.known - len(gone.refused)
        _keep_refused(log, gone.refused)
        all_good = log.wanted == Wanted.ALL and not log.cases_refused
        if all_good and log.cases_done == len(self.file.entries):
            # Before the long transaction that writes them: it would keep others from numbers.
            log.first_number = reserve_numbers(log.shop, log.cases_good)

    def _end(self, log: OlderLog) -> None:
        log.ended_at = self.at
        if log.wanted == Wanted.CHECK:
            log.state = LogState.CHECKED
            return
        if log.wanted == Wanted.ALL and not log.cases_refused:
            refused = self._write_all(log)
            log.cases_refused += len(refused)
            log.cases_good -= len(refused)
            _keep_refused(log, refused)
        if log.wanted == Wanted.ALL and log.cases_refused:
            log.state = LogState.REFUSED
            return
        log.state, log.content = LogState.TAKEN_IN, b""

    def _write_all(self, log: OlderLog) -> Refused:
        """Write all cases or none; return what was refused although it had been good before."""
        self.seen = {}
        number = log.first_number
        entries = self.file.entries
        refused: Refused = {}
        try:
            with transaction.atomic():
                for start in range(0, len(entries), CASES_IN_A_STEP):
                    gone = self._gone_through(log, entries[start : start + CASES_IN_A_STEP])
                    refused = gone.refused | self._write(log, gone.good, number)
                    if refused:
                        raise _NotAll
                    number += len(gone.good)
        except _NotAll:
            return refused
        return {}

    def _gone_through(self, log: OlderLog, entries: Iterable[Entry]) -> _Gone:
        """Return what is good, known or refused of some cases; nothing is written."""
        _one_at_a_time(log.shop)
        gone = _Gone()
        told: list[tuple[Entry, ToldCase]] = []
        for entry in entries:
            try:
                told.append((entry, self._told(entry)))
            except BadRows as error:
                gone.refused[entry] = error.problems
        here = _digests_here(log.shop, [each.key for _, each in told])
        for entry, each in told:
            digest = here.get(each.key) or self.seen.get(each.key)
            if digest == each.digest:
                gone.known += 1
                continue
            try:
                if digest is not None:
                    raise BadRows([_says_otherwise(each)])
                gone.good[entry] = self.builder.build(each)
                self.seen[each.key] = each.digest
            except BadRows as error:
                gone.refused[entry] = error.problems
        return gone

    def _told(self, entry: Entry) -> ToldCase:
        if self.file.form == LogForm.LINES:
            return told_in_line(entry)
        return self.table.told(entry)

    def _write(self, log: OlderLog, good: Mapping[Entry, BuiltCase], first_number: int) -> Refused:
        """Write cases; return those that the database alone refuses, found by halving."""
        try:
            with transaction.atomic():
                write_cases(
                    list(good.values()),
                    log=log,
                    first_number=first_number,
                    people=self.builder.people.values(),
                    at=self.at,
                )
            return {}
        except (DataError, IntegrityError) as error:
            if len(good) == 1:
                ((entry, built),) = good.items()
                problem = f"the database does not take it: {str(error).splitlines()[0]}."
                return {entry: [RowProblem(built.told.line, "", problem)]}
        half = len(good) // 2
        pairs = list(good.items())
        return {
            **self._write(log, dict(pairs[:half]), first_number),
            **self._write(log, dict(pairs[half:]), first_number + half),
        }


def _one_at_a_time(shop: Shop) -> None:
    """Let two logs that say the same wait for each other, so that nothing comes in twice."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_advisory_xact_lock(hashtext(%s))", [f"older logs of shop {shop.pk}"]
        )


def _digests_here(shop: Shop, keys: Sequence[str]) -> dict[str, str]:
    found = TakenInCase.objects.filter(shop=shop, key__in=keys)
    return dict(found.values_list("key", "digest"))


def _says_otherwise(told: ToldCase) -> RowProblem:
    problem = f"'{told.key}' is here already, or stands further up, and says something else."
    mend = "Mend that case on its page, or give this one another number."
    return RowProblem(told.line, "case", problem, mend)


def _keep_refused(log: OlderLog, refused: Mapping[Entry, Sequence[RowProblem]]) -> None:
    """Keep each line of refused cases; what names none of them stands at the first."""
    rows: list[dict[str, object]] = []
    for entry, problems in refused.items():
        reasons: dict[int, list[list[str]]] = {line.line: [] for line in entry}
        for each in problems:
            at = reasons.get(each.line, reasons[entry[0].line])
            at.append([each.column, each.problem, each.mend])
        rows.extend(
            {
                "log_id": log.pk,
                "line": line.line,
                "cells": list(line.cells),
                "reasons": reasons[line.line],
            }
            for line in entry
        )
    for row, key in zip(rows, next_keys(RefusedLine, len(rows)), strict=True):
        row["id"] = key
    copy_rows(RefusedLine, rows)
