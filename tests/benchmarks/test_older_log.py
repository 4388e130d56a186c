"""An older log through the product, and its rows by COPY beside `bulk_create`; told, not asserted.

The log is a table of invented cases of the fuel pump, six readings and two codes each. Counted are
the rows that are written: cases, vehicles, codes, readings, what search keeps, what came in.
"""

import itertools
import time
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np
import pytest
from django.db.models import Model

from cases.models import Case, CaseEvidence, LoggedReading, LogState, OlderLog, Wanted
from cases.services.copying import copy_rows
from cases.services.older_logs import taking_in, writing
from tests.benchmarks import report
from tests.cast import FEED_FAULT, MONDAY, Cast, call_cast, publish

CASES = 2000
READINGS = (("TP1", 12.35), ("TP2", 6.79), ("TP3", 5.49), ("TP4", 0.07), ("TP2", 6.8), ("TP3", 5.5))
CODES = ("P0087", "P0190-11")
#: A case, its vehicle, its codes and readings, its evidence, and what it was called.
ROWS_OF_A_CASE = 4 + len(CODES) + len(READINGS)
WORDS = (
    *(
        "stalls",
        "hot",
        "motorway",
        "idle",
        "cold",
        "rain",
        "long",
        "run",
        "warning",
        "lamp",
        "hums",
    ),
    *("whines", "jerks", "climbs", "loses", "power", "hour", "trailer", "uphill", "corner", "tank"),
)
ROUNDS = 3
_LOGS = itertools.count()


def old_log(cases: int) -> bytes:
    """Return a log that no other is like."""
    log = next(_LOGS)
    random = np.random.default_rng(log)
    heading = "case,opened_at,make,model,plate,circuit,complaint,codes,claim,place,phase,reading"
    lines = [heading]
    for number in range(cases):
        words = " ".join(random.choice(WORDS, 8))
        facts = f"{log}-{number},2019-04-0{number % 9 + 1},Tolvane,Juniver,L{log} N{number}"
        claimed = f"fuel-pump,{words},{' '.join(CODES)},{FEED_FAULT}"
        for at, (place, volts) in enumerate(READINGS):
            told = f"{facts},{claimed}" if at == 0 else ",,,,,,,,"
            lines.append(f"{told},{place},prime,{volts + random.normal(0, 0.05):.2f}")
    return "\n".join(lines).encode()


def insert_rows(model: type[Model], rows: Iterable[Mapping[str, Any]]) -> None:
    """Write the same rows as Django's usual way of writing many."""
    model._default_manager.bulk_create(
        [model(**{name: row[name] for name in row if name != "_state"}) for row in rows],
        batch_size=500,
    )


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    cast = call_cast()
    publish("fuel_pump.txt", by=cast.technician)
    return cast


class Writer:
    """Writes rows in one way and notes how long that takes, round by round."""

    def __init__(self, write: Callable[[type[Model], Any], None]) -> None:
        self._write = write
        self.rounds: list[float] = []

    def __call__(self, model: type[Model], rows: Iterable[Mapping[str, Any]]) -> None:
        began = time.perf_counter()
        self._write(model, rows)
        self.rounds[-1] += time.perf_counter() - began


WAYS = {
    "COPY": (copy_rows, report.LOG_THROUGH, report.LOG_ROWS_COPIED),
    "bulk_create": (insert_rows, report.LOG_THROUGH_INSERTED, report.LOG_ROWS_INSERTED),
}


@pytest.mark.parametrize("way", WAYS)
def test_a_log_through_the_product(
    way: str,
    cast: Cast,
    benchmark: Any,
    measured: report.Measured,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The whole way from the file to the commit; within it, the rows alone."""
    write, through_name, rows_name = WAYS[way]
    writer = Writer(write)
    monkeypatch.setattr(writing, "copy_rows", writer)

    def kept() -> tuple[tuple[int], dict[str, object]]:
        writer.rounds.append(0.0)
        log = taking_in.keep_log(
            shop=cast.shop,
            name="old.csv",
            content=old_log(CASES),
            wanted=Wanted.GOOD,
            by=cast.owner,
            at=MONDAY,
        )
        return (log.pk,), {}

    def through(log_pk: int) -> None:
        while taking_in.go_through_log(log_pk=log_pk, at=MONDAY):
            pass

    benchmark.group = through_name
    benchmark.pedantic(through, setup=kept, rounds=ROUNDS, warmup_rounds=1)
    measured.seconds[through_name] = benchmark.stats.stats.min
    measured.seconds[rows_name] = min(writer.rounds)
    measured.seconds[report.LOG_ROWS] = CASES * ROWS_OF_A_CASE

    assert not OlderLog.objects.exclude(state=LogState.TAKEN_IN).exists()
    assert Case.objects.count() == CaseEvidence.objects.count() == CASES * (ROUNDS + 1)
    assert LoggedReading.objects.count() == CASES * (ROUNDS + 1) * len(READINGS)
