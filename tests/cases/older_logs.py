"""A small older log as a table, and what became of it."""

import csv
import io
from collections.abc import Sequence

from cases.models import (
    OlderLog,
    Wanted,
)
from cases.services.older_logs import taking_in
from cases.services.older_logs.taking_in import bring_in_log
from tests.cast import (
    MONDAY,
    Cast,
)

HEADING = (
    "Case;Opened at;make;model;plate;circuit;complaint;codes;claim;outcome;repaired at;"
    "place;phase;reading;parts in vain"
)
GOOD = (
    "17;2016-03-21;Tolvane;Juniver;TEST 042;fuel-pump;Cuts out, when hot;P0087 P0190-11;"
    "resistance:C40;fixed;2016-03-22;TP1;prime;12,35;fuel filter, 1.5 h\n"
    ";;;;;;;;;;;TP2;prime;6.79;\n"
    ";;;;;;;;;;;TP3;prime;5.49;\n"
    "17;;;;;;;;;;;TP4;prime;0.07;"
)
OTHER = "18;2017-01-05 08:30;Tolvane;Ostrel;;;Wipers stop halfway;;;;;;;;"


def table(*lines: str) -> bytes:
    return "\n".join((HEADING, *lines, "")).encode()


def brought(cast: Cast, content: bytes, wanted: Wanted = Wanted.GOOD) -> OlderLog:
    """Bring a log in and let the worker go through it, but give no verdict yet."""
    log = bring_in_log(
        shop=cast.shop, name="old.csv", content=content, wanted=wanted, by=cast.owner, at=MONDAY
    )
    while taking_in.go_through_log(log_pk=log.pk, at=MONDAY):
        pass
    return OlderLog.objects.get(pk=log.pk)


def counts(log: OlderLog) -> tuple[int, int, int]:
    return log.cases_good, log.cases_known, log.cases_refused


def reasons(log: OlderLog) -> list[tuple[int, str]]:
    """Return where each refused line is wrong: line and column."""
    lines = log.refused_lines.all()
    return [(line.line, reason[0]) for line in lines for reason in line.reasons]


def rows_of_file(text: str, separator: str = ";") -> Sequence[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text), delimiter=separator))
